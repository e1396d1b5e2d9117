"""`stx-d15-cr`: 02, fifteen digits, 0D: 4, display, two-digit unit code, polarity, decimals, eight digits; sixteen bytes, no checksum."""

from collections.abc import Mapping, Sequence

from gauges.formats.base import PacketDecoder
from gauges.formats.shape import measured, one_of
from gauges.reading import Event, Fault, exact_value

_STX = 0x02
_DIGIT = one_of(b"0123456789")
_SHAPE = (
    one_of([_STX]), one_of(b"4"), one_of(b"12"), _DIGIT, _DIGIT, one_of(b"01"), one_of(b"0123"),
    *(_DIGIT,) * 8, one_of(b"\r"),
)  # fmt: skip
LENGTH_CODES: Mapping[str, str] = {"94": "mm", "96": "in"}


class StxD15Cr(PacketDecoder):
    """Reads both displays; the display's number is the channel.

    unit_codes: code → unit; speeds and torques have codes of their own, to be taken from the instrument's sheet. Any other is refused.
    """

    def __init__(self, *, unit: str | None = None, unit_codes: Mapping[str, str] = LENGTH_CODES) -> None:
        super().__init__(header=_STX, unit=unit)
        self._unit_codes = dict(unit_codes)

    def measure(self, buffer: bytes, at: int) -> int:
        """See `PacketDecoder`."""
        return measured(_SHAPE, buffer, at)

    def read_packet(self, packet: bytes, offset: int) -> Sequence[Event]:
        """One reading, or a fault for an unknown unit code or a broken lock."""
        text = packet[1:-1].decode("ascii")
        display, code, polarity, decimals, digits = text[1], text[2:4], text[4], text[5], text[6:]
        unit = self._unit_codes.get(code)
        if unit is None:
            return (Fault("unit", f"unit code {code}, expected {', '.join(self._unit_codes)}", packet, offset),)
        value = exact_value(f"{'-' if polarity == '1' else ''}{digits}E-{decimals}")
        return (self._accept(value, unit, packet, offset, channel=display),)
