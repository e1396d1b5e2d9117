"""`mux-prefix-cr`: 0, channel, A, sign, eight characters of digits with one point, carriage return; thirteen bytes, no unit.

The first character is the class of the message: 0 a value, 1 an identity, 9 a status or error. Some cables of this kind are no serial
port at all (vendor-class USB): no port appears for them, and nothing here can read them.
"""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder
from gauges.reading import Event, Fault, Status, exact_value

_VALUE = re.compile(r"0([1-9])A(?=.{9}$)([+-][0-9]+\.[0-9]+)")
# 911 and 912 are no or bad data from channel 1 and 2; the numbers are from memory.
_ERROR = re.compile(r"9[0-9]{2}")
_IDENTITY = re.compile(r"1[ -~]+")
# One wrong bit turns the class 0 into 1: such a line is a damaged value, not an identity.
_DAMAGED_VALUE = re.compile(r"1[1-9]A[+-][0-9.]+")


class MuxPrefixCr(LineDecoder):
    """Reads the values of several channels; decimals are locked for each channel apart."""

    ends = "cr"

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, status or fault."""
        value = _VALUE.fullmatch(text)
        if value is not None:
            return (self._accept(exact_value(value[2]), self._set_unit, raw, offset, channel=value[1]),)
        if _ERROR.fullmatch(text):
            return (Fault("gauge-error", f"{text}: no data from channel {text[2]}, or bad data", raw, offset),)
        if _IDENTITY.fullmatch(text) and not _DAMAGED_VALUE.fullmatch(text):
            return (Status(text, raw, offset),)
        return (Fault("shape", f"{text!r}, expected 0, channel, A, sign and eight characters with a point", raw, offset),)
