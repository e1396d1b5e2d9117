"""The build sheet as headed tables of words: what the page and the print both show, in the order in which it is read."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from assistant.core import events as ev
from assistant.core.axle import KitShim
from assistant.core.state import Reading
from assistant.report import AlarmLine, FinalLine, MoveLine, ReadingLine, Sheet, percent
from assistant.report.words import Words, first_upper

# What was fitted matters to a reading only where it can change it.
_SIDES = ("ring_side_adjuster", "opposite_adjuster", "ring_side_shims", "opposite_shims")
_BEARS_ON = {
    "pinion_drag": ("preload_shims", "crush_nut"),
    "pinion_depth": ("pinion_shims",),
    **dict.fromkeys(("backlash", "carrier_drag", "total_drag", "spread", "pattern_drive", "pattern_coast"), ("pinion_shims", *_SIDES)),
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
    taught = (_taught(sheet),) if sheet.learned else ()
    return (
        _finals(sheet), _parts(sheet), _specs(sheet), *taught, _moves(sheet), _mistakes(sheet), _readings(sheet), _cautions(sheet),
    )  # fmt: skip


def layout(sheet: Sheet) -> str:
    """The axle in one line."""
    axle, words = sheet.job.axle, sheet.words
    text = words(
        "layout_is",
        pinion_shims=words(f"axle.{axle.pinion_shims}"),
        preload=words(f"axle.{axle.preload}"),
        carrier=words(f"axle.{axle.carrier}"),
        side=words.choice(axle.ring_gear_side),
        ring=axle.ring_teeth,
        pinion=axle.pinion_teeth,
    )
    return text if axle.teeth == "unknown" else f"{text}, {words(f'axle.{axle.teeth}')}"


def verdict(sheet: Sheet) -> str:
    """The verdict as it is shown, with what failed."""
    return sheet.words.choice(sheet.verdict).upper() + failed_words(sheet)


def failed_words(sheet: Sheet) -> str:
    """ ": backlash", what failed; empty where nothing did."""
    failed = ", ".join(sheet.words.phrases.name(quantity) for quantity in sheet.failed)
    return f": {failed}" if failed else ""


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
    words = sheet.words
    return Section(
        "finals",
        words("finals"),
        (
            Column(words("value"), 18), Column(words("as_read"), 26), Column(words("limits_of_manual"), 26),
            Column(words("uncertainty"), 14), Column(words("so_it_is"), 16),
        ),
        tuple(_final(line, words) for line in sheet.finals),
        " ".join((words("finals_note"), *sheet.notes)),
    )  # fmt: skip


def final_values(line: FinalLine, words: Words) -> str:
    """The standing readings of one number, with their unit; empty where there are none."""
    distinct = tuple(dict.fromkeys(line.values))
    is_the_same = len(distinct) == 1 < len(line.values)
    figures = words("at_all", value=distinct[0], count=len(line.values)) if is_the_same else words.figures(line.values)
    return f"{figures} {line.unit}".strip()


def _final(line: FinalLine, words: Words) -> Row:
    text = final_values(line, words) or words("not_read")
    if line.variation:
        text += f"; {words('variation_is', variation=line.variation)}"
    word = words(f"is.{line.verdict}") + (f", {words('nearer')}" if line.close and line.verdict == "in range" else "")
    bad = line.verdict in ("OUT OF RANGE", "missing")
    return Row((first_upper(line.name), text, line.limits or words("none"), line.uncertainty, word), "bad" if bad else "")


# ---- parts and specs


def _parts(sheet: Sheet) -> Section:
    words = sheet.words
    columns = (Column(words("value"), 30), Column(words("on_this_bench"), 70))
    return Section("parts", words("parts"), columns, tuple(Row(pair) for pair in part_rows(sheet)))


def part_rows(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """What is on the bench: each thing with its words."""
    parts, words = sheet.job.parts, sheet.words
    yield words("layout"), layout(sheet)
    for key, mark in (("etch_old", parts.etch_old), ("etch_new", parts.etch_new)):
        if mark is not None:
            yield words(key), words("etch_of", size=words.signed(mark), unit=words.phrases.figures(mark.unit))
    if parts.etch_sign is not None:
        yield words("plus_means"), words(f"plus.{parts.etch_sign}")
    for key, kit in (("pinion", parts.shim_kit), ("preload", parts.preload_kit), ("side", parts.side_kit)):
        if kit:
            yield words(f"kit.{key}"), words.figures(_kit_shim(shim, words) for shim in kit)
    for item in sheet.fitted:
        total = words.quantity(item.total)
        text = words("from_first", total=total) if item.part.endswith("adjuster") else total
        yield words("fitted", part=words.phrases.name(item.part)), f"{text}{words.pack(item.stack)}"


def _kit_shim(shim: KitShim, words: Words) -> str:
    return f"{shim.count} × {words.quantity(shim.thickness)}"


def _specs(sheet: Sheet) -> Section:
    words = sheet.words
    return Section(
        "specs",
        words("specs"),
        (Column(words("value"), 20), Column(words("limits"), 28), Column(words("as_meant"), 28), Column(words("source"), 24)),
        tuple(Row((first_upper(line.name), line.limits or words("none"), line.conditions, line.source)) for line in sheet.specs),
        words("specs_note"),
    )


# ---- what was supposed


def _taught(sheet: Sheet) -> Section:
    words = sheet.words
    columns = (Column(words("taught_thing"), 75), Column(words("taught_from"), 25))
    is_sleeve = sheet.job.axle.preload == "crush-sleeve"
    rows = tuple(Row((taught_words(one, words, is_sleeve=is_sleeve), builds_words(one, words))) for one in sheet.learned)
    return Section("taught", words("taught"), columns, rows, words("taught_note"))


def taught_words(one: ev.Learned, words: Words, *, is_sleeve: bool) -> str:
    """What was supposed of one sensitivity, in one line with its numbers. is_sleeve: what squeezes the bearings is the nut, not a pack."""
    places, key = (3, "k_ring") if one.name == "k_ring" else (1, "reach.deg" if is_sleeve else "reach.um")
    spread = f"{one.spread:.{3 if one.name == 'k_ring' else 2}f}"
    return words(f"taught.{key}", mean=words.phrases.figures(f"{one.mean:.{places}f}"), spread=words.phrases.figures(spread))


def builds_words(one: ev.Learned, words: Words) -> str:
    """How many builds said it."""
    return words("taught.build" if one.builds == 1 else "taught.builds", count=one.builds)


# ---- what was done


def _moves(sheet: Sheet) -> Section:
    words = sheet.words
    return Section(
        "moves",
        words("moves"),
        (
            Column(words("change"), 8), Column(words("when"), 12), Column(words("was_changed"), 34), Column(words("why"), 28),
            Column(words("expected"), 18),
        ),
        tuple(_move(line, sheet) for line in sheet.moves),
        empty=words("no_change"),
    )  # fmt: skip


def change_words(change: ev.Change, words: Words) -> str:
    """One part's change, from what to what, and the pack that it takes."""
    return f"{words.name(change.part)}: {words.number(change.before)} → {words.quantity(change.after)}{words.pack(change.stack)}"


def _move(line: MoveLine, sheet: Sheet) -> Row:
    move, words = line.move, sheet.words
    what = "\n".join((*(change_words(change, words) for change in move.changes), *(() if line.made else (words("not_made"),))))
    return Row((move.group, _clock(line.at, sheet.began), what, move.why, expected_words(line, words)), "" if line.made else "void")


def expected_words(line: MoveLine, words: Words) -> str:
    """What a change was to lead to; empty where nothing was expected."""
    move = line.move
    if move.start:
        return words("first_pack")
    if move.expected is None:
        return ""
    is_wide = move.low is not None and move.high is not None
    reach = f" ({words('reach', low=words.number(move.low), high=words.number(move.high))})" if is_wide and move.low and move.high else ""
    chance = f", {words('chance', percent=percent(move.chance))}" if move.chance is not None else ""
    return f"{words.name(move.quantity)} {words.quantity(move.expected)}{reach}{chance}"


def _mistakes(sheet: Sheet) -> Section:
    words = sheet.words
    found = [(line.at, alarm_cells(line, words)) for line in sheet.alarms]
    for doubt in sheet.doubts:
        value = f"{words.name(doubt.doubted.quantity)} {words.quantity(doubt.doubted.value)}"
        outcome = words("asked_recorded", outcome=doubt.outcome) if doubt.outcome else words("asked_nothing")
        found.append((doubt.at, (words("doubt"), words("doubted", value=value, reason=doubt.doubted.reason), "", outcome)))
    found += [
        (
            line.at,
            (line.reading.id, words("told_wrongly", value=f"{what(line.reading, words)} {value_of(line.reading, words)}"), "", line.void),
        )
        for line in sheet.readings
        if line.was_told_wrongly
    ]
    order = {at: index for index, at in enumerate(dict.fromkeys(at for at, _ in found))}
    rows = sorted(found, key=lambda item: _moment_order(item[0], order))
    return Section(
        "mistakes",
        words("mistakes"),
        (Column(words("mark"), 8), Column(words("was_seen"), 42), Column(words("likely"), 26), Column(words("came_of_it"), 24)),
        tuple(Row(cells) for _, cells in rows),
        empty=words("no_mistake"),
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


def alarm_cells(line: AlarmLine, words: Words) -> tuple[str, str, str, str]:
    """Its id, what was seen, the likely causes, what came of it."""
    alarm = line.alarm
    seen = f"{alarm.text}\n{words('evidence', ids=', '.join(alarm.evidence))}"
    causes = "\n".join(f"{words.choice(suspect.cause)} ({percent(suspect.odds)})" for suspect in alarm.likely)
    outcome = [words("found", answer=words.choice(line.answer)) if line.answer else words("not_answered")]
    if line.voided:
        outcome.append(words("void_by_it", ids=", ".join(line.voided)))
    if line.redone:
        outcome.append(words("made_again", steps="; ".join(dict.fromkeys(line.redone))))
    return alarm.id, seen, causes, "\n".join(outcome)


def _readings(sheet: Sheet) -> Section:
    words, standing = sheet.words, sum(not line.void for line in sheet.readings)
    return Section(
        "readings",
        words("readings"),
        (
            Column(words("id"), 6), Column(words("when"), 11), Column(words("value"), 21), Column(words("as_read"), 14),
            Column(words("by"), 14), Column(words("state"), 18), Column(words("counts"), 16),
        ),
        tuple(_reading(line, sheet) for line in sheet.readings),
        words("readings_note", stand=standing, void=len(sheet.readings) - standing),
        words("no_reading"),
    )  # fmt: skip


def _reading(line: ReadingLine, sheet: Sheet) -> Row:
    reading, words = line.reading, sheet.words
    fitted = dict(reading.fitted)
    state = [words(f"short.{part}", size=words.quantity(fitted[part])) for part in _BEARS_ON.get(reading.quantity, ()) if part in fitted]
    limits = sheet.job.limits(reading.quantity)
    if limits is not None and limits.seal is not None:
        state.append(words(f"seal.{limits.seal}"))
    counts = words("void", why=line.void) if line.void else words("final" if line.phase == "final" else "stands")
    by = source(reading, words) + (f"\n{words('sent', raw=reading.raw)}" if reading.raw else "")
    return Row(
        (reading.id, _clock(line.at, sheet.began), what(reading, words), value_of(reading, words), by, "; ".join(state), counts),
        "void" if line.void else "",
    )


def _cautions(sheet: Sheet) -> Section:
    words = sheet.words
    return Section(
        "cautions",
        words("cautions"),
        (Column(words("when"), 30), Column(words("before_step"), 70)),
        tuple(Row((moment(at), title)) for at, title in sheet.cautions),
        words("cautions_note"),
        words("no_caution"),
    )


# ---- a reading


def source(reading: Reading, words: Words) -> str:
    """By what a reading came: the gauge's name, or how it was told."""
    return words(f"by.{reading.source}", name=reading.gauge).strip()


def what(reading: Reading, words: Words) -> str:
    """What was read, of which part, at which place."""
    text = words.name(reading.quantity)
    if reading.part:
        text += f", {words.phrases.name(reading.part)}"
    return words("place", what=text, spot=reading.spot) if reading.spot else text


def value_of(reading: Reading, words: Words) -> str:
    """What it was: a quantity, or the place of a print."""
    return words.quantity(reading.value) if reading.value is not None else words.choice(reading.choice or "")
