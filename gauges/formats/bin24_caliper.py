"""`bin24-caliper`: a clocked 24-bit word, passed on by the adapter as six hex capitals.

Bits 0 to 19 magnitude, 20 minus, 21 and 22 zero, 23 inch; millimetres are counts/100, inches counts/2000. Two makes differ and can't be
told apart from the bits: one sends a leading 1 (12.34 reads 24.69), one never sets the inch bit. Test once on a gauge block in both units.
"""

from decimal import Decimal

from gauges.formats.adapter import AdapterLine
from gauges.framing import Parity
from gauges.reading import Event, Fault, exact_value

_LONGEST_IN = Decimal(12)
_LONGEST_MM = Decimal(300)


class Bin24Caliper(AdapterLine):
    """Reads the word; longest_mm and longest_in are the beam's, and a value beyond them is refused as implausible."""

    digits = 6

    def __init__(
        self, *, unit: str | None = None, parity: Parity = "none", longest_mm: Decimal = _LONGEST_MM, longest_in: Decimal = _LONGEST_IN
    ) -> None:
        super().__init__(unit=unit, parity=parity)
        self._longest = {"mm": longest_mm, "in": longest_in}

    def read_frame(self, digits: str, raw: bytes, offset: int) -> Event:
        """The event of one word."""
        word = int(digits, 16)
        if word & 0x600000:
            return Fault("reserved-bits", f"{digits}: bits 21 and 22 are set, expected zero", raw, offset)
        unit = "in" if word & 0x800000 else "mm"
        sign = "-" if word & 0x100000 else ""
        magnitude = word & 0x0FFFFF
        # A count is 0.01 mm or 0.0005 in.
        value = exact_value(f"{sign}{magnitude * 5}E-4" if unit == "in" else f"{sign}{magnitude}E-2")
        if abs(value) > self._longest[unit]:
            return Fault("implausible", f"{value} {unit} is longer than the beam ({self._longest[unit]} {unit})", raw, offset)
        return self._accept(value, unit, raw, offset)
