"""The build sheet as plain text, 96 columns wide at most, for a terminal or a printer without pictures."""

import textwrap
from collections.abc import Iterator

from assistant.core.quantities import Quantity
from assistant.report import FinalLine, MoveLine, ReadingLine, Sheet, percent
from assistant.report.mark import mark

WIDTH = 96


def as_text(sheet: Sheet) -> str:
    """The whole sheet; ends with a line feed."""
    return "\n".join(part for line in _lines(sheet) for part in _wrapped(line)) + "\n"


def _wrapped(line: str) -> list[str]:
    """A line that is too long, on as many as it needs: what belongs to it is set in."""
    return [line] if len(line) <= WIDTH else textwrap.wrap(line, WIDTH, subsequent_indent=" " * 5)


def _lines(sheet: Sheet) -> Iterator[str]:
    axle, parts = sheet.job.axle, sheet.job.parts
    yield "BUILD SHEET".ljust(WIDTH - len(sheet.job_id)) + sheet.job_id
    yield "=" * WIDTH
    yield sheet.job.title or "(no title)"
    yield f"began {sheet.began}   last entry {sheet.ended}"
    yield f"layout: {axle.pinion_shims}, {axle.preload}, {axle.carrier}; ring gear on the {axle.ring_gear_side}"
    yield f"teeth: {sheet.job.ratio_text}, {axle.teeth}"
    marks = [
        f"{name} {_signed(mark)} of {mark.unit}" for name, mark in (("old", parts.etch_old), ("new", parts.etch_new)) if mark is not None
    ]
    if marks:
        yield f"marks: {', '.join(marks)}; a plus means {parts.etch_sign}"
    for quantity, which, value in sheet.specs_given:
        yield f"read aloud from the manual at intake: {quantity} {which} = {value}"
    yield ""
    yield f"VERDICT: {sheet.verdict}" + (f" ({', '.join(sheet.failed)})" if sheet.failed else "")
    yield "-" * WIDTH
    yield from (_final(line) for line in sheet.finals)
    yield ""
    yield "CHANGES"
    yield "-" * WIDTH
    for move in sheet.moves:
        yield from _move(move)
    if sheet.alarms:
        yield ""
        yield "WHAT DID NOT ADD UP"
        yield "-" * WIDTH
        for alarm in sheet.alarms:
            yield f"[{alarm.alarm.id}] {alarm.alarm.text}"
            yield f"     readings {', '.join(alarm.alarm.evidence)}; found: {alarm.answer or 'not answered'}"
    yield ""
    yield "READINGS (a void reading is kept, and does not count)"
    yield "-" * WIDTH
    yield from (_reading(line) for line in sheet.readings)
    yield ""
    yield f"cautions accepted: {len(sheet.cautions)}, each before its step; the limits are the service manual's, as given to this job"
    yield from mark(sheet).replace(" sha256=", "\njournal SHA-256 ").splitlines()


def _final(line: FinalLine) -> str:
    distinct = tuple(dict.fromkeys(line.values))
    values = f"{distinct[0]} at all {len(line.values)}" if len(distinct) == 1 < len(line.values) else ", ".join(line.values) or "-"
    figures = f"{values} {line.unit}".strip()
    return f"{line.name:<18}{figures:<28} {line.uncertainty:<13}{line.verdict:<14}{line.limits}".rstrip()


def _move(line: MoveLine) -> Iterator[str]:
    move = line.move
    for change in move.changes:
        stack = f" = {' + '.join(shim.text for shim in change.stack)}" if change.stack else ""
        made = "" if line.made else "   (not made)"
        yield f"[{move.group}] {change.part.replace('_', ' ')}: {change.before.text} -> {change.after.text} {change.after.unit}{stack}{made}"
    if move.expected is not None and not move.start:
        chance = f", chance {percent(move.chance)}" if move.chance is not None else ""
        yield f"     expected {move.quantity.replace('_', ' ')} {move.expected} ({move.low.text if move.low else ''} to {move.high}){chance}"
    yield f"     {move.why}"


def _reading(line: ReadingLine) -> str:
    reading = line.reading
    what = (
        reading.quantity.replace("_", " ")
        + (f" at {reading.spot}" if reading.spot else "")
        + (f" ({reading.part.replace('_', ' ')})" if reading.part else "")
    )
    value = str(reading.value) if reading.value is not None else reading.choice or ""
    source = f"gauge {reading.gauge.split(' ')[0]}" if reading.source == "gauge" else reading.source
    void = f"void: {line.void}" if line.void else ""
    return f"{reading.id:<5}{what:<40}{value:<18}{source:<17}{line.phase:<7}{void}".rstrip()


def _signed(mark: Quantity) -> str:
    return f"{'+' if mark.value > 0 else ''}{mark.text}"
