"""(state, input) → events: what happens because of an input. Pure: no clock, file or dice; every answer is in the events.

An input is answered in two halves: `_answer` takes it in where the job stands; `_advance` then walks on, step by step, until something has
to be waited for. The walk is the rule of `steps`: the first step that applies and is not done.
"""

from dataclasses import replace

from assistant.core import doubts, english, misheard
from assistant.core import events as ev
from assistant.core.axle import CHANNELS, NO_DEPTH, PATTERNS, Job
from assistant.core.evolve import begin, evolve
from assistant.core.inputs import Bad, Input, Pedal, Quit, Said, Start, Taken, Unheard, Zeroed
from assistant.core.jammed import opening_move
from assistant.core.moves import Unreachable, changed_parts, correction, mesh_is_read_first, pattern_asks, start_move
from assistant.core.phrases import Phrases
from assistant.core.quantities import Quantity, unit_named
from assistant.core.spread import spread_move
from assistant.core.state import State, Wait, applies, in_spec, is_complete, missing_specs, next_spot, unit_held
from assistant.core.steps import Procedure, Step
from assistant.core.waits import done_steps, expectation, open_wait, wait
from assistant.core.words import Choice, Command, Unclear, Value, gauge_named, understand

Events = tuple[ev.Event, ...]
# After so many changes for one number it is something else that keeps it out of its range (assumed; a sound axle takes two or three).
MOST_CHANGES = 10
# Sleeves crushed too far one after another: it is no longer the hand (assumed).
_MOST_SLEEVES = 4
# A sleeve that has not brought the drag in after so many turns in a row does not yield (assumed; some ten are usual, as docs/benchmarks.md shows).
_MOST_TURNS = 60
# After these the last gauge reading can still be taken back by "no": a "no" that was not heard the first time has to work the second.
_CHANGE_NOTHING = (ev.TakenBack, ev.Missed, ev.Misheard, ev.Replied, ev.Stopped)


def start(job: Job, job_id: str, procedure: Procedure, phrases: Phrases, learned: tuple[ev.Learned, ...] = ()) -> Events:
    """The events of a new job, up to its first wait. learned: from the shop's own builds. Raises nothing for a job that `files` has read."""
    first = ev.JobStarted(job, job_id, procedure.checksum)
    spoken = (ev.SpokenIn(phrases.language),) if phrases.language != "en" else ()
    taught = (ev.ShopTaught(learned),) if learned else ()
    return (first, *spoken, *taught, *walk(begin(first, procedure, phrases)))


def decide(state: State, given: Input) -> Events:
    """Everything that happens because of one input, in order; never empty."""
    if state.verdict is not None:
        return (ev.Missed(state.phrases.sentence("job_over"), "over"),)
    events = _answer(state, given)
    if state.taken_id is not None and not all(isinstance(event, _CHANGE_NOTHING) for event in events):
        events = (ev.Kept(state.taken_id), *events)
    ear = given.ear if isinstance(given, Said | Unheard) else ""
    if ear and ear != state.ear:
        events = (ev.EarOpened(ear), *events)
    after = applied(state, events)
    return (*events, *walk(after)) if not after.stopped else events


def applied(state: State, events: Events) -> State:
    """The state after these events."""
    for event in events:
        state = evolve(state, event)
    return state


# ---- the walk


def walk(state: State) -> Events:
    """Go on until something has to be waited for."""
    events: list[ev.Event] = []
    while True:
        more = _advance(state)
        if not more:
            return tuple(events)
        events += more
        state = applied(state, more)


def _advance(state: State) -> Events:
    """The next thing that happens by itself; nothing when an answer is waited for."""
    if (
        state.verdict is not None
        or state.held
        or state.asked
        or state.offered
        or state.two
        or state.alarm
        or state.move
        or state.correcting
    ):
        return ()
    if state.open_step is not None:
        step = state.procedure.step(state.open_step)
        if state.caution_open:
            return ()
        if _is_finished(state, step):
            return _finish(state, step)
        return _creep(state, step) if step.ask == "creep" and state.latest("pinion_drag") is not None else ()
    following = next_step(state)
    if following is None:
        failed = failures(state)
        return (ev.Ended("out of spec" if failed else "in spec", failed),)
    if following.ask == "judge":
        return _judge(state, following)
    if following.caution is not None:
        return (ev.CautionShown(following.id),)
    return _begin(state, following)


def next_step(state: State) -> Step | None:
    """The first step that applies and is not done."""
    for step in state.procedure.steps:
        if applies(state, step) and not (_is_satisfied(state, step) if step.ask == "judge" else step.id in state.done):
            return step
    return None


def _begin(state: State, step: Step) -> Events:
    """Show a step; where a first pack is fitted, with the pack to fit."""
    if step.fits is not None:
        move = start_move(state, step)
        if move is not None:
            return (ev.StepBegan(step.id), move)
    return (ev.StepBegan(step.id),)


def _is_finished(state: State, step: Step) -> bool:
    """Whether a step that waits for numbers has them all."""
    if step.ask in ("reading", "pattern"):
        return next_spot(state, step) is None
    if step.ask == "specs":
        return not missing_specs(state)
    if step.ask == "creep":
        latest = state.latest("pinion_drag")
        return (
            latest is not None
            and latest.step == step.id
            and (in_spec(state, "pinion_drag") is not False or "pinion_drag" in state.unreachable)
        )
    return step.id in state.done


def _creep(state: State, step: Step) -> Events:
    """The next small turn on a crush sleeve, or a new sleeve when the drag has gone past its range."""
    chosen = correction(state, "creep", step)
    if isinstance(chosen, Unreachable):
        return (ev.LimitsUnreachable("pinion_drag", chosen.reason),)
    renewed = sum("crush_sleeve" in changed_parts(move) for move in state.moves_made if move.step == step.id)
    if "crush_sleeve" in changed_parts(chosen) and renewed >= _MOST_SLEEVES:
        return (ev.LimitsUnreachable("pinion_drag", state.phrases.sentence("unreachable.sleeves")),)
    if _turns_in_a_row(state) >= _MOST_TURNS:
        return (ev.LimitsUnreachable("pinion_drag", state.phrases.sentence("unreachable.turns")),)
    return (chosen,)


def _turns_in_a_row(state: State) -> int:
    """How often the nut was turned on the sleeve that is in."""
    turns = 0
    for move in reversed(state.moves_made):
        if "crush_sleeve" in changed_parts(move):
            break
        turns += "crush_nut" in changed_parts(move)
    return turns


def _finish(state: State, step: Step) -> Events:
    """What a step's end brings: what it spoils, then its mark."""
    events: list[ev.Event] = []
    ids = tuple(r.id for r in state.readings if r.void is None and r.quantity in step.voids and r.step != step.id)
    if ids:
        events.append(ev.Voided(ids, "changed", step.id))
    undone = tuple(step_id for step_id in state.procedure.matching(step.undoes) if step_id in state.done)
    if undone:
        events.append(ev.StepsUndone(undone, step.id))
    return (*events, ev.StepDone(step.id))


# ---- judging


def _is_satisfied(state: State, step: Step) -> bool:
    """Whether a judge step has nothing to do: the number is in its range, is not there yet, or cannot be helped."""
    quantity = step.quantity
    assert quantity is not None
    if quantity in state.unreachable:
        return True
    if quantity == "total_drag" and in_spec(state, "pinion_drag") is False:
        return True  # the pinion's own drag is wrong: carrier preload must not make up for it
    if quantity == "carrier_drag" and mesh_is_read_first(state):
        return True  # whatever the mesh asks for then goes in with the same packs
    if quantity == "pattern":
        # Numbers come before prints: a depth that the manual gives and the gauge confirms is not moved for a pattern.
        asks = all(is_complete(state, name) for name in PATTERNS) and state.job.limits("pinion_depth") is None
        # A print with loose bearings or a backlash outside its limits shows those, and moves no pinion (docs/trade.md, section 6).
        asks = asks and in_spec(state, "pinion_drag") is not False and in_spec(state, "backlash") is not False
        return not asks or pattern_asks(state) not in ("pinion in", "pinion out")
    return in_spec(state, quantity) is not False


def _judge(state: State, step: Step) -> Events:
    """What to do about a number that is out of its range."""
    quantity = step.quantity
    assert quantity is not None
    if step.redo:
        limits = state.job.limits(quantity)
        outside = [
            r
            for r in state.readings
            if r.quantity == quantity and r.void == "changed" and r.value and limits and not limits.allows(r.value)
        ]
        if len(outside) >= MOST_CHANGES:
            return (ev.LimitsUnreachable(quantity, state.phrases.sentence("unreachable.torque", quantity=state.phrases.name(quantity))),)
        gone = tuple(r.id for r in state.current(quantity))
        undone = tuple(step_id for step_id in state.procedure.matching(step.redo) if step_id in state.done)
        return (ev.Voided(gone, "changed", step.id), ev.StepsUndone(undone, step.id))
    if quantity == "ring_runout":
        alarm = doubts.runout_alarm(state)
        return (alarm,) if alarm else (ev.LimitsUnreachable(quantity, state.phrases.sentence("unreachable.runout")),)
    if sum(1 for move in state.moves_made if move.step == step.id) >= MOST_CHANGES:
        return (ev.LimitsUnreachable(quantity, state.phrases.sentence("unreachable.tries", quantity=state.phrases.name(quantity))),)
    chosen = spread_move(state, step) if quantity == "spread" else correction(state, quantity, step)
    return (ev.LimitsUnreachable(quantity, chosen.reason),) if isinstance(chosen, Unreachable) else (chosen,)


def failures(state: State) -> tuple[str, ...]:
    """Every needed quantity that is missing, void or out of its limits; a pattern counts as needed, but only by being there."""
    numbers = tuple(quantity for quantity in state.job.needed if in_spec(state, quantity) is not True)
    return (*numbers, *(pattern for pattern in PATTERNS if not is_complete(state, pattern)))


# ---- the answer to one input


def _answer(state: State, given: Input) -> Events:
    if isinstance(given, Quit):
        return (ev.Stopped(asked=False),)
    if isinstance(given, Bad):
        return (ev.Missed(given.text, "bad input"),)
    if isinstance(given, Start):
        return (ev.Missed(state.phrases.sentence("already_begun"), "bad input"),)
    if state.held and not isinstance(given, Said):
        return (ev.Missed(state.phrases.sentence("held"), "held"),)
    if isinstance(given, Taken):
        return _taken(state, given)
    if isinstance(given, Zeroed):
        return (ev.Asked.about_zero(given.channel, given.at),)
    if isinstance(given, Pedal):
        return _pedal(state)
    if isinstance(given, Unheard):
        return misheard.unheard(state, given)
    return _said(state, given)


def _pedal(state: State) -> Events:
    now = wait(state)
    assert now is not None
    if now.kind == "done":
        return _done(state)
    if now.kind == "confirm":
        return _yes(state)
    if now.kind == "caution":
        return (ev.Replied("repeat"),)
    return (ev.Missed(state.phrases.sentence("no_gauge" if now.kind == "reading" else "pedal_choice"), "pedal"),)


def _said(state: State, given: Said) -> Events:
    meant = understand(given.words, expectation(state))
    if isinstance(meant, Unclear):
        return (ev.Missed(state.phrases.sentence("held") if state.held else meant.question, meant.reason),)
    if isinstance(meant, Choice) and state.two is not None and meant.text in english.ONE_OF_TWO:
        chosen = misheard.one_of_two(state, meant.text, given.source)
        return _said(state, chosen) if isinstance(chosen, Said) else (chosen,)
    again = misheard.refused_before(state, meant, given)
    if again:
        return again
    pulled: Events = (ev.Pulled(given.words, given.instead),) if given.instead else ()
    if isinstance(meant, Value):
        return (*pulled, *_value(state, meant, given))
    if isinstance(meant, Choice):
        return (*pulled, *_choice(state, meant.text, given))
    return _command(state, meant)


def _value(state: State, meant: Value, given: Said) -> Events:
    now = open_wait(state)
    assert now.quantity is not None
    is_limit = _asks_for_a_limit(state)
    if not is_limit and _is_jammed(state, now.quantity, meant.quantity):
        return _jammed(state)
    if is_limit:
        reason = doubts.impossible_limit(state, now.quantity, now.part or "", meant.quantity)
    else:
        reason = doubts.impossible(state, now.quantity, meant.quantity)
    if reason is not None:
        return (ev.Missed(reason, "impossible"),)
    surprise = None if is_limit else doubts.doubtful(state, now.quantity, meant.quantity, now.spot, given.source)
    if surprise is not None:
        return (ev.Doubted(now.quantity, meant.quantity, now.spot, given.source, surprise.reason, surprise.looks),)
    question = given.doubted or (not is_limit and doubts.surprising_again(state, now.quantity, meant.quantity, now.spot, given.source))
    return (ev.Offered(now.quantity, meant.quantity, None, meant.form, given.source, question, *_figures(given)),)


def _is_jammed(state: State, quantity: str, value: Quantity) -> bool:
    """Whether no backlash at all was read, where the ring gear can be moved for it."""
    return quantity == "backlash" and value.value == 0 and state.correcting is None


def _jammed(state: State) -> Events:
    """Zero is never recorded: read again; and where it is zero again, the mesh is opened."""
    if state.refused != "jammed":
        return (ev.Missed(state.phrases.sentence("impossible.zero_backlash", looks=doubts.looks_at_jam(state)), "jammed"),)
    opened = [move for move in state.moves_made if move.quantity == "backlash"]
    move = opening_move(state) if len(opened) < MOST_CHANGES else None
    return (move,) if move is not None else (ev.Missed(state.phrases.sentence("impossible.stays_jammed"), "jammed"),)


def _figures(given: Said) -> tuple[float | None, float | None]:
    return given.posterior, given.fit


def _asks_for_a_limit(state: State) -> bool:
    step = state.step()
    return step is not None and step.ask == "specs" and state.correcting is None


def _choice(state: State, choice: str, given: Said) -> Events:
    now = open_wait(state)
    if state.alarm is not None and state.correcting is None:
        return _alarm_answer(state, state.alarm, choice)
    if now.quantity is not None and choice == NO_DEPTH:
        assert state.open_step is not None
        return (ev.Answered(state.open_step, choice),)
    if now.quantity is not None:
        return (ev.Offered(now.quantity, None, choice, "choice", given.source, given.doubted, *_figures(given)),)
    step = state.step()
    assert step is not None
    return (ev.Answered(step.id, choice), ev.StepDone(step.id))


def _alarm_answer(state: State, alarm: ev.AlarmRaised, answer: str) -> Events:
    events: list[ev.Event] = [ev.AlarmAnswered(alarm.id, answer)]
    suspect = next((one for one in alarm.likely if one.cause == answer), None)
    if suspect is None and answer != "measure again":
        return tuple(events)
    reading = state.reading(alarm.evidence[-1])
    redo = (*(suspect.redo if suspect else ()), reading.step)
    ids = tuple(r.id for r in state.readings if r.void is None and r.quantity == reading.quantity)
    # A reading of something that was not as it should be says nothing about how the axle answers.
    events.append(ev.Voided(ids or (reading.id,), "wrong", answer))
    undone = tuple(step for step in state.procedure.matching(redo) if step in state.done)
    others = tuple(r.id for r in state.readings if r.void is None and r.step in undone and r.id not in ids)
    if others:
        events.append(ev.Voided(others, "changed", answer))
    if undone:
        events.append(ev.StepsUndone(undone, answer))
    return _reachable(state, tuple(events), reading.step, answer)


def _reachable(state: State, events: Events, step_id: str, reason: str) -> Events:
    """`events`, which void a reading; where its step cannot be made as the axle stands now (a depth, with the case in), what was built on it
    is made again as well."""
    after = applied(state, events)
    if applies(after, after.procedure.step(step_id)):
        return events
    return (*events, *_back_to(after, step_id, reason))


def _command(state: State, meant: Command) -> Events:
    if meant.name in ("repeat", "why", "help", "what do you have", "what have you learned"):
        return (ev.Replied(meant.name),)
    if meant.name in ("take", "zero the gauge"):
        return (ev.Missed(state.phrases.sentence("no_gauge"), "no gauge"),)
    if meant.name == "hold":
        return (ev.Held(),)
    if meant.name == "resume":
        return (ev.Resumed(),)
    if meant.name == "stop":
        return (*((ev.Resumed(),) if state.held else ()), ev.Asked("stop", ""))
    if meant.name == "yes":
        return _yes(state)
    if meant.name == "no":
        return _no(state)
    if meant.name == "done":
        return _done(state)
    if meant.name == "understood":
        assert state.open_step is not None
        step = state.procedure.step(state.open_step)
        return (ev.CautionAccepted(step.id), *_begin(applied(state, (ev.CautionAccepted(step.id),)), step))
    if meant.name == "undo":
        return _undo(state)
    if meant.name == "change unit":
        return _change_unit(state, meant.argument or "", meant.gauge or "")
    if meant.name == "go back":
        return _go_back(state, meant.argument)
    assert meant.name == "correct"
    return _correct(state, meant.argument)


def _yes(state: State) -> Events:
    if state.asked is not None:
        return _asked_yes(state, state.asked)
    offered = state.offered
    assert offered is not None
    if offered.value is not None and _asks_for_a_limit(state):
        which = wait(state)
        assert which is not None
        return (ev.SpecGiven(offered.quantity, which.part or "", offered.value),)
    return record(state, offered.quantity, offered.value, offered.choice, offered.source)


def _asked_yes(state: State, asked: ev.Asked) -> Events:
    if asked.action == "stop":
        return (ev.Stopped(asked=True),)
    if asked.action == "correct":
        return (ev.Correcting(asked.argument),)
    if asked.action == "zero":
        return (ev.GaugeZeroed(*asked.zero),)
    if asked.action == "change unit":
        return (ev.GaugeUnitChanged(*asked.switched),)
    return _back_to(state, asked.argument, "go back")


def _back_to(state: State, step_id: str, reason: str) -> Events:
    """Everything from a step on is made again; what was read there has lost its ground.

    Where a pack is fitted anew instead of the change that was asked for, it was not as it should have been, nor was what was read on it.
    """
    order = [step.id for step in state.procedure.steps]
    later = order[order.index(step_id) :]
    gone = tuple(step for step in later if step in state.done)
    ids = tuple(r.id for r in state.standing if r.step in later)
    instead = state.move is not None and state.procedure.step(step_id).fits in (*changed_parts(state.move),)
    voided: Events = (ev.Voided(ids, "wrong" if instead else "changed", reason),) if ids else ()
    return (*voided, ev.StepsUndone(gone, reason))


def _no(state: State) -> Events:
    if state.taken_id is not None and state.taken_from is not None:
        return (ev.TakenBack(state.taken_id),)
    offered = state.offered
    if state.asked is not None or offered is None:
        return (ev.Dropped("question", None, None),)
    return (ev.Dropped(offered.quantity, offered.value, offered.choice),)


def _done(state: State) -> Events:
    step = state.step()
    assert step is not None
    if state.move is not None:
        return _move_made(state, state.move, step)
    if step.ask == "many" and not any(r.step == step.id and r.void is None for r in state.readings):
        return (ev.Missed(state.phrases.sentence("kit_empty"), "kit empty"),)
    return _finish(state, step)


def _move_made(state: State, move: ev.MoveProposed, step: Step) -> Events:
    """The change is in: what it spoils is void, and the walk goes back to what has to be made again."""
    rules = [state.procedure.rule(part) for part in changed_parts(move)]
    voids = {quantity for rule in rules for quantity in rule.voids}
    ids = tuple(r.id for r in state.readings if r.void is None and r.quantity in voids)
    globs = tuple(glob for rule in rules for glob in rule.undoes)
    undone = tuple(step_id for step_id in state.procedure.matching(globs) if step_id in state.done)
    events: list[ev.Event] = [ev.MoveMade(move.group)]
    if ids:
        events.append(ev.Voided(ids, "changed", move.group))
    if undone:
        events.append(ev.StepsUndone(undone, move.group))
    if step.fits is not None:
        events += _finish(applied(state, tuple(events)), step)
    return tuple(events)


def _undo(state: State) -> Events:
    if _asks_for_a_limit(state) and (state.specs_given or state.answer(state.open_step or "") == NO_DEPTH):
        return (ev.SpecTakenBack(*_last_limit(state)),)
    if not state.standing:
        return (ev.Missed(state.phrases.sentence("nothing_to_undo"), "undo"),)
    last = state.standing[-1]
    events: Events = (ev.Voided((last.id,), "wrong", "undo"), ev.StepsUndone((last.step,), "undo"))
    return _reachable(state, events, last.step, "undo")


def _last_limit(state: State) -> tuple[str, str]:
    """The limit that was told last: (quantity, which); that the manual gives no depth counts as one, at its place in the order asked."""
    order = state.procedure.requires
    told = [(quantity, which) for quantity, which, _ in state.specs_given]
    if state.answer(state.open_step or "") == NO_DEPTH and (not told or order.index(told[-1][0]) < order.index("pinion_depth")):
        return "pinion_depth", "target"
    return told[-1]


def _go_back(state: State, target: str | None) -> Events:
    steps = [step for step in done_steps(state) if step.ask != "judge"]
    if target is None and steps:
        target = steps[-1].id
    if target is None or target not in state.done:
        return (ev.Missed(state.phrases.sentence("nothing_to_go_back_to"), "go back"),)
    return (ev.Asked("go back", target),)


def _change_unit(state: State, unit: str, gauge: str) -> Events:
    """A gauge was switched; asked about, because every value of it hangs on the answer."""
    if gauge in CHANNELS and CHANNELS[gauge] is not unit_named(unit).dimension:
        text = state.phrases.sentence("gauge_unit_other", gauge=state.phrases.tongue.gauges[gauge], unit=state.phrases.say_unit(unit))
        return (ev.Missed(text, "gauge"),)
    return (ev.Asked.about_unit(gauge, unit),)


def _correct(state: State, quantity: str | None) -> Events:
    latest = state.latest(quantity) if quantity is not None else next(reversed(state.standing), None)
    if latest is None:
        name = state.phrases.name(quantity) if quantity is not None else ""
        return (ev.Missed(state.phrases.sentence("nothing_to_correct", quantity=name), "correct"),)
    return (ev.Asked("correct", latest.id),)


# ---- readings


def _taken(state: State, given: Taken) -> Events:
    now = wait(state)
    assert now is not None
    if now.kind != "reading" or now.quantity is None or now.unit is None or _asks_for_a_limit(state):
        return (ev.Missed(state.phrases.sentence("gauge_not_now", channel=state.phrases.choice(given.channel)), "gauge"),)
    here = Quantity.of("0", now.unit).dimension
    if given.value.dimension is not here or now.quantity in ("etch_old", "etch_new"):
        text = state.phrases.sentence(
            "gauge_wrong_kind",
            channel=state.phrases.choice(given.channel),
            value=state.phrases.say(given.value),
            quantity=state.phrases.name(now.quantity),
        )
        return (ev.Missed(text, "gauge"),)
    held = unit_held(state, gauge_named(given.channel), here)
    if held is not None and given.value.unit != held:
        text = state.phrases.sentence(
            "gauge_unit_held",
            channel=state.phrases.choice(given.channel),
            value=state.phrases.say(given.value),
            unit=state.phrases.say_unit(held),
        )
        return (ev.Missed(text, "gauge"),)
    if _is_jammed(state, now.quantity, given.value):
        return _jammed(state)
    reason = doubts.impossible(state, now.quantity, given.value)
    if reason is not None:
        return (ev.Missed(reason, "impossible"),)
    if given.unmoved and doubts.changed_since(state, now.quantity):
        # A number that has to be another one now: no second look at the same pointer makes it right.
        return record(state, now.quantity, given.value, None, "gauge", given)
    surprise = doubts.doubtful(state, now.quantity, given.value, now.spot, "gauge")
    if given.unmoved and not doubts.said_again(state, now.quantity, given.value, now.spot):
        surprise = doubts.Doubt(state.phrases.sentence("gauge_unmoved", channel=state.phrases.choice(given.channel)))
    if surprise is not None:
        return (ev.Doubted(now.quantity, given.value, now.spot, "gauge", surprise.reason, surprise.looks),)
    return record(state, now.quantity, given.value, None, "gauge", given)


def record(state: State, quantity: str, value: Quantity | None, choice: str | None, source: str, gauge: Taken | None = None) -> Events:
    """A reading goes on disk; with it, at its step's last place, the step's end, and an alarm when the number does not add up."""
    now = wait(state)
    assert now is not None
    replaced = state.reading(state.correcting) if state.correcting is not None else None
    step_id = replaced.step if replaced is not None else state.open_step
    assert step_id is not None
    recorded = ev.Recorded(
        id=f"r{state.reading_count + 1}",
        step=step_id,
        quantity=quantity,
        value=value,
        choice=choice,
        spot=now.spot,
        part=now.part,
        source=source,
        gauge=(gauge.gauge or gauge.channel) if gauge is not None else "",
        raw=gauge.raw if gauge is not None else "",
        replaces=replaced.id if replaced is not None else None,
    )
    events: list[ev.Event] = [recorded]
    after = evolve(state, recorded)
    step = state.procedure.step(step_id)
    if replaced is None and step.ask != "many":
        if _is_finished(after, step):
            finished = _finish(after, step)
            events += finished
            after = applied(after, finished)
        reading = after.reading(recorded.id)
        stuck = gauge is not None and gauge.unmoved and doubts.changed_since(state, quantity)
        alarm = doubts.stuck_alarm(state, after, reading) if stuck else doubts.alarm_at(state, after, reading)
        if alarm is not None:
            events.append(alarm)
    return tuple(events)


def restarted(state: State) -> Events:
    """What resuming a stopped job brings."""
    return (ev.WentOn(),) if state.stopped else ()


def waiting_for(state: State) -> Wait | None:
    """What the job waits for now."""
    return wait(replace(state, stopped=False))
