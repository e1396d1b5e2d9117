"""The total reading of a turn, the swing of a backlash, pulls and turning resistance."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gauges.movement import (
    Swing,
    TotalReading,
    TurningResistance,
    Void,
    missed_percent,
    peak,
    swing,
    total_reading,
    turning_resistance,
)
from gauges.reading import Event, Fault, Reading
from gauges.settling import Settled

TURN = Fraction(105, 100)


def mm(text: str) -> Reading:
    """A reading in millimetres."""
    return Reading(Decimal(text), "mm")


def turn_of(count: int, *, swing_mm: float = 0.05) -> list[Event]:
    """Readings of a once-per-turn swing of this half height, over 1.05 turns, so many in all."""
    return [mm(f"{1 + swing_mm * math.cos(2 * math.pi * 1.05 * index / count):.3f}") for index in range(count)]


@pytest.mark.parametrize(("per_turn", "percent"), [(8, "7.6"), (12, "3.4"), (24, "0.9"), (36, "0.4")])
def test_what_even_samples_of_a_turn_can_miss_is_known(per_turn: int, percent: str) -> None:
    # 1 − cos(π/N), by hand: cos 22.5° = 0.92388, cos 15° = 0.96593, cos 7.5° = 0.99144, cos 5° = 0.99619.
    assert missed_percent(per_turn) == Decimal(percent)


def test_the_total_reading_is_highest_minus_lowest_exactly() -> None:
    result = total_reading(turn_of(60))
    assert isinstance(result, TotalReading)
    assert (result.value, result.unit, result.per_turn) == (Decimal("0.100"), "mm", 57)


@given(offset=st.integers(-5000, 5000), count=st.integers(40, 200))
def test_the_total_reading_does_not_depend_on_where_the_dial_was_zeroed(offset: int, count: int) -> None:
    moved: list[Event] = [mm(str(event.value + Decimal(offset) / 1000)) for event in turn_of(count) if isinstance(event, Reading)]
    first, second = total_reading(turn_of(count)), total_reading(moved)
    assert isinstance(first, TotalReading)
    assert isinstance(second, TotalReading)
    assert first.value == second.value


def test_too_few_readings_say_turn_slower_and_less_than_a_turn_says_turn_more() -> None:
    slower = total_reading(turn_of(30))
    assert isinstance(slower, Void)
    assert "turn slower" in slower.reason
    more = total_reading(turn_of(60), turns=Fraction(1))
    assert isinstance(more, Void)
    assert "once round" in more.reason


def test_a_refused_frame_voids_the_turn_unless_its_neighbours_are_within_one_count() -> None:
    bad = Fault("parity", "one bad byte")
    calm = turn_of(400)
    at_top = next(index for index in range(1, 400) if calm[index] == calm[index - 1])
    assert isinstance(total_reading([*calm[:at_top], bad, *calm[at_top:]]), TotalReading)
    steep = turn_of(60)
    assert isinstance(total_reading([*steep[:15], bad, *steep[15:]]), Void)
    assert isinstance(total_reading([bad, *steep]), Void)
    assert isinstance(total_reading([*steep, bad]), Void)


@pytest.mark.parametrize("code", ["unit-change", "mode-change", "decimals-change", "over-range", "gauge-error"])
def test_a_broken_lock_or_a_word_of_the_gauge_voids_the_turn(code: str) -> None:
    events = turn_of(60)
    result = total_reading([*events[:30], Fault(code, "…"), *events[30:]])  # type: ignore[arg-type]
    assert isinstance(result, Void)
    assert code in result.reason


def settled(text: str, since: float, unit: str = "mm", channel: str | None = None) -> Settled:
    """A steady value of one second."""
    return Settled(Reading(Decimal(text), unit, channel), since, since + 1.0, 10)


def test_a_swing_is_the_second_end_minus_the_first_with_its_sign() -> None:
    assert swing(settled("0.012", 0.0), settled("0.190", 3.0)) == Swing(Decimal("0.178"), "mm")
    assert swing(settled("0.190", 0.0), settled("0.012", 3.0)) == Swing(Decimal("-0.178"), "mm")


@pytest.mark.parametrize(
    "second", [settled("0.190", 3.0, "in"), settled("0.190", 3.0, channel="2"), settled("0.19", 3.0), settled("0.190", 0.5)]
)
def test_two_ends_of_other_settings_or_without_a_move_between_are_no_swing(second: Settled) -> None:
    assert isinstance(swing(settled("0.012", 0.0), second), Void)


def newton_metres(*texts: str) -> list[Reading]:
    """Readings of a torque gauge."""
    return [Reading(Decimal(text), "N.m") for text in texts]


def test_the_breakaway_peak_is_kept_apart_from_the_mean_of_steady_turning() -> None:
    start = newton_metres("0.20", "1.10", "2.40", "1.80", "1.50")
    steady = newton_metres(*["1.52", "1.50"] * 20)
    result = turning_resistance([*start, *steady], turns=Fraction(1))
    assert isinstance(result, TurningResistance)
    assert result.breakaway.text == "2.40"
    # From the foot at 1.50: twenty of 1.52 and twenty-one of 1.50 have the mean 1.50976…, with the gauge's two decimals 1.51.
    assert (result.mean, result.unit, result.count) == (Decimal("1.51"), "N.m", 41)


def test_less_than_a_turn_or_too_few_readings_have_no_mean() -> None:
    steady = newton_metres(*["1.52", "1.50"] * 20)
    assert isinstance(turning_resistance(steady, turns=Fraction(9, 10)), Void)
    assert isinstance(turning_resistance(steady[:20], turns=Fraction(1)), Void)
    assert isinstance(turning_resistance([*steady, Reading(Decimal("1.5"), "N.m")], turns=Fraction(1)), Void)


def test_a_damaged_frame_that_looks_like_a_value_is_no_high_spot_where_frames_have_no_check() -> None:
    events = turn_of(60)
    events[20] = mm("1.900")
    assert isinstance(total_reading(events), TotalReading)
    result = total_reading(events, needs_agreement=True)
    assert isinstance(result, Void)
    assert "stands apart" in result.reason
    assert isinstance(total_reading(turn_of(40), needs_agreement=True), TotalReading)


def pull_of(*texts: str) -> list[Reading]:
    return [Reading(Decimal(text), "N.m") for text in texts]


PULL = ("0.0", "1.0", "30.0", "80.0", "98.0", "101.5", "99.0", "40.0", "2.0")


def test_the_peak_of_a_pull_lies_between_two_rests() -> None:
    top = peak(pull_of(*PULL), range_end=Decimal(200))
    assert isinstance(top, Reading)
    assert top.text == "101.5"


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ((), "no reading"),
        (PULL[:6], "no end near zero"),
        (PULL[3:], "no beginning"),
        (("0.0", "0.0"), "near zero"),
        (("0.0", "4.0", "5.0", "4.0", "0.0"), "no pull"),
        ((*PULL[:5], "901.5", *PULL[6:]), "stands apart"),
    ],
)
def test_what_is_no_whole_pull_has_no_peak(texts: tuple[str, ...], words: str) -> None:
    result = peak(pull_of(*texts), range_end=Decimal(200) if words == "no pull" else None)
    assert isinstance(result, Void)
    assert words in result.reason


def test_a_damaged_frame_does_not_move_the_mean_of_a_turn() -> None:
    readings = pull_of("3.0", "2.0", *["2.1"] * 40)
    assert isinstance(turning_resistance(readings, turns=Fraction(1)), TurningResistance)
    readings[20] = Reading(Decimal("82.1"), "N.m")
    result = turning_resistance(readings, turns=Fraction(1))
    assert isinstance(result, Void)
    assert "three times" in result.reason
