"""When a value is steady, and what "take" means. Times are made up: the clock is an input."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gauges.formats import FORMATS
from gauges.reading import Event, Fault, FaultCode, Reading, Status
from gauges.settling import Agreement, NotSettled, Settled, Settler, SettleRule, rule_for, silent_after


def mm(text: str, *marks: str) -> Reading:
    """A reading in millimetres."""
    return Reading(Decimal(text), "mm", marks=marks)


def fed(settler: Settler, values: list[str | Event], start: float = 0.0, step: float = 0.1) -> Settled | None:
    """The settler's answer after these events, one each `step` seconds."""
    settled = None
    for turn, value in enumerate(values):
        settled = settler.add(mm(value) if isinstance(value, str) else value, start + turn * step)
    return settled


def test_four_readings_over_0_6_seconds_within_one_count_of_the_last_are_steady() -> None:
    settler = Settler()
    assert fed(settler, ["1.000", "1.001", "1.000", "1.001", "1.000", "1.001"]) is None  # 0.5 s
    settled = settler.add(mm("1.001"), 0.6)
    assert settled is not None
    assert (settled.reading.text, settled.count, settled.since, settled.until) == ("1.001", 7, 0.0, 0.6)


def test_three_readings_are_too_few_however_long_they_last() -> None:
    assert fed(Settler(), ["1.000", "1.000", "1.000"], step=0.5) is None


def test_a_slow_ramp_of_one_count_a_reading_is_never_steady() -> None:
    assert all(fed(Settler(), [f"{1 + turn / 1000:.3f}" for turn in range(count)]) is None for count in range(1, 60))


@given(st.lists(st.integers(-3, 3), min_size=1, max_size=60))
def test_whatever_comes_a_steady_value_has_its_run_within_one_count(steps: list[int]) -> None:
    settler = Settler(SettleRule(needs_agreement=False))
    seen: list[Decimal] = []
    for turn, step in enumerate(steps):
        seen.append((seen[-1] if seen else Decimal("1.000")) + step * Decimal("0.001"))
        settled = settler.add(Reading(seen[-1], "mm"), turn * 0.1)
        tail = seen[-7:]
        is_steady = len(tail) == 7 and all(abs(value - seen[-1]) <= Decimal("0.001") for value in tail)
        assert (settled is not None) is is_steady
        if settled is not None:
            assert settled.reading.value == seen[-1]


@pytest.mark.parametrize(("key", "seconds"), [("ascii-signed-cr", 0.6), ("bcd-7-nibble", 1.3), ("ask-reply-cr", 0.6)])
def test_a_gauge_that_sends_every_320_ms_needs_1_3_seconds(key: str, seconds: float) -> None:
    assert rule_for(FORMATS[key]).seconds == seconds
    assert rule_for(FORMATS[key]).needs_agreement is FORMATS[key].needs_agreement


@pytest.mark.parametrize("row", FORMATS.values(), ids=lambda row: row.key)
def test_silence_is_noticed_after_two_seconds_at_the_latest(row: object) -> None:
    assert 0.5 <= silent_after(row) <= 2.0  # type: ignore[arg-type]


def test_where_two_frames_must_agree_the_value_is_one_that_came_twice() -> None:
    values = ["1.000", "1.000", "1.000", "1.000", "1.000", "1.000", "1.001"]
    agreed = fed(Settler(SettleRule(needs_agreement=True)), list(values))
    single = fed(Settler(SettleRule(needs_agreement=False)), list(values))
    assert agreed is not None
    assert single is not None
    assert (agreed.reading.text, single.reading.text) == ("1.000", "1.001")


def test_a_damaged_frame_between_leaves_the_run_and_any_word_of_the_gauge_ends_it() -> None:
    steady: list[str | Event] = ["1.000"] * 6
    assert fed(Settler(), [*steady, Fault("parity", "one bad byte"), "1.000"]) is not None
    codes: tuple[FaultCode, ...] = (
        "unit-change",
        "mode-change",
        "decimals-change",
        "offset-change",
        "over-range",
        "gauge-error",
        "adapter-error",
    )
    for code in codes:
        assert fed(Settler(), [*steady, Fault(code, "…"), "1.000"]) is None


def test_an_unstable_flag_ends_the_run_and_another_status_does_not() -> None:
    steady: list[str | Event] = ["1.000"] * 6
    assert fed(Settler(), [*steady, Status("US", moving=mm("1.000")), "1.000"]) is None
    assert fed(Settler(), [*steady, Status("BAT0"), "1.000"]) is not None


def test_a_gap_longer_than_the_silence_begins_a_new_run() -> None:
    settler = Settler()
    fed(settler, ["1.000"] * 10)
    assert settler.settled(0.9) is not None
    assert settler.settled(3.0) is None
    assert fed(settler, ["1.000"] * 4, start=4.0) is None
    assert fed(settler, ["1.000"] * 4, start=4.4) is not None


def test_the_end_of_the_range_and_a_value_between_two_steps_are_not_steady() -> None:
    assert fed(Settler(SettleRule(range_end=Decimal("10.000"))), ["10.000"] * 9) is None
    assert fed(Settler(SettleRule(step=Decimal("0.0005"))), ["1.0003"] * 9) is None
    assert fed(Settler(SettleRule(step=Decimal("0.0005"))), ["1.0005"] * 9) is not None


def test_take_means_the_steady_value_at_the_onset_of_the_word_not_when_it_is_understood() -> None:
    settler = Settler()
    fed(settler, ["1.000"] * 10)  # steady until 0.9
    fed(settler, [f"{1 + turn / 10:.3f}" for turn in range(1, 8)], start=1.0)  # the hand moves away
    taken = settler.take(0.95, now=1.6)
    assert isinstance(taken, Settled)
    assert (taken.reading.text, taken.is_late) == ("1.000", False)


def test_a_word_while_the_dial_moves_waits_two_seconds_for_the_next_steady_value_and_says_so() -> None:
    settler = Settler()
    fed(settler, ["1.000"] * 10)
    fed(settler, [f"{1 + turn / 10:.3f}" for turn in range(1, 8)], start=1.0)
    waiting = settler.take(1.35, now=1.7)
    assert isinstance(waiting, NotSettled)
    assert not waiting.is_final
    fed(settler, ["2.000"] * 10, start=1.7)
    taken = settler.take(1.35, now=2.6)
    assert isinstance(taken, Settled)
    assert (taken.reading.text, taken.is_late) == ("2.000", True)


def test_a_value_that_settles_more_than_two_seconds_after_the_word_is_not_its_answer() -> None:
    settler = Settler()
    fed(settler, [f"{1 + turn / 100:.3f}" for turn in range(40)])  # moving for 3.9 s
    fed(settler, ["2.000"] * 10, start=4.0)
    refused = settler.take(1.0, now=5.0)
    assert isinstance(refused, NotSettled)
    assert refused.is_final


def test_a_lost_port_makes_everything_stale_at_once_and_marks_what_comes_after() -> None:
    settler = Settler()
    fed(settler, ["1.000"] * 10)
    settler.lost(0.95)
    assert settler.settled(0.95) is None
    assert isinstance(settler.take(0.8, now=1.0), NotSettled)
    settled = fed(settler, ["1.000"] * 10, start=3.0)
    assert settled is not None
    assert settled.is_first_after_return
    settler.acknowledge_return()
    settled = fed(settler, ["1.000"] * 2, start=4.0)
    assert settled is not None
    assert not settled.is_first_after_return


def test_a_dial_that_does_not_move_by_one_count_in_30_seconds_is_stuck() -> None:
    settler = Settler()
    assert not settler.is_stuck(100.0)
    fed(settler, ["1.000"] * 310)
    assert not settler.is_stuck(29.9)
    assert settler.is_stuck(30.0)
    settler.add(mm("1.001"), 31.0)
    assert not settler.is_stuck(31.0)


def test_a_dial_at_rest_does_not_fill_the_memory() -> None:
    settled = fed(Settler(), ["1.000"] * 1000)
    assert settled is not None
    assert settled.count <= 51
    assert settled.until - settled.since <= 5.0 + 1e-6


def test_two_frames_in_a_row_must_agree_in_value_unit_and_channel() -> None:
    agreement = Agreement(needs_agreement=True)
    assert agreement.add(mm("1.000"), 0.0) is None
    assert agreement.add(mm("1.001"), 1.0) is None
    assert agreement.add(mm("1.001"), 2.0) == mm("1.001")
    # The pair is used up: the next value needs two of its own.
    assert agreement.add(mm("1.001"), 3.0) is None
    assert agreement.add(Reading(Decimal("1.001"), "in"), 4.0) is None
    assert agreement.add(Reading(Decimal("1.001"), "in", "2"), 5.0) is None


def test_a_fault_or_a_long_pause_between_two_frames_begins_anew_and_a_status_does_not() -> None:
    agreement = Agreement(needs_agreement=True, seconds=30.0)
    agreement.add(mm("1.000"), 0.0)
    agreement.add(Fault("shape", "…"), 1.0)
    assert agreement.add(mm("1.000"), 2.0) is None
    assert agreement.add(Status("?"), 3.0) is None
    assert agreement.add(mm("1.000"), 4.0) == mm("1.000")
    agreement.add(mm("1.000"), 5.0)
    assert agreement.add(mm("1.000"), 36.0) is None


def test_a_family_that_checks_its_frames_needs_no_second_one() -> None:
    assert Agreement(needs_agreement=False).add(mm("1.000"), 0.0) == mm("1.000")
