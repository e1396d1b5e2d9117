"""The build sheet as headed tables of words: what the page and the print both show, in the order in which it is read."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from assistant.core.axle import KitShim
from assistant.core.state import Reading
from assistant.report import AlarmLine, FinalLine, MoveLine, ReadingLine, Sheet, percent

# What was fitted matters to a reading only where it can change it.
_SIDES = ("ring_side_adjuster", "opposite_adjuster", "ring_side_shims", "opposite_shims")
_BEARS_ON = {
    "pinion_drag": ("preload_shims", "crush_nut"),
    "pinion_depth": ("pinion_shims",),
    **dict.fromkeys(("backlash", "carrier_drag", "total_drag", "spread", "pattern_drive", "pattern_coast"), ("pinion_shims", *_SIDES)),
}
_SHORT = {
    "pinion_shims": "depth pack",
    "preload_shims": "preload pack",
    "crush_nut": "nut at",
    "ring_side_adjuster": "ring side",
    "opposite_adjuster": "opposite",
    "ring_side_shims": "ring side",
    "opposite_shims": "opposite",
}
_AXLE_WORDS = {
    "flange": "between cartridge flange and housing",
    "head-cone": "under the head bearing cone",
    "head-cup": "behind the head bearing cup",
    "spacer-shims": "solid spacer and shims",
    "crush-sleeve": "crush sleeve",
    "adjusters": "threaded adjusters",
    "side-shims": "shims outside the bearings",
    "case-shims": "shims between case and bearing cones",
}


@dataclass(frozen=True)
class Column:
    """One column. share: of the width, in hundredths."""

    heading: str
    share: int


@dataclass(frozen=True)
class Row:
    """One line of a table. tone: empty, `void` (kept, does not count) or `bad` (out of range or missing); never the only sign of it."""

    cells: tuple[str, ...]
    tone: str = ""


@dataclass(frozen=True)
class Section:
    """One part of the sheet. note: a sentence under the heading; empty: what stands there when there are no rows."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    note: str = ""
    empty: str = ""


def sections(sheet: Sheet) -> tuple[Section, ...]:
    """Every part but the head and the plots."""
    return (_finals(sheet), _parts(sheet), _specs(sheet), _moves(sheet), _mistakes(sheet), _readings(sheet), _cautions(sheet))


def layout(sheet: Sheet) -> str:
    """The axle in one line."""
    axle = sheet.job.axle
    return (
        f"Pinion shims {_AXLE_WORDS[axle.pinion_shims]}; preload by {_AXLE_WORDS[axle.preload]}; carrier by {_AXLE_WORDS[axle.carrier]}; "
        f"ring gear on the {axle.ring_gear_side}, facing the housing; {sheet.job.ratio_text} teeth"
        + (f", {axle.teeth}" if axle.teeth != "unknown" else "")
    )


def verdict(sheet: Sheet) -> str:
    """The verdict, with what failed."""
    names = {line.quantity: line.name for line in sheet.finals}
    failed = ", ".join(names.get(quantity, quantity.replace("_", " ")) for quantity in sheet.failed)
    return sheet.verdict.upper() + (f": {failed}" if failed else "")


def moment(at: str) -> str:
    """A time as it is read: to the second with its zone where the journal holds a date, else as the caller's clock gave it, in seconds."""
    try:
        found = datetime.fromisoformat(at)
    except ValueError:
        return f"{at} s" if at else ""
    return f"{found:%Y-%m-%d %H:%M:%S} {found.tzname() or ''}".strip()


def _clock(at: str, began: str) -> str:
    """The time of day alone on the day that the job began."""
    text = moment(at)
    return text[11:19] if text[:10] == moment(began)[:10] and text[4:5] == "-" else text


# ---- the final numbers


def _finals(sheet: Sheet) -> Section:
    return Section(
        "finals",
        "Final numbers against the manual's limits",
        (Column("what", 18), Column("as read", 26), Column("limits of the manual", 26), Column("uncertainty", 14), Column("so it is", 16)),
        tuple(_final(line) for line in sheet.finals),
        " ".join(
            (
                "Recorded decimals are compared with the limits, both ends inclusive. The uncertainty is that of one reading by the usual "
                "instrument, about 95 %; it is told and changes no verdict.",
                *sheet.notes,
            )
        ),
    )


def _final(line: FinalLine) -> Row:
    distinct = tuple(dict.fromkeys(line.values))
    figures = f"{distinct[0]} at all {len(line.values)}" if len(distinct) == 1 < len(line.values) else ", ".join(line.values)
    text = f"{figures} {line.unit}".strip() or "not read"
    if line.variation:
        text += f"; variation {line.variation}"
    word = line.verdict + (", nearer to a limit than the uncertainty" if line.close and line.verdict == "in range" else "")
    bad = line.verdict in ("OUT OF RANGE", "missing")
    return Row((_first_upper(line.name), text, line.limits or "none", line.uncertainty, word), "bad" if bad else "")


# ---- parts and specs


def _parts(sheet: Sheet) -> Section:
    return Section("parts", "Parts", (Column("what", 30), Column("on this bench", 70)), tuple(Row(pair) for pair in _part_rows(sheet)))


def _part_rows(sheet: Sheet) -> Iterator[tuple[str, str]]:
    job = sheet.job
    yield "Layout", layout(sheet)
    for name, mark in (("Mark on the old pinion", job.parts.etch_old), ("Mark on the new pinion", job.parts.etch_new)):
        if mark is not None:
            yield name, f"{'+' if mark.value > 0 else ''}{mark.text} of {mark.unit}"
    if job.parts.etch_sign is not None:
        yield "A plus on the pinion means", "it sits farther out" if job.parts.etch_sign == "away" else "it sits farther in"
    for name, kit in (("Pinion", job.parts.shim_kit), ("Preload", job.parts.preload_kit), ("Side", job.parts.side_kit)):
        if kit:
            yield f"{name} shims in the kit", ", ".join(_kit_shim(shim) for shim in kit)
    for item in sheet.fitted:
        pack = f" = {' + '.join(shim.text for shim in item.stack)}" if len(item.stack) > 1 else ""
        yield f"Fitted at the end: {_words(item.part)}", f"{item.total}{pack}{_from_first(item.part)}"


def _kit_shim(shim: KitShim) -> str:
    return f"{shim.count} × {shim.thickness}"


def _from_first(part: str) -> str:
    return " from the first setting" if part.endswith("adjuster") else ""


def _specs(sheet: Sheet) -> Section:
    return Section(
        "specs",
        "The manual's limits, and where they come from",
        (Column("what", 20), Column("limits", 28), Column("as the manual means it", 28), Column("source", 24)),
        tuple(Row((_first_upper(line.name), line.limits or "none", line.conditions, line.source)) for line in sheet.specs),
        "What the job file holds was taken from the service manual by the one who wrote it; the assistant has no limits of its own.",
    )


# ---- what was done


def _moves(sheet: Sheet) -> Section:
    return Section(
        "moves",
        "Every change and why",
        (Column("change", 8), Column("when", 12), Column("what was changed", 34), Column("why", 28), Column("expected", 18)),
        tuple(_move(line, sheet) for line in sheet.moves),
        empty="No change was needed.",
    )


def _move(line: MoveLine, sheet: Sheet) -> Row:
    move = line.move
    changes = []
    for change in move.changes:
        pack = f" = {' + '.join(shim.text for shim in change.stack)}" if len(change.stack) > 1 else ""
        changes.append(f"{_first_upper(_words(change.part))}: {change.before.text} → {change.after}{pack}")
    what = "\n".join(changes) + ("" if line.made else "\nnot made")
    return Row((move.group, _clock(line.at, sheet.began), what, move.why, _expected(line)), "" if line.made else "void")


def _expected(line: MoveLine) -> str:
    move = line.move
    if move.start:
        return "first pack"
    if move.expected is None:
        return ""
    reach = f" ({move.low.text} to {move.high.text})" if move.low is not None and move.high is not None else ""
    chance = f", chance to be in range {percent(move.chance)}" if move.chance is not None else ""
    return f"{_words(move.quantity)} {move.expected}{reach}{chance}"


def _mistakes(sheet: Sheet) -> Section:
    found = [(line.at, _alarm(line)) for line in sheet.alarms]
    for doubt in sheet.doubts:
        what = f"{_words(doubt.doubted.quantity)} {doubt.doubted.value} was not recorded at once: {doubt.doubted.reason}"
        outcome = f"asked for once more; recorded {doubt.outcome}" if doubt.outcome else "asked for once more; nothing was recorded"
        found.append((doubt.at, ("doubt", _first_upper(what), "", outcome)))
    found += [
        (line.at, (line.reading.id, f"{_what(line.reading)} {_value(line.reading)} was told wrongly", "", line.void))
        for line in sheet.readings
        if line.void.startswith(("corrected by", "taken back"))
    ]
    order = {at: index for index, at in enumerate(dict.fromkeys(at for at, _ in found))}
    rows = sorted(found, key=lambda item: _moment_order(item[0], order))
    return Section(
        "mistakes",
        "What did not add up, and how it was resolved",
        (Column("mark", 8), Column("what was seen", 42), Column("likely causes", 26), Column("what came of it", 24)),
        tuple(Row(cells) for _, cells in rows),
        empty="Nothing: every reading was as the ones before it had led to expect.",
    )


def _moment_order(at: str, order: Mapping[str, int]) -> tuple[float, int]:
    try:
        return float(at), order[at]
    except ValueError:
        pass
    try:
        return datetime.fromisoformat(at).timestamp(), order[at]
    except ValueError:
        return 0.0, order[at]


def _alarm(line: AlarmLine) -> tuple[str, str, str, str]:
    alarm = line.alarm
    seen = f"{alarm.text}\nReadings {', '.join(alarm.evidence)}"
    causes = "\n".join(f"{suspect.cause} ({percent(suspect.odds)})" for suspect in alarm.likely)
    outcome = [f"found: {line.answer}" if line.answer else "not answered"]
    if line.voided:
        outcome.append(f"void by it: {', '.join(line.voided)}")
    if line.redone:
        outcome.append(f"made again: {'; '.join(dict.fromkeys(line.redone))}")
    return alarm.id, seen, causes, "\n".join(outcome)


def _readings(sheet: Sheet) -> Section:
    standing = sum(not line.void for line in sheet.readings)
    return Section(
        "readings",
        "Every reading",
        (
            Column("id", 6), Column("when", 11), Column("what", 21), Column("as read", 14), Column("by", 14),
            Column("state of the axle", 18), Column("counts", 16),
        ),
        tuple(_reading(line, sheet) for line in sheet.readings),
        f"{standing} readings stand, {len(sheet.readings) - standing} are void. A void reading is kept and does not count.",
        "No reading was taken.",
    )  # fmt: skip


def _reading(line: ReadingLine, sheet: Sheet) -> Row:
    reading = line.reading
    fitted = dict(reading.fitted)
    state = [f"{_SHORT[part]} {fitted[part]}" for part in _BEARS_ON.get(reading.quantity, ()) if part in fitted]
    limits = sheet.job.limits(reading.quantity)
    if limits is not None and limits.seal is not None:
        state.append(f"seal {limits.seal}")
    counts = f"void: {line.void}" if line.void else ("final" if line.phase == "final" else "stands")
    by = instrument(reading) + (f"\nsent {reading.raw}" if reading.raw else "")
    return Row(
        (reading.id, _clock(line.at, sheet.began), _what(reading), _value(reading), by, "; ".join(state), counts),
        "void" if line.void else "",
    )


def _cautions(sheet: Sheet) -> Section:
    return Section(
        "cautions",
        "Cautions accepted",
        (Column("when", 30), Column("before the step", 70)),
        tuple(Row((moment(at), title)) for at, title in sheet.cautions),
        "Each was accepted before the step that it guards was shown.",
        "No step that needs one was reached.",
    )


# ---- words


def instrument(reading: Reading) -> str:
    """By what a reading came: the gauge's name, or how it was told."""
    if reading.source != "gauge":
        return reading.source
    return f"gauge {reading.gauge}".strip()


def _what(reading: Reading) -> str:
    text = _words(reading.quantity)
    if reading.part:
        text += f", {_words(reading.part)}"
    return _first_upper(text) + (f", place {reading.spot}" if reading.spot else "")


def _value(reading: Reading) -> str:
    return str(reading.value) if reading.value is not None else reading.choice or ""


def _words(key: str) -> str:
    return key.replace("_", " ")


def _first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]
