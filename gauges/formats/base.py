"""What all families share: the decoder's three calls, the lock on unit, decimals and mode, and the checks of a line as a line.

House rules: a decoder has no I/O and no clock; whatever bytes come, nothing is raised; a damaged frame gives one fault and never a value.
"""

from abc import ABC, abstractmethod
from collections.abc import Sequence
from decimal import Decimal
from typing import ClassVar, NamedTuple

from gauges.framing import Line, LineEnd, LineFramer, PacketFramer, Parity
from gauges.reading import Event, Fault, FaultCode, Reading, decimals_of, exact_value

# Deletes every byte with an even count of ones: what is left is damaged.
_EVEN_BYTES = bytes(byte for byte in range(256) if byte.bit_count() % 2 == 0)
_WITHOUT_TOP_BIT = bytes(byte & 0x7F for byte in range(256))


class Locked(NamedTuple):
    """What the first accepted frame of a channel fixed; `sample` is its value, for the count of its decimals."""

    unit: str
    sample: Decimal
    mode: str


class Lock:
    """Holds unit, decimals and mode to those of the first accepted frame, for each channel apart.

    A later frame that differs is refused; one that matches again is accepted. Only `release` forgets.
    """

    def __init__(self) -> None:
        self._held: dict[str | None, Locked] = {}
        self._wanted_unit: str | None = None

    def refuses(self, channel: str | None, unit: str, value: Decimal, mode: str = "") -> tuple[FaultCode, str] | None:
        """The code and detail of what differs, or None when the frame may pass. Fixes nothing."""
        held = self._held.get(channel)
        if held is None:
            if self._wanted_unit is not None and unit != self._wanted_unit:
                return "unit-change", f"unit {unit}, expected {self._wanted_unit}"
            return None
        if held.unit != unit:
            return "unit-change", f"unit {unit}, expected {held.unit}: change it back, or say the new unit"
        if held.mode != mode:
            return "mode-change", f"mode {mode or 'none'!r}, expected {held.mode or 'none'!r}"
        if not held.sample.same_quantum(value):
            seen, expected = decimals_of(value), decimals_of(held.sample)
            return "decimals-change", f"{seen} decimals, expected {expected}: resolution or unit was switched"
        return None

    def admit(self, channel: str | None, unit: str, value: Decimal, mode: str = "") -> tuple[FaultCode, str] | None:
        """As `refuses`; a frame that may pass is held to from now on."""
        refused = self.refuses(channel, unit, value, mode)
        if refused is None and channel not in self._held:
            self._held[channel] = Locked(unit, value, mode)
        return refused

    def release(self, unit: str | None = None) -> None:
        """Forget what is held; with `unit`, only a frame in that unit may lock again."""
        self._held.clear()
        self._wanted_unit = unit


class Decoder(ABC):
    """One family's reader: bytes in, events out.

    unit: the unit of the values where the family's frames carry none, else None.
    """

    def __init__(self, *, unit: str | None = None) -> None:
        self._unit = unit
        self._lock = Lock()

    @abstractmethod
    def feed(self, data: bytes) -> list[Event]:
        """The events that `data` completes, in order; the same in sum for any chunking."""

    @abstractmethod
    def finish(self) -> list[Event]:
        """The events that only the end of the stream brings: what is left is a fault."""

    @abstractmethod
    def _restart(self, *, whole: bool) -> None:
        """Forget the bytes that wait."""

    def reset(self, *, keep_lock: bool, whole: bool = False) -> None:
        """Begin anew after a flush, a lost port or a wanted change.

        keep_lock: hold on to unit, decimals and mode (after a replug), or forget them.
        whole: the line was silent before, so the next byte begins a line and the first line counts (rule of 0.3 s, kept by the caller).
        """
        self._restart(whole=whole)
        if not keep_lock:
            self._lock.release()

    def change_unit(self, unit: str) -> None:
        """The technician said "change unit to …": forget the lock; only a frame in `unit` locks again."""
        if self._unit is not None:
            self._unit = unit
        self._lock.release(unit)

    def _accept(
        self, value: Decimal, unit: str, raw: bytes, offset: int, *, channel: str | None = None, mode: str = "",
        marks: tuple[str, ...] = (), place: str | None = None,
    ) -> Reading | Fault:  # fmt: skip
        """The reading, if the lock lets it pass, which it then fixes. place: what the lock goes by where it isn't the channel."""
        refused = self._lock.admit(channel if place is None else place, unit, value, mode)
        if refused is not None:
            return Fault(refused[0], refused[1], raw, offset)
        return Reading(value, unit, channel, raw, offset, marks)

    @property
    def _set_unit(self) -> str:
        """The unit of a family that has none in its frames; its absence is the table's fault, not the gauge's."""
        if self._unit is None:
            raise ValueError(f"{type(self).__name__} needs a unit: its frames carry none")
        return self._unit


class LineDecoder(Decoder):
    """A family that sends lines. A subclass says how its lines end and reads one line at a time."""

    ends: ClassVar[LineEnd]
    limit: ClassVar[int] = 64
    drops_first_line: ClassVar[bool] = True

    def __init__(self, *, unit: str | None = None, parity: Parity = "none") -> None:
        super().__init__(unit=unit)
        self._is_even = parity == "even7"
        self._framer = LineFramer(self.ends, parity=parity, limit=self.limit, drop_first=self.drops_first_line)

    def feed(self, data: bytes) -> list[Event]:
        events: list[Event] = []
        for line in self._framer.feed(data):
            events.extend(self._line(line))
        return events

    def finish(self) -> list[Event]:
        line = self._framer.finish()
        return [] if line is None else [_tail_fault(line)]

    def _restart(self, *, whole: bool) -> None:
        self._framer.restart(whole=whole or not self.drops_first_line)

    def _line(self, line: Line) -> Sequence[Event]:
        offset, data, fault = line
        if fault is not None:
            return (Fault(fault, _LINE_FAULTS[fault].format(limit=self.limit), data, offset),)
        if self._is_even:
            odd = data.translate(None, _EVEN_BYTES)
            if odd:
                return (Fault("parity", f"byte {odd[0]:02X} has an odd count of ones, expected even parity", data, offset),)
            text = data.translate(_WITHOUT_TOP_BIT).decode("ascii")
        elif data.isascii():
            text = data.decode("ascii")
        else:
            high = next(byte for byte in data if byte > 0x7F)
            return (Fault("not-ascii", f"byte {high:02X}, expected 7-bit text: is the parity setting right?", data, offset),)
        return self.read_line(text, data, offset)

    @abstractmethod
    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """The events of one whole, non-empty line of 7-bit text; `raw` is the line as it came in."""


class PacketDecoder(Decoder):
    """A family whose packets begin with a known byte and are cut by count; bytes that make no packet are skipped.

    header: the first byte of every packet.
    """

    def __init__(self, *, header: int, unit: str | None = None) -> None:
        super().__init__(unit=unit)
        self._framer = PacketFramer(header, self.measure)

    def feed(self, data: bytes) -> list[Event]:
        events: list[Event] = []
        for offset, packet in self._framer.feed(data):
            events += self.read_packet(packet, offset) if packet else (_resync(offset),)
        return events

    def finish(self) -> list[Event]:
        packets, line = self._framer.finish()
        events: list[Event] = [_resync(offset) for offset, _ in packets]
        return events if line is None else [*events, _tail_fault(line)]

    def _restart(self, *, whole: bool) -> None:
        del whole  # packets are found by their header; where the stream was opened makes no difference
        self._framer.restart()

    @abstractmethod
    def measure(self, buffer: bytes, at: int) -> int:
        """The packet's length at `at`, or INCOMPLETE, or NO_PACKET (see `framing.Measure`)."""

    @abstractmethod
    def read_packet(self, packet: bytes, offset: int) -> Sequence[Event]:
        """The events of one whole packet."""


_LINE_FAULTS: dict[FaultCode, str] = {
    "overlong": "more than {limit} bytes without a line end: is the speed or the parity wrong?",
    "bad-terminator": "a line feed without a carriage return before it",
    "partial-tail": "the bytes end in the middle of a frame",
    "no-frame": "bytes came, but no whole frame: is the format, the speed or the parity wrong?",
}


def _tail_fault(line: Line) -> Fault:
    code = line.fault or "partial-tail"
    return Fault(code, _LINE_FAULTS[code], line.data, line.offset)


def _resync(offset: int) -> Fault:
    return Fault("resync", "bytes that make no frame were skipped", b"", offset)


def signed(sign: str, number: str) -> Decimal:
    """The value of a sign column ("+", "-" or blank) and a number whose shape was checked; blanks on its left are padding."""
    return exact_value(("-" if sign == "-" else "") + number.strip(" "))


def gauge_error(text: str, raw: bytes, offset: int) -> Fault | None:
    """The fault of the common error words OV and ERR0 … ERR9, or None for any other text.

    OV and ERR3 say that the plunger is beyond the range; the others that the gauge could not measure or did not understand.
    """
    if text in ("OV", "ERR3"):
        return Fault("over-range", f"the gauge says {text}: beyond its range", raw, offset)
    if len(text) == 4 and text.startswith("ERR") and text[3] in "0123456789":
        return Fault("gauge-error", f"the gauge says {text}: {_ERRORS.get(text, 'see its manual')}", raw, offset)
    return None


_ERRORS = {
    "ERR0": "moved too fast or sensor fault: move slower and zero again",
    "ERR1": "it did not know the command",
    "ERR2": "it saw bad parity in what was sent to it",
}
