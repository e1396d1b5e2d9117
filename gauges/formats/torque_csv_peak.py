"""`torque-csv-peak`: one record of eleven fields per pull, CR LF.

`+41.2597,In.oz,PEAK,NA,001,00001234,NAME,.000001,.000001,05/31/2011,11:45:34`: value, unit, mode, verdict, record, serial, station, two
limits, date, time. Words of verdict and mode other than NA and PEAK, and units other than In.oz, are from memory.
"""

import re
from collections import OrderedDict
from collections.abc import Sequence

from gauges.errors import SettingError
from gauges.formats.base import LineDecoder
from gauges.framing import Parity
from gauges.reading import Event, Fault, Status, exact_value

_UNITS = {
    "In.oz": "ozf.in", "In.lb": "lbf.in", "Ft.lb": "lbf.ft", "Nm": "N.m", "N.m": "N.m", "cNm": "cN.m", "cN.m": "cN.m", "kgf.cm": "kgf.cm",
}  # fmt: skip
_LIMIT = r"[+-]?[0-9]*\.?[0-9]+"
_FIELDS: dict[str, re.Pattern[str]] = {
    "value": re.compile(r"[+-][0-9]{1,6}\.[0-9]{1,6}"),
    "unit": re.compile(r"[A-Za-z.]{2,8}"),
    "mode": re.compile(r"PEAK|TRACK|FIRST"),
    "verdict": re.compile(r"OK|HI|LO|NA"),
    "record": re.compile(r"[0-9]{3}"),
    "serial": re.compile(r"[0-9A-Za-z]{1,12}"),
    "station": re.compile(r"[ -+\--~]{0,20}"),
    "low": re.compile(_LIMIT),
    "high": re.compile(_LIMIT),
    "date": re.compile(r"[0-1][0-9]/[0-3][0-9]/[0-9]{4}"),
    "time": re.compile(r"[0-2][0-9]:[0-5][0-9]:[0-5][0-9]"),
}
ALL_FIELDS = tuple(_FIELDS)
_BEL = "\x07"
# A re-print is known again among this many of the last records.
_REMEMBERED = 4096


class TorqueCsvPeak(LineDecoder):
    """Reads records. The same text twice is a re-print and refused; a number that jumps gives the status "records missing" first.

    fields: the fields that this instrument's print flags leave in, in order; "value", "unit" and "mode" must be among them.
    """

    ends = "crlf"
    limit = 200

    def __init__(self, *, unit: str | None = None, parity: Parity = "none", fields: Sequence[str] = ALL_FIELDS) -> None:
        super().__init__(unit=unit, parity=parity)
        if not {"value", "unit", "mode"} <= set(fields) <= set(ALL_FIELDS):
            raise SettingError(f"fields {', '.join(fields)}: expected value, unit, mode and any of {', '.join(ALL_FIELDS)}")
        self._fields = tuple(fields)
        self._seen: OrderedDict[str, None] = OrderedDict()
        self._last_record: int | None = None

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """A reading, with a status before it when records are missing, or one fault."""
        if _BEL in text:
            return (Fault("gauge-error", "BEL: the instrument did not understand the message", raw, offset),)
        parts = text.split(",")
        if len(parts) != len(self._fields):
            return (Fault("shape", f"{len(parts)} fields, expected {len(self._fields)}: {', '.join(self._fields)}", raw, offset),)
        record = dict(zip(self._fields, parts, strict=True))
        for name, part in record.items():
            if not _FIELDS[name].fullmatch(part):
                return (Fault("shape", f"field {name} is {part!r}, expected {_FIELDS[name].pattern}", raw, offset),)
        unit = _UNITS.get(record["unit"])
        if unit is None:
            return (Fault("unit", f"unit {record['unit']!r}, expected one of {', '.join(_UNITS)}", raw, offset),)
        if text in self._seen:
            return (Fault("duplicate", "the same record once more: a re-print", raw, offset),)
        missing = self._missing(record.get("record"), raw, offset)
        marks = (record["verdict"],) if record.get("verdict", "NA") != "NA" else ()
        event = self._accept(exact_value(record["value"]), unit, raw, offset, mode=record["mode"], marks=marks)
        if isinstance(event, Fault):
            return (event,)
        self._seen[text] = None
        if len(self._seen) > _REMEMBERED:
            self._seen.popitem(last=False)
        return (*missing, event)

    def _missing(self, number: str | None, raw: bytes, offset: int) -> Sequence[Event]:
        if number is None:
            return ()
        last, self._last_record = self._last_record, int(number)
        # Three digits: after 999 comes 000, or 001 where the count begins at one.
        if last is None or int(number) == last + 1 or (last == 999 and int(number) <= 1):
            return ()
        return (Status("records missing", raw, offset),)
