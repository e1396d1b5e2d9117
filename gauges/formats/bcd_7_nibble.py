"""`bcd-7-nibble`: a clocked output of seven digits, passed on by the adapter as seven hex capitals.

d1 to d6 are digits, lowest first; d7 holds flags: bit 0 minus, bit 1 half a thousandth of an inch more, bit 2 metric, bit 3 zero.
Inches have four decimals (the last 0 or 5), millimetres two (the two are from memory: check on the display).
"""

from gauges.formats.adapter import ALL_NINES, AdapterLine
from gauges.reading import Event, Fault, exact_value

_MINUS, _HALF, _METRIC, _SPARE = 1, 2, 4, 8


class Bcd7Nibble(AdapterLine):
    """Reads the seven digits. A frame that the adapter missed is gone: there is nothing to ask for."""

    digits = 7

    def read_frame(self, digits: str, raw: bytes, offset: int) -> Event:
        """The event of seven digits; a fault names the first bad one."""
        for index, digit in enumerate(digits[:6], start=1):
            if digit not in "0123456789":
                return Fault("bcd-digit", f"d{index} is {digit}, expected 0 to 9", raw, offset)
        flags = int(digits[6], 16)
        if flags & _SPARE or (flags & _HALF and flags & _METRIC):
            return Fault("reserved-bits", f"d7 (flags) is {digits[6]}: bit 3, or half and metric together", raw, offset)
        if digits[:6] == ALL_NINES:
            return Fault("over-range", "d1 to d6 are all 9: beyond the gauge's range", raw, offset)
        sign = "-" if flags & _MINUS else ""
        number = digits[5::-1]
        if flags & _METRIC:
            return self._accept(exact_value(f"{sign}{number}E-2"), "mm", raw, offset)
        return self._accept(exact_value(f"{sign}{number}{5 if flags & _HALF else 0}E-4"), "in", raw, offset)
