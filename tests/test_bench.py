"""The loop around the core: on disk before it is told, and gone on with exactly where it was left."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from assistant.bench import new_bench, resume_bench
from assistant.core.errors import BadInputError, JournalError
from assistant.core.events import Event, JobStarted, Missed, Recorded, StepBegan
from assistant.core.inputs import Quit, Said, Taken
from assistant.core.quantities import Quantity
from assistant.journal import Loaded
from assistant.journal.lines import LinesJournal, read_record
from tests.conftest import job_with
from tests.table import plain


class FullDisk:
    """A journal whose disk is full: it takes the first batch, then nothing more until there is room."""

    job_id = "job"

    def __init__(self) -> None:
        self.kept: list[Event] = []
        self.times: list[str] = []
        self.has_room = True

    def load(self) -> Loaded:
        return Loaded(tuple(self.kept))

    def append(self, events: Sequence[Event], at: str) -> None:
        if not self.has_room:
            raise JournalError("the journal cannot be written: no space left. Nothing was accepted; make room and say it again")
        self.kept += events
        self.times.append(at)

    def close(self) -> None:
        pass


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[LinesJournal]:
    made = LinesJournal(tmp_path, "job", new=True)
    yield made
    made.close()


def lines(effects: Sequence[Any]) -> list[dict[str, Any]]:
    return [effect.json() for effect in effects]


def test_what_an_input_brought_is_on_disk_when_its_batch_comes_back(journal: LinesJournal, tmp_path: Path) -> None:
    bench, _ = new_bench(job_with(), journal, lambda: "7")
    for words in ("done", "still together"):
        bench.give(Said(words))
    effects = bench.give(Taken("dial", Quantity.of("0.0120", "in")))
    assert [line["recorded"]["value"] for line in lines(effects) if "recorded" in line] == ["0.0120"]
    kept = [event for _, event in read_record(tmp_path, "job").lines]
    assert isinstance(kept[0], JobStarted)
    assert [str(event.value) for event in kept if isinstance(event, Recorded)] == ["0.0120 in"]


def test_nothing_of_an_input_counts_when_the_disk_refuses_it() -> None:
    disk = FullDisk()
    bench, _ = new_bench(job_with(), disk, lambda: "0")
    for words in ("done", "still together", "0.012 in"):
        bench.give(Said(words))
    before, kept = plain(bench.state), list(disk.kept)
    disk.has_room = False
    with pytest.raises(JournalError, match="Nothing was accepted"):
        bench.give(Said("yes"))
    assert plain(bench.state) == before
    assert disk.kept == kept
    disk.has_room = True
    assert any("recorded" in line for line in lines(bench.give(Said("yes"))))


def test_times_come_from_the_clock_or_from_whoever_gives_the_input(journal: LinesJournal, tmp_path: Path) -> None:
    bench, _ = new_bench(job_with(), journal, lambda: "noon")
    bench.give(Said("why"), "12.5")
    bench.give(Said("why"))
    times = [time for time, event in read_record(tmp_path, "job").lines if type(event).__name__ == "Replied"]
    assert times == ["12.5", "noon"]


def test_a_job_that_was_quit_goes_on_and_the_journal_tells_that_it_rested(journal: LinesJournal, tmp_path: Path) -> None:
    bench, _ = new_bench(job_with(), journal, lambda: "0")
    wait = lines(bench.give(Said("done")))[-1]
    assert lines(bench.give(Quit()))[-1] == {"end": {"verdict": "stopped", "job": "job", "failed": []}}
    journal.close()
    again = LinesJournal(tmp_path, "job", new=False)
    found = resume_bench(again, lambda: "1")
    again.close()
    assert lines(found.effects)[-1] == wait
    assert found.notes == ()
    assert [type(event).__name__ for _, event in read_record(tmp_path, "job").lines][-2:] == ["Stopped", "WentOn"]


def test_a_torn_line_is_set_aside_and_told(journal: LinesJournal, tmp_path: Path) -> None:
    bench, _ = new_bench(job_with(), journal, lambda: "0")
    wait = lines(bench.give(Said("done")))[-1]
    journal.close()
    with (tmp_path / "job.jsonl").open("ab") as file:
        file.write(b'{"batch":3,"last":false,"at":"0","event":"Answ')
    again = LinesJournal(tmp_path, "job", new=False)
    found = resume_bench(again, lambda: "1")
    again.close()
    assert lines(found.effects)[-1] == wait
    assert found.notes == ("1 torn line(s) at the end of the journal were never acknowledged; set aside in job.torn-3",)
    assert (tmp_path / "job.torn-3").read_bytes() == b'{"batch":3,"last":false,"at":"0","event":"Answ'


def test_a_journal_without_a_whole_first_batch_is_no_job(journal: LinesJournal, tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="job job has no accepted input"):
        resume_bench(journal, lambda: "0")
    journal.close()
    (tmp_path / "job.jsonl").write_bytes(b'{"batch":1,"last":fal')
    again = LinesJournal(tmp_path, "job", new=False)
    with pytest.raises(JournalError, match="job job has no accepted input"):
        resume_bench(again, lambda: "0")
    again.close()


def test_a_job_of_another_procedure_is_gone_on_with_and_the_difference_told() -> None:
    disk = FullDisk()
    new_bench(job_with(), disk, lambda: "0")
    first = disk.kept[0]
    assert isinstance(first, JobStarted)
    disk.kept[0] = JobStarted(first.job, first.job_id, "another checksum")
    assert resume_bench(disk, lambda: "0").notes == (
        "the procedure has changed since this job began: read each step with the manual in hand",
    )


def test_a_journal_that_names_a_step_of_no_procedure_is_refused_in_one_line() -> None:
    disk = FullDisk()
    new_bench(job_with(), disk, lambda: "0")
    disk.kept.append(StepBegan("old.step"))
    with pytest.raises(JournalError, match=r"job job does not fit this program's procedure: 'old\.step'"):
        resume_bench(disk, lambda: "0")


def test_a_clip_that_is_no_sound_is_refused_by_name(journal: LinesJournal, tmp_path: Path) -> None:
    bench, _ = new_bench(job_with(), journal, lambda: "0")
    (tmp_path / "clip.wav").write_bytes(b"no sound")
    with pytest.raises(BadInputError, match=r"clip\.wav"):
        bench.hear(tmp_path / "clip.wav")
    assert not any(isinstance(event, Missed) for _, event in read_record(tmp_path, "job").lines)
