"""The benchmark of live gauges measures what it says, on few values."""

from pathlib import Path

import pytest

import assistant
from assistant.benchmarks import live_gauges
from assistant.benchmarks.live_gauges import LoadResult, delays, load, main

JOB = Path(assistant.__file__).parent.parent / "recordings_demo" / "job.toml"


def test_every_value_of_several_gauges_at_once_is_read_in_order() -> None:
    result = load(0.4, gauges=3)
    assert (result.sent, result.read, result.in_order, result.dropped) == (60, 60, True, 0)
    assert result.core > 0


def test_a_word_follows_every_value() -> None:
    found = delays(3, JOB)
    assert len(found) == 3
    assert all(0 < seconds < 5 for seconds in found)


@pytest.mark.parametrize(
    ("result", "delay", "status"),
    [
        (LoadResult(10, 10, True, 0, 0.05), 0.01, 0),
        (LoadResult(10, 9, False, 0, 0.05), 0.01, 1),
        (LoadResult(10, 10, True, 0, 0.26), 0.01, 1),
        (LoadResult(10, 10, True, 0, 0.05), 0.151, 1),
    ],
)
def test_a_missed_bound_is_an_exit_status(
    result: LoadResult, delay: float, status: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(live_gauges, "load", lambda _: result)
    monkeypatch.setattr(live_gauges, "delays", lambda count, _: [delay] * count)
    assert main(60, 20, JOB) == status
    assert "of 10 read" in capsys.readouterr().out
