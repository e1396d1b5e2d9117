"""The journal as JSON lines: torn at any byte, damaged, full, or opened twice, it loses nothing that was acknowledged."""

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from assistant.core import events as ev
from assistant.core.errors import JournalError
from assistant.journal import Journal
from assistant.journal.lines import LinesJournal, jobs_in, read_record
from tests.suites.journal import BATCHES, STARTED, JournalSuite

Opened = Callable[..., LinesJournal]
EVENTS = [tuple(event for batch in BATCHES[:count] for event in batch) for count in range(len(BATCHES) + 1)]


class TestLines(JournalSuite):
    """The suite of every journal."""

    opening = "from assistant.journal.lines import LinesJournal; LinesJournal(folder, job_id, new=False)"

    def make(self, folder: Path, job_id: str = "job", *, new: bool = True) -> Journal:
        return LinesJournal(folder, job_id, new=new)

    def tear(self, folder: Path, job_id: str = "job") -> None:
        path = folder / f"{job_id}.jsonl"
        path.write_bytes(path.read_bytes()[:-20])


@pytest.fixture
def opened() -> Iterator[Opened]:
    """Opens journals, and closes them when the test ends."""
    made: list[LinesJournal] = []

    def opening(folder: Path, *, new: bool = False) -> LinesJournal:
        made.append(LinesJournal(folder, "job", new=new))
        return made[-1]

    yield opening
    for journal in made:
        journal.close()


def filled(folder: Path, job_id: str = "job") -> Path:
    """The file of a journal that holds `BATCHES`."""
    journal = LinesJournal(folder, job_id, new=True)
    for batch in BATCHES:
        journal.append(batch, "0")
    journal.close()
    return folder / f"{job_id}.jsonl"


def test_a_line_tells_its_batch_its_time_its_event_and_its_version(tmp_path: Path) -> None:
    lines = [json.loads(line) for line in filled(tmp_path).read_text(encoding="utf-8").splitlines()]
    assert [(line["batch"], line["last"]) for line in lines] == [
        (1, False), (1, True), (2, False), (2, True), (3, True), (4, False), (4, False), (4, True),
    ]  # fmt: skip
    assert lines[1] == {"batch": 1, "last": True, "at": "0", "event": "StepBegan", "v": 1, "step": "intake.manual"}
    assert lines[5]["value"] == {"value": "22.50", "unit": "lb-in"}


def test_torn_at_any_byte_exactly_the_whole_batches_are_there_and_the_rest_is_kept_beside(tmp_path: Path, opened: Opened) -> None:
    whole = filled(tmp_path).read_bytes()
    ends = [
        index + 1 for index, line_end in enumerate(whole) if line_end == ord("\n") and b'"last":true' in whole[: index + 1].splitlines()[-1]
    ]
    near = {end + step for end in ends for step in (-2, -1, 0, 1, 2)}
    for cut in sorted({0, 1, *near, *range(0, len(whole), 41)} & set(range(len(whole)))):
        folder = tmp_path / str(cut)
        folder.mkdir()
        path = folder / "job.jsonl"
        path.write_bytes(whole[:cut])
        journal = opened(folder)
        loaded = journal.load()
        kept = [end for end in ends if end <= cut]
        assert loaded.events == EVENTS[len(kept)], cut
        rest = whole[kept[-1] if kept else 0 : cut]
        if rest:
            assert (folder / loaded.torn_path).read_bytes() == rest
            assert loaded.torn == len(rest.splitlines())
        else:
            assert loaded.torn == 0
        assert path.read_bytes() == whole[: kept[-1] if kept else 0]
        journal.close()


def test_a_second_crash_in_the_same_batch_keeps_what_the_first_left(tmp_path: Path, opened: Opened) -> None:
    path = filled(tmp_path)
    whole = path.read_bytes()
    for torn in (b'{"first', b'{"second'):
        path.write_bytes(whole + torn)
        journal = opened(tmp_path)
        assert journal.load().events == EVENTS[-1]
        journal.close()
    kept = b"".join(sorted(aside.read_bytes() for aside in tmp_path.glob("job.torn*")))
    assert b"first" in kept
    assert b"second" in kept


@pytest.mark.parametrize(
    "damage",
    [b"\x00" * 40, b"not json at all", b'{"batch":4,"last":false,"event":"Nonsense","v":1}'],
    ids=["zeros", "words", "another event"],
)
def test_a_last_batch_that_the_disk_wrote_only_in_parts_is_set_aside(tmp_path: Path, opened: Opened, damage: bytes) -> None:
    """A batch is several lines and one sync: after a power cut its later part may be there and its earlier part not."""
    path = filled(tmp_path)
    lines = path.read_bytes().splitlines(keepends=True)
    lines[5] = damage + b"\n"
    path.write_bytes(b"".join(lines))
    journal = opened(tmp_path)
    loaded = journal.load()
    assert loaded.events == EVENTS[3]
    assert loaded.torn == 3


def test_damage_in_an_acknowledged_batch_is_told_and_nothing_is_cut_off(tmp_path: Path, opened: Opened) -> None:
    path = filled(tmp_path)
    lines = path.read_bytes().splitlines(keepends=True)
    lines[2] = lines[2].replace(b"StepDone", b"StepDnoe")
    damaged = b"".join(lines)
    path.write_bytes(damaged)
    journal = opened(tmp_path)
    with pytest.raises(JournalError, match=r"journal job\.jsonl is damaged before its end.*StepDnoe"):
        journal.load()
    assert path.read_bytes() == damaged


def test_an_event_of_a_newer_program_is_not_read_as_something_else(tmp_path: Path, opened: Opened) -> None:
    path = filled(tmp_path)
    path.write_bytes(path.read_bytes().replace(b'"event":"StepDone","v":1', b'"event":"StepDone","v":2'))
    with pytest.raises(JournalError, match="version 2 is not known"):
        opened(tmp_path).load()


FULL = """
import json, resource, sys
from pathlib import Path
from assistant.core import events as ev
from assistant.core.errors import JournalError
from assistant.journal.lines import LinesJournal
from tests.suites.journal import BATCHES

most = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
for room in map(int, sys.argv[2:]):
    folder = Path(sys.argv[1]) / str(room)
    journal = LinesJournal(folder, "job", new=True)
    accepted, refused = [], 0
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, most))
    for number in range(20):
        batch = (ev.Replied("why"), ev.Replied(f"full disk {number}")) if number else BATCHES[0]
        try:
            journal.append(batch, "0")
            accepted += batch
            size = (folder / "job.jsonl").stat().st_size
        except JournalError as error:
            assert "cannot be written" in str(error) and "Nothing was accepted" in str(error), error
            assert (folder / "job.jsonl").stat().st_size == size  # nothing of it is left on the disk
            refused += 1
            if refused == 3:
                resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    journal.close()
    loaded = LinesJournal(folder, "job", new=False).load()
    print(json.dumps([list(loaded.events) == accepted, refused, loaded.torn, len(accepted)]))
"""


def test_on_a_full_disk_what_was_accepted_stays_and_what_was_refused_never_comes_back(tmp_path: Path) -> None:
    """The limit on the size of a file stands in for a full disk: the write fails after some bytes, as it does there."""
    first = len(filled(tmp_path, "size").read_bytes())
    rooms = [str(room) for room in range(first, first + 400, 37)]
    told = subprocess.run([sys.executable, "-c", FULL, str(tmp_path), *rooms], capture_output=True, text=True, timeout=60, check=False)
    assert told.returncode == 0, told.stderr
    assert [json.loads(line) for line in told.stdout.splitlines()] == [[True, 3, 0, 2 * (20 - 3)]] * len(rooms)


def test_a_refused_batch_that_could_not_even_be_cut_off_is_cut_off_before_the_next(
    tmp_path: Path, opened: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = opened(tmp_path, new=True)
    journal.append(BATCHES[0], "0")
    with monkeypatch.context() as broken:
        broken.setattr(os, "fsync", _refused)
        broken.setattr(os, "ftruncate", _refused)
        with pytest.raises(JournalError, match="Nothing was accepted"):
            journal.append(BATCHES[3], "0")  # longer than the next: its tail would stay
    journal.append((ev.Replied("why"),), "0")
    journal.close()
    loaded = opened(tmp_path).load()
    assert loaded.events == (*BATCHES[0], ev.Replied("why"))
    assert loaded.torn == 0


def _refused(*_: int) -> None:
    raise OSError(5, "Input/output error")


def test_the_jobs_of_a_folder_come_newest_first_with_their_start(tmp_path: Path) -> None:
    filled(tmp_path, "older")
    newer = filled(tmp_path, "newer")
    (tmp_path / "broken.jsonl").write_bytes(b"\x00\x00")
    (tmp_path / "notes.txt").write_text("no journal")
    newer.touch()
    found = jobs_in(tmp_path)
    assert found[0] == ("newer", STARTED)
    assert ("older", STARTED) in found
    assert ("broken", None) in found
    assert len(found) == 3


def test_a_job_can_be_read_while_it_is_open_each_event_with_its_time(tmp_path: Path, opened: Opened) -> None:
    journal = opened(tmp_path, new=True)
    journal.append(BATCHES[0], "7.5")
    record = read_record(tmp_path, "job")
    assert record.lines == tuple(("7.5", event) for event in BATCHES[0])
    assert record.sha256 == hashlib.sha256((tmp_path / "job.jsonl").read_bytes()).hexdigest()
    with pytest.raises(JournalError, match="job other is not in this store"):
        read_record(tmp_path, "other")


def test_a_folder_that_cannot_be_made_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(JournalError, match=r"file/job\.jsonl cannot be opened"):
        LinesJournal(tmp_path / "file", "job", new=True)


def test_time_stamps_are_written_as_they_came(tmp_path: Path, opened: Opened) -> None:
    journal = opened(tmp_path, new=True)
    journal.append((STARTED,), "2026-01-01T08:00:00.000+00:00")
    journal.append((ev.Held(),), "12.50")
    journal.close()
    lines = (tmp_path / "job.jsonl").read_text(encoding="utf-8").splitlines()
    assert [json.loads(line)["at"] for line in lines] == ["2026-01-01T08:00:00.000+00:00", "12.50"]
