"""What "take" means at a step with live gauges. The clock is ours, and the notices are those that workers of real ports put."""

import math
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.core.errors import BadInputError
from assistant.core.inputs import Taken, Zeroed
from assistant.core.quantities import Quantity
from assistant.core.words import Command
from assistant.files import phrases_for
from assistant.live_gauges import MEASURES, FromStation, JobGauges, Late, News, Part, Pressed, Sent, Station, Takes
from gauges.feed import Back, Feed, Lost, Notice, Received
from gauges.feed import Pressed as PedalPressed
from gauges.live import Live
from gauges.reading import Event, Fault, Reading, Status
from gauges.settings import GaugeSettings, PedalSettings
from gauges.worker import Worker

DIAL = GaugeSettings("dial", "ascii-signed-cr", "x", unit="mm")
TORQUE = GaugeSettings("torque", "torque-value-unit-crlf", "x", poll_seconds=0.1)


class Idle(Worker):
    """A worker without a device: the test puts the notices."""

    def _serve(self) -> None:
        raise AssertionError("never started")

    def _wake(self) -> None:
        raise AssertionError("never started")


class Bench:
    """Gauges without ports, and what they handed over."""

    def __init__(self, *parts: Part, language: str = "en") -> None:
        self.now = 0.0
        self.handed: list[FromStation | Late] = []
        make: Callable[[Part, Feed], Worker] = lambda part, feed: Idle(part.name, feed)  # noqa: E731 - as short as that
        live = Live(parts, make_worker=make)
        station = Station(parts, self.handed.append, live=live, clock=lambda: self.now, phrases=phrases_for(language))
        self.station = station
        self.gauges = JobGauges(parts, self.handed.append, station=station)

    def tell(self, *notices: Notice) -> None:
        for notice in notices:
            self.now = max(self.now, notice.at)
            self.station.absorb(notice)

    def reads(self, *events: Event, gauge: str = "dial", every: float = 0.1) -> None:
        """One event each tenth of a second, from now on."""
        for event in events:
            self.tell(Received(gauge, event, self.now + every))

    def take(self, quantity: str = "backlash", place: str = "here") -> Taken | str | None:
        return self.gauges.taken(quantity, self.now, place)


def reading(text: str, unit: str = "mm", raw: str = "") -> Reading:
    return Reading(Decimal(text), unit, raw=raw.encode() or text.encode())


def taken(found: Taken | str | None) -> Taken:
    assert isinstance(found, Taken), found
    return found


# ---- settled values


def test_a_settled_value_is_taken_as_it_was_sent_with_its_gauge_and_its_bytes() -> None:
    bench = Bench(GaugeSettings("micrometer", "ascii-signed-cr", "x", unit="mm"))
    bench.reads(*[reading("0.254", raw="+0000.254")] * 10, gauge="micrometer")
    got = taken(bench.take("shim_thickness"))
    assert (got.channel, got.value.text, got.value.unit) == ("micrometer", "0.254", "mm")
    assert got.gauge.startswith("micrometer: ascii-signed-cr at x, steps of 0.001 mm; settled for 0.9 s, 10 readings")
    assert bytes.fromhex(got.raw) == b"+0000.254"


def test_the_value_is_that_at_the_onset_of_the_word() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="mm"))
    bench.reads(*[reading("66.100")] * 10, gauge="depth")
    onset = bench.now
    bench.reads(reading("67.000"), reading("69.000"), gauge="depth")
    assert taken(bench.gauges.taken("pinion_depth", onset, "here")).value.text == "66.100"


def test_a_value_that_settles_after_the_word_comes_later_and_says_so() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="mm"))
    bench.reads(reading("60.000"), reading("63.000"), gauge="depth")
    assert bench.take("pinion_depth") is None
    bench.reads(*[reading("66.100")] * 8, gauge="depth")
    (late,) = bench.handed
    assert isinstance(late, Late)
    got = taken(bench.gauges.completed(late, "here"))
    assert got.value.text == "66.100"
    assert "after the word" in got.gauge
    assert bench.gauges.completed(late, "elsewhere") is None


def test_what_never_settles_is_told_after_two_seconds() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="mm"))
    # Not even a first reading is there yet.
    assert bench.take("pinion_depth") is None
    bench.reads(*[reading(f"6{turn % 10}.000") for turn in range(22)], gauge="depth")
    (late,) = bench.handed
    assert isinstance(late, Late)
    assert bench.gauges.completed(late, "here") == "The depth has no steady value: the value is still moving."


def test_a_gauge_that_was_away_is_taken_only_after_its_zero_was_checked() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="mm"))
    bench.reads(*[reading("66.100")] * 10, gauge="depth")
    bench.tell(Lost("depth", 2.0, "unplugged"), Back("depth", 3.0, needs_zero_check=False))
    assert bench.handed == [News("the depth is lost: unplugged", is_loss=True), News("the depth is back")]
    bench.reads(*[reading("66.100")] * 10, gauge="depth")
    assert bench.take("pinion_depth") == "The depth was away: check its zero, then say take."
    bench.reads(reading("66.100"), gauge="depth")
    assert taken(bench.take("pinion_depth")).value.text == "66.100"


def test_a_gauge_that_stands_still_since_its_last_reading_is_told_to_the_job() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="mm"))
    bench.reads(*[reading("66.100")] * 10, gauge="depth")
    assert not taken(bench.take("pinion_depth", "before the move")).unmoved
    bench.reads(*[reading("66.100")] * 310, gauge="depth")
    assert taken(bench.take("pinion_depth", "after the move")).unmoved
    bench.reads(reading("66.000"), *[reading("66.100")] * 310, gauge="depth")
    assert taken(bench.take("pinion_depth", "after a push of the plunger")).unmoved  # 31 s ago is long enough
    bench.reads(reading("66.000"), *[reading("66.100")] * 10, gauge="depth")
    assert not taken(bench.take("pinion_depth", "after a push of the plunger")).unmoved


def test_without_a_job_it_is_asked_about_once() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="mm"))
    takes = Takes(bench.station, bench.handed.append)
    bench.reads(*[reading("66.100")] * 10, gauge="depth")
    taken(takes.measure("settled", "depth", bench.now, 1))
    bench.reads(*[reading("66.100")] * 310, gauge="depth")
    asked = takes.measure("settled", "depth", bench.now, 2)
    assert isinstance(asked, str)
    assert "has not moved since the last reading" in asked
    taken(takes.measure("settled", "depth", bench.now, 2))


# ---- zero by word


def test_a_zero_by_word_comes_off_each_reading_and_is_named_with_it() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="mm"))
    bench.reads(*[reading("0.120")] * 10, gauge="depth")
    assert bench.gauges.zeroed("pinion_depth", bench.now, "here") == Zeroed("depth", Quantity.of("0.120", "mm"))
    bench.reads(*[reading("66.220")] * 10, gauge="depth")
    assert taken(bench.take("pinion_depth")).value == Quantity.of("66.220", "mm")  # nobody has confirmed it yet
    bench.gauges.set_zero("depth")
    got = taken(bench.take("pinion_depth"))
    assert got.value == Quantity.of("66.100", "mm")  # 66.220 - 0.120, by hand
    assert "66.220 less 0.120, where it was zeroed by word" in got.gauge
    assert bytes.fromhex(got.raw) == b"66.220"


def test_a_zero_by_word_waits_for_a_steady_value_and_is_gone_with_a_loss_or_a_switch() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="mm"))
    bench.reads(reading("0.100"), reading("0.110"), gauge="depth")
    assert bench.gauges.zeroed("pinion_depth", bench.now, "here") is None
    bench.reads(*[reading("0.120")] * 8, gauge="depth")
    (late,) = bench.handed
    assert isinstance(late, Late)
    assert bench.gauges.completed(late, "here") == Zeroed("depth", Quantity.of("0.120", "mm"))
    bench.gauges.set_zero("depth")
    bench.tell(Lost("depth", bench.now, "unplugged"), Back("depth", bench.now + 1, needs_zero_check=True))
    bench.reads(*[reading("66.220")] * 10, gauge="depth")
    assert bench.take("pinion_depth") == "The depth was away: check its zero, then say take."
    bench.reads(reading("66.220"), gauge="depth")
    assert taken(bench.take("pinion_depth")).value == Quantity.of("66.220", "mm")


def test_a_zero_of_an_earlier_run_is_asked_about_before_the_next_value() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="mm"))
    bench.gauges.zero_is_gone("depth")
    bench.gauges.zero_is_gone("a gauge that is not here any more")
    bench.reads(*[reading("66.220")] * 10, gauge="depth")
    asked = bench.take("pinion_depth")
    assert isinstance(asked, str)
    assert "was zeroed by word before the job rested" in asked
    assert taken(bench.take("pinion_depth")).value == Quantity.of("66.220", "mm")


def test_what_counts_from_its_own_two_ends_needs_no_zero() -> None:
    bench = Bench(DIAL, BUTTON)
    for quantity in ("backlash", "ring_runout"):
        told = bench.gauges.zeroed(quantity, 0.0, "here")
        assert isinstance(told, str)
        assert "needs no zero for this" in told
    told = bench.gauges.zeroed("shim_thickness", 0.0, "here")
    assert told == "The caliper sends by its own button: zero it by its own key."


def test_no_gauge_measures_what_it_is_not_for() -> None:
    bench = Bench(DIAL)
    assert bench.gauges.gauge_for("pinion_drag") is None
    assert bench.gauges.gauge_for("backlash") == "dial"
    assert bench.gauges.gauge_for(None) is None


def test_a_gauge_of_another_name_needs_its_uses() -> None:
    with pytest.raises(BadInputError, match=r"lever.*expected one of dial"):
        Bench(GaugeSettings("lever", "ascii-signed-cr", "x", unit="mm"))
    bench = Bench(GaugeSettings("lever", "ascii-signed-cr", "x", unit="mm", uses=("backlash",)))
    assert bench.gauges.gauge_for("backlash") == "lever"
    assert bench.gauges.gauge_for("ring_runout") is None


def test_two_gauges_of_one_name_are_bad_input() -> None:
    with pytest.raises(BadInputError, match="each name once"):
        Station((DIAL, DIAL), lambda _: None)


def test_every_quantity_that_a_gauge_can_measure_is_one_of_the_interface() -> None:
    from assistant.core.axle import QUANTITIES

    assert {quantity for quantities in MEASURES.values() for quantity in quantities} == set(QUANTITIES) - {"etch_old", "etch_new"}


# ---- swings


def test_a_backlash_is_the_way_between_two_settled_ends() -> None:
    bench = Bench(DIAL)
    bench.reads(*[reading("3.420", raw="A")] * 10)
    told = bench.take()
    assert isinstance(told, str)
    assert told.startswith("One end at three point four two millimetres. Now the other end")
    bench.reads(*[reading("3.255", raw="B")] * 10)
    got = taken(bench.take())
    # 3.420 - 3.255, by hand; a swing has a size, and no sign.
    assert (got.value.text, got.value.unit) == ("0.165", "mm")
    assert bytes.fromhex(got.raw.replace(" ", "")) == b"AB"
    assert "from 3.420 to 3.255" in got.gauge


def test_a_dial_that_is_zeroed_at_one_end_needs_one_word() -> None:
    bench = Bench(GaugeSettings("dial", "ascii-signed-cr", "x", unit="mm", is_zeroed=True))
    bench.reads(*[reading("-0.165")] * 10)
    got = taken(bench.take())
    assert got.value == Quantity.of("0.165", "mm")
    assert bytes.fromhex(got.raw) == b"-0.165"


def test_an_end_without_a_swing_is_no_reading() -> None:
    bench = Bench(DIAL)
    bench.reads(*[reading("3.420")] * 10)
    bench.take()
    bench.reads(*[reading("3.420")] * 10)
    told = bench.take()
    assert isinstance(told, str)
    assert "did not move between the two ends" in told
    assert isinstance(bench.take(), str)  # begins anew


def test_an_end_from_before_a_loss_is_no_end_after_it() -> None:
    bench = Bench(DIAL)
    bench.reads(*[reading("3.420")] * 10)
    bench.take()
    bench.tell(Lost("dial", bench.now, "unplugged"), Back("dial", bench.now + 1, needs_zero_check=True))
    bench.reads(*[reading("0.165")] * 10)
    assert bench.take() == "The dial was away: check its zero, then say take."
    bench.reads(*[reading("0.165")] * 10)
    told = bench.take()
    assert isinstance(told, str)
    assert told.startswith("One end at")


def test_an_end_of_one_place_is_no_end_at_another() -> None:
    bench = Bench(DIAL)
    bench.reads(*[reading("3.420")] * 10)
    bench.take(place="place 1")
    bench.reads(*[reading("3.255")] * 10)
    told = bench.take(place="place 2")
    assert isinstance(told, str)
    assert told.startswith("One end at")


# ---- turns, drags, pulls


def turn(count: int, *, half: float = 0.05) -> list[Event]:
    """A once-per-turn swing of this half height over 1.05 turns."""
    return [reading(f"{1 + half * math.cos(0.3 + 2 * math.pi * 1.05 * index / count):.3f}") for index in range(count)]


def test_a_runout_is_highest_minus_lowest_of_a_turn_and_rest_is_no_part_of_it() -> None:
    bench = Bench(DIAL)
    told = bench.take("ring_runout")
    assert isinstance(told, str)
    assert "once round and a little more" in told
    bench.reads(*[turn(60)[0]] * 30, *turn(60), *[turn(60)[-1]] * 30)
    got = taken(bench.take("ring_runout"))
    assert (got.value.text, got.value.unit) == ("0.100", "mm")
    # 60 readings in 1.05 turns are 57 a turn; those at rest are none of them.
    assert ", 57 readings in a turn" in got.gauge or ", 58 readings in a turn" in got.gauge


def test_a_turn_with_too_few_readings_asks_to_turn_slower() -> None:
    bench = Bench(DIAL)
    bench.take("ring_runout")
    bench.reads(*[turn(20)[0]] * 30, *turn(20))
    told = bench.take("ring_runout")
    assert isinstance(told, str)
    assert "turn slower" in told


def test_a_turn_that_is_not_made_is_no_runout() -> None:
    bench = Bench(DIAL)
    bench.take("ring_runout")
    bench.reads(*[reading("1.000")] * 100)
    told = bench.take("ring_runout")
    assert isinstance(told, str)
    assert "expected at least 36" in told
    bench.take("ring_runout")
    assert isinstance(bench.take("ring_runout"), str)  # nothing came at all


def test_a_fault_of_the_gauge_voids_the_turn() -> None:
    bench = Bench(DIAL)
    bench.take("ring_runout")
    bench.reads(*turn(60)[:30], Fault("unit-change", "unit in, expected mm"), *turn(60)[30:])
    told = bench.take("ring_runout")
    assert isinstance(told, str)
    assert "unit-change meanwhile (unit in, expected mm)" in told


@pytest.mark.parametrize("quantity", ["ring_runout", "pinion_drag", "nut_torque"])
def test_a_gauge_that_was_away_meanwhile_gives_no_value(quantity: str) -> None:
    gauge = DIAL if quantity == "ring_runout" else TORQUE
    bench = Bench(gauge)
    bench.take(quantity)
    good = turn(60) if gauge is DIAL else newton_metres("0.0", "3.9", "2.0", *["2.1"] * 50, "0.0")
    bench.reads(*good[:30], gauge=gauge.name)
    bench.tell(Lost(gauge.name, bench.now, "unplugged"), Back(gauge.name, bench.now + 1, needs_zero_check=False))
    bench.reads(*good[30:], gauge=gauge.name)
    told = bench.take(quantity)
    assert isinstance(told, str)
    assert "it was away" in told


def test_a_lost_frame_may_have_been_the_peak_of_a_pull() -> None:
    bench = Bench(TORQUE)
    bench.take("nut_torque")
    bench.reads(*newton_metres("0.0", "80.0", "150.0"), Fault("shape", "torn"), *newton_metres("150.0", "40.0", "0.0"), gauge="torque")
    told = bench.take("nut_torque")
    assert isinstance(told, str)
    assert "shape meanwhile" in told


def test_a_turn_of_one_channel_knows_nothing_of_the_others() -> None:
    bench = Bench(GaugeSettings("dial", "mux-prefix-cr", "x", unit="mm", poll_seconds=0.1, channel="2"))
    bench.take("ring_runout")
    for event in turn(60):
        assert isinstance(event, Reading)
        bench.reads(replace(event, channel="2"), Reading(Decimal("9.000"), "mm", "1"))
    assert taken(bench.take("ring_runout")).value.text == "0.100"


def test_a_turn_that_was_not_read_to_its_end_is_none() -> None:
    bench = Bench(DIAL)
    bench.take("ring_runout")
    bench.reads(*turn(60) * 101)
    told = bench.take("ring_runout")
    assert isinstance(told, str)
    assert "took too long" in told


def newton_metres(*texts: str) -> list[Event]:
    return [reading(text, "N.m") for text in texts]


def test_a_drag_is_the_mean_of_a_turn_and_the_breakaway_is_kept_apart() -> None:
    bench = Bench(TORQUE)
    bench.take("pinion_drag")
    bench.reads(*newton_metres("0.00", "1.50", "3.90", "2.00", *["2.10", "2.20"] * 25, "0.10", "0.00"), gauge="torque")
    got = taken(bench.take("pinion_drag"))
    # (2.00 + 25 · 2.10 + 25 · 2.20) / 51 = 2.147, by hand.
    assert got.value == Quantity.of("2.15", "N·m")
    assert "breakaway 3.90 N.m" in got.gauge


def test_too_short_a_turn_is_no_drag() -> None:
    bench = Bench(TORQUE)
    bench.take("pinion_drag")
    bench.reads(*newton_metres("3.90", "2.00", *["2.10"] * 20), gauge="torque")
    told = bench.take("pinion_drag")
    assert isinstance(told, str)
    assert "turn slower or longer" in told


def test_a_tightening_torque_is_the_peak_of_the_pull() -> None:
    bench = Bench(TORQUE)
    bench.take("nut_torque")
    bench.reads(*newton_metres("0.0", "80.0", "150.0", "236.5", "231.0", "40.0", "0.0"), gauge="torque")
    assert taken(bench.take("nut_torque")).value == Quantity.of("236.5", "N·m")
    bench.take("nut_torque")
    bench.reads(*newton_metres("0.0", "80.0", "150.0"), gauge="torque")
    assert isinstance(bench.take("nut_torque"), str)


# ---- what comes by itself

CLICK = GaugeSettings("torque", "torque-csv-peak", "x")
BUTTON = GaugeSettings("caliper", "multi-feature-cr", "x")


def test_a_button_of_a_gauge_takes_where_it_measures_what_is_wanted() -> None:
    bench = Bench(BUTTON, DIAL)
    bench.reads(reading("0.25"), gauge="caliper")
    (sent,) = bench.handed
    assert isinstance(sent, Sent)
    assert taken(bench.gauges.sent(sent, "shim_thickness")).value == Quantity.of("0.25", "mm")
    assert bench.gauges.sent(sent, "backlash") == "The caliper does not measure that, nothing was taken: use the dial."
    assert bench.gauges.sent(sent, "cap_torque") == "The caliper does not measure that, nothing was taken: say the value."
    # No reading is waited for: the job itself says so.
    assert taken(bench.gauges.sent(sent, None)).channel == "caliper"
    assert bench.take("shim_thickness") == "The caliper sends by its own button: press it."


def test_a_peak_is_a_tightening_torque_and_no_drag() -> None:
    bench = Bench(CLICK)
    bench.reads(Reading(Decimal("75.2"), "lbf.ft"), gauge="torque")
    (sent,) = bench.handed
    assert isinstance(sent, Sent)
    assert taken(bench.gauges.sent(sent, "cap_torque")).value == Quantity.of("75.2", "lb-ft")
    told = bench.gauges.sent(sent, "pinion_drag")
    assert isinstance(told, str)
    assert "the breakaway" in told


def test_a_pedal_presses_at_its_own_time_and_damage_and_batteries_are_told() -> None:
    bench = Bench(DIAL, PedalSettings("pedal", "y", "cts"))
    bench.tell(PedalPressed("pedal", 1.5))
    bench.reads(Fault("parity", "byte 35 has an odd count of ones"), Fault("parity", "again"), Status("BAT0"), Fault("over-range", "OV"))
    assert bench.handed == [
        Pressed(1.5),
        News("the dial says: byte 35 has an odd count of ones", is_damage=True),
        News("the dial says: battery low: its values stay valid"),
        News("the dial says: OV"),
    ]
    assert bench.station.faults() == {"dial": {"parity": 2, "battery low": 1, "over-range": 1}}
    assert bench.station.dropped == 0


# ---- another unit


def test_what_was_steady_in_the_old_unit_is_no_value_in_the_new_one() -> None:
    bench = Bench(GaugeSettings("depth", "ascii-signed-cr", "x", unit="in"))
    bench.reads(*[reading("2.6250", "in")] * 10, gauge="depth")
    bench.gauges.change_unit("depth", "mm")
    assert bench.take("pinion_depth") is None  # nothing is steady yet
    # Still on its way when the word was said.
    bench.reads(*[reading("2.6250", "in")] * 10, gauge="depth")
    bench.reads(*[reading("66.675")] * 10, gauge="depth")
    assert taken(bench.take("pinion_depth")).value == Quantity.of("66.675", "mm")


def test_an_end_of_a_swing_in_the_old_unit_is_no_end_in_the_new_one() -> None:
    bench = Bench(DIAL)
    bench.reads(*[reading("3.420")] * 10)
    bench.take()
    bench.gauges.change_unit("", "in")
    bench.reads(*[reading("0.1346", "in")] * 10)
    told = bench.take()
    assert isinstance(told, str)
    assert told.startswith("One end at")


def test_change_unit_means_the_gauge_that_was_named_else_the_one_at_work_else_the_only_one_of_its_kind() -> None:
    two = Bench(DIAL, GaugeSettings("Depth 2", "ascii-signed-cr", "y", unit="mm", uses=("pinion_depth",)), TORQUE)
    change = Command("change unit", "in")
    assert two.gauges.switched(change, "backlash") == "dial"
    assert two.gauges.switched(change, "pinion_depth") == "depth 2"
    assert two.gauges.switched(change, "nut_torque") is None  # two of them could be meant
    assert two.gauges.switched(Command("change unit", "lb-ft"), "backlash") == "torque"
    assert two.gauges.switched(Command("change unit", "in", "depth 2"), "backlash") == "depth 2"
    assert two.gauges.switched(Command("change unit", "in", "torque"), "backlash") is None


def test_a_german_job_is_told_of_its_gauges_in_german() -> None:
    bench = Bench(DIAL, language="de")
    assert bench.take("ring_runout") == "Ich lese. Einmal herum und etwas mehr drehen, langsam und ohne Halt; dann übernehmen sagen."
    again = bench.take("ring_runout")
    assert isinstance(again, str)
    assert again.startswith("Kein Messwert: ")
    assert again.endswith(" Übernehmen sagen, um neu anzufangen.")
    assert bench.take("pinion_drag") == "Kein Messgerät misst das hier: den Wert sagen."
    bench.tell(Lost("dial", 3.0, "unplugged"))
    assert News("Messuhr: verloren: unplugged", is_loss=True) in bench.handed


def test_the_unit_of_a_gauge_that_sends_none_is_said_before_its_first_value() -> None:
    bench = Bench(DIAL, BUTTON, GaugeSettings("torque", "torque-78-col", "z", unit="N.m"))
    assert bench.gauges.opening({"dial": "in"}) == [
        "The dial sends no unit: it is set to inches.",
        "The torque sends no unit: it is set to newton metres.",
    ]
