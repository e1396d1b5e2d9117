"""The store's list and its search: what the journals say, whatever becomes of the index beside them."""

import json
import os
from pathlib import Path

import pytest

from assistant.core import events as ev
from assistant.history.index import Wanted, jobs
from assistant.history.summary import Summary, summary
from assistant.journal.lines import LinesJournal, read_record
from tests.conftest import job_with
from tests.report.jobs import Played, played
from tests.suites.journal import BATCHES


def job_of(folder: Path, job_id: str, title: str, *events: ev.Event, at: str = "2026-01-05T08:00:00.000+00:00") -> None:
    journal = LinesJournal(folder, job_id, new=True)
    journal.append((ev.JobStarted(job_with(lambda data: data.update(title=title)), job_id, "0123"),), at)
    if events:
        journal.append(events, at)
    journal.close()


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """One played job, with a mistake in it."""
    return played(tmp_path_factory.mktemp("store"), "one", seed=6, faults=("shim-left-out", "at-the-yoke"))


def test_a_summary_counts_what_the_sheet_of_the_same_job_shows(kept: Played) -> None:
    sheet = kept.sheet()
    (found,) = jobs(kept.folder)
    assert found == Summary(
        job_id="one",
        title=sheet.job.title,
        state=sheet.verdict,
        began=sheet.began,
        last=sheet.ended,
        units="in",
        layout=("flange", "spacer-shims", "adjusters"),
        teeth=(sheet.job.axle.ring_teeth, sheet.job.axle.pinion_teeth),
        readings=len(sheet.readings),
        void=sum(bool(line.void) for line in sheet.readings),
        moves=sum(line.made for line in sheet.moves),
        cautions=len(sheet.cautions),
        failed=sheet.failed,
        gauges=tuple(dict.fromkeys(line.reading.gauge for line in sheet.readings if line.reading.source == "gauge")),
        causes=tuple(dict.fromkeys(line.answer for line in sheet.alarms if line.answer)),
    )
    assert found.gauges
    assert found.causes
    assert Summary.from_json(json.loads(json.dumps(found.json()))) == found


@pytest.mark.parametrize(
    ("events", "state"),
    [
        ((), "open"),
        ((ev.Stopped(True),), "stopped"),
        ((ev.Stopped(False), ev.WentOn()), "open"),
        ((ev.Ended("out of spec", ("backlash",)),), "out of spec"),
    ],
)
def test_a_job_is_open_stopped_or_judged(events: tuple[ev.Event, ...], state: str, tmp_path: Path) -> None:
    job_of(tmp_path, "a", "x", *events)
    assert [job.state for job in jobs(tmp_path)] == [state]


def test_a_torn_end_does_not_count_and_a_file_of_noise_is_called_damaged(tmp_path: Path) -> None:
    journal = LinesJournal(tmp_path, "job", new=True)
    for batch in BATCHES:
        journal.append(batch, "0")
    journal.close()
    path = tmp_path / "job.jsonl"
    whole = path.read_bytes()
    assert summary("job", whole).readings == 1
    for cut in range(1, len(whole)):
        events = [event for _, event in _record(tmp_path, path, whole[:cut])]
        found = summary("job", whole[:cut])
        assert found.readings == sum(isinstance(event, ev.Recorded) for event in events), cut
        assert (found.state == "damaged") == (not events), cut
    assert summary("job", b"\x00 no journal\n").state == "damaged"
    assert summary("job", b'{"last":true}\n').state == "damaged"


def _record(folder: Path, path: Path, raw: bytes) -> tuple[tuple[str, ev.Event], ...]:
    path.write_bytes(raw)
    return read_record(folder, "job").lines


@pytest.fixture
def three(tmp_path: Path) -> Path:
    """Three jobs; the last one touched is `c`."""
    job_of(tmp_path, "a", "Grüner Wagen", ev.Ended("in spec", ()), at="2026-01-05T08:00:00.000+00:00")
    job_of(tmp_path, "b", "red truck", ev.Stopped(True), at="2026-02-10T08:00:00.000+00:00")
    job_of(tmp_path, "c", "green truck", at="2026-03-01T08:00:00.000+00:00")
    for number, name in enumerate("abc"):
        os.utime(tmp_path / f"{name}.jsonl", (1000 + number, 1000 + number))
    return tmp_path


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (Wanted(), ["c", "b", "a"]),
        (Wanted(("truck",)), ["c", "b"]),
        (Wanted(("TRUCK", "red")), ["b"]),
        (Wanted(("GRÜNER",)), ["a"]),
        (Wanted(("spacer-shims", "37:9")), ["c", "b", "a"]),
        (Wanted(("100%",)), []),
        (Wanted(state="stopped"), ["b"]),
        (Wanted(since="2026-02"), ["c", "b"]),
        (Wanted(until="2026-02"), ["b", "a"]),
        (Wanted(since="2026-02-10", until="2026-02-10"), ["b"]),
        (Wanted(("truck",), "open", "2026-01-01", "2026"), ["c"]),
    ],
)
def test_a_search_finds_the_jobs_that_hold_every_word(wanted: Wanted, found: list[str], three: Path) -> None:
    for _ in range(2):  # the second time from the index
        assert [job.job_id for job in jobs(three, wanted)] == found


def test_what_was_written_since_is_read_again_and_what_is_gone_is_forgotten(three: Path) -> None:
    assert len(jobs(three)) == 3
    journal = LinesJournal(three, "c", new=False)
    journal.load()
    journal.append((ev.Ended("in spec", ()),), "1")
    journal.close()
    (three / "a.jsonl").unlink()
    assert {job.job_id: job.state for job in jobs(three)} == {"b": "stopped", "c": "in spec"}


@pytest.mark.parametrize("damage", [b"", b"no index at all" * 100, b"SQLite format 3\x00" + b"\xff" * 4000], ids=["empty", "words", "torn"])
def test_a_damaged_index_is_made_anew(damage: bytes, three: Path) -> None:
    before = jobs(three)
    (three / "jobs.index").write_bytes(damage)
    assert jobs(three) == before
    assert jobs(three) == before
    assert (three / "jobs.index").read_bytes().startswith(b"SQLite format 3\x00")


def test_a_store_where_the_index_cannot_be_written_is_listed_all_the_same(three: Path) -> None:
    (three / "jobs.index").mkdir()
    assert [job.job_id for job in jobs(three)] == ["c", "b", "a"]


def test_a_folder_that_is_not_there_holds_no_jobs(tmp_path: Path) -> None:
    assert jobs(tmp_path / "none") == []
