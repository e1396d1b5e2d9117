"""The build sheet: everything a job's journal holds, as a customer, a colleague or a program wants to read it.

It is made from the journal alone and never from the running state, so the sheet can be proven to belong to it: `journal_sha256` is the
hash of the journal's bytes. What it says itself is in one language, that of `Sheet.words`; what was said at the bench is quoted as it was said.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction

from assistant.core import events as ev
from assistant.core.axle import Job, Limits
from assistant.core.decide import failures
from assistant.core.errors import BadInputError, JournalError
from assistant.core.evolve import begin, evolve
from assistant.core.predictions import degrees_of, evidence, tightness_at
from assistant.core.quantities import Quantity, quantity_from, unit_named
from assistant.core.state import Fitted, Reading, State, depth_offset, in_spec
from assistant.files import phrases_for, procedure_for
from assistant.report.words import Words

# Uncertainty of one reading, about 95 % (common practice, no source; docs/trade.md, section 4.10). It is told, and never changes a verdict.
_LENGTH_UNCERTAINTY = {"in": Quantity.of("0.0005", "in"), "mm": Quantity.of("0.02", "mm")}
_TORQUE_FLOOR = Quantity.of("1", "lb-in")
_TORQUE_SHARE = Fraction(4, 100)


@dataclass(frozen=True)
class ReadingLine:
    """One accepted reading. phase: `trial` or `final`; void: why it no longer counts, empty while it does.

    was_told_wrongly: it is void because it was corrected or taken back.
    """

    reading: Reading
    at: str
    title: str
    phase: str
    void: str
    was_told_wrongly: bool = False


@dataclass(frozen=True)
class MoveLine:
    """One change that was proposed; made: whether it was."""

    move: ev.MoveProposed
    at: str
    made: bool


@dataclass(frozen=True)
class AlarmLine:
    """One alarm and its answer, empty while it is open. voided: the readings that lost their ground by it; redone: the steps made again."""

    alarm: ev.AlarmRaised
    at: str
    answer: str
    voided: tuple[str, ...] = ()
    redone: tuple[str, ...] = ()


@dataclass(frozen=True)
class DoubtLine:
    """A value that surprised and was asked for once more. outcome: the id and value that were recorded next, empty where none was."""

    doubted: ev.Doubted
    at: str
    outcome: str


@dataclass(frozen=True)
class SpecLine:
    """One limit of the manual as this job holds it. source: the job file, or when it was read aloud."""

    quantity: str
    name: str
    limits: str
    conditions: str
    source: str


@dataclass(frozen=True)
class RingPoint:
    """One standing backlash reading for the plot. degrees: from the first place, in the order of the teeth."""

    degrees: float
    value: Quantity


@dataclass(frozen=True)
class DragPoint:
    """One pinion drag for the plot. at: micrometres of the pack between the cones, or degrees of the nut; stands: it is not void."""

    at: float
    value: Quantity
    stands: bool


@dataclass(frozen=True)
class FinalLine:
    """One needed number at the end: the standing readings, the manual's limits, the uncertainty of one reading, and whether it is in range.

    verdict: `in range`, `OUT OF RANGE`, `missing` or `recorded`, in every language.
    variation: largest less smallest, for backlash; close: a reading lies nearer to a limit than its uncertainty (told, never judged by).
    """

    quantity: str
    name: str
    values: tuple[str, ...]
    unit: str
    limits: str
    uncertainty: str
    verdict: str
    variation: str = ""
    close: bool = False


@dataclass(frozen=True)
class Sheet:
    """A whole build sheet, in the order in which it is read."""

    job_id: str
    job: Job
    began: str
    ended: str
    verdict: str
    failed: tuple[str, ...]
    finals: tuple[FinalLine, ...]
    readings: tuple[ReadingLine, ...]
    moves: tuple[MoveLine, ...]
    alarms: tuple[AlarmLine, ...]
    cautions: tuple[tuple[str, str], ...]
    specs_given: tuple[tuple[str, str, Quantity], ...]
    unreachable: tuple[str, ...]
    journal_sha256: str
    notes: tuple[str, ...] = field(default=())
    specs: tuple[SpecLine, ...] = ()
    doubts: tuple[DoubtLine, ...] = ()
    fitted: tuple[Fitted, ...] = ()
    ring: tuple[RingPoint, ...] = ()
    drag: tuple[DragPoint, ...] = ()
    learned: tuple[ev.Learned, ...] = ()
    words: Words = field(default_factory=Words)


def sheet(lines: Sequence[tuple[str, ev.Event]], journal_sha256: str, language: str = "en") -> Sheet:
    """The sheet of a journal's lines, (time, event), oldest first, in a language.

    Raises JournalError when they do not begin with the start of a job, or do not fit this program's procedure.
    """
    if not lines or not isinstance(lines[0][1], ev.JobStarted):
        raise JournalError("the journal does not begin with the start of a job: nothing of it was ever accepted")
    try:
        return _sheet(lines, lines[0][1], journal_sha256, Words(phrases_for(language)))
    except (KeyError, AssertionError, BadInputError) as error:
        raise JournalError(f"job {lines[0][1].job_id} does not fit this program's procedure: {error}") from error


def _sheet(lines: Sequence[tuple[str, ev.Event]], first: ev.JobStarted, journal_sha256: str, words: Words) -> Sheet:
    phrases = words.phrases
    # What was heard is understood in the language of the job.
    spoken = phrases_for(ev.language_of(event for _, event in lines))
    state = begin(first, procedure_for(first.job.axle), replace(phrases, tongue=spoken.tongue, choices=spoken.choices))
    times: dict[str, str] = {}
    voids: dict[str, str] = {}
    moves: list[MoveLine] = []
    alarms: list[AlarmLine] = []
    cautions: list[tuple[str, str]] = []
    doubts: list[DoubtLine] = []
    given: dict[str, str] = {}
    slips: set[str] = set()
    answered: str | None = None  # the answer whose consequences follow in the same breath
    for at, event in lines[1:]:
        state = evolve(state, event)
        if answered is not None and isinstance(event, ev.Voided | ev.StepsUndone) and event.reason == answered:
            alarms[-1] = _with_consequence(alarms[-1], event, state)
        else:
            answered = event.answer if isinstance(event, ev.AlarmAnswered) else None
        if isinstance(event, ev.Recorded):
            times[event.id] = at
            if event.replaces is not None:
                voids[event.replaces] = words("void.corrected", id=event.id)
                slips.add(event.replaces)
            if doubts and not doubts[-1].outcome and doubts[-1].doubted.quantity == event.quantity and event.value is not None:
                doubts[-1] = replace(doubts[-1], outcome=f"{event.id}: {words.quantity(event.value)}")
        elif isinstance(event, ev.TakenBack):
            voids[event.id] = words("void.taken_back")
            slips.add(event.id)
        elif isinstance(event, ev.Voided):
            voids |= {reading_id: _why_void(event, state, words) for reading_id in event.ids}
            slips = slips | set(event.ids) if event.reason == "undo" else slips - set(event.ids)
        elif isinstance(event, ev.MoveProposed):
            moves.append(MoveLine(event, at, False))
        elif isinstance(event, ev.MoveMade):
            moves = [replace(line, made=True) if line.move.group == event.group else line for line in moves]
        elif isinstance(event, ev.Doubted):
            doubts.append(DoubtLine(event, at, ""))
        elif isinstance(event, ev.SpecGiven):
            given[event.quantity] = at
        elif isinstance(event, ev.AlarmRaised):
            alarms.append(AlarmLine(event, at, ""))
        elif isinstance(event, ev.AlarmAnswered):
            alarms[-1] = replace(alarms[-1], answer=event.answer)
        elif isinstance(event, ev.CautionAccepted):
            cautions.append((at, phrases.steps[state.procedure.step(event.step).text].title))
    failed = state.failed if state.verdict is not None else failures(state)
    return Sheet(
        job_id=first.job_id,
        job=state.job,
        began=lines[0][0],
        ended=lines[-1][0],
        verdict=state.verdict or "not finished",
        failed=failed,
        finals=tuple(_final(state, quantity, words) for quantity in (*state.job.needed, "pattern_drive", "pattern_coast")),
        readings=tuple(
            _reading(state, reading, times.get(reading.id, ""), voids.get(reading.id, ""), reading.id in slips)
            for reading in state.readings
        ),
        moves=tuple(moves),
        alarms=tuple(alarms),
        cautions=tuple(cautions),
        specs_given=state.specs_given,
        unreachable=state.unreachable,
        journal_sha256=journal_sha256,
        notes=_notes(state, words),
        specs=tuple(_spec(state, quantity, given, words) for quantity in state.job.needed),
        doubts=tuple(doubts),
        fitted=state.fitted,
        ring=_ring(state),
        drag=_drag(state),
        learned=state.learned,
        words=words,
    )


def _with_consequence(line: AlarmLine, event: ev.Voided | ev.StepsUndone, state: State) -> AlarmLine:
    if isinstance(event, ev.Voided):
        return replace(line, voided=(*line.voided, *event.ids))
    return replace(line, redone=(*line.redone, *(state.phrases.steps[state.procedure.step(step).text].title for step in event.steps)))


def _spec(state: State, quantity: str, given: dict[str, str], words: Words) -> SpecLine:
    limits = state.job.limits(quantity) or Limits()
    conditions = [words(f"seal.{limits.seal}")] if limits.seal else []
    conditions += [words(f"bearings.{limits.bearings}")] if limits.bearings else []
    if limits.variation is not None and limits.judge != "all":
        conditions.append(words(f"judge.{limits.judge}"))
    job = state.job
    if quantity == "pinion_depth" and job.depth_target is not None and job.depth_tolerance is not None:
        conditions.append(words("target", target=words.number(job.depth_target), tolerance=words.quantity(job.depth_tolerance)))
    source = words("read_aloud" if quantity in given else "job_file")
    return SpecLine(quantity, words.phrases.name(quantity), _limit_text(state, quantity, words), ", ".join(conditions), source)


def _notes(state: State, words: Words) -> tuple[str, ...]:
    """What has to be known to read the figures."""
    if state.job.depth_by_pattern:
        return (words("by_pattern"),)
    offset = depth_offset(state)
    if not offset or state.latest("pinion_depth") is None:
        return ()
    unit = state.job.unit_of("pinion_depth")
    size = quantity_from(abs(offset) / unit_named(unit).factor, unit)
    return (words("taken_off" if offset > 0 else "added_to", size=words.quantity(size)),)


def _ring(state: State) -> tuple[RingPoint, ...]:
    newest = {reading.spot: reading.value for reading in state.current("backlash") if reading.value is not None}
    return tuple(RingPoint(degrees_of(spot, max(state.job.backlash_spots, 1)), value) for spot, value in sorted(newest.items()))


def _drag(state: State) -> tuple[DragPoint, ...]:
    """Every drag that was right when it was taken; on a crush sleeve only those of the last sleeve, for another one has another curve."""
    readings = evidence(state, "pinion_drag")
    if state.job.axle.preload == "crush-sleeve" and readings:
        sleeve = dict(readings[-1].fitted).get("crush_sleeve")
        readings = tuple(reading for reading in readings if dict(reading.fitted).get("crush_sleeve") == sleeve)
    at = ((tightness_at(state, reading.fitted), reading) for reading in readings)
    return tuple(DragPoint(x, r.value, r.void is None) for x, r in at if x is not None and r.value is not None)


def _why_void(event: ev.Voided, state: State, words: Words) -> str:
    if event.reason == "undo":
        return words("void.taken_back")
    titles = {step.id: state.phrases.steps[step.text].title for step in state.procedure.steps}
    if event.reason in titles:
        return words("void.made_again", step=titles[event.reason])
    if event.why == "changed":
        return words("void.changed", reason=event.reason)
    return words("void.wrong", reason=words.choice(event.reason))


def _reading(state: State, reading: Reading, at: str, void: str, was_told_wrongly: bool) -> ReadingLine:
    phase = "final" if reading.step.startswith("final.") else "trial"
    title = state.phrases.steps[state.procedure.step(reading.step).text].title
    return ReadingLine(reading, at, title, phase, *((void, was_told_wrongly) if reading.void is not None else ("", False)))


def _final(state: State, quantity: str, words: Words) -> FinalLine:
    readings = state.current(quantity)
    limits = state.job.limits(quantity)
    newest = {reading.spot: reading for reading in readings}
    shown = [
        words.number(reading.value) if reading.value is not None else words.choice(reading.choice or "")
        for _, reading in sorted(newest.items())
    ]
    unit = next((reading.value.unit for reading in readings if reading.value is not None), "")
    verdict = {True: "in range", False: "OUT OF RANGE", None: "missing"}[in_spec(state, quantity)]
    if limits is None:
        verdict = "recorded" if readings else "missing"
    values = [reading.value for reading in newest.values() if reading.value is not None]
    return FinalLine(
        quantity,
        words.phrases.name(quantity),
        tuple(shown),
        words.unit(unit) if unit else "",
        _limit_text(state, quantity, words),
        f"± {words.quantity(uncertainty)}" if (uncertainty := _uncertainty(readings)) is not None else "",
        verdict,
        _variation(quantity, values, words),
        uncertainty is not None
        and limits is not None
        and limits.low != limits.high
        and _is_close(state, quantity, values, limits, uncertainty),
    )


def _variation(quantity: str, values: Sequence[Quantity], words: Words) -> str:
    if quantity != "backlash" or len(values) < 2:
        return ""
    size, unit = max(values).base - min(values).base, values[-1].unit
    return words.quantity(quantity_from(size / unit_named(unit).factor, unit))


def _is_close(state: State, quantity: str, values: Sequence[Quantity], limits: Limits, uncertainty: Quantity) -> bool:
    offset = (depth_offset(state) or Fraction(0)) if quantity == "pinion_depth" else Fraction(0)
    ends = [limit.base for limit in (limits.low, limits.high) if limit is not None]
    return any(abs(value.base - offset - end) < uncertainty.base for value in values for end in ends)


def _limit_text(state: State, quantity: str, words: Words) -> str:
    limits = state.job.limits(quantity)
    if limits is None:
        return ""
    if limits.low is not None and limits.high is not None:
        low, high, unit = words.number(limits.low), words.number(limits.high), words.unit(limits.unit)
        text = words("low_to_high", low=low, high=high, unit=unit) if limits.low != limits.high else words.quantity(limits.low)
    elif limits.high is not None:
        text = words.phrases.sentence("limits.up_to", high=words.quantity(limits.high))
    else:
        text = words.phrases.sentence("limits.at_least", low=words.quantity(limits.low)) if limits.low is not None else ""
    variation = words("variation_up_to", variation=words.quantity(limits.variation)) if limits.variation is not None else ""
    return ", ".join(part for part in (text, variation) if part)


def _uncertainty(readings: Sequence[Reading]) -> Quantity | None:
    value = next((reading.value for reading in readings if reading.value is not None), None)
    if value is None:
        return None
    if value.unit in _LENGTH_UNCERTAINTY:
        return _LENGTH_UNCERTAINTY[value.unit]
    if value.dimension is _TORQUE_FLOOR.dimension:
        share = max(_TORQUE_FLOOR.base, abs(value.base) * _TORQUE_SHARE)
        return quantity_from(Fraction(round(share / unit_named(value.unit).factor, 1)), value.unit)
    return None


def percent(chance: Decimal | None) -> str:
    """A chance as a whole percentage; empty for none."""
    return "" if chance is None else f"{round(chance * 100)} %"
