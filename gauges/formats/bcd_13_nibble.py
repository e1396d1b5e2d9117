"""`bcd-13-nibble`: a clocked output of thirteen digits, passed on by the adapter as thirteen hex capitals.

d1 to d4 are F; d5 is the sign, 0 or 8; d6 to d11 six digits, highest first; d12 the decimals, 0 to 5; d13 the unit.
Each digit is clocked least significant bit first, and manuals print the bits in sending order: their "1000" for inch is 1, their "0001"
for minus is 8. With steps of 0.00005 in the tens digit is cut off (12.34565 arrives as 2.34565): compare with the drawing's size.
Source: gauge interface manuals 99MBC095A, 6.2.1.5, and 99MBA043A, p. 6-12.
"""

from collections.abc import Sequence
from functools import reduce
from operator import xor

from gauges.formats.adapter import ALL_NINES, AdapterLine
from gauges.framing import Parity
from gauges.reading import Event, Fault, exact_value

# Unit digit → unit, and the judgement of instruments that judge.
_UNITS: dict[str, tuple[str, tuple[str, ...]]] = {
    "0": ("mm", ()), "1": ("in", ()),
    "2": ("mm", ("high",)), "3": ("mm", ("good",)), "4": ("mm", ("low",)),
    "5": ("in", ("high",)), "6": ("in", ("good",)), "7": ("in", ("low",)),
}  # fmt: skip


class Bcd13Nibble(AdapterLine):
    """Reads the thirteen digits; an optional `*` with two hex capitals after them is the XOR of their characters.

    inch_is_8: one manual prints 8 for inch; refused unless set.
    """

    digits = 13

    def __init__(self, *, unit: str | None = None, parity: Parity = "none", inch_is_8: bool = False) -> None:
        super().__init__(unit=unit, parity=parity)
        self._units = {**_UNITS, "8": _UNITS["1"]} if inch_is_8 else _UNITS

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, or one fault."""
        if len(text) == self.digits + 3 and text[self.digits] == "*":
            digits, given = text[: self.digits], text[self.digits + 1 :]
            expected = f"{reduce(xor, digits.encode()):02X}"
            if given != expected:
                return (Fault("checksum", f"check {given}, expected {expected}", raw, offset),)
            text = digits
        return super().read_line(text, raw, offset)

    def read_frame(self, digits: str, raw: bytes, offset: int) -> Event:
        """The event of thirteen digits; a fault names the first bad one."""
        if not digits.startswith("FFFF"):
            # The newer frame begins with 8 and has two more figures in d3 and d4: read as this one, it would lose them (99MAF600B, 6.2.1).
            return Fault("header", f"d1 to d4 are {digits[:4]}, expected FFFF", raw, offset)
        sign, number, places, unit = digits[4], digits[5:11], digits[11], digits[12]
        if sign not in "08":
            return Fault("sign", f"d5 (sign) is {sign}, expected 0 or 8", raw, offset)
        for index, digit in enumerate(number, start=6):
            if digit not in "0123456789":
                return Fault("bcd-digit", f"d{index} is {digit}, expected 0 to 9", raw, offset)
        if places not in "012345":
            return Fault("decimal-point", f"d12 (decimals) is {places}, expected 0 to 5", raw, offset)
        if unit not in self._units:
            return Fault("unit", f"d13 (unit) is {unit}, expected {', '.join(self._units)}", raw, offset)
        if number == ALL_NINES:
            return Fault("over-range", "d6 to d11 are all 9: beyond the gauge's range", raw, offset)
        name, marks = self._units[unit]
        value = exact_value(f"{'-' if sign == '8' else ''}{number}E-{places}")
        return self._accept(value, name, raw, offset, marks=marks)
