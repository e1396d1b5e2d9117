"""The build sheet as data: every quantity a decimal string with its unit, every reading with its id."""

from typing import Any

from assistant.core.axle import Limits
from assistant.core.quantities import Quantity
from assistant.report import Sheet


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
        "specs_read_aloud": [{"quantity": quantity, "which": which, "value": value.json()} for quantity, which, value in sheet.specs_given],
        "final": [
            {
                "quantity": line.quantity,
                "values": list(line.values),
                "unit": line.unit or None,
                "limits": line.limits or None,
                "uncertainty": line.uncertainty or None,
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
                "answer": line.answer or None,
            }
            for line in sheet.alarms
        ],
        "cautions_accepted": [{"at": at, "step": title} for at, title in sheet.cautions],
        "journal_sha256": sheet.journal_sha256,
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
