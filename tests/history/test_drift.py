"""A gauge that reads otherwise from some job on is named with that job; sound gauges are left in peace."""

import random
from collections.abc import Sequence
from dataclasses import replace

import pytest

from assistant.core import events as ev
from assistant.core.quantities import Quantity
from assistant.history.drift import FEWEST, Surprise, drifts, surprises
from assistant.journal.lines import read_record
from tests.report.jobs import Played


def jobs_of(spreads: Sequence[float], gauge: str = "depth", unit: float = 25.0) -> list[tuple[Surprise, ...]]:
    return [(Surprise(f"j{number}", gauge, "pinion_depth", one * unit, one),) for number, one in enumerate(spreads)]


def scatter(seed: int, count: int, spread: float = 1.0) -> list[float]:
    dice = random.Random(seed)
    return [dice.gauss(0.7, spread) for _ in range(count)]


def test_a_step_is_found_at_the_job_where_it_began_and_in_its_size() -> None:
    level = [0.2, -0.1, 0.1, -0.2, 0.0, 0.1, -0.1, 0.0]
    (found,) = drifts(jobs_of([*level, *(one + 4 for one in level)]))
    assert (found.gauge, found.quantity, found.since, found.jobs) == ("depth", "pinion_depth", "j8", 16)
    assert found.by == pytest.approx(100)
    # By hand: each side's squares add up to 0.12, so the scatter is sqrt((0.24 + 4) / (14 + 4)) = 0.48534; 4 / (0.48534 · sqrt(1/8 + 1/8)) = 16.48.
    assert found.errors == pytest.approx(16.48, abs=0.01)


def test_a_level_that_is_off_in_every_job_is_no_drift() -> None:
    """What the predictions get wrong in general is in every job alike."""
    assert drifts(jobs_of([5.0 + one for one in scatter(1, 40)])) == ()


def test_fewer_jobs_than_can_tell_say_nothing() -> None:
    assert drifts(jobs_of([0.0] * FEWEST + [50.0] * (FEWEST - 1))) == ()


def test_one_odd_axle_is_no_drift() -> None:
    for place in range(12):
        values = [0.0] * 12
        values[place] = 6.0
        assert drifts(jobs_of(values)) == (), place


@pytest.mark.parametrize(("jobs", "spread"), [(8, 1.0), (8, 2.0), (20, 1.0), (20, 2.0), (40, 1.0)])
def test_sound_gauges_raise_at_most_two_false_alarms_in_a_hundred(jobs: int, spread: float) -> None:
    """300 series of normal scatter, as wide as the predictions say and twice as wide."""
    alarms = sum(bool(drifts(jobs_of(scatter(seed, jobs, spread)))) for seed in range(300))
    assert alarms <= 6


def test_a_step_of_three_spreads_among_twenty_jobs_is_nearly_always_found() -> None:
    found = sum(bool(drifts(jobs_of([one + (3 if at >= 10 else 0) for at, one in enumerate(scatter(seed, 20))]))) for seed in range(100))
    assert found >= 95


def test_gauges_and_quantities_are_kept_apart() -> None:
    mixed = [one + other for one, other in zip(jobs_of([0.0] * 10), jobs_of([0.0] * 5 + [9.0] * 5, "other"), strict=True)]
    assert [found.gauge for found in drifts(mixed)] == ["other"]


def test_a_job_gives_one_surprise_for_each_gauge_and_quantity_and_none_for_what_was_typed(troubled: Played) -> None:
    lines = read_record(troubled.folder, troubled.job_id).lines
    found = surprises(lines)
    by_gauge = {(event.gauge, event.quantity) for _, event in lines if isinstance(event, ev.Recorded) and event.source == "gauge"}
    assert found
    assert len({(one.gauge, one.quantity) for one in found}) == len(found)
    assert {(one.gauge, one.quantity) for one in found} <= by_gauge


def test_a_gauge_that_reads_more_surprises_by_as_much(troubled: Played) -> None:
    """The prediction comes before the reading: what is added to it is added to the surprise, to the micrometre (0.0010 in is 25.4 µm)."""
    lines = list(read_record(troubled.folder, troubled.job_id).lines)
    first = surprises(lines)[0]
    at = next(
        number
        for number, (_, event) in enumerate(lines)
        if isinstance(event, ev.Recorded) and (event.gauge, event.quantity) == (first.gauge, first.quantity) and event.source == "gauge"
    )
    time, event = lines[at]
    assert isinstance(event, ev.Recorded)
    assert event.value is not None
    more = Quantity(event.value.value * 2, event.value.unit)
    changed = surprises([*lines[:at], (time, replace(event, value=more))])
    (again,) = (one for one in changed if (one.gauge, one.quantity) == (first.gauge, first.quantity))
    scale = 1000 if event.value.unit in ("in", "mm") else 10**6
    assert again.by - first.by == pytest.approx(float(event.value.base / scale))


def test_a_reading_that_was_wrong_says_nothing_of_its_gauge(troubled: Played) -> None:
    lines = list(read_record(troubled.folder, troubled.job_id).lines)
    first = surprises(lines)[0]
    ids = tuple(e.id for _, e in lines if isinstance(e, ev.Recorded) and (e.gauge, e.quantity) == (first.gauge, first.quantity))
    last = max(number for number, (_, event) in enumerate(lines) if isinstance(event, ev.Recorded) and event.id in ids)
    spoilt = [*lines[: last + 1], ("0", ev.Voided(ids, "wrong", "undo"))]
    assert (first.gauge, first.quantity) not in {(one.gauge, one.quantity) for one in surprises(spoilt)}


def test_a_journal_without_a_start_has_no_surprises() -> None:
    assert surprises([("0", ev.Held())]) == surprises([]) == ()
