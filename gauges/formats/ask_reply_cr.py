"""`ask-reply-cr`: one answer per question; sign, one to four digits, point, decimals, an optional tolerance mark, carriage return.

The frames carry no unit, but the gauge answers unit commands with IN or MM: after the other unit's word every value is refused until the
word of the set unit comes back. Opening the port with the usual line states can ask such a gauge for a value, or cut its power.
"""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder, gauge_error
from gauges.framing import Parity
from gauges.reading import Event, Fault, Status, exact_value

_VALUE = re.compile(r"([+-][0-9]{1,4}\.[0-9]{1,5})([<=>]?)")
# Sign, four digits, point, decimals and mark: eleven bytes with the line end.
_LONGEST = 10
# Words of one to four capitals with at most one digit and an optional question mark (BAT1, SET?, MM RES2 REF1 KEY0 B1), or a lone "?".
_WORD = r"[A-Z]{1,4}[0-9]?\??"
_STATUS = re.compile(rf"{_WORD}(?: {_WORD})*|\?")
_MARKS = {"<": ("under",), "=": ("good",), ">": ("over",), "": ()}
_UNIT_WORDS = {"MM": "mm", "IN": "in"}


class AskReplyCr(LineDecoder):
    """Reads answers of a command set. The integer part may be unpadded, so the width is free and the decimals are locked."""

    ends = "cr"

    def __init__(self, *, unit: str | None = None, parity: Parity = "none") -> None:
        super().__init__(unit=unit, parity=parity)
        self._reported_unit: str | None = None

    def reset(self, *, keep_lock: bool, whole: bool = False) -> None:
        """As in `Decoder`; the unit that the gauge reported is part of the lock."""
        super().reset(keep_lock=keep_lock, whole=whole)
        if not keep_lock:
            self._reported_unit = None

    def change_unit(self, unit: str) -> None:
        """As in `Decoder`; a gauge that reported this very unit is at one with us again."""
        super().change_unit(unit)
        if self._reported_unit != unit:
            self._reported_unit = None

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, status or fault."""
        value = _VALUE.fullmatch(text)
        if value is not None and len(text) <= _LONGEST:
            unit = self._set_unit
            if self._reported_unit not in (None, unit):
                return (Fault("unit-change", f"the gauge reported {self._reported_unit}, set is {unit}", raw, offset),)
            return (self._accept(exact_value(value[1]), unit, raw, offset, marks=_MARKS[value[2]]),)
        error = gauge_error(text, raw, offset)
        if error is not None:
            return (error,)
        if _STATUS.fullmatch(text):
            for word in text.split(" "):
                self._reported_unit = _UNIT_WORDS.get(word, self._reported_unit)
            return (Status(text, raw, offset),)
        return (Fault("shape", f"{text!r}, expected a sign, digits with a point and at most one of < = >", raw, offset),)
