"""(state, event) → state: the only place where the job changes. Pure: the same journal gives the same state, bit for bit."""

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from functools import singledispatch

from assistant.core import events as ev
from assistant.core.axle import NO_DEPTH, Job, Limits
from assistant.core.misheard import as_refused, meanings
from assistant.core.phrases import Phrases
from assistant.core.quantities import Quantity, unit_named
from assistant.core.state import AnsweredAlarm, Fitted, Reading, Refused, State, Trouble
from assistant.core.steps import Procedure


def begin(event: ev.JobStarted, procedure: Procedure, phrases: Phrases) -> State:
    """The state right after a job began; procedure and phrases are data that the shell read (the procedure's checksum is in the event)."""
    return State(procedure=procedure, phrases=phrases, job=event.job, job_id=event.job_id)


def replay(events: Iterable[ev.Event], procedure: Procedure, phrases: Phrases) -> State:
    """The state that a journal stands for. Raises ValueError when the journal does not begin with the start of a job."""
    rest = iter(events)
    first = next(rest, None)
    if not isinstance(first, ev.JobStarted):
        raise ValueError("the journal does not begin with the start of a job")
    state = begin(first, procedure, phrases)
    for event in rest:
        state = evolve(state, event)
    return state


def evolve(state: State, event: ev.Event) -> State:
    """The state after an event."""
    after = _apply(event, state)
    if not isinstance(event, _SAME_WAIT) and (after.two is not None or after.trouble != Trouble()):
        after = replace(after, two=None, trouble=Trouble())
    if after.refused and not isinstance(event, _SAME_WAIT):
        after = replace(after, refused="")
    if after.repeats and not isinstance(event, ev.Replied | ev.Missed | ev.Misheard):
        after = replace(after, repeats=0)
    return after if isinstance(event, ev.Replied) or after.last_reply is None else replace(after, last_reply=None)


# The same thing is waited for after these; with anything else, what was hard to hear is behind us.
_SAME_WAIT = (
    ev.Offered, ev.Dropped, ev.Doubted, ev.Asked, ev.Replied, ev.Missed, ev.Misheard, ev.TwoOffered, ev.TwoRefused, ev.Pulled, ev.EarOpened,
    ev.GaugeUnitChanged, ev.GaugeZeroed, ev.Held, ev.Resumed, ev.Kept, ev.Stopped, ev.WentOn,
)  # fmt: skip


@singledispatch
def _apply(event: ev.Event, state: State) -> State:
    raise TypeError(f"no rule for {type(event).__name__}")


@_apply.register
def _(event: ev.JobStarted, state: State) -> State:
    raise ValueError(f"a job began twice in one journal: {event.job_id} in {state.job_id}")


@_apply.register
def _(event: ev.SpokenIn, state: State) -> State:
    return state  # its phrases are given from outside, as the procedure is


@_apply.register
def _(event: ev.ShopTaught, state: State) -> State:
    return replace(state, learned=event.learned)


@_apply.register
def _(event: ev.CautionShown, state: State) -> State:
    return replace(state, open_step=event.step, caution_open=True, misses=0)


@_apply.register
def _(event: ev.CautionAccepted, state: State) -> State:
    return replace(state, caution_open=False, misses=0)


@_apply.register
def _(event: ev.StepBegan, state: State) -> State:
    return replace(state, open_step=event.step, caution_open=False, misses=0, seen=state.seen | {event.step})


@_apply.register
def _(event: ev.StepDone, state: State) -> State:
    assembled = state.procedure.step(event.step).kind in ("torque", "press")
    return replace(
        state, done=state.done | {event.step}, open_step=None, doubted=None, misses=0, assembly=state.assembly + (1 if assembled else 0)
    )


@_apply.register
def _(event: ev.Offered, state: State) -> State:
    return replace(state, offered=event, misses=0, two=None, trouble=replace(state.trouble, confirms=0))


@_apply.register
def _(event: ev.Dropped, state: State) -> State:
    # A question about the job that came up over a read-back is gone; the read-back still stands.
    if event.quantity == "question":
        return replace(state, asked=None, misses=0)
    trouble = replace(state.trouble, confirms=0)
    if state.offered is not None and state.offered.source == "spoken":
        refused = Refused(event.value, event.choice, state.offered.form)
        trouble = replace(trouble, misses=trouble.misses + 1, refused=(*trouble.refused, refused))
    return replace(state, offered=None, asked=None, misses=0, trouble=trouble)


@_apply.register
def _(event: ev.Doubted, state: State) -> State:
    here = [(assembly, look) for assembly, look in state.looked if assembly == state.assembly]
    return replace(state, doubted=event, misses=0, looked=(*here, *((state.assembly, look) for look in event.looks)))


@_apply.register
def _(event: ev.Recorded, state: State) -> State:
    before = state
    reading = Reading(
        event.id,
        event.step,
        event.quantity,
        event.value,
        event.choice,
        event.spot,
        event.part,
        event.source,
        event.gauge,
        event.raw,
        None,
        event.replaces,
        tuple((fitted.part, fitted.total) for fitted in state.fitted),
        state.assembly,
    )
    readings = state.readings
    if event.replaces is not None:
        old = state.reading(event.replaces)
        # The same thing was read, only told wrongly: what was in the axle then is what counts.
        reading = replace(reading, fitted=old.fitted, assembly=old.assembly)
        readings = tuple(replace(r, void="wrong") if r.id == event.replaces else r for r in readings)
    state = replace(
        state,
        readings=(*readings, reading),
        offered=None,
        correcting=None,
        doubted=None,
        misses=0,
        reading_count=state.reading_count + 1,
    )
    if event.replaces is not None:
        state = _reopened(state)
    if event.quantity in ("etch_new", "etch_old") and event.value is not None:
        state = _with_etch(state, event.quantity, event.value)
    if event.source == "gauge":
        return replace(state, taken_from=replace(before, taken_from=None, taken_id=None), taken_id=event.id)
    return state


def _with_etch(state: State, quantity: str, value: Quantity | None) -> State:
    parts = state.job.parts
    parts = replace(parts, etch_new=value) if quantity == "etch_new" else replace(parts, etch_old=value)
    return replace(state, job=replace(state.job, parts=parts))


@_apply.register
def _(event: ev.Voided, state: State) -> State:
    gone = set(event.ids)
    for reading in state.readings:
        if reading.id in gone and reading.quantity in ("etch_new", "etch_old"):
            state = _with_etch(state, reading.quantity, None)
    return replace(state, readings=tuple(replace(r, void=event.why) if r.id in gone else r for r in state.readings))


@_apply.register
def _(event: ev.StepsUndone, state: State) -> State:
    gone = set(event.steps)
    state = replace(state, done=state.done - gone, asked=None, offered=None, correcting=None)
    return _reopened(_unasked(state, gone))


def _unasked(state: State, gone: set[str]) -> State:
    """What was answered at steps that are made again is asked again: choices, and the manual's limits."""
    if any(step in gone and choice == NO_DEPTH for step, choice in state.answers):
        state = replace(state, job=replace(state.job, depth_by_pattern=False))
    for step_id in gone & {step for step, _ in state.answers}:
        state = replace(state, answers=tuple(answer for answer in state.answers if answer[0] != step_id))
        if step_id == "intake.etch_sign":
            state = replace(state, job=replace(state.job, parts=replace(state.job.parts, etch_sign=None)))
    for step in (state.procedure.step(step_id) for step_id in gone):
        if step.fits == "ring_side_adjuster":
            # Notches are counted from no play: set again, the preload begins there, and so does the count.
            fitted = tuple(item for item in state.fitted if item.part not in ("ring_side_adjuster", "opposite_adjuster"))
            state = replace(state, fitted=fitted, done=state.done - set(step.needs))
    if any(state.procedure.step(step_id).ask == "specs" for step_id in gone):
        job = state.job
        for quantity, which, _ in state.specs_given:
            job = _without_spec(job, quantity, which)
        state = replace(state, specs_given=(), job=job)
    if any(state.procedure.step(step_id).ask in ("specs", "many") for step_id in gone):
        # With other limits or other shims it may be reached after all.
        state = replace(state, unreachable=())
    return state


def _reopened(state: State) -> State:
    """The walk looks again where it stands: what was shown for the old ground is dropped."""
    return replace(state, open_step=None, caution_open=False, move=None, alarm=None, doubted=None)


@_apply.register
def _(event: ev.Answered, state: State) -> State:
    answers = (*((step, choice) for step, choice in state.answers if step != event.step), (event.step, event.choice))
    parts = replace(state.job.parts, etch_sign=event.choice) if event.step == "intake.etch_sign" else state.job.parts
    by_pattern = state.job.depth_by_pattern or event.choice == NO_DEPTH
    return replace(state, answers=answers, job=replace(state.job, parts=parts, depth_by_pattern=by_pattern), misses=0)


@_apply.register
def _(event: ev.SpecGiven, state: State) -> State:
    given = (
        *((q, w, v) for q, w, v in state.specs_given if (q, w) != (event.quantity, event.which)),
        (event.quantity, event.which, event.value),
    )
    return replace(state, specs_given=given, job=_with_spec(state.job, event), offered=None, misses=0)


@_apply.register
def _(event: ev.SpecTakenBack, state: State) -> State:
    gone = (event.quantity, event.which)
    given = tuple(item for item in state.specs_given if item[:2] != gone)
    if len(given) == len(state.specs_given):
        # It was no figure that is taken back, but that there is none.
        answers = tuple(answer for answer in state.answers if answer[1] != NO_DEPTH)
        return replace(state, answers=answers, job=replace(state.job, depth_by_pattern=False), offered=None, asked=None, misses=0)
    return replace(state, specs_given=given, job=_without_spec(state.job, *gone), offered=None, asked=None, misses=0)


def _without_spec(job: Job, quantity: str, which: str) -> Job:
    """The job before a limit was read aloud. Only what the job file leaves out is ever asked for, so nothing of its own goes with it."""
    if quantity == "pinion_depth":
        return replace(job, depth_target=None) if which == "target" else replace(job, depth_tolerance=None)
    spec = dict(job.spec)
    limits = spec.pop(quantity)
    gone = {"low": ("low",), "high": ("high",), "value": ("low", "high")}[which]
    left = Limits(None if "low" in gone else limits.low, None if "high" in gone else limits.high)
    if left != Limits():
        spec[quantity] = left
    return replace(job, spec=tuple(spec.items()))


def _with_spec(job: Job, event: ev.SpecGiven) -> Job:
    if event.quantity == "pinion_depth":
        return replace(job, depth_target=event.value) if event.which == "target" else replace(job, depth_tolerance=event.value)
    spec = dict(job.spec)
    limits = spec.get(event.quantity, Limits())
    if event.which == "value":
        limits = replace(limits, low=event.value, high=event.value)
    elif event.which == "low":
        limits = replace(limits, low=event.value)
    elif event.which == "high":
        limits = replace(limits, high=event.value)
    else:
        limits = replace(limits, variation=event.value)
    spec[event.quantity] = limits
    return replace(job, spec=tuple(spec.items()))


@_apply.register
def _(event: ev.MoveProposed, state: State) -> State:
    return replace(state, move=event, move_count=state.move_count + 1, open_step=event.step, misses=0)


@_apply.register
def _(event: ev.MoveMade, state: State) -> State:
    move = state.move
    assert move is not None
    changed = {change.part: Fitted(change.part, change.after, change.stack) for change in move.changes}
    if "crush_sleeve" in changed and state.pack("crush_nut") is None:
        changed["crush_nut"] = Fitted("crush_nut", Quantity(Decimal(0), "deg"))
    fitted = (*(item for item in state.fitted if item.part not in changed), *changed.values())
    # Creeping up on a sleeve is one step with many moves: it stays open, and its caution accepted.
    creeping = state.procedure.step(move.step).ask == "creep" and "crush_sleeve" not in changed
    return replace(
        state,
        fitted=fitted,
        move=None,
        moves_made=(*state.moves_made, move),
        assembly=state.assembly + 1,
        open_step=move.step if creeping else None,
        misses=0,
    )


@_apply.register
def _(event: ev.AlarmRaised, state: State) -> State:
    return replace(state, alarm=event, alarm_count=state.alarm_count + 1, open_step=event.step, misses=0)


@_apply.register
def _(event: ev.AlarmAnswered, state: State) -> State:
    assert state.alarm is not None
    causes = tuple(suspect.cause for suspect in state.alarm.likely)
    answered = AnsweredAlarm(state.alarm.quantity, event.answer, causes, state.reading_count)
    # A step that the alarm came up in goes on, its caution accepted; one that was done is left again.
    open_step = None if state.alarm.step in state.done else state.open_step
    return replace(state, alarm=None, alarms=(*state.alarms, answered), open_step=open_step, misses=0)


@_apply.register
def _(event: ev.LimitsUnreachable, state: State) -> State:
    return replace(state, unreachable=(*state.unreachable, event.quantity))


@_apply.register
def _(event: ev.Asked, state: State) -> State:
    return replace(state, asked=event, misses=0, trouble=replace(state.trouble, confirms=0))


@_apply.register
def _(event: ev.GaugeUnitChanged, state: State) -> State:
    dimension = unit_named(event.unit).dimension
    # What is said of all of a kind replaces what was said of each.
    others = tuple(
        (gauge, unit)
        for gauge, unit in state.gauge_units
        if not (gauge == event.gauge or event.gauge == "") or unit_named(unit).dimension is not dimension
    )
    return replace(state, gauge_units=(*others, (event.gauge, event.unit)), asked=None, misses=0)


@_apply.register
def _(event: ev.GaugeZeroed, state: State) -> State:
    others = tuple((gauge, at) for gauge, at in state.gauge_zeros if gauge != event.gauge)
    return replace(state, gauge_zeros=(*others, (event.gauge, event.offset)), asked=None, misses=0)


@_apply.register
def _(event: ev.Replied, state: State) -> State:
    if event.command == "repeat":
        return replace(state, repeats=state.repeats + 1)
    return replace(state, last_reply=event.command, repeats=0)


@_apply.register
def _(event: ev.Missed, state: State) -> State:
    refused = event.reason if event.reason in ("jammed", "impossible") else state.refused
    return replace(state, misses=state.misses + 1, refused=refused)


@_apply.register
def _(event: ev.EarOpened, state: State) -> State:
    return replace(state, ear=event.ear)


@_apply.register
def _(event: ev.Misheard, state: State) -> State:
    at_confirm = state.asked is not None or state.offered is not None
    trouble = state.trouble
    trouble = replace(trouble, confirms=trouble.confirms + 1) if at_confirm else replace(trouble, misses=trouble.misses + 1)
    return replace(state, misses=state.misses + 1, trouble=trouble)


@_apply.register
def _(event: ev.TwoOffered, state: State) -> State:
    return replace(state, two=event, trouble=replace(state.trouble, misses=state.trouble.misses + 1))


@_apply.register
def _(event: ev.TwoRefused, state: State) -> State:
    known = tuple(one for one in map(as_refused, meanings(state, event.words)) if one is not None)
    trouble = replace(state.trouble, misses=state.trouble.misses + 1, refused=(*state.trouble.refused, *known))
    return replace(state, two=None, trouble=trouble)


@_apply.register
def _(event: ev.Pulled, state: State) -> State:
    return state


@_apply.register
def _(event: ev.Held, state: State) -> State:
    return replace(state, held=True)


@_apply.register
def _(event: ev.Resumed, state: State) -> State:
    return replace(state, held=False)


@_apply.register
def _(event: ev.Correcting, state: State) -> State:
    return replace(state, correcting=event.id, asked=None, offered=None, doubted=None)


@_apply.register
def _(event: ev.Kept, state: State) -> State:
    return replace(state, taken_from=None, taken_id=None)


@_apply.register
def _(event: ev.TakenBack, state: State) -> State:
    before = state.taken_from
    assert before is not None
    taken = replace(state.reading(event.id), void="wrong")
    return replace(
        before,
        readings=(*before.readings, taken),
        reading_count=state.reading_count,
        move_count=state.move_count,
        alarm_count=state.alarm_count,
    )


@_apply.register
def _(event: ev.Stopped, state: State) -> State:
    # Where the input only ended, an open question is asked again when the job goes on.
    return replace(state, stopped=True, asked=None if event.asked else state.asked)


@_apply.register
def _(event: ev.WentOn, state: State) -> State:
    return replace(state, stopped=False)


@_apply.register
def _(event: ev.Ended, state: State) -> State:
    return replace(state, verdict=event.verdict, failed=event.failed, open_step=None)
