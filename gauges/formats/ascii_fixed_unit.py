"""`ascii-fixed-unit`: sign, eight characters right-aligned, comma, blank, MM or IN, CR LF; fifteen bytes."""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder, signed
from gauges.reading import Event, Fault, Status

# A blank between digits is damage, not padding: the digits are one run up to the comma.
_VALUE = re.compile(r"(?=.{13}$)([+-])( *[0-9]+\.[0-9]+), (MM|IN)")
_UNITS = {"MM": "mm", "IN": "in"}
_REFUSALS = ("NOT FOUND", "NO ACCESS", "OUT OF BOUNDS", "NON NUMERIC")


class AsciiFixedUnit(LineDecoder):
    """Reads fixed columns with their unit, and the gauge's text answers."""

    ends = "crlf"

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, status or fault."""
        value = _VALUE.fullmatch(text)
        if value is not None:
            return (self._accept(signed(value[1], value[2]), _UNITS[value[3]], raw, offset),)
        if text == "SUCCESS":
            return (Status(text, raw, offset),)
        if text in _REFUSALS:
            return (Fault("gauge-error", f"the gauge says {text}", raw, offset),)
        return (Fault("shape", f"{text!r}, expected sign, eight characters, comma, blank, MM or IN", raw, offset),)
