"""`multi-feature-cr`: several values in one line, `1 +012.34 mm =;2 -006.17 mm;3 ERR6`, carriage return.

All or nothing: one bad part refuses the whole line, once. ERR6 says that a feature is switched off: no value and no fault.
"""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder, gauge_error
from gauges.reading import Event, Fault, Reading, Status, exact_value

_VALUE = re.compile(r"([1-9][0-9]?) ([+-][0-9]{3}\.[0-9]{1,5}) (mm|um|inch)(?: ([<=>])(?: ?([<=>]))?)?")
_ERROR = re.compile(r"([1-9][0-9]?) (ERR[0-9]|OV)")
_COMMAND = re.compile(r"M[0-9]?\?|ID\?")
_UNITS = {"mm": "mm", "um": "um", "inch": "in"}
_MARKS = {"<": "under", "=": "good", ">": "over"}


class MultiFeatureCr(LineDecoder):
    """Reads a line of features in rising order; the channel is the feature's number. The first mark is the tolerance, the second the warning."""

    ends = "cr"
    limit = 128

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """The readings of all features that are on, or one status, or one fault."""
        if _COMMAND.fullmatch(text):
            return (Status(text, raw, offset),)
        readings: list[Reading] = []
        last = 0
        for part in text.split(";"):
            value = _VALUE.fullmatch(part)
            error = _ERROR.fullmatch(part) if value is None else None
            found = value or error
            if found is None or int(found[1]) <= last:
                return (Fault("shape", f"part {part!r}, expected features in rising order, each 1 +012.34 mm", raw, offset),)
            last = int(found[1])
            if error is not None and error[2] != "ERR6":
                fault = gauge_error(error[2], raw, offset)
                return (fault,) if fault is not None else ()
            if value is not None:
                marks = tuple(_MARKS[mark] for mark in (value[4], value[5]) if mark)
                readings.append(Reading(exact_value(value[2]), _UNITS[value[3]], value[1], raw, offset, marks))
        return self._all_or_nothing(readings, raw, offset) or (Status(text, raw, offset),)

    def _all_or_nothing(self, readings: Sequence[Reading], raw: bytes, offset: int) -> Sequence[Event]:
        for reading in readings:
            refused = self._lock.refuses(reading.channel, reading.unit, reading.value)
            if refused is not None:
                return (Fault(refused[0], f"feature {reading.channel}: {refused[1]}", raw, offset),)
        for reading in readings:
            self._lock.admit(reading.channel, reading.unit, reading.value)
        return readings
