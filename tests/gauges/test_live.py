"""Several gauges at once, and what their notices amount to."""

from decimal import Decimal
from typing import Any

import pytest

from gauges.errors import SettingError
from gauges.feed import Back, Feed, Hint, Lost, Pressed, Received, Stale
from gauges.keyboard import KeyboardWorker
from gauges.live import Live, LiveGauge, News, Taken, Trouble, Value, worker_for
from gauges.ports import PedalWorker, PortWorker
from gauges.reading import Event, Fault, Reading, Status
from gauges.registers import RegisterWorker
from gauges.settings import GaugeSettings, Identity, PedalSettings
from gauges.settling import NotSettled, Settled
from tests.gauges.simulated import SimulatedGauge

FRAME = bytes.fromhex("2B 30 30 B1 B2 2E 33 B4 35 8D")
DIAL = GaugeSettings("dial", "ascii-signed-cr", "x", unit="mm")


def mm(text: str, channel: str | None = None) -> Reading:
    """A reading in millimetres."""
    return Reading(Decimal(text), "mm", channel)


def told(gauge: LiveGauge, *events: Event, start: float = 0.0) -> list[News]:
    """The news of these events, one each tenth of a second."""
    return [news for turn, event in enumerate(events) for news in gauge.absorb(Received("dial", event, start + turn / 10))]


def test_a_steady_value_is_told_once_and_a_new_one_again() -> None:
    gauge = LiveGauge(DIAL)
    news = told(gauge, *[mm("1.000")] * 20, *[mm("2.000")] * 20)
    assert [item.reading.text for item in news if isinstance(item, Value)] == ["1.000", "2.000"]
    assert len(news) == 2


def test_a_fault_is_told_once_and_counted() -> None:
    gauge = LiveGauge(DIAL)
    news = told(gauge, *[Fault("parity", "bad byte")] * 5, Fault("shape", "bad line"))
    assert news == [Trouble("dial", "bad byte", "parity"), Trouble("dial", "bad line", "shape")]
    assert gauge.faults == {"parity": 5, "shape": 1}


def test_a_gauge_with_a_button_needs_two_presses_that_agree_where_its_frames_have_no_check() -> None:
    gauge = LiveGauge(GaugeSettings("dial", "ascii-fixed-unit", "x"))
    assert told(gauge, mm("2.1380"), mm("2.1380")) == [Value("dial", mm("2.1380"), None)]
    checked = LiveGauge(GaugeSettings("dial", "multi-feature-cr", "x"))
    assert told(checked, mm("2.13", "1")) == [Value("dial", mm("2.13", "1"), None)]


def test_each_pull_is_a_value_of_its_own() -> None:
    gauge = LiveGauge(GaugeSettings("torque", "torque-csv-peak", "x"))
    pulls = [Reading(Decimal("41.2597"), "ozf.in"), Reading(Decimal("14.8275"), "ozf.in")]
    assert told(gauge, *pulls) == [Value("torque", pull, None) for pull in pulls]


def test_channels_settle_apart_and_take_names_one() -> None:
    gauge = LiveGauge(GaugeSettings("dial", "mux-prefix-cr", "x", unit="mm", poll_seconds=0.2))
    events = [mm(text, channel) for _ in range(10) for text, channel in (("1.000", "1"), ("2.000", "2"))]
    told(gauge, *events)
    assert isinstance(gauge.take(1.9, 1.9), NotSettled)
    taken = gauge.take(1.9, 1.9, "2")
    assert isinstance(taken, Settled)
    assert taken.reading.text == "2.000"
    missing = gauge.take(1.9, 1.9, "3")
    assert isinstance(missing, NotSettled)
    assert "seen: 1, 2" in missing.reason


def test_a_gauge_that_has_sent_nothing_is_waited_for_like_one_that_moves() -> None:
    gauge = LiveGauge(DIAL)
    assert gauge.take(1.0, 2.0) == NotSettled("no reading yet", is_final=False)
    assert gauge.take(1.0, 3.1) == NotSettled("no reading yet", is_final=True)


def test_of_several_channels_the_chosen_one_counts() -> None:
    gauge = LiveGauge(GaugeSettings("dial", "mux-prefix-cr", "x", unit="mm", poll_seconds=0.2, channel="2"))
    news = told(gauge, *[mm(text, channel) for _ in range(10) for text, channel in (("1.000", "1"), ("2.000", "2"))])
    assert [item.reading.text for item in news if isinstance(item, Value)] == ["2.000"]


def test_a_lost_gauge_has_no_value_and_after_its_return_a_marked_one() -> None:
    gauge = LiveGauge(DIAL)
    told(gauge, *[mm("1.000")] * 10)
    assert gauge.absorb(Lost("dial", 1.0, "unplugged")) == [Trouble("dial", "lost: unplugged", is_loss=True)]
    assert isinstance(gauge.take(1.0, 1.0), NotSettled)
    assert gauge.absorb(Back("dial", 2.0, needs_zero_check=True)) == [Trouble("dial", "back: check its zero before the next value")]
    (value,) = told(gauge, *[mm("1.000")] * 10, start=3.0)
    assert isinstance(value, Value)
    assert value.settled is not None
    assert value.settled.is_first_after_return
    gauge.acknowledge_return()
    taken = gauge.take(3.9, 3.9)
    told(gauge, mm("1.000"), start=4.0)
    taken = gauge.take(4.0, 4.0)
    assert isinstance(taken, Settled)
    assert not taken.is_first_after_return


def test_a_silence_after_a_return_does_not_stand_for_the_zero_check() -> None:
    for before in ([mm("1.000")] * 10, []):
        gauge = LiveGauge(DIAL)
        told(gauge, *before)
        for notice in (Lost("dial", 1.0, "unplugged"), Back("dial", 2.0, needs_zero_check=False), Stale("dial", 2.7, "silent for 0.6 s")):
            gauge.absorb(notice)
        (value,) = told(gauge, *[mm("1.000")] * 10, start=3.0)
        assert isinstance(value, Value)
        assert value.settled is not None
        assert value.settled.is_first_after_return


def test_a_stale_gauge_has_no_value_and_needs_no_acknowledgement() -> None:
    gauge = LiveGauge(DIAL)
    told(gauge, *[mm("1.000")] * 10)
    assert gauge.absorb(Stale("dial", 1.5, "silent for 0.6 s")) == [Trouble("dial", "stale: silent for 0.6 s", is_loss=True)]
    assert isinstance(gauge.take(1.5, 1.5), NotSettled)
    (value,) = told(gauge, *[mm("1.000")] * 10, start=3.0)
    assert isinstance(value, Value)
    assert value.settled is not None
    assert not value.settled.is_first_after_return


def test_a_low_battery_is_told_once_and_a_pedal_and_a_hint_are_passed_on() -> None:
    gauge = LiveGauge(GaugeSettings("dial", "ask-reply-cr", "x", unit="mm", poll_seconds=0.2))
    assert told(gauge, Status("BAT0"), Status("BAT0"), Status("BAT1")) == [Trouble("dial", "battery low: its values stay valid")]
    assert gauge.absorb(Pressed("dial", 3.0)) == [Taken("dial", 3.0)]
    assert gauge.absorb(Hint("dial", 3.0, "is the plug in?")) == [Trouble("dial", "is the plug in?")]


def test_a_moving_flag_ends_the_steady_value() -> None:
    gauge = LiveGauge(GaugeSettings("dial", "status-csv-crlf", "x"))
    told(gauge, *[mm("1.000")] * 12)
    assert isinstance(gauge.take(1.1, 1.1), Settled)
    told(gauge, Status("US", moving=mm("1.000")), start=1.2)
    assert isinstance(gauge.take(1.2, 1.2), NotSettled)


def test_a_dial_that_rests_for_30_seconds_is_stuck() -> None:
    gauge = LiveGauge(DIAL)
    told(gauge, *[mm("1.000")] * 310)
    assert gauge.is_stuck(31.0)
    assert not LiveGauge(DIAL).is_stuck(31.0)


@pytest.mark.parametrize(
    ("settings", "kind"),
    [
        (DIAL, PortWorker),
        (PedalSettings("pedal", "x", "cts"), PedalWorker),
        (GaugeSettings("meter", "modbus-rtu-int32", "x", unit="mm"), RegisterWorker),
        (GaugeSettings("micrometer", "typed-line", Identity(0x0FE7, 0x4001, None, None), unit="mm"), KeyboardWorker),
    ],
)
def test_each_family_has_the_worker_that_can_serve_it(settings: GaugeSettings | PedalSettings, kind: type[Any]) -> None:
    assert type(worker_for(settings, Feed())) is kind


def test_a_pedal_of_its_own_presses_is_lost_and_comes_back() -> None:
    live = Live([PedalSettings("pedal", "x", "cts")])
    assert live.absorb(Pressed("pedal", 1.0)) == [Taken("pedal", 1.0)]
    assert live.absorb(Lost("pedal", 2.0, "unplugged")) == [Trouble("pedal", "lost: unplugged", is_loss=True)]
    assert live.absorb(Back("pedal", 3.0, needs_zero_check=False)) == [Trouble("pedal", "back")]
    assert live.absorb(Hint("pedal", 3.0, "odd bytes")) == []


def test_two_gauges_of_one_name_are_refused() -> None:
    with pytest.raises(SettingError, match="expected each name once"):
        Live([DIAL, DIAL])


def test_the_range_and_the_resolution_of_this_very_gauge_count() -> None:
    coarse = LiveGauge(GaugeSettings("dial", "ascii-signed-cr", "x", unit="mm", step=Decimal("0.005"), range_end=Decimal("10")))
    assert told(coarse, *[mm("1.001")] * 20) == []
    assert [item.reading.text for item in told(coarse, *[mm("1.005")] * 20, start=3.0) if isinstance(item, Value)] == ["1.005"]
    assert told(coarse, *[mm("10.000")] * 20, start=6.0) == []


def test_a_bench_of_gauges_tells_a_steady_value_from_the_wire() -> None:
    with SimulatedGauge() as gauge:
        live = Live([GaugeSettings("dial", "ascii-signed-cr", gauge.device, unit="mm", deaf_seconds=0.0)])
        live.start()
        try:
            values: list[Value] = []
            # Forty frames in one go are 0.9 s of the line's time. Those sent before the port was open are flushed with all else.
            for _ in range(50):
                gauge.send(FRAME * 40)
                values += [news for news in live.next_news(0.2) if isinstance(news, Value)]
                if values:
                    break
        finally:
            live.stop()
    assert [value.reading.text for value in values] == ["12.345"]


def test_a_display_on_hold_is_told_each_time_and_a_value_taken_back_at_the_gauge_is_told() -> None:
    gauge = LiveGauge(GaugeSettings("dial", "ascii-status-lf", "x", poll_seconds=0.1))
    held = Reading(Decimal("1.990"), "mm", marks=("hold",))
    told = [news for event in (held, held, Reading(Decimal("1.990"), "mm"), held) for news in gauge.absorb(Received("dial", event, 1.0))]
    assert told == [Trouble("dial", "on hold: what it shows is a kept value")] * 2
    back = Received("dial", Status("delete last value of sender 1"), 2.0)
    assert gauge.absorb(back) == gauge.absorb(back) == [Trouble("dial", "takes its last value back: say undo if that was yours")]


def test_a_gauge_that_is_known_by_its_socket_only_may_be_its_twin_when_it_is_back() -> None:
    gauge = LiveGauge(DIAL)
    (told,) = gauge.absorb(Back("dial", 2.0, needs_zero_check=False, is_certain=False))
    assert isinstance(told, Trouble)
    assert told.text == "back, known by its socket only: move it, to see that it is this one, and check its zero"
