"""`ascii-status-lf`: mode, sign, six characters, unit letter, tolerance, blank, line feed; twelve bytes.

The mode letter is a, m, l, t (actual, maximum, minimum, total reading) or blank, a capital when hold is on. The mode is locked, so that a
maximum never passes as the live value; hold is a mark. That a blank may stand for some columns is from memory: check on the gauge.
"""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder, signed
from gauges.reading import Event, Fault

# Six characters: blanks, digits with one point (a digit before the point may be missing), at most one blank after them.
_VALUE = re.compile(r"([aAmMlLtT ])([+-])(?=.{6}[MI])( *[0-9]*\.[0-9]+ ?)([MI])([O0U ]) ")
_UNITS = {"M": "mm", "I": "in"}
_MODES = {"a": "actual", "m": "maximum", "l": "minimum", "t": "total", " ": ""}
_TOLERANCE = {"O": ("over",), "0": ("over",), "U": ("under",), " ": ()}


class AsciiStatusLf(LineDecoder):
    """Reads one display value with its mode, unit and tolerance; marks are "hold", "over", "under"."""

    ends = "lf"

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, or one fault."""
        value = _VALUE.fullmatch(text)
        if value is None:
            return (Fault("shape", f"{text!r}, expected mode, sign, six characters, M or I, tolerance, blank", raw, offset),)
        letter, sign, number, unit, tolerance = value.groups()
        marks = (("hold",) if letter.isupper() else ()) + _TOLERANCE[tolerance]
        return (self._accept(signed(sign, number), _UNITS[unit], raw, offset, mode=_MODES[letter.lower()], marks=marks),)
