"""The benchmark of whole jobs: its script is a real job, it times the real command, and it would see a loss."""

import random
from pathlib import Path

import pytest

from assistant.benchmarks.jobs import Crashes, Script, Timing, _compare, killed, scripted, timed
from tests.table import Line


@pytest.fixture(scope="module")
def script() -> Script:
    return scripted(1)


def test_the_script_is_a_whole_job_typed_to_its_end(script: Script) -> None:
    assert len(script.inputs) > 100
    assert all(set(line) == {"say"} for line in script.inputs)
    assert script.last(len(script.inputs))["end"]["verdict"] == "in spec"
    assert len(script.batches) == len(script.inputs) + 1


def test_the_command_is_timed_reply_by_reply_and_prints_what_the_script_says(script: Script, tmp_path: Path) -> None:
    timing = timed(script, tmp_path)
    assert len(timing.seconds) == len(script.inputs)
    assert 0 < timing.at(0.5) <= timing.at(0.95) <= max(timing.seconds)
    assert timing.total > sum(timing.seconds)
    assert timing.verdict == "in spec"


def test_a_command_that_prints_something_else_is_told(script: Script, tmp_path: Path) -> None:
    batches = [list(batch) for batch in script.batches]
    batches[1] = [{"speak": "something else", "urgency": "info"}, *batches[1]]
    with pytest.raises(RuntimeError, match="the command printed"):
        timed(Script(script.job_toml, script.inputs, batches), tmp_path)


def test_a_job_that_is_killed_goes_on_where_it_was_left(script: Script, tmp_path: Path) -> None:
    crashes = killed(script, tmp_path, 3, random.Random(5))
    assert (crashes.times, crashes.lost, crashes.other_waits) == (3, 0, 0)


def _resumed(script: Script, done: int) -> list[Line]:
    return [*({"recorded": {**reading, "replayed": True}} for reading in script.recorded(done)), script.last(done)]


def test_the_comparison_sees_a_lost_reading_and_another_wait(script: Script) -> None:
    done = next(count for count in range(len(script.inputs)) if len(script.recorded(count)) == 5)
    crashes = Crashes()
    assert _compare(_resumed(script, done), script, done, crashes) == done
    assert (crashes.acknowledged, crashes.lost) == (5, 0)
    with pytest.raises(RuntimeError):
        _compare(_resumed(script, done)[1:], script, done, crashes)
    assert crashes.lost == 1
    with pytest.raises(RuntimeError):
        _compare([*_resumed(script, done)[:-1], script.last(done + 9)], script, done, crashes)
    assert crashes.other_waits == 2


def test_an_input_that_was_cut_off_may_have_counted_but_then_wholly(script: Script) -> None:
    done = next(count for count in range(len(script.inputs)) if len(script.recorded(count + 1)) > len(script.recorded(count)))
    crashes = Crashes()
    assert _compare(_resumed(script, done + 1), script, done, crashes) == done + 1
    assert crashes.accepted == 1
    half = [*_resumed(script, done)[:-1], script.last(done + 1)]
    with pytest.raises(RuntimeError):
        _compare(half, script, done, crashes)


def test_quantiles_are_of_the_replies() -> None:
    timing = Timing(tuple(float(second) for second in range(100)), 0.0, 1.0, "in spec")
    assert (timing.at(0.5), timing.at(0.95), timing.at(1.0)) == (50.0, 95.0, 99.0)
