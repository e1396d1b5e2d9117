"""`stx-etx-bcc`: 02, channel, sign, eight characters right-aligned, MM or IN, 03, block check; seventeen bytes.

The block check is the XOR of all bytes after 02 up to and including 03, as two hex capitals. XOR can't see two bytes that changed places.
Composed from memory of several sheets, so the block check's rule is a setting.
"""

import re
from collections.abc import Sequence
from functools import reduce
from operator import xor

from gauges.formats.base import PacketDecoder, signed
from gauges.formats.shape import any_byte, measured, one_of
from gauges.framing import NO_PACKET
from gauges.reading import Event, Fault

_STX, _ETX = 0x02, 0x03
_BODY = re.compile(rb"([0-9]{2})([+-])( *[0-9]+\.[0-9]+|-{8})(MM|IN)", re.DOTALL)
_BODY_LENGTH = 13
_UNITS = {b"MM": "mm", b"IN": "in"}


class StxEtxBcc(PacketDecoder):
    """Reads packets whose block check is right; all others are skipped.

    check_covers_etx: whether 03 is in the XOR. raw_check: the check is one raw byte (it may equal 02, 03 or 0D) instead of two hex
    capitals. ends_with_cr: a carriage return follows.
    """

    def __init__(
        self, *, unit: str | None = None, check_covers_etx: bool = True, raw_check: bool = False, ends_with_cr: bool = False
    ) -> None:
        super().__init__(header=_STX, unit=unit)
        self._covered = slice(1, 2 + _BODY_LENGTH if check_covers_etx else 1 + _BODY_LENGTH)
        self._raw_check = raw_check
        digits = b"0123456789"
        check = (any_byte(),) if raw_check else (one_of(digits + b"ABCDEF"),) * 2
        self._shape = (
            *(one_of([_STX]), one_of(digits), one_of(digits), one_of(b"+-")),
            *(one_of(digits + b" .-"),) * 8,
            *(one_of(b"MI"), one_of(b"MN"), one_of([_ETX]), *check),
            *((one_of(b"\r"),) if ends_with_cr else ()),
        )

    def measure(self, buffer: bytes, at: int) -> int:
        """See `PacketDecoder`."""
        length = measured(self._shape, buffer, at)
        if length <= 0:
            return length
        packet = buffer[at : at + length]
        check = reduce(xor, packet[self._covered])
        start = 2 + _BODY_LENGTH
        given = packet[start] if self._raw_check else int(packet[start : start + 2], 16)
        return length if given == check and _BODY.fullmatch(packet, 1, 1 + _BODY_LENGTH) else NO_PACKET

    def read_packet(self, packet: bytes, offset: int) -> Sequence[Event]:
        """One reading, or a fault for a value beyond the range or a broken lock."""
        body = _BODY.fullmatch(packet, 1, 1 + _BODY_LENGTH)
        if body is None:
            raise ValueError(f"{packet!r} is not a packet that measure() let through")
        channel, sign, number, unit = body.groups()
        if number == b"-" * 8:
            return (Fault("over-range", f"channel {channel.decode()} shows dashes: beyond its range", packet, offset),)
        value = signed(sign.decode(), number.decode())
        return (self._accept(value, _UNITS[unit], packet, offset, channel=channel.decode()),)
