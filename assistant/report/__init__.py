"""The build sheet: everything a job's journal holds, as a customer, a colleague or a program wants to read it.

It is made from the journal alone and never from the running state, so the sheet can be proven to belong to it: `journal_sha256` is the
hash of the journal's bytes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from assistant.core import events as ev
from assistant.core.axle import Job
from assistant.core.decide import failures
from assistant.core.evolve import begin, evolve
from assistant.core.quantities import Quantity, quantity_from, unit_named
from assistant.core.state import Reading, State, in_spec
from assistant.files import phrases_for, procedure_for

# Uncertainty of one reading, about 95 % (common practice, no source; docs/trade.md, section 4.10). It is told, and never changes a verdict.
_LENGTH_UNCERTAINTY = {"in": Quantity.of("0.0005", "in"), "mm": Quantity.of("0.02", "mm")}
_TORQUE_FLOOR = Quantity.of("1", "lb-in")
_TORQUE_SHARE = Fraction(4, 100)


@dataclass(frozen=True)
class ReadingLine:
    """One accepted reading. phase: `trial` or `final`; void: why it no longer counts, empty while it does."""

    reading: Reading
    at: str
    title: str
    phase: str
    void: str


@dataclass(frozen=True)
class MoveLine:
    """One change that was proposed; made: whether it was."""

    move: ev.MoveProposed
    at: str
    made: bool


@dataclass(frozen=True)
class AlarmLine:
    """One alarm and its answer, empty while it is open."""

    alarm: ev.AlarmRaised
    at: str
    answer: str


@dataclass(frozen=True)
class FinalLine:
    """One needed number at the end: the standing readings, the manual's limits, the uncertainty of one reading, and whether it is in range."""

    quantity: str
    name: str
    values: tuple[str, ...]
    unit: str
    limits: str
    uncertainty: str
    verdict: str


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


def sheet(lines: Sequence[tuple[str, ev.Event]], journal_sha256: str) -> Sheet:
    """The sheet of a journal's lines: (time, event), oldest first. Raises ValueError when they do not begin with the start of a job."""
    if not lines or not isinstance(lines[0][1], ev.JobStarted):
        raise ValueError("the journal does not begin with the start of a job")
    first = lines[0][1]
    phrases = phrases_for()
    state = begin(first, procedure_for(first.job.axle), phrases)
    times: dict[str, str] = {}
    voids: dict[str, str] = {}
    moves: list[MoveLine] = []
    alarms: list[AlarmLine] = []
    cautions: list[tuple[str, str]] = []
    for at, event in lines[1:]:
        state = evolve(state, event)
        if isinstance(event, ev.Recorded):
            times[event.id] = at
            if event.replaces is not None:
                voids[event.replaces] = f"corrected by {event.id}"
        elif isinstance(event, ev.TakenBack):
            voids[event.id] = "taken back"
        elif isinstance(event, ev.Voided):
            voids |= {reading_id: _why_void(event, state) for reading_id in event.ids}
        elif isinstance(event, ev.MoveProposed):
            moves.append(MoveLine(event, at, False))
        elif isinstance(event, ev.MoveMade) and moves:
            moves[-1] = MoveLine(moves[-1].move, moves[-1].at, True)
        elif isinstance(event, ev.AlarmRaised):
            alarms.append(AlarmLine(event, at, ""))
        elif isinstance(event, ev.AlarmAnswered):
            alarms[-1] = AlarmLine(alarms[-1].alarm, alarms[-1].at, event.answer)
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
        finals=tuple(_final(state, quantity) for quantity in (*state.job.needed, "pattern_drive", "pattern_coast")),
        readings=tuple(_reading(state, reading, times.get(reading.id, ""), voids.get(reading.id, "")) for reading in state.readings),
        moves=tuple(moves),
        alarms=tuple(alarms),
        cautions=tuple(cautions),
        specs_given=state.specs_given,
        unreachable=state.unreachable,
        journal_sha256=journal_sha256,
    )


def _why_void(event: ev.Voided, state: State) -> str:
    if event.reason == "undo":
        return "taken back"
    titles = {step.id: state.phrases.steps[step.text].title for step in state.procedure.steps}
    if event.reason in titles:
        return f"made again: {titles[event.reason]}"
    return f"changed by {event.reason}" if event.why == "changed" else f"wrong: {event.reason}"


def _reading(state: State, reading: Reading, at: str, void: str) -> ReadingLine:
    phase = "final" if reading.step.startswith("final.") else "trial"
    return ReadingLine(reading, at, state.phrases.steps[state.procedure.step(reading.step).text].title, phase, void if reading.void is not None else "")


def _final(state: State, quantity: str) -> FinalLine:
    readings = state.current(quantity)
    limits = state.job.limits(quantity)
    newest = {reading.spot: reading for reading in readings}
    shown = [reading.value.text if reading.value is not None else reading.choice or "" for _, reading in sorted(newest.items())]
    unit = next((reading.value.unit for reading in readings if reading.value is not None), "")
    verdict = in_spec(state, quantity)
    words = {True: "in range", False: "OUT OF RANGE", None: "missing"}[verdict]
    if limits is None:
        words = "recorded" if readings else "missing"
    return FinalLine(
        quantity,
        state.phrases.name(quantity),
        tuple(shown),
        unit,
        _limit_text(state, quantity),
        _uncertainty(readings),
        words,
    )


def _limit_text(state: State, quantity: str) -> str:
    limits = state.job.limits(quantity)
    if limits is None:
        return ""
    if limits.low is not None and limits.high is not None:
        text = f"{limits.low.text} to {limits.high.text} {limits.unit}" if limits.low != limits.high else str(limits.low)
    else:
        text = f"up to {limits.high}" if limits.high is not None else f"at least {limits.low}"
    return f"{text}, variation up to {limits.variation}" if limits.variation is not None else text


def _uncertainty(readings: Sequence[Reading]) -> str:
    value = next((reading.value for reading in readings if reading.value is not None), None)
    if value is None:
        return ""
    if value.unit in _LENGTH_UNCERTAINTY:
        return f"± {_LENGTH_UNCERTAINTY[value.unit]}"
    if value.dimension is _TORQUE_FLOOR.dimension:
        share = max(_TORQUE_FLOOR.base, abs(value.base) * _TORQUE_SHARE)
        return f"± {quantity_from(Fraction(round(share / unit_named(value.unit).factor, 1)), value.unit)}"
    return ""


def percent(chance: Decimal | None) -> str:
    """A chance as a whole percentage; empty for none."""
    return "" if chance is None else f"{round(chance * 100)} %"
