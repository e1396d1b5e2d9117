"""The benchmark of the store, small: real jobs, the real command, a real PostgreSQL killed with signal 9, a disk that the system itself refuses."""

import json
import random
from pathlib import Path

import pytest

from assistant.benchmarks import store
from assistant.benchmarks.jobs import Script, scripted
from assistant.benchmarks.postgres import Server, program
from assistant.journal.lines import read_record


@pytest.fixture(scope="module")
def script() -> Script:
    return scripted(1)


def test_the_jobs_that_are_searched_are_whole_jobs_and_each_is_found_by_its_own_words(tmp_path: Path) -> None:
    store.fill(tmp_path / "store", 7, 1)
    found = store.searched(tmp_path / "store", ("crush-sleeve", "order 6", "nothing-of-that-name", "in spec"))
    assert found.jobs == 7
    assert found.found == (2, 1, 0, 7)  # every third axle has a sleeve
    assert all(seconds > 0 for seconds in (found.first, *found.again, found.one_more))
    names = [path.stem for path in (tmp_path / "store").glob("*.jsonl")]
    assert all(len(read_record(tmp_path / "store", name).lines) > 200 for name in names)


def test_benches_at_a_server_that_is_killed_twice_lose_and_double_nothing(script: Script, tmp_path: Path) -> None:
    if program("initdb") is None:
        pytest.skip("no PostgreSQL is installed here")
    server = Server()
    try:
        found = store.shift(3, 5.0, ((0.5, 1.0), (3.5, 3.7)), tmp_path, script, server)
        assert (found.lost, found.doubled, found.differing) == (0, 0, 0)
        assert found.acknowledged > 0
        assert found.rows == sum(path.read_bytes().count(b"\n") for path in tmp_path.glob("bench */*.jsonl"))
        assert found.away
        # It would see a loss, a double and a journal that differs.
        (journal, *_) = (path for path in tmp_path.glob("bench 0/*.jsonl") if b'"Recorded"' in path.read_bytes())
        told = json.loads((tmp_path / "bench 0.json").read_text())
        told["readings"].append([journal.stem, "r999", "0.0065"])
        (tmp_path / "bench 0.json").write_text(json.dumps(told))
        journal.write_bytes(journal.read_bytes() + b"{}\n")
        again = store._counted(tmp_path, 3, server.url, [], 0.0)
        assert (again.lost, again.doubled, again.differing) == (1, 0, 1)
    finally:
        server.remove()


@pytest.mark.parametrize("quantity", store.MEASURED)
def test_a_long_job_measures_one_thing_again_and_again(quantity: str, tmp_path: Path) -> None:
    found = store.measured_again(quantity, 600, tmp_path, 1)
    assert found.events >= 600
    readings = [e for _, e in read_record(tmp_path, quantity).lines if type(e).__name__ == "Recorded" and e.quantity == quantity]  # type: ignore[union-attr]
    assert len(readings) > 20
    assert len(found.early) == len(found.late) == 100
    assert found.resumed > 0


def test_a_disk_that_the_system_holds_full_is_said_aloud_and_the_job_goes_on_when_there_is_room(script: Script, tmp_path: Path) -> None:
    found = store.filled_up(script, tmp_path, 12, random.Random(3))
    assert found.times >= 12
    assert found.aloud == found.times
    assert (found.corrupt, found.wrong) == (0, 0)


def test_a_share_of_the_times_lies_below_a_time() -> None:
    assert [store.at_share([float(n) for n in range(100)], share) for share in (0.0, 0.5, 0.95, 1.0)] == [0.0, 50.0, 95.0, 99.0]
