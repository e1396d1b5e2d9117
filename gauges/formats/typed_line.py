"""`typed-line`: what a keyboard-type cable types: digits with a point or comma, then return or tab. No unit.

The separator is locked with the first line. No first line is dropped: a cable types whole lines. Exact widths are from memory.
"""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder
from gauges.reading import Event, Fault, exact_value

_VALUE = re.compile(r"([+-]?[0-9]{1,4})([.,])([0-9]{1,5})")
_SEPARATORS = {".": "point", ",": "comma"}


class TypedLine(LineDecoder):
    """Reads typed lines."""

    ends = "key"
    limit = 40
    drops_first_line = False

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, or one fault."""
        line = _VALUE.fullmatch(text)
        if line is None:
            return (Fault("shape", f"{text!r}, expected up to four digits, a point or comma, digits", raw, offset),)
        whole, separator, places = line.groups()
        return (self._accept(exact_value(f"{whole}.{places}"), self._set_unit, raw, offset, mode=_SEPARATORS[separator]),)
