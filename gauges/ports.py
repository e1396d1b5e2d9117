"""Serial ports: finding, opening and serving them. The only file that imports serial.

House rules:
- A port is opened with its control lines set before, locked twice, and never asked anything that the user did not ask for.
- 7E is opened as eight data bits: the parity is checked by the decoder, because pyserial lets damaged bytes through as good ones.
- The buffer is ours: what is there is read at once, never a line or a fixed count.
- One thread a port; it reads, decodes, and puts notices in a feed.
"""

import contextlib
import os
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

import serial
from serial.tools import list_ports

from gauges.asking import Asking
from gauges.errors import PortError
from gauges.feed import Feed, Hint, Pressed, Received, Stale
from gauges.formats import LineSettings
from gauges.pedal import POLL_SECONDS, Pedal
from gauges.probing import Match, explain, families_at, hint_for, lines_to_listen_at
from gauges.reading import Event, Reading, Status
from gauges.settings import GaugeSettings, Identity
from gauges.settling import silent_after
from gauges.worker import RETRY_SECONDS, Clock, Worker

if os.name == "posix":
    import fcntl
    import termios

    # A lost terminal is sometimes told by an exception that is no OSError.
    _PORT_ERRORS: tuple[type[Exception], ...] = (OSError, termios.error)
else:
    _PORT_ERRORS = (OSError,)

READ_SECONDS = 0.05
# The first line counts only when the line was silent for so long before it.
QUIET_SECONDS = 0.3
DTR_OFF_SECONDS = 0.12
LISTEN_SECONDS = 2.0
_HINT_BYTES = 256


class Port(Protocol):
    """What is used of serial.Serial; a stand-in with control lines can take its place."""

    timeout: float | None
    dtr: bool

    @property
    def in_waiting(self) -> int: ...
    @property
    def cts(self) -> bool: ...
    @property
    def dsr(self) -> bool: ...
    def read(self, size: int) -> bytes: ...
    def write(self, data: bytes) -> int | None: ...
    def reset_input_buffer(self) -> None: ...
    def cancel_read(self) -> None: ...
    def close(self) -> None: ...


@dataclass(frozen=True)
class PortInfo:
    """A port that is there. identity: None for one that is not on USB."""

    device: str
    identity: Identity | None
    description: str


def ports() -> list[PortInfo]:
    """All serial ports of this machine, by device name."""
    found = []
    for info in list_ports.comports():
        identity = None if info.vid is None else Identity(info.vid, info.pid, info.serial_number or None, info.location or None)
        found.append(PortInfo(info.device, identity, info.description or ""))
    return sorted(found, key=lambda port: port.device)


def device_of(port: str | Identity) -> str:
    """The device's path. Raises PortError when no port, or more than one, has this identity."""
    if isinstance(port, str):
        return port
    matching = [info.device for info in ports() if info.identity is not None and port.matches(info.identity)]
    if len(matching) != 1:
        raise PortError(f"{port}: found {len(matching)} ports, expected one")
    return matching[0]


def identity_of(device: str) -> Identity | None:
    """The identity of the port at this path, None when it has none."""
    return next((info.identity for info in ports() if info.device == device), None)


def holder_of(device: str) -> str | None:
    """The program that has this device open ("name, process 123"), as far as the rights of the user let that be seen (Linux)."""
    for link in Path("/proc").glob("[0-9]*/fd/*"):
        with contextlib.suppress(OSError):
            process = link.parts[2]
            if int(process) != os.getpid() and link.readlink() == Path(device).resolve():
                return f"{Path('/proc', process, 'comm').read_text().strip()}, process {process}"
    return None


def open_port(device: str, line: LineSettings, *, dtr: bool = True, rts: bool = True) -> serial.Serial:
    """Open a port for one gauge, alone.

    Raises PortError that says what is wrong: not there, no rights, or taken by another program, and by which.
    """
    is_seven_even = line.data_bits == 7 and line.parity == "E"
    port = serial.Serial()
    port.port = device
    port.baudrate = line.baud
    port.bytesize = serial.EIGHTBITS if is_seven_even else line.data_bits
    port.parity = serial.PARITY_NONE if is_seven_even else line.parity
    port.stopbits = serial.STOPBITS_TWO if is_seven_even else line.stop_bits
    port.timeout = READ_SECONDS
    port.exclusive = True
    # Before opening: a port that is opened first raises both lines at once, which resets boards and triggers cables.
    port.dtr = dtr
    port.rts = rts
    try:
        port.open()
    except _PORT_ERRORS as error:
        raise PortError(_why_not_opened(device, error)) from error
    if os.name == "posix":
        # The lock above is only an agreement among the polite; this one is kept by the system for all but the superuser.
        with contextlib.suppress(OSError):
            fcntl.ioctl(port.fileno(), termios.TIOCEXCL)
    return port


def _why_not_opened(device: str, error: Exception) -> str:
    number = getattr(error, "errno", None)
    if not Path(device).exists():
        return f"{device} is not there: is the cable in?"
    if number == 13:
        return f"{device}: no rights to open it: add the user to the group that may (often 'dialout')"
    if number in (11, 16):
        return f"{device} is in use by {holder_of(device) or 'another program'}: close that first"
    return f"{device} cannot be opened as a serial port: {error}"


def close_quietly(port: Port) -> None:
    """Close a port that may be gone already."""
    with contextlib.suppress(*_PORT_ERRORS):
        port.close()


def with_parity(text: bytes, *, is_even: bool) -> bytes:
    """A command as it must be written: with the parity bits put on by us, since the port sends eight bits."""
    return bytes(byte | 0x80 if is_even and byte.bit_count() % 2 else byte for byte in text)


class PortWorker(Worker):
    """Serves one gauge on a serial port.

    find: how a device is looked for. opener: how it is opened. Both are there for tests: a pseudo-terminal has no identity and no
    control lines.
    """

    def __init__(
        self, settings: GaugeSettings, feed: Feed, *, clock: Clock = time.monotonic, retry_seconds: Sequence[float] = RETRY_SECONDS,
        find: Callable[[str | Identity], str] = device_of, opener: Callable[..., Port] = open_port,
    ) -> None:  # fmt: skip
        super().__init__(settings.name, feed, clock=clock, retry_seconds=retry_seconds)
        self.settings = settings
        self.decoder = settings.decoder()
        self._row = settings.row
        self._line = settings.line or self._row.lines[0]
        self._address: str | Identity = settings.port
        self._find = find
        self._opener = opener
        self._port: Port | None = None
        self._asking = Asking(settings.poll_seconds)
        self._fed = 0
        self._recent: deque[int] = deque(maxlen=_HINT_BYTES)
        self._is_hinted = False
        self._last_frame_at = 0.0
        self._last_at = 0.0
        self._is_stale = False

    def ask(self) -> None:
        """Ask the gauge for one value as soon as no question is in flight; the answer comes through the feed."""
        self._asking.want()
        self._wake()

    def _wake(self) -> None:
        port = self._port
        if port is not None:
            with contextlib.suppress(OSError):
                port.cancel_read()

    def _needs_zero_check(self) -> bool:
        return self._row.is_counting

    def _is_certain(self) -> bool:
        return isinstance(self._address, str) or self._address.is_certain

    def _serve(self) -> None:
        device = self._find(self._address)
        # From now on it is known by what it is, not by where it is.
        if isinstance(self._address, str):
            self._address = identity_of(device) or self._address
        port = self._opener(device, self._line, dtr=self._row.dtr, rts=self._row.rts)
        self._port = port
        try:
            if self.settings.pedal is not None:
                port.timeout = POLL_SECONDS
            pedal = Pedal(self.clock())
            self._listen_deaf(port)
            self._has_opened()
            self._listen(port, pedal)
        except _PORT_ERRORS as error:
            raise PortError(f"{device}: {error}") from error
        finally:
            self._port = None
            close_quietly(port)

    def _listen_deaf(self, port: Port) -> None:
        """Throw away what comes while the port settles; then decide whether the next byte begins a line."""
        seconds = self._row.deaf_seconds if self.settings.deaf_seconds is None else self.settings.deaf_seconds
        until = self.clock() + seconds
        last_byte_at: float | None = None
        while not self.stopping.is_set() and self.clock() < until:
            if port.read(max(1, port.in_waiting)):
                last_byte_at = self.clock()
        is_quiet = last_byte_at is None or self.clock() - last_byte_at >= QUIET_SECONDS
        self.decoder.reset(keep_lock=True, whole=is_quiet)

    def _listen(self, port: Port, pedal: Pedal) -> None:
        self._last_frame_at = self.clock()
        self._is_stale = False
        while not self.stopping.is_set():
            data = port.read(max(1, port.in_waiting))
            now = self.clock()
            if data:
                self._take_in(data, now)
            if self.settings.pedal is not None and pedal.sample(port.cts if self.settings.pedal == "cts" else port.dsr, now):
                self.feed.put(Pressed(self.name, now))
            self._watch(now)
            if self._asking.is_due(now):
                self._put_question(port)

    def _take_in(self, data: bytes, now: float) -> None:
        self._release(self.decoder)
        self._fed += len(data)
        self._recent.extend(data)
        for event in self.decoder.feed(data):
            self._last_frame_at = now
            self._is_stale = False
            if not self._is_echo(event):
                self._asking.answered(now)
            if isinstance(event, Reading):
                self._recent.clear()
            # Back by the line time of all that came since the frame began, but never before the frame before it.
            began = now - (self._fed - event.offset) * self._line.seconds_per_byte
            self._last_at = max(self._last_at, began)
            self.feed.put(Received(self.name, event, self._last_at))
        if not self._is_hinted:
            hint = hint_for(bytes(self._recent))
            if hint is not None:
                self._is_hinted = True
                self.feed.put(Hint(self.name, now, hint))

    def _is_echo(self, event: Event) -> bool:
        return isinstance(event, Status) and any(event.text == question.decode("ascii").strip() for question in self._row.questions)

    def _watch(self, now: float) -> None:
        if self._asking.has_gone_silent(now):
            self.feed.put(Stale(self.name, now, "not answering"))
        is_streaming = self._row.period_seconds is not None and self.settings.poll_seconds is None and not self.settings.asks_by_dtr
        silent = now - self._last_frame_at
        if is_streaming and not self._is_stale and silent > (self.settings.silent_seconds or silent_after(self._row)):
            self._is_stale = True
            self.feed.put(Stale(self.name, now, f"silent for {silent:.1f} s"))

    def _put_question(self, port: Port) -> None:
        # An answer to an earlier question looks like the answer to this one.
        port.reset_input_buffer()
        self.decoder.reset(keep_lock=True, whole=True)
        if self.settings.asks_by_dtr:
            port.dtr = False
            self.stopping.wait(DTR_OFF_SECONDS)
            port.dtr = True
        elif self._row.questions:
            is_even = (self.settings.parity or self._row.parity) == "even7"
            port.write(with_parity(self._row.questions[0], is_even=is_even))


class PedalWorker(Worker):
    """Serves a pedal on a control line of a port of its own."""

    def __init__(
        self, name: str, device: str | Identity, line: Literal["cts", "dsr"], feed: Feed, *, clock: Clock = time.monotonic,
        retry_seconds: Sequence[float] = RETRY_SECONDS, find: Callable[[str | Identity], str] = device_of,
        opener: Callable[..., Port] = open_port,
    ) -> None:  # fmt: skip
        super().__init__(name, feed, clock=clock, retry_seconds=retry_seconds)
        self._device = device
        self._line = line
        self._find = find
        self._opener = opener

    def _wake(self) -> None:
        """Nothing blocks for longer than a sample."""

    def _serve(self) -> None:
        port = self._opener(self._find(self._device), LineSettings(9600, 8, "N", 1))
        try:
            pedal = Pedal(self.clock())
            self._has_opened()
            while not self.stopping.is_set():
                now = self.clock()
                if pedal.sample(port.cts if self._line == "cts" else port.dsr, now):
                    self.feed.put(Pressed(self.name, now))
                self.stopping.wait(POLL_SECONDS)
        finally:
            close_quietly(port)


@dataclass(frozen=True)
class Probed:
    """What was heard at one line setting. matches: best first. count: bytes heard. hint: what is likely wrong where nothing matches."""

    line: LineSettings
    matches: list[Match]
    count: int
    hint: str | None


def probe(
    device: str, *, seconds: float = LISTEN_SECONDS, lines: Sequence[LineSettings] | None = None, clock: Clock = time.monotonic,
    opener: Callable[..., Port] = open_port,
) -> Iterator[Probed]:  # fmt: skip
    """Listen at each known line setting in turn, and give what was heard there; nothing is sent.

    A gauge that is heard exactly, but too slowly for eight frames in the time, is listened to for twice as long.
    Raises PortError when the port can't be opened or is lost.
    """
    for line in lines or lines_to_listen_at():
        port = opener(device, line)
        try:
            data = _heard(port, seconds, clock)
            matches = explain(data, families_at(line))
            if any(match.is_exact for match in matches) and not any(match.is_found for match in matches):
                data += _heard(port, seconds, clock)
                matches = explain(data, families_at(line))
        except _PORT_ERRORS as error:
            raise PortError(f"{device} was lost while listening: {error}") from error
        finally:
            close_quietly(port)
        yield Probed(line, matches, len(data), None if matches else hint_for(data))


def _heard(port: Port, seconds: float, clock: Clock) -> bytes:
    until = clock() + seconds
    data = b""
    while clock() < until:
        data += port.read(max(1, port.in_waiting))
    return data
