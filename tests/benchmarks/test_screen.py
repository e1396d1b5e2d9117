"""The screen's benchmark, as far as it needs no browser: its figures, and when they are good enough. tests/browser runs it whole."""

import pytest

from assistant.benchmarks.screen import holds, share

GOOD = {"shown_after_disk_ms_p95": 100.0, "first_paint_ms_max": 1000.0, "page_bytes": 100_000}


@pytest.mark.parametrize(
    ("part", "value"),
    # Of ten ordered values at least 95 % do not exceed the tenth, half do not exceed the fifth (by hand).
    [(0.5, 5.0), (0.95, 10.0), (0.9, 9.0), (1.0, 10.0), (0.01, 1.0)],
)
def test_a_share_is_the_smallest_value_that_so_many_do_not_exceed(part: float, value: float) -> None:
    assert share([3.0, 1.0, 2.0, 10.0, 9.0, 8.0, 4.0, 5.0, 7.0, 6.0], part) == value


def test_a_share_of_one_value_is_that_value() -> None:
    assert share([41.26], 0.95) == 41.3


def test_the_measures_are_inclusive() -> None:
    assert holds(GOOD)


@pytest.mark.parametrize("name", GOOD)
def test_each_measure_alone_can_fail(name: str) -> None:
    assert not holds({**GOOD, name: GOOD[name] + 1})
