"""What a reader finds in each form of the sheet is what was seen at the bench while the job was played."""

import csv
import io
import json
import re
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest

from assistant.core.axle import KitShim
from assistant.core.quantities import Quantity
from assistant.core.tongues import TONGUES
from assistant.files import phrases_for
from assistant.report import Sheet
from assistant.report.forms import FORMS, form
from assistant.report.mark import mark, mark_in
from assistant.report.sections import moment, sections
from tests.report.jobs import Played

Quantities = list[dict[str, Any]]
by_language = pytest.mark.parametrize("language", TONGUES)


def recorded(job: Played) -> Quantities:
    """Every reading that the headless contract acknowledged, in order."""
    return [line["recorded"] for batch in job.record.batches for line in batch if "recorded" in line]


class Words(HTMLParser):
    """The words of a page, its tags, and whatever it would fetch."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[str] = []
        self.fetched: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.fetched += [value or "" for name, value in attrs if name in ("src", "href", "xlink:href", "srcset", "data", "action")]

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def page(sheet: Sheet) -> str:
    return form("html")(sheet).decode()


@pytest.fixture(params=[(name, language) for name in ("troubled", "metric") for language in TONGUES], ids="-".join)
def job(request: pytest.FixtureRequest) -> Played:
    """Each of the played jobs, its sheet in each language."""
    name, language = request.param
    return replace(request.getfixturevalue(name), language=language)


def as_shown(figures: str, job: Played) -> str:
    """A figure, or the place of a print, as the sheet's language writes it."""
    phrases = phrases_for(job.language)
    return phrases.choice(figures) if figures[:1].isalpha() else phrases.figures(figures)


def test_the_csv_has_each_acknowledged_reading_on_a_line_of_its_own(job: Played) -> None:
    rows = list(csv.DictReader(io.StringIO(job.made("csv").decode(), newline="")))
    want = [(one["id"], one["quantity"], one["value"]) for one in recorded(job)]
    have = [(row["id"], row["quantity"], {"value": row["value"], "unit": row["unit"]} if row["unit"] else row["value"]) for row in rows]
    assert [(a, b, _figures(c)) for a, b, c in have] == [(a, b, _figures(c)) for a, b, c in want]


def _figures(value: Any) -> Any:
    return value["value"] if isinstance(value, dict) else value


def test_a_line_of_the_csv_ends_as_rfc_4180_has_it(metric: Played) -> None:
    """RFC 4180, section 2, rule 1: each record is on a line of its own, ended by CRLF."""
    raw = form("csv")(metric.sheet())
    assert raw.endswith(b"\r\n")
    assert raw.count(b"\n") == raw.count(b"\r\n") == len(metric.sheet().readings) + 1


def test_the_name_of_a_gauge_is_never_a_formula(metric: Played) -> None:
    """A spreadsheet takes a cell that begins with = + - or @ for a formula."""
    sheet = metric.sheet()
    line = sheet.readings[0]
    for raw in ("=1+1", "+1", "-1", "@x"):
        tricked = replace(sheet, readings=(replace(line, reading=replace(line.reading, source="gauge", raw=raw)),))
        row = next(csv.DictReader(io.StringIO(form("csv")(tricked).decode(), newline="")))
        assert row["raw"] == f"'{raw}"


def test_the_json_and_the_page_tell_the_same_verdict_as_the_bench(job: Played) -> None:
    assert json.loads(job.made("json"))["verdict"] == job.record.verdict == "in spec"
    assert as_shown("in spec", job).upper() in Words(page(job.sheet())).words


def test_the_page_holds_every_reading_with_its_id_and_its_figures(job: Played) -> None:
    text = page(job.sheet())
    for one in recorded(job):
        assert re.search(rf"<td>{one['id']}</td>.*?<td>{re.escape(as_shown(_figures(one['value']), job))}", text), one


@by_language
def test_the_page_tells_every_alarm_its_causes_and_what_was_answered(language: str, troubled: Played) -> None:
    sheet = replace(troubled, language=language).sheet()
    alarms = [line["alarm"] for batch in troubled.record.batches for line in batch if "alarm" in line]
    assert alarms
    text = " ".join(" ".join(Words(page(sheet)).words).split())
    for alarm in alarms:
        assert " ".join(alarm["text"].split()) in text
        for suspect in alarm["likely"]:
            assert sheet.words.choice(suspect["cause"]) in text
    assert sheet.words("found", answer="") in text


@by_language
def test_a_value_that_was_doubted_is_told_with_what_was_recorded_instead(language: str, troubled: Played) -> None:
    sheet = replace(troubled, language=language).sheet()
    assert sheet.doubts
    rows = next(part for part in sections(sheet) if part.key == "mistakes").rows
    for doubt in sheet.doubts:
        assert any(sheet.words.quantity(doubt.doubted.value) in row.cells[1] and doubt.outcome in row.cells[3] for row in rows)


def test_every_accepted_caution_is_on_the_page(job: Played) -> None:
    accepted = [
        line["step"] for batch in job.record.batches for line in batch if "step" in line and line["step"]["kind"] in ("torque", "press")
    ]
    titles = {title for _, title in job.sheet().cautions}
    in_english, here = phrases_for().steps, phrases_for(job.language).steps
    assert {here[step].title for step, text in in_english.items() if text.title in {one["title"] for one in accepted}} & titles
    assert len(titles) == len({title for _, title in replace(job, language="en").sheet().cautions})
    text = page(job.sheet())
    assert all(title.replace("'", "&#39;") in text for title in titles)


def test_the_page_fetches_nothing_and_runs_nothing(job: Played) -> None:
    found = Words(page(job.sheet()))
    assert [address for address in found.fetched if not address.startswith("#")] == []
    assert not {"script", "link", "img", "iframe", "object", "embed"} & set(found.tags)
    style = page(job.sheet()).partition("<style>")[2].partition("</style>")[0]
    assert "url(" not in style
    assert "@import" not in style


def test_what_was_typed_stands_on_the_page_as_text(metric: Played) -> None:
    sheet = metric.sheet()
    typed = '<script>alert("1")</script> & Müller'
    tags = Words(page(replace(sheet, job=replace(sheet.job, title=typed)))).tags
    assert "script" not in tags
    assert typed in Words(page(replace(sheet, job=replace(sheet.job, title=typed)))).words


def test_the_page_has_both_plots_and_no_metadata_of_a_tool(job: Played) -> None:
    text = page(job.sheet())
    assert text.count("<svg") == text.count("</svg>") == 2
    assert "<metadata" not in text
    for point in job.sheet().ring:
        assert f">{as_shown(point.value.text, job)}</text>" in text


def test_a_job_without_a_reading_has_a_sheet_in_every_form(metric: Played) -> None:
    bare = replace(metric.sheet(), readings=(), ring=(), drag=(), moves=(), alarms=(), doubts=(), cautions=(), fitted=(), finals=())
    for name in FORMS:
        assert form(name)(bare)
    assert "<svg" not in page(bare)


@pytest.mark.parametrize("name", FORMS)
def test_the_same_journal_gives_the_same_bytes_in_another_process(name: str, metric: Played) -> None:
    program = f"""
import sys
from pathlib import Path
from assistant.journal.lines import read_record
from assistant.report import sheet
from assistant.report.forms import form
kept = read_record(Path({str(metric.folder)!r}), "metric")
sys.stdout.buffer.write(form({name!r})(sheet(kept.lines, kept.sha256)))
"""
    other = subprocess.run([sys.executable, "-W", "error", "-c", program], capture_output=True, check=True, timeout=120)
    assert other.stderr == b""
    assert other.stdout == form(name)(metric.sheet())


@pytest.mark.parametrize("name", FORMS)
def test_every_form_bears_the_mark_of_its_journal(name: str, metric: Played) -> None:
    sheet = metric.sheet()
    found = mark_in(form(name)(sheet))
    assert found is not None
    assert (found.job_id, found.sha256) == ("metric", sheet.journal_sha256)
    assert mark(sheet).startswith(f"benchhand {found.version} ")


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])
def test_a_pdf_is_of_the_size_of_its_paper_in_points(paper: str, size: tuple[float, float], metric: Played) -> None:
    """ISO 216: A4 is 210 × 297 mm; ANSI/ASME Y14.1: A (letter) is 8.5 × 11 in; a point is 1/72 in."""
    raw = form("pdf", paper)(metric.sheet())
    box = re.search(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", raw)
    assert box is not None
    assert tuple(round(float(side), 2) for side in box.groups()) == size


def test_a_pdf_without_a_paper_named_is_on_letter_for_inches_and_on_a4_for_millimetres(troubled: Played, metric: Played) -> None:
    for job, paper in ((troubled, "letter"), (metric, "a4")):
        found = mark_in(form("pdf")(job.sheet()))
        assert found is not None
        assert found.paper == paper


def test_a_title_in_other_letters_reaches_the_pdf_without_a_complaint(metric: Played) -> None:
    sheet = metric.sheet()
    assert form("pdf")(replace(sheet, job=replace(sheet.job, title="Ось №1 – größer ½ Ω"))).startswith(b"%PDF")


def test_a_long_kit_and_many_readings_break_over_pages(metric: Played) -> None:
    sheet = metric.sheet()
    kit = tuple(KitShim(Quantity.of(f"0.{number:03}", "mm"), 9) for number in range(1, 200))
    long = replace(sheet, readings=sheet.readings * 8, job=replace(sheet.job, parts=replace(sheet.job.parts, shim_kit=kit)))
    assert form("pdf")(long).count(b"/Type /Page\n") > form("pdf")(sheet).count(b"/Type /Page\n") >= 2


@pytest.mark.parametrize(
    ("at", "text"),
    [
        ("12.5", "12.5 s"),
        ("", ""),
        ("2026-01-01T08:00:07.123+00:00", "2026-01-01 08:00:07 UTC"),
        ("2026-01-01T08:00:07", "2026-01-01 08:00:07"),
    ],
)
def test_a_time_is_read_as_the_journal_holds_it(at: str, text: str) -> None:
    assert moment(at) == text
