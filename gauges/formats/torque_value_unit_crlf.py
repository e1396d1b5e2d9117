"""`torque-value-unit-crlf`: minus or nothing, one to four digits, point, one to four digits, blank, unit, CR LF.

Minus is counter-clockwise. The instrument's menu can leave out unit and sign: such lines are refused. A cut front digit can't be seen in
one line (14.28 → 4.28), so two lines must agree.
"""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder
from gauges.reading import Event, Fault, exact_value

# The unit goes by its name only: one foot-pound is twelve inch-pounds, and either number is likely.
_UNITS = {"Nm": "N.m", "cNm": "cN.m", "lbFin": "lbf.in", "lbFft": "lbf.ft", "kgFcm": "kgf.cm", "ozFin": "ozf.in"}
_VALUE = re.compile(rf"(-?[0-9]{{1,4}}\.[0-9]{{1,4}}) ({'|'.join(_UNITS)})")
_OVERLOAD = re.compile(rf"HELP(?: (?:{'|'.join(_UNITS)}))?")


class TorqueValueUnitCrlf(LineDecoder):
    """Reads torque with its unit."""

    ends = "crlf"

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, or one fault."""
        value = _VALUE.fullmatch(text)
        if value is not None:
            return (self._accept(exact_value(value[1]), _UNITS[value[2]], raw, offset),)
        if _OVERLOAD.fullmatch(text):
            return (Fault("over-range", "the instrument says HELP: overload", raw, offset),)
        if text == "*10":
            return (Fault("gauge-error", "*10: it did not know the command", raw, offset),)
        return (Fault("shape", f"{text!r}, expected a value such as -18.78, a blank and one of {', '.join(_UNITS)}", raw, offset),)
