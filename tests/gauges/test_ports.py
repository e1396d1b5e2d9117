"""Serial ports, served by workers on real pseudo-terminals; control lines on a stand-in port, which a pseudo-terminal lacks."""

import errno
import os
import queue
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from typing import Any

import pytest
import serial

from gauges import ports
from gauges.errors import PortError
from gauges.feed import Back, Feed, Hint, Lost, Notice, Pressed, Received, Stale
from gauges.formats import FORMATS, LineSettings
from gauges.ports import PedalWorker, PortInfo, PortWorker, close_quietly, device_of, holder_of, open_port, probe, with_parity
from gauges.reading import Status, to_json
from gauges.settings import GaugeSettings, Identity
from gauges.settling import NotSettled, Settled, Settler, rule_for
from gauges.worker import STOP_SECONDS, Worker
from tests.gauges.simulated import SimulatedGauge

LINE = LineSettings(9600, 8, "N", 1)
WAIT_SECONDS = 5.0
FRAME = bytes.fromhex("2B 30 30 B1 B2 2E 33 B4 35 8D")


def settings(port: str, **changes: Any) -> GaugeSettings:
    """A dial on this port, without the deaf time, which a pseudo-terminal doesn't need."""
    return GaugeSettings(**{"name": "dial", "key": "ascii-signed-cr", "port": port, "unit": "mm", "deaf_seconds": 0.0} | changes)


@contextmanager
def served(worker: Worker, *, opens: bool = True) -> Iterator[Worker]:
    """The worker, running, with its device open; and stopped in time afterwards."""
    worker.start()
    try:
        assert worker.opened.wait(WAIT_SECONDS if opens else 0.0) is opens
        yield worker
    finally:
        began = time.monotonic()
        worker.stop()
        assert not worker.is_alive
        assert time.monotonic() - began < STOP_SECONDS


def next_of(feed: Feed, kind: type[Notice]) -> Any:
    """The next notice of this kind; waits for it."""
    until = time.monotonic() + WAIT_SECONDS
    while time.monotonic() < until:
        notice = feed.get(until - time.monotonic())
        if isinstance(notice, kind):
            return notice
    raise AssertionError(f"no {kind.__name__} came")


@contextmanager
def streaming(gauge: SimulatedGauge, frame: bytes) -> Iterator[None]:
    """The gauge sends this frame over and over, in halves, so that any opening is in mid-line."""
    stop = threading.Event()

    def stream() -> None:
        while not stop.wait(0.005):
            gauge.send(frame, sizes=(len(frame) // 2,))

    sender = threading.Thread(target=stream, daemon=True)
    sender.start()
    try:
        yield
    finally:
        stop.set()
        sender.join(WAIT_SECONDS)


def test_a_worker_reads_what_the_gauge_sends_whatever_the_pieces() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge, served(PortWorker(settings(gauge.device), feed)):
        gauge.send(FRAME * 3, sizes=(1, 3, 7))
        received = [next_of(feed, Received) for _ in range(3)]
    assert [to_json(notice.event) for notice in received] == [{"value": "12.345", "unit": "mm"}] * 3
    assert received[0].at < received[1].at < received[2].at


def test_a_frame_is_dated_by_its_first_byte_at_the_speed_of_the_line() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge, served(PortWorker(settings(gauge.device), feed)):
        gauge.send(FRAME * 2)
        first, second = next_of(feed, Received), next_of(feed, Received)
    # Ten bytes of eleven bits at 4800 a second: 22.9 ms from frame to frame.
    assert second.at - first.at == pytest.approx(0.0229, abs=0.001)
    assert FORMATS["ascii-signed-cr"].lines[0].seconds_per_byte * 10 == pytest.approx(0.0229, abs=0.0001)


def test_a_line_that_streams_while_it_is_opened_loses_its_first_line() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge, streaming(gauge, FRAME), served(PortWorker(settings(gauge.device, deaf_seconds=0.1), feed)):
        notice = next_of(feed, Received)
        # What was thrown away while the port settled, and up to the first line end, gave neither fault nor value.
        assert to_json(notice.event) == {"value": "12.345", "unit": "mm"}


def test_after_a_silence_the_first_press_of_a_button_counts() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge, served(PortWorker(settings(gauge.device, deaf_seconds=0.1), feed)):
        gauge.send(FRAME)
        assert to_json(next_of(feed, Received).event) == {"value": "12.345", "unit": "mm"}


def test_two_gauges_are_served_at_once_and_their_values_are_not_mixed() -> None:
    feed = Feed()
    with SimulatedGauge() as one, SimulatedGauge() as other:
        caliper = GaugeSettings("caliper", "bin24-caliper", other.device, deaf_seconds=0.0)
        with served(PortWorker(settings(one.device), feed)), served(PortWorker(caliper, feed)):
            for _ in range(20):
                one.send(FRAME, sizes=(4,))
                other.send(b"0004D2\r\n", sizes=(3,))
            got = [next_of(feed, Received) for _ in range(40)]
    assert {(notice.gauge, notice.event.text) for notice in got} == {("dial", "12.345"), ("caliper", "12.34")}


def test_an_unplugged_gauge_is_said_to_be_lost_once_and_comes_back_with_its_lock_under_another_name() -> None:
    feed = Feed()
    devices: deque[str] = deque()

    def find(_: str | Identity) -> str:
        return devices[-1]

    first, second = SimulatedGauge(), SimulatedGauge()
    devices.append(first.device)
    caliper = GaugeSettings("caliper", "bin24-caliper", first.device, deaf_seconds=0.0)
    with served(PortWorker(caliper, feed, retry_seconds=(0.01,), find=find)):
        first.send(b"0004D2\r\n")
        next_of(feed, Received)
        first.unplug()
        lost = next_of(feed, Lost)
        assert lost.gauge == "caliper"
        devices.append(second.device)
        back = next_of(feed, Back)
        # Its counts may begin at another zero.
        assert back.needs_zero_check
        second.send(b"8003E8\r\n0004D2\r\n")
        events = [to_json(next_of(feed, Received).event) for _ in range(2)]
    second.unplug()
    assert events == [{"fault": "unit-change"}, {"value": "12.34", "unit": "mm"}]
    while (notice := feed.get(0)) is not None:
        assert not isinstance(notice, Lost)


def test_a_port_lost_during_a_capture_gives_no_value_for_the_word_that_was_spoken() -> None:
    feed = Feed()
    settler = Settler(rule_for(FORMATS["ascii-signed-cr"]))
    gauge = SimulatedGauge()
    with served(PortWorker(settings(gauge.device), feed, retry_seconds=(10.0,))):
        gauge.send(FRAME * 40)
        at = 0.0
        for _ in range(40):
            notice = next_of(feed, Received)
            settler.add(notice.event, notice.at)
            at = notice.at
        assert isinstance(settler.take(at, at), Settled)
        gauge.unplug()
        settler.lost(next_of(feed, Lost).at)
    assert isinstance(settler.take(at, at + 1.0), NotSettled)


def test_a_port_that_is_not_there_is_said_once_and_waited_for() -> None:
    feed = Feed()
    with served(PortWorker(settings("/dev/there-is-no-such-port"), feed, retry_seconds=(0.01,)), opens=False):
        assert "is not there" in next_of(feed, Lost).reason
        assert feed.get(0.2) is None


def test_a_streaming_gauge_that_falls_silent_is_stale_once() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge, served(PortWorker(settings(gauge.device), feed)):
        gauge.send(FRAME)
        next_of(feed, Received)
        assert "silent" in next_of(feed, Stale).reason
        assert feed.get(0.7) is None
        gauge.send(FRAME)
        next_of(feed, Received)
        next_of(feed, Stale)


def test_a_gauge_that_answers_is_asked_with_parity_and_an_echo_is_no_answer() -> None:
    feed = Feed()
    asked = settings("", key="ask-reply-cr")
    with SimulatedGauge() as gauge:
        worker = PortWorker(GaugeSettings(**{**vars(asked), "port": gauge.device}), feed)
        with served(worker):
            worker.ask()
            # "?" has six ones and stays 3F; carriage return becomes 8D.
            assert gauge.heard(2) == bytes.fromhex("3F 8D")
            gauge.send(bytes.fromhex("3F 8D"))
            assert isinstance(next_of(feed, Received).event, Status)
            gauge.send(bytes.fromhex("2D B2 2E 33 B4 35 BD 8D"))
            assert to_json(next_of(feed, Received).event) == {"value": "-2.345", "unit": "mm"}


def test_an_answer_that_comes_before_the_question_is_flushed() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge:
        worker = PortWorker(settings(gauge.device, key="ask-reply-cr", poll_seconds=0.05), feed)
        with served(worker):
            for text in ("2D B2 2E 33 B4 35 8D", "2D B2 2E 33 B4 36 8D", "2D B2 2E 33 B4 B7 8D"):
                gauge.heard(2)
                gauge.send(bytes.fromhex(text))
            values = [next_of(feed, Received).event.text for _ in range(3)]
    assert values == ["-2.345", "-2.346", "-2.347"]


def test_two_unanswered_questions_are_told_as_not_answering() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge, served(PortWorker(settings(gauge.device, key="ask-reply-cr", poll_seconds=0.05), feed)):
        assert next_of(feed, Stale).reason == "not answering"


def test_nothing_is_written_that_nobody_asked_for() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge:
        for key in ("ascii-signed-cr", "ask-reply-cr", "ascii-fixed-unit", "mux-prefix-cr"):
            with served(PortWorker(settings(gauge.device, key=key), feed)):
                gauge.send(b"x")
                next_of(feed, Stale) if FORMATS[key].period_seconds else feed.get(0.3)
        readable = threading.Thread(target=gauge.heard, args=(1,), daemon=True)
        readable.start()
        readable.join(0.1)
        assert readable.is_alive()
        # Let the waiting read end before the terminal goes.
        other = open_port(gauge.device, LINE)
        other.write(b"!")
        readable.join(WAIT_SECONDS)
        other.close()


def test_a_line_of_the_wrong_parity_gets_a_hint_once() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge, served(PortWorker(settings(gauge.device, parity="none"), feed)):
        gauge.send(FRAME * 30)
        assert "even parity" in next_of(feed, Hint).text


def test_a_second_program_is_refused_and_told_who_has_the_port() -> None:
    with SimulatedGauge() as gauge:
        first = open_port(gauge.device, LINE)
        with pytest.raises(PortError, match="is in use by another program"):
            open_port(gauge.device, LINE)
        first.close()
        open_port(gauge.device, LINE).close()


def test_a_file_that_is_no_serial_port_is_refused_with_what_it_is(tmp_path: Any) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("no port")
    with pytest.raises(PortError, match="cannot be opened as a serial port"):
        open_port(str(file), LINE)
    assert holder_of(str(file)) is None


def test_seven_bits_with_even_parity_are_opened_as_eight_without() -> None:
    with SimulatedGauge() as gauge:
        port = open_port(gauge.device, LineSettings(4800, 7, "E", 2), dtr=True, rts=False)
        assert (port.baudrate, port.bytesize, port.parity, port.stopbits) == (4800, 8, "N", 2)
        assert (port.dtr, port.rts, port.exclusive) == (True, False, True)
        close_quietly(port)
        close_quietly(port)


def test_commands_carry_the_parity_that_the_gauge_expects() -> None:
    # M has four ones, C has three, carriage return has three.
    assert with_parity(b"MC\r", is_even=True) == bytes.fromhex("4D C3 8D")
    assert with_parity(b"MC\r", is_even=False) == b"MC\r"


def test_a_gauge_is_found_by_its_identity_wherever_it_is_plugged_in(monkeypatch: pytest.MonkeyPatch) -> None:
    a1, a2 = Identity(0x0403, 0x6001, "A1", "1-1"), Identity(0x0403, 0x6001, "A2", "1-2")
    twin = Identity(0x1A86, 0x7523, None, "1-3")
    found = [
        PortInfo("/dev/ttyUSB0", a2, ""),
        PortInfo("/dev/ttyUSB1", a1, ""),
        PortInfo("/dev/ttyS0", None, ""),
        PortInfo("/dev/ttyUSB2", twin, ""),
    ]
    monkeypatch.setattr(ports, "ports", lambda: found)
    assert device_of(a1) == "/dev/ttyUSB1"
    assert device_of(twin) == "/dev/ttyUSB2"
    assert device_of("/dev/anything") == "/dev/anything"
    assert ports.identity_of("/dev/ttyUSB0") == a2
    assert ports.identity_of("/dev/ttyS0") is None
    with pytest.raises(PortError, match="found 0 ports, expected one"):
        device_of(Identity(0x0403, 0x6001, "A3", "1-1"))


def test_the_systems_list_of_ports_becomes_identities(monkeypatch: pytest.MonkeyPatch) -> None:
    from serial.tools.list_ports_common import ListPortInfo

    usb, plain = ListPortInfo("/dev/ttyUSB0"), ListPortInfo("/dev/ttyS0")
    usb.vid, usb.pid, usb.serial_number, usb.location, usb.description = 0x0403, 0x6001, "A1", "1-1", "bridge"
    plain.description = "n/a"
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: [usb, plain])
    assert ports.ports() == [
        PortInfo("/dev/ttyS0", None, "n/a"),
        PortInfo("/dev/ttyUSB0", Identity(0x0403, 0x6001, "A1", "1-1"), "bridge"),
    ]


class PortWithLines:
    """A port with control lines, as no pseudo-terminal has them; what is put into `bytes_in` is read."""

    def __init__(self) -> None:
        self.timeout: float | None = 0.05
        self.bytes_in: queue.Queue[bytes] = queue.Queue()
        self.dtr_seen: list[bool] = []
        self.cts_levels: deque[bool] = deque()
        self.dsr = False
        self.is_closed = False

    @property
    def dtr(self) -> bool:
        return self.dtr_seen[-1]

    @dtr.setter
    def dtr(self, level: bool) -> None:
        self.dtr_seen.append(level)
        if level:
            self.bytes_in.put(FRAME)

    @property
    def cts(self) -> bool:
        return self.cts_levels.popleft() if self.cts_levels else False

    @property
    def in_waiting(self) -> int:
        return 0

    def read(self, _: int) -> bytes:
        try:
            return self.bytes_in.get(timeout=self.timeout)
        except queue.Empty:
            return b""

    def write(self, data: bytes) -> int:
        raise AssertionError(f"{data!r} was written")

    def reset_input_buffer(self) -> None:
        pass

    def cancel_read(self) -> None:
        self.bytes_in.put(b"")

    def close(self) -> None:
        self.is_closed = True


def test_a_one_way_cable_is_asked_by_taking_dtr_away_and_nothing_is_written() -> None:
    feed = Feed()
    port = PortWithLines()
    worker = PortWorker(settings("x", asks_by_dtr=True), feed, opener=lambda *_, **__: port, find=str)
    with served(worker):
        worker.ask()
        assert to_json(next_of(feed, Received).event) == {"value": "12.345", "unit": "mm"}
    assert port.dtr_seen == [False, True]
    assert port.is_closed


def clock_of(step: float) -> Callable[[], float]:
    """A clock that goes on by one step each time it is read."""
    now = [0.0]

    def read() -> float:
        now[0] += step
        return now[0]

    return read


# The first push proves the pedal, the second acts.
PUSHES = [False] * 60 + [True] * 6 + [False] * 6 + [True] * 6 + [False] * 1000


def test_a_pedal_on_a_gauges_own_port_is_told_beside_its_readings() -> None:
    feed = Feed()
    port = PortWithLines()
    port.cts_levels.extend(PUSHES)
    worker = PortWorker(settings("x", pedal="cts"), feed, opener=lambda *_, **__: port, find=str, clock=clock_of(0.010))
    with served(worker):
        assert next_of(feed, Pressed).gauge == "dial"


def test_a_pedal_on_a_port_of_its_own_is_told() -> None:
    feed = Feed()
    port = PortWithLines()
    port.cts_levels.extend(PUSHES)
    with served(PedalWorker("pedal", "x", "cts", feed, opener=lambda *_, **__: port, find=str, clock=clock_of(0.010))):
        assert next_of(feed, Pressed).gauge == "pedal"
    assert port.is_closed


def test_a_lost_control_line_is_a_lost_pedal() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge:
        worker = PedalWorker("pedal", gauge.device, "cts", feed, retry_seconds=(10.0,))
        worker.start()
        # A pseudo-terminal has no control lines: "inappropriate ioctl for device", errno 25.
        assert next_of(feed, Lost).reason == os.strerror(errno.ENOTTY)
        worker.stop()
    assert not worker.is_alive


def test_times_of_frames_never_run_backwards() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge, served(PortWorker(settings(gauge.device), feed)):
        gauge.send(FRAME)
        times = [next_of(feed, Received).at]
        # A burst that could not have come over the line since: reckoned back by the line time, it would begin before the frame above.
        gauge.send(FRAME * 50)
        times += [next_of(feed, Received).at for _ in range(50)]
    assert times == sorted(times)


def test_probing_finds_the_family_by_listening_only() -> None:
    with SimulatedGauge() as gauge, streaming(gauge, b"+  2.1380, MM\r\n"):
        heard = list(probe(gauge.device, seconds=0.3, lines=[LINE]))
    (probed,) = heard
    assert [match.key for match in probed.matches if match.is_found] == ["ascii-fixed-unit"]
    assert probed.hint is None


def test_a_silent_port_is_probed_at_every_line_setting_and_nothing_is_found() -> None:
    with SimulatedGauge() as gauge:
        heard = list(probe(gauge.device, seconds=0.05))
    assert len(heard) == 5
    assert all(probed.count == 0 and probed.matches == [] for probed in heard)


def test_a_port_that_goes_while_it_is_probed_is_told() -> None:
    gauge = SimulatedGauge()

    def opener(device: str, line: LineSettings) -> serial.Serial:
        port = open_port(device, line)
        gauge.unplug()
        return port

    with pytest.raises(PortError, match="was lost while listening"):
        list(probe(gauge.device, seconds=0.5, opener=opener))


def test_a_value_is_exact_from_the_wire_to_the_feed() -> None:
    feed = Feed()
    with SimulatedGauge() as gauge, served(PortWorker(settings(gauge.device), feed)):
        gauge.send(FRAME)
        event = next_of(feed, Received).event
    assert event.value == Decimal("12.345")
    assert event.raw == FRAME[:-1]
