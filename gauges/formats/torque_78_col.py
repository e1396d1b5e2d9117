"""`torque-78-col`: one telegram of fixed columns after each fastening; 78 bytes with CR LF, no unit.

Verdicts are H, L or blank; the total is O accept, X reject, A abnormal or S stopped. A sister model sends 79 bytes: refused. The value is
the peak torque; its numbers are padded with blanks or zeros on the left.
"""

import re
from collections.abc import Sequence

from gauges.formats.base import LineDecoder, signed
from gauges.framing import Parity
from gauges.reading import Event, Fault, Status

_WIDTH = 76
_COUNT = re.compile(r" *[0-9]+")
# The sheet's own byte table leaves the digit before the point out (" .234").
_NUMBER_OR_BLANK = re.compile(r" *(?:[0-9]+|[0-9]*\.[0-9]+)?")
_VERDICT = re.compile(r"[HL ]")
# Name, first and last column as the sheet counts them (from 1), and what may stand there.
_COLUMNS = (
    ("cycle", 1, 4, _COUNT), ("spindle", 7, 8, _COUNT), ("parameter", 12, 13, _COUNT),
    ("peak torque", 16, 20, _NUMBER_OR_BLANK), ("peak verdict", 21, 21, _VERDICT),
    ("angle", 23, 26, _NUMBER_OR_BLANK), ("angle verdict", 27, 27, _VERDICT),
    ("final torque", 29, 33, _NUMBER_OR_BLANK), ("final verdict", 34, 34, _VERDICT),
    ("first time", 57, 61, _NUMBER_OR_BLANK), ("first time verdict", 62, 62, _VERDICT),
    ("second time", 64, 68, _NUMBER_OR_BLANK), ("second time verdict", 69, 69, _VERDICT),
    ("total", 73, 73, re.compile(r"[OXAS]")),
)  # fmt: skip
_FILLERS = tuple(column for column in range(1, _WIDTH + 1) if not any(first <= column <= last for _, first, last, _ in _COLUMNS))
_TOTALS = {"O": "accept", "X": "reject"}
_VERDICTS = {"H": "high", "L": "low", " ": ""}


class Torque78Col(LineDecoder):
    """Reads the peak torque; marks are the total ("accept", "reject") and the peak's own verdict ("high", "low").

    Decimals and cycles go by the spindle. A cycle that does not follow the last one gives a status before the reading; the very same
    telegram once more is a duplicate.
    """

    ends = "crlf"
    limit = 160

    def __init__(self, *, unit: str | None = None, parity: Parity = "none") -> None:
        super().__init__(unit=unit, parity=parity)
        self._last: dict[str, tuple[int, str]] = {}

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """A reading, with a status before it when cycles are missing, or one fault."""
        if len(text) != _WIDTH:
            return (Fault("shape", f"{len(text)} columns, expected {_WIDTH}", raw, offset),)
        for column in _FILLERS:
            if text[column - 1] != " ":
                return (Fault("shape", f"column {column} is {text[column - 1]!r}, expected a blank", raw, offset),)
        field: dict[str, str] = {}
        for name, first, last, pattern in _COLUMNS:
            field[name] = text[first - 1 : last]
            if not pattern.fullmatch(field[name]):
                return (Fault("shape", f"{name} is {field[name]!r}, columns {first} to {last}", raw, offset),)
        spindle, cycle = field["spindle"].strip(), int(field["cycle"])
        last_cycle, last_text = self._last.get(spindle, (None, ""))
        if text == last_text:
            return (Fault("duplicate", f"cycle {cycle}: the same telegram once more", raw, offset),)
        self._last[spindle] = (cycle, text)
        total = _TOTALS.get(field["total"])
        if total is None:
            return (Fault("tool-abnormal", f"total verdict {field['total']}: the tool stopped or was abnormal", raw, offset),)
        # Only a stopped or abnormal tool may leave it out.
        if not field["peak torque"].strip():
            return (Fault("shape", "peak torque, columns 16 to 20, is blank", raw, offset),)
        verdict = _VERDICTS[field["peak verdict"]]
        marks = (total, verdict) if verdict else (total,)
        event = self._accept(signed("", field["peak torque"]), self._set_unit, raw, offset, marks=marks, place=spindle)
        if isinstance(event, Fault):
            return (event,)
        if last_cycle is None or cycle == (last_cycle + 1) % 10_000:
            return (event,)
        return (Status(f"cycle {cycle} after {last_cycle}", raw, offset), event)
