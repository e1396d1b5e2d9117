"""`rf-position-packet`: addressed packets of a wireless scale, one per press of its button; nineteen bytes.

FF, sender 1 to 99, 41, signal 30 to 39, message number, 0D, 01 00 01 01, unit (1 inch, 0 mm), sign (blank or -), seven characters
right-aligned. A delete packet, FF sender 49 signal number 00, says that the operator takes the last value back. The 0D is a count of the
bytes that follow, not a line end: packets are cut by count.
"""

import re
from collections import deque
from collections.abc import Sequence

from gauges.formats.base import PacketDecoder, signed
from gauges.formats.shape import any_byte, measured, one_of
from gauges.framing import NO_PACKET
from gauges.reading import Event, Fault, Status

_HEADER = 0xFF
_HEAD = (one_of([_HEADER]), one_of(range(1, 100)))
_SIGNAL = one_of(range(0x30, 0x3A))
_VALUE_TYPE, _DELETE_TYPE = 0x41, 0x49
_VALUE = (
    *_HEAD, one_of([_VALUE_TYPE]), _SIGNAL, any_byte(), *(one_of([byte]) for byte in b"\x0d\x01\x00\x01\x01"),
    one_of(b"\x00\x01"), one_of(b" -"), *(one_of(b"0123456789 ."),) * 7,
)  # fmt: skip
_DELETE = (*_HEAD, one_of([_DELETE_TYPE]), _SIGNAL, any_byte(), one_of(b"\x00"))
_NUMBER = re.compile(rb" *[0-9]+\.[0-9]+")
_NUMBER_AT = slice(12, 19)
# A packet that is sent once more comes soon: the message number runs round after 256.
_REMEMBERED = 16


class RfPositionPacket(PacketDecoder):
    """Reads values; the sender's number is the channel. The same sender and number twice is refused as a duplicate."""

    def __init__(self, *, unit: str | None = None) -> None:
        super().__init__(header=_HEADER, unit=unit)
        self._numbers: dict[int, deque[tuple[int, int]]] = {}

    def measure(self, buffer: bytes, at: int) -> int:
        """See `PacketDecoder`."""
        if buffer[at + 2 : at + 3] == bytes([_DELETE_TYPE]):
            return measured(_DELETE, buffer, at)
        length = measured(_VALUE, buffer, at)
        if length > 0 and not _NUMBER.fullmatch(buffer[at:][_NUMBER_AT]):
            return NO_PACKET
        return length

    def read_packet(self, packet: bytes, offset: int) -> Sequence[Event]:
        """A reading or a status, with a status before it when packets were lost, or one fault."""
        sender, kind, number = packet[1], packet[2], packet[4]
        channel = str(sender)
        seen = self._numbers.setdefault(sender, deque(maxlen=_REMEMBERED))
        if (kind, number) in seen:
            return (Fault("duplicate", f"sender {sender}, number {number}: the same packet once more", packet, offset),)
        event: Event
        if kind == _DELETE_TYPE:
            event = Status(f"delete last value of sender {sender}", packet, offset, channel)
        else:
            value = signed(chr(packet[11]), packet[_NUMBER_AT].decode("ascii"))
            event = self._accept(value, "in" if packet[10] else "mm", packet, offset, channel=channel)
        # Whether a delete packet counts on or repeats the number of the value it deletes is not known: neither is a gap.
        is_gap = bool(seen) and number not in (seen[-1][1], (seen[-1][1] + 1) % 256)
        seen.append((kind, number))
        return (Status("packets lost", packet, offset, channel), event) if is_gap else (event,)
