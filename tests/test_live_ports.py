"""A job at a terminal with gauges on real terminal devices: pseudo-terminals stand for serial ports, the rest is the program itself."""

import io
import threading
import time
from collections.abc import Callable, Iterator
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Any

import pytest

from assistant import live, live_gauges
from assistant.bench import Bench, new_bench
from assistant.core.events import GaugeUnitChanged, GaugeZeroed, Recorded
from assistant.core.inputs import Said, Taken, Zeroed
from assistant.core.quantities import Quantity
from assistant.core.show import where_it_stands
from assistant.core.words import Command
from assistant.journal.lines import LinesJournal
from assistant.live_gauges import Late, Pressed, Sent
from assistant.mouth.captions import Captions
from gauges.settings import GaugeSettings
from gauges.settling import NotSettled, Settled
from tests.conftest import job_with
from tests.gauges.simulated import SimulatedGauge

WAIT_SECONDS = 10.0


def even7(text: str) -> bytes:
    return bytes(byte | (0x80 if byte.bit_count() % 2 else 0) for byte in text.encode("ascii"))


def at(value: str) -> bytes:
    """Forty frames of the first family at one value: 0.9 s of the line's time, in one go."""
    return even7(f"+{value:0>8}\r") * 40


class Told:
    """What was said and shown, to wait for."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self._changed = threading.Condition()

    def add(self, text: str) -> None:
        with self._changed:
            self.lines.append(text)
            self._changed.notify_all()

    def until(self, words: str, again: Callable[[], object] = lambda: None) -> None:
        """Wait until something with these words was told; do `again` while waiting, as a gauge goes on sending."""
        with self._changed:
            for _ in range(int(WAIT_SECONDS / 0.05)):
                if any(words in line for line in self.lines):
                    self.lines = self.lines[next(index for index, line in enumerate(self.lines) if words in line) + 1 :]
                    return
                again()
                self._changed.wait(0.05)
        raise AssertionError(f"{words!r} was never told: {self.lines}")


class Script(io.TextIOBase):
    """A keyboard: its lines come from a generator that may wait for what is told."""

    def __init__(self, lines: Iterator[str]) -> None:
        self._lines = lines
        self.failure: BaseException | None = None

    def __iter__(self) -> Iterator[str]:  # type: ignore[override]  # lines of text, as any text stream
        try:
            yield from self._lines
        except BaseException as error:  # told in the test's own thread
            self.failure = error


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> Told:
    told = Told()
    monkeypatch.setattr(live_gauges, "Station", Station)
    monkeypatch.setattr(live.typer, "secho", lambda text, **_: told.add(text))
    monkeypatch.setattr(live.typer, "echo", told.add)
    return told


class Station(live_gauges.Station):
    """The program's own; the last one made can be asked what is steady."""

    last: "Station"

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        Station.last = self


def until_steady(value: str, send: Callable[[], None]) -> None:
    """Let the dial send until its value is steady."""
    pause = threading.Event()
    for _ in range(int(WAIT_SECONDS / 0.05)):
        send()
        found = Station.last.ask("dial", time.monotonic(), lambda _: None)
        if isinstance(found, Settled) and found.reading.text == value and not found.is_first_after_return:
            return
        pause.wait(0.05)
    raise AssertionError(f"the dial never settled at {value}")


def work(bench: Bench, gauges: list[GaugeSettings], lines: Iterator[str]) -> None:
    script: Any = Script(lines)
    live.run(bench, (), mouth="captions", stream=script, gauges=gauges)
    if script.failure is not None:
        raise script.failure


def dial(gauge: SimulatedGauge, **settings: Any) -> GaugeSettings:
    return GaugeSettings("dial", "ascii-signed-cr", gauge.device, unit="in", deaf_seconds=0.0, **settings)


def test_a_backlash_is_taken_from_the_dial_on_its_port_and_journalled_with_its_bytes(bench: Bench, told: Told) -> None:
    with SimulatedGauge() as gauge:

        def lines() -> Iterator[str]:
            yield "take\n"
            told.until("One end at", lambda: gauge.send(at("000.1200")))
            until_steady("0.1335", lambda: gauge.send(at("000.1335")))
            yield "take\n"
            told.until("baseline backlash")

        work(bench, [dial(gauge)], lines())
    (recorded,) = bench.state.readings
    # .1335 - .1200 in, by hand.
    assert recorded.value is not None
    assert (recorded.value.text, recorded.value.unit) == ("0.0135", "in")
    event = next(event for event in bench.journal.load().events if isinstance(event, Recorded))
    assert event.gauge.startswith(f"dial: ascii-signed-cr at {gauge.device}, steps of 0.0001 in; from 0.1200 to 0.1335")
    assert bytes.fromhex(event.raw.replace(" ", "")) == even7("+000.1200+000.1335")


def test_a_gauge_in_millimetres_is_recorded_as_sent_in_a_job_in_inches(bench: Bench, told: Told) -> None:
    with SimulatedGauge() as gauge:
        settings = GaugeSettings("dial", "ascii-signed-cr", gauge.device, unit="mm", deaf_seconds=0.0, is_zeroed=True)

        def lines() -> Iterator[str]:
            yield "take\n"
            told.until("baseline backlash", lambda: gauge.send(at("0000.330")))

        work(bench, [settings], lines())
    (recorded,) = bench.state.readings
    assert recorded.value is not None
    assert (recorded.value.text, recorded.value.unit) == ("0.330", "mm")


def test_a_dial_that_is_switched_to_millimetres_by_word_is_held_to_them_from_then_on(bench: Bench, told: Told) -> None:
    """A unit in the frame: the switch alone is refused; the word and its yes release the lock, and it holds the new unit."""

    def frame(number: str, unit: str) -> bytes:
        data = f"\x0201+{number:>8}{unit}\x03".encode()
        return data + b"%02X" % reduce(xor, data[1:])

    with SimulatedGauge() as gauge:
        settings = GaugeSettings("dial", "stx-etx-bcc", gauge.device, deaf_seconds=0.0, is_zeroed=True)

        def lines() -> Iterator[str]:
            yield "what do you have\n"
            until_steady("0.0130", lambda: gauge.send(frame("0.0130", "IN") * 60))
            told.until("expected in: change it back", lambda: gauge.send(frame("0.3300", "MM") * 5))
            yield "change unit to millimetres\n"
            told.until("Does the dial show millimetres now?")
            yield "yes\n"
            told.until("From now on the dial gives millimetres")
            # The old unit, even with a value of the new one, is refused now.
            told.until("expected mm", lambda: gauge.send(frame("0.0130", "IN") * 5))
            until_steady("0.3300", lambda: gauge.send(frame("0.3300", "MM") * 60))
            yield "take\n"
            told.until("That is")

        work(bench, [settings], lines())
    (recorded,) = bench.state.readings
    assert recorded.value == Quantity.of("0.3300", "mm")
    assert GaugeUnitChanged("dial", "mm") in bench.journal.load().events


def test_a_job_that_goes_on_holds_its_gauges_to_the_unit_that_was_said(bench: Bench, told: Told) -> None:
    """No unit in the frame: what the digits mean is what was said last, in this run or in the one before."""
    for words in ("change unit of the dial to mm", "yes"):
        bench.give(Said(words))
    with SimulatedGauge() as gauge:

        def lines() -> Iterator[str]:
            yield "take\n"
            told.until("That is", lambda: gauge.send(at("0000.330")))

        script: Any = Script(lines())
        live.run(bench, where_it_stands(bench.state), mouth="captions", stream=script, gauges=[dial(gauge, is_zeroed=True)])
    assert script.failure is None
    (recorded,) = bench.state.readings
    assert recorded.value == Quantity.of("0.330", "mm")


def test_an_unplugged_dial_is_told_and_the_job_goes_on_by_voice_and_then_with_the_dial_again(bench: Bench, told: Told) -> None:
    first, second = SimulatedGauge(), SimulatedGauge()
    link = Path(bench.journal._path).with_name("port")  # type: ignore[attr-defined]
    link.symlink_to(first.device)

    def lines() -> Iterator[str]:
        yield "what do you have\n"
        told.until("", lambda: first.send(at("000.0000")))
        first.unplug()
        told.until("(lost)")
        told.until("The dial is lost")
        yield "take\n"
        told.until("The dial has no steady value")
        yield "thirteen and a half thou\n"
        told.until("yes or no")
        yield "yes\n"
        told.until("baseline backlash")
        link.unlink()
        link.symlink_to(second.device)
        told.until("The dial is back")
        yield "take\n"
        told.until("The dial was away: check its zero", lambda: second.send(at("000.0100")))
        until_steady("0.0100", lambda: second.send(at("000.0100")))
        yield "take\n"
        told.until("baseline backlash", lambda: second.send(at("000.0100")))

    try:
        settings = GaugeSettings("dial", "ascii-signed-cr", str(link), unit="in", deaf_seconds=0.0, is_zeroed=True)
        work(bench, [settings], lines())
    finally:
        first.unplug()
        second.unplug()
    assert [reading.value.text for reading in bench.state.readings if reading.value] == ["0.0135", "0.0100"]


def test_garbage_and_a_flood_never_become_a_reading_and_are_told_once(bench: Bench, told: Told) -> None:
    with SimulatedGauge() as gauge:

        def lines() -> Iterator[str]:
            yield "what do you have\n"
            told.until("The dial says", lambda: gauge.send(even7("+000.0100\r") + b"+000.0\xb200\x8d" + b"rubbish\x8d" * 500))
            yield "take\n"
            told.until("baseline backlash", lambda: gauge.send(at("000.0100")))

        work(bench, [dial(gauge, is_zeroed=True)], lines())
    assert [reading.value.text for reading in bench.state.readings if reading.value] == ["0.0100"]


def test_a_dial_that_falls_silent_is_told_and_its_last_value_is_not_taken(bench: Bench, told: Told) -> None:
    with SimulatedGauge() as gauge:
        settings = GaugeSettings("dial", "stx-etx-bcc", gauge.device, deaf_seconds=0.0, is_zeroed=True)
        frame = b"\x0201+   0.330MM\x03"
        frame += b"%02X" % reduce(xor, frame[1:])

        def lines() -> Iterator[str]:
            yield "what do you have\n"
            until_steady("0.330", lambda: gauge.send(frame * 60))
            told.until("The dial is stale: silent for")
            yield "take\n"
            told.until("The dial has no steady value")

        work(bench, [settings], lines())
    assert bench.state.readings == ()


def test_a_button_on_the_gauge_is_a_take(bench: Bench, told: Told) -> None:
    with SimulatedGauge() as gauge:
        settings = GaugeSettings("dial", "multi-feature-cr", gauge.device, deaf_seconds=0.0)

        def lines() -> Iterator[str]:
            yield "take\n"
            told.until("sends by its own button: press it")
            # What is sent before the port is open is nobody's.
            assert Station.last._live._workers["dial"].opened.wait(WAIT_SECONDS)
            gauge.send(even7("1 +000.33 mm\r"))
            told.until("baseline backlash")

        work(bench, [settings], lines())
    (recorded,) = bench.state.readings
    assert recorded.value is not None
    assert (recorded.value.text, recorded.value.unit) == ("0.33", "mm")


def test_a_limit_of_the_manual_is_never_taken_from_a_gauge(tmp_path: Path, told: Told) -> None:
    journal = LinesJournal(tmp_path, "other", new=True)
    bench, _ = new_bench(job_with(lambda data: data["spec"].pop("backlash")), journal, lambda: "0")
    bench.give(Said("done"))
    with SimulatedGauge() as gauge:
        work(bench, [dial(gauge)], iter(["take\n", "hold\n", "take\n"]))
    journal.close()
    assert bench.state.readings == ()
    assert not any("One end" in line for line in told.lines)


class NoPorts:
    """Gauges that answer as told, and keep when they were asked."""

    def __init__(self, answer: Taken | str | None) -> None:
        self.answer, self.asked = answer, list[tuple[str, float]]()
        self.gone: list[str] = []
        self.set: list[str] = []

    def gauge_for(self, quantity: str | None) -> str | None:
        return "dial" if quantity == "baseline_backlash" else None

    def taken(self, quantity: str, onset: float, place: object) -> Taken | str | None:  # noqa: ARG002 - as the protocol
        self.asked.append((quantity, onset))
        return self.answer

    def completed(self, late: Late, place: object) -> Taken | str | None:
        return self.answer if late.place == place else None

    def switched(self, command: Command, quantity: str | None) -> str | None:  # noqa: ARG002 - as the protocol
        return None

    def zeroed(self, quantity: str, onset: float, place: object) -> Zeroed | str | None:  # noqa: ARG002 - as the protocol
        return Zeroed("dial", Quantity.of("0.0015", "in"))

    def set_zero(self, gauge: str) -> None:
        self.set.append(gauge)

    def zero_is_gone(self, gauge: str) -> None:
        self.gone.append(gauge)

    def change_unit(self, gauge: str, unit: str) -> None:  # noqa: ARG002 - as the protocol
        raise AssertionError("nothing was switched")

    def sent(self, sent: Sent, quantity: str | None) -> Taken | str:  # noqa: ARG002 - as the protocol
        raise AssertionError("nothing was sent")


def test_a_pedal_takes_at_its_own_time(bench: Bench, told: Told) -> None:
    gauges = NoPorts(Taken("dial", Quantity.of("0.0135", "in")))
    loop = live.Loop(bench, (Captions(lambda text, _: told.add(text)),), lambda _: None, gauges=gauges)
    loop._take(Pressed(12.5), 99.0)
    assert gauges.asked == [("baseline_backlash", 12.5)]
    assert [reading.value for reading in bench.state.readings] == [Quantity.of("0.0135", "in")]


def test_a_late_value_is_said_to_be_one_and_only_where_it_was_asked(bench: Bench, told: Told) -> None:
    gauges = NoPorts(None)
    loop = live.Loop(bench, (Captions(lambda text, _: told.add(text)),), lambda _: None, gauges=gauges)
    loop._take(Said("take"), 1.0)
    assert told.lines == []
    place = loop._place()
    gauges.answer = Taken("dial", Quantity.of("0.0135", "in"))
    loop._take(Late("elsewhere", "settled", "dial", NotSettled("x", is_final=True)), 2.0)
    assert bench.state.readings == ()
    loop._take(Late(place, "settled", "dial", NotSettled("x", is_final=True)), 2.0)
    assert told.lines[0] == "Settled after the word:"
    assert len(bench.state.readings) == 1


def test_a_word_for_a_quantity_that_no_gauge_measures_is_the_jobs_own(bench: Bench, told: Told) -> None:
    gauges = NoPorts("never asked")
    bench.give(Said("correct backlash"))
    loop = live.Loop(bench, (Captions(lambda text, _: told.add(text)),), lambda _: None, gauges=gauges)
    gauges.gauge_for = lambda _: None  # type: ignore[method-assign]
    loop._take(Said("take"), 1.0)
    assert gauges.asked == []
    assert told.lines


def test_a_change_of_unit_that_could_mean_two_gauges_asks_for_the_name(bench: Bench, told: Told) -> None:
    loop = live.Loop(bench, (Captions(lambda text, _: told.add(text)),), lambda _: None, gauges=NoPorts(None))
    before = bench.state
    loop._take(Said("change unit to foot pounds"), 1.0)
    assert told.lines == ["Which gauge shows foot pounds now? Say it with its name, such as change unit of the dial to foot pounds."]
    assert bench.state == before


def test_a_zero_by_word_is_read_back_journalled_and_a_job_that_goes_on_asks_for_it_again(bench: Bench, told: Told) -> None:
    gauges = NoPorts(None)
    loop = live.Loop(bench, (Captions(lambda text, _: told.add(text)),), lambda _: None, gauges=gauges)
    loop.show(())
    for words in ("zero the gauge", "no", "zero the gauge"):
        loop._take(Said(words), 1.0)
    assert told.lines[0] == "Zero of the dial where it shows one point five thousandths?"
    assert gauges.set == []
    loop._take(Said("yes"), 1.0)
    assert gauges.set == ["dial"]
    assert GaugeZeroed("dial", Quantity.of("0.0015", "in")) in bench.journal.load().events
    later = NoPorts(None)
    live.Loop(bench, (), lambda _: None, gauges=later).show(())
    assert (later.gone, later.set) == (["dial"], [])
