"""`status-csv-crlf`: stability, gross or net, sign, seven characters, two-letter unit, CR LF; eighteen bytes. Pull and load indicators.

A value that the indicator itself calls unstable (US) is a status: good for a live display, never taken. A change between gross and net
means that someone pressed tare.
"""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder, signed
from gauges.reading import Event, Fault, Reading, Status

_LINE = re.compile(r"(ST|US),(GS|NT),([+-])(?=.{9}$)( *[0-9]+\.[0-9]+)([A-Za-z]{2})")
# Beyond the range the number may be anything.
_OVERLOAD = re.compile(r"OL,(?:GS|NT),.{10}")
_UNITS = {"kg": "kg", "lb": "lb"}


class StatusCsvCrlf(LineDecoder):
    """Reads stable values; the mode that is locked is gross or net."""

    ends = "crlf"

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, status or fault."""
        if _OVERLOAD.fullmatch(text):
            return (Fault("over-range", "the indicator says OL: beyond its range", raw, offset),)
        line = _LINE.fullmatch(text)
        if line is None:
            return (Fault("shape", f"{text!r}, expected ST,GS, then sign, seven characters and a unit", raw, offset),)
        stability, mode, sign, number, letters = line.groups()
        unit = _UNITS.get(letters)
        if unit is None:
            return (Fault("unit", f"unit {letters!r}, expected kg or lb", raw, offset),)
        value = signed(sign, number)
        if stability == "US":
            return (Status(text, raw, offset, moving=Reading(value, unit, None, raw, offset)),)
        return (self._accept(value, unit, raw, offset, mode=mode),)
