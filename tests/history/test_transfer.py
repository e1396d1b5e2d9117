"""Jobs carried from bench to bench: byte for byte or not at all, and never two histories in one."""

import io
import json
import zipfile
from pathlib import Path

import pytest

from assistant.core import events as ev
from assistant.core.errors import BadInputError, JournalError
from assistant.history.transfer import Taken, packed, unpacked
from assistant.journal.lines import LinesJournal
from tests.conftest import job_with


def begun(folder: Path, job_id: str, *more: ev.Event) -> Path:
    journal = LinesJournal(folder, job_id, new=True)
    journal.append((ev.JobStarted(job_with(), job_id, "0123"), ev.StepBegan("intake.manual")), "0")
    for event in more:
        journal.append((event,), "1")
    journal.close()
    return folder / f"{job_id}.jsonl"


def gone_on(folder: Path, job_id: str, *events: ev.Event) -> None:
    journal = LinesJournal(folder, job_id, new=False)
    journal.load()
    for event in events:
        journal.append((event,), "2")
    journal.close()


@pytest.fixture
def here(tmp_path: Path) -> Path:
    """A store with two jobs."""
    begun(tmp_path / "here", "one", ev.Held(), ev.Resumed())
    begun(tmp_path / "here", "two")
    return tmp_path / "here"


@pytest.fixture
def there(tmp_path: Path) -> Path:
    """A store that is not there yet."""
    return tmp_path / "there"


def test_jobs_arrive_byte_for_byte_and_the_same_jobs_give_the_same_file(here: Path, there: Path) -> None:
    packet = packed(here, ["one", "two", "one"])
    assert packet == packed(here, ["one", "two"])
    assert unpacked(packet, there) == [Taken("one", "new"), Taken("two", "new")]
    for name in ("one", "two"):
        assert (there / f"{name}.jsonl").read_bytes() == (here / f"{name}.jsonl").read_bytes()
    assert sorted(path.name for path in there.iterdir()) == ["one.jsonl", "two.jsonl"]


def test_what_is_there_already_is_left_alone(here: Path, there: Path) -> None:
    packet = packed(here, ["one"])
    unpacked(packet, there)
    gone_on(there, "one", ev.Held())
    before = (there / "one.jsonl").read_bytes()
    assert unpacked(packet, there) == [Taken("one", "there already")]
    assert (there / "one.jsonl").read_bytes() == before


def test_a_job_that_went_on_elsewhere_is_brought_up_to_date(here: Path, there: Path) -> None:
    unpacked(packed(here, ["one"]), there)
    gone_on(here, "one", ev.Held(), ev.Resumed())
    assert unpacked(packed(here, ["one"]), there) == [Taken("one", "brought up to date")]
    assert (there / "one.jsonl").read_bytes() == (here / "one.jsonl").read_bytes()


def test_a_job_that_went_on_at_both_benches_is_refused_and_nothing_of_the_file_is_taken(here: Path, there: Path) -> None:
    unpacked(packed(here, ["one"]), there)
    gone_on(here, "one", ev.Held())
    gone_on(there, "one", ev.Replied("why"))
    before = (there / "one.jsonl").read_bytes()
    with pytest.raises(BadInputError, match="job one went on here as well as there"):
        unpacked(packed(here, ["two", "one"]), there)
    assert (there / "one.jsonl").read_bytes() == before
    assert not (there / "two.jsonl").exists()


def test_a_job_that_is_open_here_is_not_brought_up_to_date(here: Path, there: Path) -> None:
    unpacked(packed(here, ["one"]), there)
    gone_on(here, "one", ev.Held())
    journal = LinesJournal(there, "one", new=False)
    try:
        with pytest.raises(JournalError, match="job one is open in another process"):
            unpacked(packed(here, ["one"]), there)
    finally:
        journal.close()


def test_a_torn_end_stays_behind(here: Path, there: Path) -> None:
    path = here / "one.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole + b'{"batch":9,"last":tr')
    unpacked(packed(here, ["one"]), there)
    assert (there / "one.jsonl").read_bytes() == whole


def test_a_job_that_is_not_there_cannot_be_packed(here: Path) -> None:
    with pytest.raises(JournalError, match="job three is not in this store"):
        packed(here, ["three"])


def repacked(packet: bytes, change: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(packet)) as box, zipfile.ZipFile(out, "w") as made:
        for name in box.namelist():
            if name not in change:
                made.writestr(name, box.read(name))
        for name, raw in change.items():
            made.writestr(name, raw)
    return out.getvalue()


def listing(packet: bytes, **change: object) -> bytes:
    with zipfile.ZipFile(io.BytesIO(packet)) as box:
        listed = json.loads(box.read("jobs.json"))
    for key, value in change.items():
        (listed if key in listed else listed["jobs"][0])[key] = value
    return json.dumps(listed).encode()


def test_a_changed_journal_is_refused_by_its_hash(here: Path, there: Path) -> None:
    raw = (here / "one.jsonl").read_bytes().replace(b'"Held"', b'"Kept"')
    with pytest.raises(BadInputError, match="damaged on the way: its hash"):
        unpacked(repacked(packed(here, ["one"]), {"one.jsonl": raw}), there)
    assert not there.exists()


@pytest.mark.parametrize("name", ["../one", "a/b", "", ".hidden", "x" * 101, "one\n"])
def test_a_name_that_could_leave_the_store_is_refused(name: str, here: Path, there: Path) -> None:
    packet = packed(here, ["one"])
    with pytest.raises(BadInputError, match="no name of a job"):
        unpacked(repacked(packet, {"jobs.json": listing(packet, job=name)}), there)


def test_a_journal_under_another_jobs_name_is_refused(here: Path, there: Path) -> None:
    packet = packed(here, ["one"])
    raw = (here / "one.jsonl").read_bytes()
    renamed = repacked(packet, {"jobs.json": listing(packet, job="other"), "other.jsonl": raw})
    with pytest.raises(BadInputError, match="is another job's"):
        unpacked(renamed, there)


@pytest.mark.parametrize("packet", [b"", b"PK\x03\x04 torn", b"no zip at all"])
def test_what_is_no_export_is_refused_in_one_line(packet: bytes, there: Path) -> None:
    with pytest.raises(BadInputError, match="the file is no export of jobs"):
        unpacked(packet, there)


def test_an_export_of_a_newer_program_is_not_taken_for_ours(here: Path, there: Path) -> None:
    packet = packed(here, ["one"])
    with pytest.raises(BadInputError, match="version 2, expected 'benchhand jobs' version 1"):
        unpacked(repacked(packet, {"jobs.json": listing(packet, version=2)}), there)


@pytest.mark.parametrize("cut", [10, 200, -1])
def test_a_file_cut_short_takes_nothing(cut: int, here: Path, there: Path) -> None:
    with pytest.raises(BadInputError):
        unpacked(packed(here, ["one", "two"])[:cut], there)
    assert not there.exists()
