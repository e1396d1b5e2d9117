"""Readings without an axle: what a plan asks for, what was taken, in or out, a running chart, a summary. Pure.

Rules:
- A reading is kept as it was sent; limits are compared exactly, across units; a verdict is never rounded.
- Nothing is deleted: an undo is a record of its own that names the reading it takes back.
- A part is done when each characteristic of the plan has its reading, or when "next part" is said.

Guard band (ISO 14253-1, from memory): with the uncertainty U of the measurement, a reading proves conformance only at least U inside the
limits, and nonconformance only more than U outside; between lies what neither side can prove.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from typing import Any, Literal

from assistant.core.capability import Summary, summary
from assistant.core.effects import as_sentences
from assistant.core.phrases import Phrases
from assistant.core.quantities import Quantity, quantity_from, rounded, unit_named

Verdict = Literal["in", "out", "unsure", "none"]
Kind = Literal["settled", "swing", "turn", "drag", "pull"]
KINDS: tuple[Kind, ...] = ("settled", "swing", "turn", "drag", "pull")


@dataclass(frozen=True)
class Characteristic:
    """One thing to measure on every part.

    gauge: the gauge that measures it, None: the only one there is. unit: of its limits; None: whatever comes. kind: what one value is.
    low, high: limits, inclusive; guard_band: taken off each limit for "in", added for "out". subgroup: readings in one, for the summary.
    """

    name: str
    unit: str | None = None
    nominal: Quantity | None = None
    low: Quantity | None = None
    high: Quantity | None = None
    guard_band: Quantity | None = None
    gauge: str | None = None
    kind: Kind = "settled"
    subgroup: int = 1

    def verdict(self, value: Quantity) -> Verdict:
        """Whether a reading is in; "none" where there are no limits. Raises DimensionError for a reading of another dimension."""
        if self.low is None and self.high is None:
            return "none"
        band = Fraction(0) if self.guard_band is None else self.guard_band.base
        above = None if self.high is None else _compared(value, self.high)
        below = None if self.low is None else -_compared(value, self.low)
        worst = max(side for side in (above, below) if side is not None)
        if worst <= -band:
            return "in"
        return "out" if worst > band else "unsure"


def _compared(value: Quantity, limit: Quantity) -> Fraction:
    """By how much `value` lies above `limit`, in base units."""
    return (value.number_in(limit.unit) - limit.number_in(limit.unit)) * unit_named(limit.unit).factor


@dataclass(frozen=True)
class Plan:
    """What is measured on each part, in order. Without characteristics any number of readings is taken of each part, without limits."""

    title: str = ""
    characteristics: tuple[Characteristic, ...] = ()


# What readings without a plan are called.
ANY = Characteristic("reading")


# ---- records: what is kept, one line each


@dataclass(frozen=True)
class Record:
    """One line that is kept and sent on. kind: reading, undo or part.

    number: from 1, rising by one. at: the time as text. quality: settled, late, button, motion or typed. undoes: the number of the
    reading that an undo takes back.
    """

    number: int
    kind: Literal["reading", "undo", "part"]
    at: str
    part: int
    characteristic: str = ""
    value: Quantity | None = None
    verdict: Verdict = "none"
    quality: str = ""
    gauge: str = ""
    raw: str = ""
    undoes: int | None = None

    def json(self) -> dict[str, Any]:
        """The public line: JSON values only."""
        line: dict[str, Any] = {"number": self.number, "kind": self.kind, "at": self.at, "part": self.part}
        if self.kind == "part":
            return line
        line["characteristic"] = self.characteristic
        if self.value is not None:
            line |= self.value.json()
        line |= {"verdict": self.verdict, "quality": self.quality, "gauge": self.gauge, "raw": self.raw}
        return line if self.undoes is None else {**line, "undoes": self.undoes}


def record_from(line: Mapping[str, Any]) -> Record:
    """The record of a public line. Raises KeyError, TypeError or BadInputError when it is none."""
    value = Quantity.of(line["value"], line["unit"]) if "value" in line else None
    return Record(
        int(line["number"]), line["kind"], str(line["at"]), int(line["part"]), line.get("characteristic", ""), value, line.get("verdict", "none"),
        line.get("quality", ""), line.get("gauge", ""), line.get("raw", ""), line.get("undoes"),
    )  # fmt: skip


# ---- the state


@dataclass(frozen=True)
class State:
    """Where the work stands. records: all of them, oldest first."""

    plan: Plan
    records: tuple[Record, ...] = ()

    @property
    def part(self) -> int:
        """The part that is measured now, from 1: the last one that was begun, or that an undo went back to."""
        return next((record.part for record in reversed(self.records) if record.kind != "reading"), 1)

    @property
    def standing(self) -> tuple[Record, ...]:
        """Every reading that was not taken back, oldest first."""
        undone = {record.undoes for record in self.records if record.kind == "undo"}
        return tuple(record for record in self.records if record.kind == "reading" and record.number not in undone)

    def of(self, characteristic: str) -> tuple[Record, ...]:
        """The standing readings of one characteristic."""
        return tuple(record for record in self.standing if record.characteristic == characteristic)

    @property
    def open(self) -> tuple[Characteristic, ...]:
        """What is still to be measured on this part, in the plan's order."""
        if not self.plan.characteristics:
            return (ANY,)
        done = {record.characteristic for record in self.standing if record.part == self.part}
        return tuple(one for one in self.plan.characteristics if one.name not in done)

    @property
    def has_out(self) -> bool:
        """Whether a standing reading is out of its limits."""
        return any(record.verdict == "out" for record in self.standing)


def evolve(state: State, records: Iterable[Record]) -> State:
    """The state with these records, too."""
    return replace(state, records=(*state.records, *records))


def reading(
    state: State, one: Characteristic, value: Quantity, at: str, *, quality: str, gauge: str = "", raw: str = ""
) -> tuple[Record, ...]:
    """The records of a reading: itself, and the beginning of the next part where this one is done by it.

    Raises DimensionError for a reading of another dimension than the limits.
    """
    number = len(state.records) + 1
    if one.unit is not None:
        value.number_in(one.unit)
    taken = Record(number, "reading", at, state.part, one.name, value, one.verdict(value), quality, gauge, raw)
    if evolve(state, (taken,)).open:
        return (taken,)
    return (taken, Record(number + 1, "part", at, state.part + 1))


def next_part(state: State, at: str) -> tuple[Record, ...]:
    """The record that begins the next part; none where this one has no reading yet."""
    if not any(record.part == state.part for record in state.standing):
        return ()
    return (Record(len(state.records) + 1, "part", at, state.part + 1),)


def undo(state: State, at: str) -> tuple[Record, ...]:
    """The record that takes the last standing reading back, and the return to its part; none where nothing stands."""
    if not state.standing:
        return ()
    last = state.standing[-1]
    number = len(state.records) + 1
    return (replace(last, number=number, kind="undo", at=at, undoes=last.number),)


def wanted(state: State, sender: str) -> Characteristic | None:
    """What a reading that this gauge sent by itself is of: the first open characteristic that it measures; None when it measures none."""
    return next((one for one in state.open if one.gauge in (None, sender)), None)


# ---- what is said and shown


def verdict_words(one: Characteristic, value: Quantity, verdict: Verdict, phrases: Phrases) -> str:
    """ "in", "out, too large by …", "cannot be told, …"; empty where there are no limits."""
    if verdict in ("none", "in"):
        return "" if verdict == "none" else phrases.sentence("capture.is.in")
    over = one.high is not None and value > one.high
    under = one.low is not None and value < one.low
    if over or under:
        limit = one.high if over else one.low
        assert limit is not None
        by = phrases.say_change(quantity_from(abs(value.number_in(limit.unit) - limit.number_in(limit.unit)), limit.unit))
        side = phrases.sentence("capture.too_large" if over else "capture.too_small", by=by)
        return phrases.sentence("capture.out" if verdict == "out" else "capture.neither", side=side)
    return phrases.sentence("capture.close")


def reading_words(state: State, records: Sequence[Record], phrases: Phrases) -> str:
    """What is said of a reading that was taken. state: with it."""
    taken = next(record for record in records if record.kind == "reading")
    assert taken.value is not None
    one = next((each for each in state.plan.characteristics if each.name == taken.characteristic), ANY)
    verdict = verdict_words(one, taken.value, taken.verdict, phrases)
    said = as_sentences(f"{phrases.say(taken.value)}{f', {verdict}' if verdict else ''}.")
    return said if state.part == taken.part else f"{said} {phrases.sentence('capture.part_done', part=phrases.say_count(taken.part))}"


def undo_words(record: Record, phrases: Phrases) -> str:
    """What is said of an undo."""
    assert record.value is not None
    return phrases.sentence("undone", quantity=record.characteristic, value=phrases.say(record.value))


def prompt(state: State, phrases: Phrases) -> str:
    """What is measured next."""
    one, part = state.open[0], phrases.say_count(state.part)
    return (
        phrases.sentence("capture.part", part=part) if one is ANY else phrases.sentence("capture.part_and_name", part=part, name=one.name)
    )


_WIDTH = 41


def chart(state: State, one: Characteristic, phrases: Phrases, rows: int = 12) -> list[str]:
    """The last readings of a characteristic, one row each, oldest first: its place between the limits, or between lowest and highest.

    `|` are the limits, `:` the nominal value, `o` a reading inside, `X` one outside, `?` one that the uncertainty leaves open.
    """
    # Readings without limits may be of several kinds: those of the last one's make the chart.
    last = next((record.value for record in reversed(state.of(one.name)) if record.value is not None), None)
    if last is None:
        return []
    unit = one.unit or last.unit
    readings = [
        (record, record.value) for record in state.of(one.name) if record.value is not None and record.value.dimension is last.dimension
    ]
    values = [value.number_in(unit) for _, value in readings]
    low = one.low.number_in(unit) if one.low is not None else min(values)
    high = one.high.number_in(unit) if one.high is not None else max(values)
    margin = (high - low) / 4 or Fraction(1)
    left, right = low - margin, high + margin

    def place(number: Fraction) -> int:
        return min(_WIDTH - 1, max(0, round((number - left) / (right - left) * (_WIDTH - 1))))

    lines = []
    for (record, value), number in list(zip(readings, values, strict=True))[-rows:]:
        cells = [" "] * _WIDTH
        for limit, mark in ((one.nominal, ":"), (one.low, "|"), (one.high, "|")):
            if limit is not None:
                cells[place(limit.number_in(unit))] = mark
        cells[place(number)] = {"out": "X", "unsure": "?"}.get(record.verdict, "o")
        verdict = "" if record.verdict == "none" else f"  {phrases.sentence(f'capture.is.{record.verdict}')}"
        lines.append(f"{record.part:>5} {''.join(cells)} {phrases.figures(value.text)} {value.unit}{verdict}")
    return lines


def summaries(state: State) -> list[tuple[Characteristic, str, Summary]]:
    """The summary of each characteristic that has a reading, with the unit it is in."""
    found = []
    for one in state.plan.characteristics or (ANY,):
        readings = [record.value for record in state.of(one.name) if record.value is not None]
        if readings:
            unit = one.unit or readings[0].unit
            low, high = (None if limit is None else limit.number_in(unit) for limit in (one.low, one.high))
            # Readings without limits may be of several kinds: those of the first one's dimension make the summary.
            values = [value.number_in(unit) for value in readings if value.dimension is readings[0].dimension]
            found.append((one, unit, summary(values, low=low, high=high, subgroup=one.subgroup)))
    return found


def summary_json(one: Characteristic, unit: str, found: Summary, state: State) -> dict[str, Any]:
    """A summary as a public line: decimal texts; what cannot be told is left out."""
    places = 1 + max(-int(record.value.to(unit).value.as_tuple().exponent) for record in state.of(one.name) if record.value is not None)
    verdicts = [record.verdict for record in state.of(one.name)]
    line: dict[str, Any] = {
        "characteristic": one.name, "unit": unit, "count": found.count, "out": verdicts.count("out"), "unsure": verdicts.count("unsure"),
        "mean": format(rounded(found.mean, places), "f"), "lowest": format(rounded(found.lowest, places - 1), "f"),
        "highest": format(rounded(found.highest, places - 1), "f"), "range": format(rounded(found.range, places - 1), "f"),
    }  # fmt: skip
    for name in ("deviation", "within"):
        value: Decimal | None = getattr(found, name)
        if value is not None:
            line[name] = format(rounded(Fraction(value), places), "f")
    for name in ("cp", "cpk", "pp", "ppk"):
        index: Decimal | None = getattr(found, name)
        if index is not None:
            line[name] = format(index.quantize(Decimal("0.01"), ROUND_HALF_EVEN), "f")
    return line


def summary_lines(state: State, phrases: Phrases) -> list[str]:
    """The summary as text, a few lines for each characteristic; one line where no reading stands."""
    lines: list[str] = []
    for one, unit, found in summaries(state):
        line = summary_json(one, unit, found, state)
        told = {key: phrases.figures(str(text)) for key, text in line.items() if key not in ("characteristic", "unit")}
        counts = {key: told[key] for key in ("count", "out", "unsure")}
        lines.append(phrases.sentence("capture.counted", name=one.name, **counts))
        middle = {key: told[key] for key in ("mean", "lowest", "highest", "range")}
        lines.append(f"  {phrases.sentence('capture.middle', **middle, unit=unit)}")
        if "deviation" in told:
            within = phrases.sentence("capture.within", within=told["within"]) if "within" in told else ""
            lines.append(f"  {phrases.sentence('capture.deviation', deviation=told['deviation'], within=within, unit=unit)}")
        indices = [f"{label} {told[name]}" for name, label in (("cp", "Cp"), ("cpk", "Cpk"), ("pp", "Pp"), ("ppk", "Ppk")) if name in told]
        if indices:
            few = phrases.sentence("capture.few") if found.is_of_few else ""
            lines.append(f"  {('; ' if phrases.tongue.decimal_mark == ',' else ', ').join(indices)}{few}")
    return lines or [phrases.sentence("capture.nothing")]
