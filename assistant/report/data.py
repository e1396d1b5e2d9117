"""The build sheet as data: every quantity a decimal string with its unit, every reading with its id. For programs, so in English always."""

import csv
import io
from typing import Any

from assistant.core.axle import Limits
from assistant.core.quantities import Quantity
from assistant.report import Sheet
from assistant.report.mark import mark
from assistant.report.sections import source

COLUMNS = ("job", "id", "at", "step", "quantity", "part", "spot", "value", "unit", "by", "raw", "state", "void", "mark")


def as_csv(sheet: Sheet) -> str:
    """One reading a line, under one line of headings; a pattern has its words as value and no unit. Lines end as RFC 4180 has it."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for line in sheet.readings:
        reading = line.reading
        value, unit = (reading.value.text, reading.value.unit) if reading.value is not None else (reading.choice or "", "")
        spot = str(reading.spot) if reading.spot else ""
        row = [sheet.job_id, reading.id, line.at, reading.step, reading.quantity, reading.part or "", spot, value, unit]
        writer.writerow([*row, _text(source(reading, sheet.words)), _text(reading.raw), line.phase, line.void, mark(sheet)])
    return out.getvalue()


def _text(told: str) -> str:
    """What a gauge sent or is called: never taken for a formula by the program that opens the file."""
    return f"'{told}" if told[:1] in "=+-@\t\r" and told else told


def as_json(sheet: Sheet) -> dict[str, Any]:
    """The whole sheet as plain JSON values."""
    job = sheet.job
    return {
        "job": sheet.job_id,
        "title": job.title,
        "began": sheet.began,
        "last_entry": sheet.ended,
        "verdict": sheet.verdict,
        "failed": list(sheet.failed),
        "axle": {
            "pinion_shims": job.axle.pinion_shims,
            "preload": job.axle.preload,
            "carrier": job.axle.carrier,
            "ring_gear_side": job.axle.ring_gear_side,
            "teeth": job.axle.teeth,
            "ring_teeth": job.axle.ring_teeth,
            "pinion_teeth": job.axle.pinion_teeth,
        },
        "marks": {"old": _quantity(job.parts.etch_old), "new": _quantity(job.parts.etch_new), "plus_means": job.parts.etch_sign},
        "specs": {name: _limits(job.limits(name)) for name in job.needed},
        "spec_sources": {line.quantity: line.source for line in sheet.specs},
        "specs_read_aloud": [{"quantity": quantity, "which": which, "value": value.json()} for quantity, which, value in sheet.specs_given],
        "kit": {
            name: [{"thickness": shim.thickness.json(), "count": shim.count} for shim in kit]
            for name, kit in (("pinion", job.parts.shim_kit), ("preload", job.parts.preload_kit), ("side", job.parts.side_kit))
        },
        "fitted": [{"part": item.part, "total": item.total.json(), "stack": [shim.json() for shim in item.stack]} for item in sheet.fitted],
        "notes": list(sheet.notes),
        "final": [
            {
                "quantity": line.quantity,
                "values": list(line.values),
                "unit": line.unit or None,
                "limits": line.limits or None,
                "uncertainty": line.uncertainty or None,
                "variation": line.variation or None,
                "verdict": line.verdict,
            }
            for line in sheet.finals
        ],
        "readings": [
            {
                "id": line.reading.id,
                "at": line.at,
                "step": line.reading.step,
                "quantity": line.reading.quantity,
                "value": line.reading.choice if line.reading.value is None else line.reading.value.json(),
                "spot": line.reading.spot or None,
                "part": line.reading.part,
                "source": line.reading.source,
                "gauge": line.reading.gauge or None,
                "raw": line.reading.raw or None,
                "state": line.phase,
                "void": line.void or None,
                "fitted": {part: total.json() for part, total in line.reading.fitted},
            }
            for line in sheet.readings
        ],
        "moves": [
            {
                "group": line.move.group,
                "at": line.at,
                "made": line.made,
                "why": line.move.why,
                "chance": None if line.move.chance is None else format(line.move.chance, "f"),
                "expected": _quantity(line.move.expected),
                "changes": [
                    {
                        "part": change.part,
                        "from": change.before.json(),
                        "to": change.after.json(),
                        "stack": [shim.json() for shim in change.stack],
                    }
                    for change in line.move.changes
                ],
            }
            for line in sheet.moves
        ],
        "alarms": [
            {
                "id": line.alarm.id,
                "at": line.at,
                "text": line.alarm.text,
                "evidence": list(line.alarm.evidence),
                "likely": [
                    {"cause": suspect.cause, "odds": format(suspect.odds, "f"), "check": suspect.check} for suspect in line.alarm.likely
                ],
                "answer": line.answer or None,
                "voided": list(line.voided),
                "made_again": list(line.redone),
            }
            for line in sheet.alarms
        ],
        "doubts": [
            {
                "at": line.at,
                "quantity": line.doubted.quantity,
                "value": line.doubted.value.json(),
                "reason": line.doubted.reason,
                "recorded": line.outcome or None,
            }
            for line in sheet.doubts
        ],
        "learned": [{"name": one.name, "mean": str(one.mean), "spread": str(one.spread), "builds": one.builds} for one in sheet.learned],
        "cautions_accepted": [{"at": at, "step": title} for at, title in sheet.cautions],
        "journal_sha256": sheet.journal_sha256,
        "mark": mark(sheet),
    }


def _quantity(quantity: Quantity | None) -> dict[str, str] | None:
    return quantity.json() if quantity is not None else None


def _limits(limits: Limits | None) -> dict[str, Any] | None:
    if limits is None:
        return None
    return {
        "low": _quantity(limits.low),
        "high": _quantity(limits.high),
        "variation": _quantity(limits.variation),
        "judge": limits.judge,
        "seal": limits.seal,
        "bearings": limits.bearings,
    }
