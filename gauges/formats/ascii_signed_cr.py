"""`ascii-signed-cr`: sign, eight characters of digits with one point, carriage return; ten bytes, no unit.

The point moves with unit and resolution: mm to 0.001 is +0123.456, inch to 0.00001 is +01.23456. Source: see tests/captures/sources.toml.
"""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder, gauge_error
from gauges.reading import Event, Fault, exact_value

_VALUE = re.compile(r"[+\- ][0-9]+\.[0-9]+")
_WIDTH = 9


class AsciiSignedCr(LineDecoder):
    """Reads sign, number, carriage return. Every line that isn't an error word must have the one width."""

    ends = "cr"

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, or one fault."""
        if len(text) != _WIDTH:
            error = gauge_error(text, raw, offset)
            if error is not None:
                return (error,)
            return (Fault("width-change", f"{len(text)} characters {text!r}, expected {_WIDTH}", raw, offset),)
        if not _VALUE.fullmatch(text):
            return (Fault("shape", f"{text!r}, expected a sign and eight characters of digits with one point", raw, offset),)
        return (self._accept(exact_value(text), self._set_unit, raw, offset),)
