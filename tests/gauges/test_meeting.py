"""The ten steps of a first meeting: what each finds, what it asks for again, what ends the meeting."""

from collections.abc import Sequence
from decimal import Decimal

import pytest

from gauges.feed import Back, Lost, Notice, Received, Stale
from gauges.meeting import STEPS, UNSEEN, Meeting, modem_rule
from gauges.reading import Event, Fault, FaultCode, Reading
from gauges.settings import GaugeSettings, Identity

CABLE = Identity(0x0403, 0x6001, "A5", None)
DIAL = GaugeSettings("dial", "ascii-signed-cr", CABLE, unit="mm")


def mm(text: str, *marks: str, channel: str | None = None) -> Reading:
    return Reading(Decimal(text), "mm", channel, marks=marks)


def fault(code: FaultCode) -> Fault:
    return Fault(code, code)


class Bench:
    """A meeting with its clock."""

    def __init__(self, settings: GaugeSettings = DIAL, block: str | None = "10.000") -> None:
        self.meeting = Meeting(settings, None if block is None else Decimal(block))
        self.now = 0.0

    def hears(self, *events: Event, every: float = 0.1) -> "Bench":
        for event in events:
            self.now += every
            self.meeting.hear(Received("dial", event, self.now))
        return self

    def notice(self, *notices: Notice) -> "Bench":
        for notice in notices:
            self.now = max(self.now, notice.at)
            self.meeting.hear(notice)
        return self

    def at(self, step: str) -> "Bench":
        """Begin at this step."""
        self.meeting._at = [one.id for one in STEPS].index(step)
        return self

    def finds(self, step: str, events: Sequence[Event]) -> str:
        self.at(step).hears(*events)
        return self.meeting.done()


def test_a_gauge_that_does_all_is_met_in_ten_steps_and_its_settings_are_learnt() -> None:
    bench = Bench()
    bench.hears(*[mm("0.003")] * 12).meeting.done()
    bench.hears(*[mm("0.000")] * 5).meeting.done()
    bench.hears(*[mm("10.001")] * 5).meeting.done()
    bench.hears(mm("10.001"), *[fault("decimals-change")] * 3, mm("10.001")).meeting.done()
    bench.hears(mm("10.000"), mm("5.000")).meeting.done()
    bench.hears(mm("5.000"), mm("0.000")).meeting.done()
    bench.hears(mm("0.000"), mm("99.999")).meeting.done()
    bench.hears(mm("0.000"), fault("mode-change"), mm("0.000")).meeting.done()
    gone = bench.now + 0.4
    bench.notice(Lost("dial", gone, "unplugged"), Back("dial", gone + 3, needs_zero_check=False)).hears(mm("0.000"))
    bench.meeting.done()
    bench.hears(*[mm("0.000")] * 20).meeting.done()
    assert bench.meeting.is_met
    assert bench.meeting.step is None
    assert list(bench.meeting.findings) == [step.id for step in STEPS]
    assert not any(UNSEEN in text for text in bench.meeting.findings.values())
    assert bench.meeting.findings["sign"] == "inward counts down"
    assert bench.meeting.findings["plug"] == "its loss is told within 2 s; it is known again by its number"
    assert bench.meeting.settings.range_end == Decimal("99.999")
    # Three of its periods of a tenth of a second are below the least time-out of half a second.
    assert bench.meeting.settings.silent_seconds == 0.5


# What the settings prove wrong on a block of 10.000, and by which sum: trade reference of the families, docs/gauges.md.
@pytest.mark.parametrize(
    ("reads", "why"),
    [
        ("20.001", "a leading bit is counted"),
        ("5.000", "a radius is shown"),
        ("254.000", "inches are taken for millimetres"),
        ("0.394", "inches are taken for millimetres"),
        ("100.000", "a decimal is out of place"),
        ("-10.000", "the sign is turned round"),
        ("655360.000", "in the other order"),
        ("10.107", "is it clean, square and at zero"),
        ("10.002", "is it clean, square and at zero"),
    ],
)
def test_a_wrong_size_ends_the_meeting_with_its_likely_cause(reads: str, why: str) -> None:
    bench = Bench()
    assert why in bench.finds("block", [mm(reads)] * 5)
    assert bench.meeting.step is None
    assert not bench.meeting.is_met


@pytest.mark.parametrize("reads", ["9.999", "10.000", "10.001"])
def test_one_count_is_right(reads: str) -> None:
    bench = Bench()
    assert "right to one count" in bench.finds("block", [mm(reads)] * 5)


def test_the_size_of_the_block_may_come_later() -> None:
    bench = Bench(block=None)
    assert "Type the size of the block" in bench.finds("block", [mm("10.000")])
    bench.meeting.block = Decimal("10.000")
    assert "right to one count" in bench.finds("block", [mm("10.000")])


@pytest.mark.parametrize(
    ("step", "events", "told"),
    [
        ("frames", [], "Nothing came"),
        ("frames", [mm("1")] * 7, "expected at least 8"),
        ("zero", [], "Nothing came"),
        ("zero", [mm("0.005")], "expected zero"),
        ("block", [], "Nothing came"),
        ("unit", [], "Nothing came"),
        ("unit", [fault("unit-change")], "switch it back"),
        ("sign", [mm("1.000")], "Nothing came"),
        ("sign", [mm("1.000"), mm("1.005")], "move it further"),
        ("zero key", [], "Nothing came"),
        ("range", [], "Nothing came"),
        ("plug", [mm("1.000")], "no loss was seen".capitalize()),
        ("timing", [], "Nothing came"),
    ],
)
def test_a_step_that_cannot_be_judged_is_asked_for_again(step: str, events: list[Event], told: str) -> None:
    bench = Bench()
    assert told in bench.finds(step, events)
    assert bench.meeting.step is not None
    assert bench.meeting.step.id == step
    assert bench.meeting.findings == {}


@pytest.mark.parametrize(
    ("step", "events", "found"),
    [
        ("unit", [mm("10.000"), mm("10.000")], UNSEEN),
        ("zero key", [mm("10.000"), mm("10.000")], UNSEEN),
        ("zero key", [fault("offset-change")], "moves the counts against each other"),
        ("zero key", [mm("10.000"), mm("0.000")], "takes 10.000 to 0.000"),
        ("range", [mm("12.000"), fault("over-range")], "says over-range"),
        ("range", [mm("12.000"), mm("12.700")], UNSEEN),
        ("hold", [mm("12.000"), mm("12.000")], UNSEEN),
        ("hold", [mm("12.000", "hold")], "hold is seen"),
    ],
)
def test_what_a_gauge_shows_and_what_it_does_not_is_noted(step: str, events: list[Event], found: str) -> None:
    bench = Bench()
    bench.finds(step, events)
    assert found in bench.meeting.findings[step]


def test_damage_or_several_channels_end_the_meeting_at_once() -> None:
    damaged = Bench()
    assert "is not right" in damaged.finds("frames", [*[mm("1")] * 9, *[fault("shape")] * 3])
    several = Bench()
    assert "with --channel" in several.finds("frames", [mm("1", channel="1"), mm("2", channel="2")] * 8)
    assert (damaged.meeting.step, several.meeting.step) == (None, None)


def test_a_step_may_be_left_out_only_where_the_instrument_may_lack_it() -> None:
    bench = Bench()
    assert bench.meeting.left() == "That step cannot be left out."
    bench.at("hold")
    bench.meeting.left()
    assert bench.meeting.findings == {"hold": UNSEEN}


def test_a_plug_that_is_not_back_or_is_told_late_or_has_no_number_is_noted() -> None:
    bench = Bench().at("plug").hears(mm("1")).notice(Lost("dial", 1.0, "x"))
    assert "It is not back yet" in bench.meeting.done()
    late = Bench(GaugeSettings("dial", "ascii-signed-cr", "x", unit="mm")).at("plug").hears(mm("1"))
    late.notice(Stale("dial", 9.0, "silent"))
    assert "told late, after 8.9 s; it is known again by its place only" in late.meeting.done()


def test_a_slow_gauge_gets_a_longer_time_out_and_a_button_none() -> None:
    slow = Bench(GaugeSettings("dial", "twin24-counts", "x")).at("timing").hears(*[mm("1")] * 20, every=0.33)
    assert "stale after 1.0 s" in slow.meeting.done()
    button = Bench(GaugeSettings("dial", "torque-csv-peak", "x")).at("timing").hears(*[mm("1")] * 20)
    assert "by its own button" in button.meeting.done()
    assert button.meeting.settings.silent_seconds is None


def test_the_rule_for_udev_names_the_cable() -> None:
    assert modem_rule(0x0403, 0x6001) == 'ATTRS{idVendor}=="0403", ATTRS{idProduct}=="6001", ENV{ID_MM_DEVICE_IGNORE}="1"'


def test_a_resolution_of_five_counts_is_learnt_where_the_plunger_moves() -> None:
    bench = Bench()
    bench.finds("sign", [mm(f"{turn * 5 / 1000:.3f}") for turn in range(12)])
    assert bench.meeting.settings.step == Decimal("0.005")
    assert bench.meeting.findings["sign"] == "inward counts up, in steps of 0.005 mm"
