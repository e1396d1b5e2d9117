"""A sheet belongs to its journal, or it does not: no changed figure, other job or later entry passes for another."""

from dataclasses import replace
from pathlib import Path

import pytest

from assistant.core.tongues import TONGUES
from assistant.journal.lines import raw_journal, record_of
from assistant.report import sheet
from assistant.report.forms import FORMS, form
from assistant.report.mark import Mark, mark_in
from assistant.report.verify import Finding, verify
from tests.report.jobs import Played


def held_against(file: bytes, journal: bytes) -> Finding:
    mark = mark_in(file)
    assert mark is not None
    return verify(file, mark, journal)


def journal_of(job: Played) -> bytes:
    return raw_journal(Path(job.folder), job.job_id)


@pytest.mark.parametrize("language", TONGUES)
@pytest.mark.parametrize("name", FORMS)
def test_an_untouched_sheet_belongs_whatever_its_language(name: str, language: str, metric: Played) -> None:
    found = held_against(replace(metric, language=language).made(name), journal_of(metric))
    assert found.belongs
    assert found.text == "belongs to job metric: every character is as its journal gives it"


@pytest.mark.parametrize("name", [name for name in FORMS if name != "pdf"])
def test_one_changed_figure_is_noticed(name: str, metric: Played) -> None:
    figure = next(line.reading.value for line in metric.sheet().readings if line.reading.value is not None)
    made = form(name)(metric.sheet())
    changed = made.replace(figure.text.encode(), b"9" + figure.text.encode()[1:], 1)
    assert changed != made
    found = held_against(changed, journal_of(metric))
    assert not found.belongs
    assert found.text.startswith("changed: the hash is that of job metric")


def test_a_changed_byte_of_a_pdf_is_noticed(metric: Played) -> None:
    made = bytearray(form("pdf")(metric.sheet()))
    made[len(made) // 2] ^= 1
    assert not held_against(bytes(made), journal_of(metric)).belongs


def test_something_added_at_the_end_is_noticed(metric: Played) -> None:
    assert not held_against(form("html")(metric.sheet()) + b"\n", journal_of(metric)).belongs


def test_a_sheet_of_another_journal_under_the_same_name_does_not_belong(metric: Played, troubled: Played) -> None:
    found = held_against(form("html")(metric.sheet()), journal_of(troubled))
    assert not found.belongs
    assert "never had the hash" in found.text


def test_a_sheet_made_on_the_way_belongs_and_the_entries_since_are_counted(metric: Played) -> None:
    journal = journal_of(metric)
    ends = [at for at, line in enumerate(journal.splitlines(keepends=True), 1) if b'"last":true' in line]
    then = b"".join(journal.splitlines(keepends=True)[: ends[len(ends) // 2]])
    early = record_of(then, "metric")
    found = held_against(form("json")(sheet(early.lines, early.sha256)), journal)
    assert found.belongs
    assert found.text.endswith(f"the job has gone on since, by {len(journal.splitlines()) - len(early.lines)} entries")


def test_a_sheet_of_another_version_is_neither_approved_nor_called_changed(metric: Played) -> None:
    made = form("text")(metric.sheet()).replace(b"benchhand 0", b"benchhand 9")
    mark = mark_in(made)
    assert isinstance(mark, Mark)
    assert mark.version.startswith("9")
    found = held_against(made, journal_of(metric))
    assert not found.belongs
    assert found.text.startswith("cannot be told: ")
