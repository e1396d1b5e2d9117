"""(state, events) → effects: what is said, shown and printed about what happened. Pure, and every word comes from the phrases.

One batch for one input: lines for each event in order, then the prompt for what is waited for now (unless the last event was one), then
exactly one `wait` or `end`.
"""

from collections import Counter
from collections.abc import Sequence
from functools import singledispatch
from typing import Any

from assistant.core import events as ev
from assistant.core import predictions as pr
from assistant.core.axle import NO_DEPTH, PATTERNS, Limits
from assistant.core.effects import Effect, Line, speak
from assistant.core.evolve import evolve
from assistant.core.learned import all_learned_words, learned_words
from assistant.core.misheard import named
from assistant.core.moves import mesh_is_read_first, most_telling, opposed_prints, pattern_asks, start_move
from assistant.core.quantities import Quantity
from assistant.core.state import Reading, State, Wait, in_spec, is_complete
from assistant.core.steps import Step
from assistant.core.waits import wait

# These end a batch with their own question or instruction; after anything else the prompt is said.
_PROMPTS = (
    ev.StepBegan, ev.CautionShown, ev.MoveProposed, ev.AlarmRaised, ev.Offered, ev.Dropped, ev.Asked, ev.Missed, ev.Misheard,
    ev.TwoOffered, ev.TwoRefused, ev.Doubted, ev.Replied, ev.Held, ev.Stopped, ev.Ended,
)  # fmt: skip


def show(before: State, events: Sequence[ev.Event]) -> tuple[Effect, ...]:
    """The whole batch for one input. before: the state that the events change."""
    effects: list[Effect] = []
    state = before
    for event in events:
        earlier, state = state, evolve(state, event)
        effects += _shown(event, earlier, state)
    if events and not isinstance(events[-1], _PROMPTS) and state.verdict is None:
        effects.append(speak(prompt(state), "ask"))
    return (*effects, ending(state))


def ending(state: State) -> Effect:
    """The `wait` or `end` line that closes every batch."""
    now = wait(state)
    if state.stopped or now is None:
        return Effect("end", {"verdict": state.verdict or "stopped", "job": state.job_id, "failed": list(state.failed)})
    return Effect("wait", wait_line(state, now))


def where_it_stands(state: State) -> tuple[Effect, ...]:
    """What resuming shows before the wait: every reading that was accepted, void ones too, then the open step, caution, move and alarm."""
    effects = [Effect("recorded", {**_recorded(r), "replayed": True}) for r in state.readings]
    step = state.step()
    if step is not None and state.caution_open:
        effects.append(_caution(state, step))
    elif step is not None:
        effects.append(_step(state, step))
    if state.move is not None:
        effects += _move_lines(state.move)
    if state.alarm is not None:
        effects.append(_alarm(state.alarm))
    if state.verdict is None:
        effects.append(speak(prompt(state), "ask"))
    return (*effects, ending(state))


# ---- lines


def wait_line(state: State, now: Wait) -> Line:
    """The body of a `wait` line: only what applies is there."""
    line: Line = {"for": now.kind}
    for key, value in (("quantity", now.quantity), ("part", now.part), ("unit", now.unit)):
        if value is not None:
            line[key] = value
    if now.spots:
        line["spot"] = _spot(now.spot, now.spots)
    if now.value is not None:
        line["value"] = now.value.json()
    elif now.choice is not None:
        line["value"] = now.choice
    if now.choices:
        line["choices"] = list(now.choices)
    line["commands"] = list(now.commands)
    step = state.step()
    if now.kind == "reading" and now.quantity is not None and now.unit is not None and (step is None or step.ask != "specs"):
        predicted = pr.foretold(state, now.quantity, now.unit, now.spot)
        if predicted is not None:
            line["predicted"] = {"value": predicted.value.text, "spread": predicted.spread.text}
    return line


def _spot(index: int, of: int) -> Line:
    degrees = pr.degrees_of(index, of)
    return {"index": index, "of": of, "degrees": int(degrees) if degrees == int(degrees) else round(degrees, 1)}


def _step(state: State, step: Step) -> Effect:
    return Effect("step", {"id": step.id, "phase": step.phase, "kind": step.kind, "title": state.phrases.steps[step.text].title})


def _caution(state: State, step: Step) -> Effect:
    return Effect("caution", {"id": step.id, "before": step.caution, "text": state.phrases.steps[step.text].caution})


def _recorded(reading: Reading) -> Line:
    value: Any = reading.choice if reading.value is None else reading.value.text
    unit = reading.value.unit if reading.value is not None else None
    return {
        "id": reading.id,
        "quantity": reading.quantity,
        "value": value,
        "unit": unit,
        "spot": reading.spot or None,
        "part": reading.part,
        "replaces": reading.replaces,
    }


def _move_lines(move: ev.MoveProposed) -> list[Effect]:
    expect: Line | None = None
    if move.expected is not None and move.low is not None and move.high is not None:
        expect = {
            "quantity": move.quantity,
            "value": move.expected.text,
            "low": move.low.text,
            "high": move.high.text,
            "unit": move.expected.unit,
        }
    return [
        Effect(
            "move",
            {
                "group": move.group,
                "part": change.part,
                "from": change.before.json(),
                "to": change.after.json(),
                "change": change.change.json(),
                "stack": [shim.json() for shim in change.stack],
                "expect": expect,
                "chance": None if move.chance is None else format(move.chance, "f"),
                "why": move.why,
            },
        )
        for change in move.changes
    ]


def _alarm(alarm: ev.AlarmRaised) -> Effect:
    likely = [{"cause": s.cause, "odds": format(s.odds, "f"), "check": s.check} for s in alarm.likely]
    return Effect("alarm", {"id": alarm.id, "text": alarm.text, "evidence": list(alarm.evidence), "likely": likely})


# ---- one event


@singledispatch
def _shown(event: ev.Event, before: State, after: State) -> list[Effect]:
    """Most events are not shown by themselves: what follows from them is."""
    return []


@_shown.register
def _(event: ev.CautionShown, before: State, after: State) -> list[Effect]:
    step = after.procedure.step(event.step)
    return [_caution(after, step), speak(caution_words(after, step), "warn")]


@_shown.register
def _(event: ev.StepBegan, before: State, after: State) -> list[Effect]:
    step = after.procedure.step(event.step)
    effects = [_step(after, step)]
    # Where a pack is fitted, the move that follows says what to do.
    if step.fits is None or after.move is not None:
        words = instruction(after, step, is_known=step.id in before.seen and step.caution is None)
        effects.append(speak(words, "ask" if step.kind in ("measure", "decide") else "info"))
    return effects


@_shown.register
def _(event: ev.MoveProposed, before: State, after: State) -> list[Effect]:
    lines = _move_lines(event)
    if not event.start:
        lines.insert(0, _step(after, after.procedure.step(event.step)))
    return [*lines, speak(move_words(after, event), "info")]


@_shown.register
def _(event: ev.Offered, before: State, after: State) -> list[Effect]:
    return [speak(offered_words(after, event), "ask")]


@_shown.register
def _(event: ev.Dropped, before: State, after: State) -> list[Effect]:
    if event.quantity == "question":
        return [speak(prompt(after), "ask")]
    now = wait(after)
    place = _quantity_at(after, event.quantity, now.spot, 0) if now is not None else after.phrases.name(event.quantity)
    return [speak(after.phrases.sentence("dropped", quantity=place), "ask")]


@_shown.register
def _(event: ev.Doubted, before: State, after: State) -> list[Effect]:
    return [speak(event.reason, "warn")]


@_shown.register
def _(event: ev.Recorded, before: State, after: State) -> list[Effect]:
    reading = after.reading(event.id)
    return [Effect("recorded", _recorded(reading)), speak(recorded_words(after, reading))]


@_shown.register
def _(event: ev.Voided, before: State, after: State) -> list[Effect]:
    if event.why == "wrong":
        if event.reason != "undo":
            return []
        reading = before.reading(event.ids[-1])
        return [speak(after.phrases.sentence("undone", quantity=_named(after, reading), value=_value_words(after, reading)))]
    gone = dict.fromkeys(before.reading(reading_id).quantity for reading_id in event.ids)
    step = after.step()
    if step is not None and step.ask == "creep" and list(gone) == [step.quantity]:
        return []  # the next words ask for it again, after every turn of the nut
    return [speak(after.phrases.sentence("void", quantities=_list(after, [after.phrases.name(quantity) for quantity in gone])))]


@_shown.register
def _(event: ev.StepsUndone, before: State, after: State) -> list[Effect]:
    if event.reason not in {step.id for step in after.procedure.steps if step.redo}:
        return []
    step = after.procedure.step(event.reason)
    return [speak(after.phrases.sentence("make_again", quantity=after.phrases.name(step.quantity or "")), "warn")]


@_shown.register
def _(event: ev.SpecGiven, before: State, after: State) -> list[Effect]:
    name = after.phrases.name(event.quantity)
    return [
        speak(
            after.phrases.sentence("spec_given", which=after.phrases.name(event.which), quantity=name, value=after.phrases.say(event.value))
        )
    ]


@_shown.register
def _(event: ev.SpecTakenBack, before: State, after: State) -> list[Effect]:
    which, name = after.phrases.name(event.which), after.phrases.name(event.quantity)
    value = next((value for quantity, side, value in before.specs_given if (quantity, side) == (event.quantity, event.which)), None)
    if value is None:
        return [speak(after.phrases.sentence("depth_undone"))]
    return [speak(after.phrases.sentence("spec_undone", which=which, quantity=name, value=after.phrases.say(value)))]


@_shown.register
def _(event: ev.Answered, before: State, after: State) -> list[Effect]:
    key = "depth_by_pattern" if event.choice == NO_DEPTH else "noted"
    return [speak(after.phrases.sentence(key, choice=after.phrases.choice(event.choice)))]


@_shown.register
def _(event: ev.AlarmRaised, before: State, after: State) -> list[Effect]:
    return [_alarm(event), speak(alarm_words(after, event), "stop")]


@_shown.register
def _(event: ev.AlarmAnswered, before: State, after: State) -> list[Effect]:
    key = {"nothing found": "alarm_nothing", "measure again": "alarm_again"}.get(event.answer, "alarm_found")
    # At a first alarm only the first check was said.
    alarm = before.alarm
    unsaid = [each for each in alarm.likely if each.check not in alarm.text] if alarm is not None else []
    check = next((f" {each.check}" for each in unsaid if each.cause == event.answer), "")
    return [speak(after.phrases.sentence(key, cause=after.phrases.choice(event.answer), check=check))]


@_shown.register
def _(event: ev.LimitsUnreachable, before: State, after: State) -> list[Effect]:
    if event.quantity == "pattern":  # a check: it never fails a job
        return [speak(event.reason)]
    return [speak(f"{event.reason} {after.phrases.sentence('unreachable.goes_on', quantity=after.phrases.name(event.quantity))}", "warn")]


@_shown.register
def _(event: ev.Asked, before: State, after: State) -> list[Effect]:
    return [speak(asked_words(after, event), "ask")]


@_shown.register
def _(event: ev.GaugeUnitChanged, before: State, after: State) -> list[Effect]:
    return [
        speak(after.phrases.sentence("gauge_unit_changed", gauge=gauge_words(after, event.gauge), unit=after.phrases.say_unit(event.unit)))
    ]


@_shown.register
def _(event: ev.GaugeZeroed, before: State, after: State) -> list[Effect]:
    return [speak(after.phrases.sentence("gauge_zeroed", gauge=gauge_words(after, event.gauge), value=after.phrases.say(event.offset)))]


@_shown.register
def _(event: ev.Replied, before: State, after: State) -> list[Effect]:
    return [speak(reply(after, event.command))]


@_shown.register
def _(event: ev.Missed, before: State, after: State) -> list[Effect]:
    return [Effect("error", {"text": event.question}), speak(event.question, "ask")]


@_shown.register
def _(event: ev.Misheard, before: State, after: State) -> list[Effect]:
    return [Effect("error", {"text": event.question}), speak(event.question, "ask")]


@_shown.register
def _(event: ev.TwoOffered, before: State, after: State) -> list[Effect]:
    return [speak(two_words(after, event), "ask")]


@_shown.register
def _(event: ev.TwoRefused, before: State, after: State) -> list[Effect]:
    now = wait(after)
    return [speak(after.phrases.sentence("keys.reading" if now is not None and now.kind == "reading" else "keys.choice"), "ask")]


@_shown.register
def _(event: ev.Held, before: State, after: State) -> list[Effect]:
    return [speak(after.phrases.sentence("holding"))]


@_shown.register
def _(event: ev.Resumed, before: State, after: State) -> list[Effect]:
    return [speak(after.phrases.sentence("listening"))]


@_shown.register
def _(event: ev.TakenBack, before: State, after: State) -> list[Effect]:
    reading = before.reading(event.id)
    words = after.phrases.sentence("undone", quantity=_named(after, reading), value=_value_words(after, reading))
    step = after.step()
    # The reading may have ended its step: then the bench is back at it.
    again = [_step(after, step)] if step is not None and step.id != before.open_step else []
    return [speak(words), *again]


@_shown.register
def _(event: ev.Stopped, before: State, after: State) -> list[Effect]:
    return [speak(after.phrases.sentence("stopped"))]


@_shown.register
def _(event: ev.Ended, before: State, after: State) -> list[Effect]:
    if event.failed:
        failed = _list(after, [after.phrases.name(quantity) for quantity in event.failed])
        return [speak(after.phrases.sentence("end_out", quantities=failed), "warn")]
    return [speak(after.phrases.sentence("end_in"))]


# ---- words


def prompt(state: State) -> str:
    """What is waited for now, as it is said: the last words once more for whoever did not catch them."""
    if state.held:
        return state.phrases.sentence("held")
    if state.asked is not None:
        return asked_words(state, state.asked)
    if state.offered is not None:
        return offered_words(state, state.offered)
    if state.two is not None:
        return two_words(state, state.two)
    now = wait(state)
    if state.correcting is not None and now is not None and now.quantity is not None:
        return state.phrases.sentence("correct_now", quantity=_quantity_at(state, now.quantity, now.spot, now.spots))
    if state.alarm is not None:
        return alarm_words(state, state.alarm)
    step = state.step()
    if step is None:
        return state.phrases.sentence("job_over")
    if state.caution_open:
        return caution_words(state, step)
    if state.move is not None:
        return move_words(state, state.move)
    return instruction(state, step)


def caution_words(state: State, step: Step) -> str:
    """A caution as it is said; how it is accepted is told with the first one and again when it was not."""
    text = state.phrases.steps[step.text].caution
    told = any(other.caution is not None and other.id in state.done for other in state.procedure.steps) and not state.misses
    return text if told else f"{text} {state.phrases.sentence('caution_waits')}"


def instruction(state: State, step: Step, *, is_known: bool = False) -> str:
    """What a step asks for: in full at its first place, then only the place; with the manual's figure where it has one.

    is_known: it was shown before, so that its title is enough; "repeat" gives it in full.
    """
    now = wait(state)
    text = state.phrases.steps[step.text]
    if step.ask == "specs" and now is not None and now.quantity is not None and now.unit is not None:
        which, name = state.phrases.name(now.part or ""), state.phrases.name(now.quantity)
        asked = state.phrases.sentence("spec_wanted", which=which, quantity=name, unit=state.phrases.say_unit(now.unit))
        asked += f" {state.phrases.sentence('depth_or_none')}" if now.choices else ""
        return asked if any(state.specs_given) else f"{text.say} {asked}"
    measured = sum(1 for reading in state.standing if reading.step == step.id) if step.ask == "many" else 0
    if measured:
        return state.phrases.sentence("next_of_many", count=state.phrases.say_count(measured))
    if step.ask == "creep" and any(r.step == step.id for r in state.readings):
        return state.phrases.sentence("creep_again")
    if now is not None and now.spots and now.spot > 1 and step.quantity is not None:
        return state.phrases.sentence("next_spot", place=_place(state, now.spot, now.spots))
    figure = _figure(state, step)
    place = f" {state.phrases.sentence('first_spot', spots=state.phrases.say_count(now.spots))}" if now is not None and now.spots else ""
    # The word that ends a step is told with the first few.
    end = f" {state.phrases.sentence('say_done')}" if step.ask == "done" and len(state.done) < _LEARNERS_STEPS else ""
    return f"{f'{text.title}.' if is_known else _on_this_axle(state, step)}{place}{figure}{end}"


def _on_this_axle(state: State, step: Step) -> str:
    """What a step says to do, with the sides, seats, parts and counts of this axle filled in."""
    axle, phrases = state.job.axle, state.phrases
    locks = f" {phrases.sentence('locks.adjusters')}" if axle.carrier == "adjusters" else ""
    return phrases.steps[step.text].say.format(
        ring_side=phrases.choice(axle.ring_gear_side),
        opposite=phrases.choice(axle.opposite_side),
        seat=phrases.sentence(f"seat.{axle.pinion_shims}"),
        pinion=phrases.sentence(f"pinion.{axle.pinion_shims}"),
        keep=phrases.sentence(f"keep.{axle.carrier}"),
        back=_as_it_stood(state),
        locks=locks,
        ring_teeth=phrases.say_count(axle.ring_teeth),
        pinion_teeth=phrases.say_count(axle.pinion_teeth),
    )


def _as_it_stood(state: State) -> str:
    """How the side bearings go back with the case; with the blank before it, and empty at the first fit.

    The marks on the adjusters are where the count began. After a move they no longer stand there, so the count itself is said.
    """
    axle, phrases = state.job.axle, state.phrases
    if axle.carrier != "adjusters":
        return f" {phrases.sentence(f'back.{axle.carrier}')}" if "carrier.fit_case" in state.done else ""
    if "carrier.zero_play" not in state.done:
        return ""
    packs = [state.pack(part) for part in ("ring_side_adjuster", "opposite_adjuster")]
    ring, opposite = (pack.total if pack is not None else Quantity.of("0", "notch") for pack in packs)
    if ring.value == opposite.value == 0:
        return f" {phrases.sentence('back.marks')}"
    told = phrases.sentence(
        "back.notches",
        ring_side=phrases.choice(axle.ring_gear_side),
        ring=_from_the_mark(state, ring),
        opposite_side=phrases.choice(axle.opposite_side),
        opposite=_from_the_mark(state, opposite),
    )
    return f" {told}"


def _from_the_mark(state: State, count: Quantity) -> str:
    if count.value == 0:
        return state.phrases.sentence("mark.at")
    return state.phrases.sentence("mark.tighter" if count.value > 0 else "mark.looser", change=state.phrases.say_change(count))


def _figure(state: State, step: Step) -> str:
    """The manual's figure for a torque or a measurement, as it was given to us; never one of ours."""
    quantity = step.quantity or _TORQUE_OF.get(step.id)
    limits = state.job.limits(quantity) if quantity is not None and quantity != "pattern" else None
    if limits is None or quantity is None or step.ask == "judge":
        return ""
    return f" {state.phrases.sentence('figure', limits=limit_words(state, limits))}"


_LEARNERS_STEPS = 6
# Torque steps whose figure stands in the job.
_TORQUE_OF = {
    "preload.nut": "nut_torque",
    "final.nut": "nut_torque",
    "final.nut_after_seal": "nut_torque",
    "depth.caps": "cap_torque",
    "carrier.caps": "cap_torque",
    "final.locks": "cap_torque",
}


def limit_words(state: State, limits: Limits) -> str:
    """The limits as they are said: a range, "up to …", "at least …"."""
    if limits.low is not None and limits.high is not None:
        return state.phrases.say_range(limits.low, limits.high)
    if limits.high is not None:
        return state.phrases.sentence("limits.up_to", high=state.phrases.say(limits.high))
    return state.phrases.sentence("limits.at_least", low=state.phrases.say(limits.low)) if limits.low is not None else ""


def offered_words(state: State, offered: ev.Offered) -> str:
    """The read-back: the value in another form than it was said, its unit, and before the question whether it lies outside its limits."""
    if offered.value is None:
        return f"{state.phrases.choice(offered.choice or '')}?"
    words = state.phrases.read_back(offered.value, offered.form) if state.repeats < 2 else state.phrases.say(offered.value, "digits")
    where = _outside(state, offered.quantity, offered.value)
    if offered.question:
        now = wait(state)
        expected = pr.law(state, offered.quantity, now.spot if now is not None else 0)
        if expected is not None:
            wanted = state.phrases.say(pr.quantity_of(expected.mean, offered.value.unit))
            return state.phrases.sentence("read_back_surprise", value=words, expected=wanted)
    return f"{words}{where}?"


def _outside(state: State, quantity: str, value: Quantity) -> str:
    """ ", below three": how a value misses the manual's range; empty when it does not, or where a mean or a minimum decides."""
    limits = state.job.limits(quantity)
    step = state.step()
    if limits is None or limits.judge != "all" or (step is not None and step.ask == "specs" and state.correcting is None):
        return ""
    where = limits.side_of(value.base)
    missed = {"below": limits.low, "above": limits.high}.get(where)
    return f", {state.phrases.sentence(where, limit=state.phrases.say(missed))}" if missed is not None else ""


def recorded_words(state: State, reading: Reading) -> str:
    """What is said once a reading is on disk: a gauge's value in words (with the exact conversion), and whether the range is met."""
    words = state.phrases.sentence("recorded")
    if reading.value is not None and reading.source == "gauge":
        words = state.phrases.sentence("taken", value=state.phrases.say(reading.value))
        unit = state.job.unit_of(reading.quantity)
        if unit != reading.value.unit:
            words = state.phrases.sentence(
                "taken_converted", value=state.phrases.say(reading.value), converted=state.phrases.say(_as_shown(reading.value, unit))
            )
    words += _first_pack_words(state, reading)
    if not is_complete(state, reading.quantity):
        return words
    verdict = in_spec(state, reading.quantity)
    if reading.quantity == "ring_runout" and not verdict:
        return words  # the alarm that follows says it
    if reading.quantity == "pattern_coast" and is_complete(state, "pattern_drive"):
        return f"{words} {pattern_words(state)}"
    if verdict is None:
        return words
    words = f"{words} {state.phrases.sentence('in_range' if verdict else 'out_of_range', quantity=state.phrases.name(reading.quantity))}"
    if reading.quantity == "carrier_drag" and verdict is False and mesh_is_read_first(state):
        words = f"{words} {state.phrases.sentence('mesh_first')}"
    return f"{words} {state.phrases.sentence('overloaded')}" if _is_overloaded(state, reading) else words


def _first_pack_words(state: State, reading: Reading) -> str:
    """After a correction of what a first pack was chosen by: the way to the other pack; with the blank before it, empty where there is none."""
    rests_on = {
        "old_stack_thickness": reading.part,
        "stack_thickness": reading.part,
        "etch_new": "pinion_shims",
        "etch_old": "pinion_shims",
    }
    part = rests_on.get(reading.quantity)
    if reading.replaces is None or part is None or state.pack(part) is None:
        return ""
    step = next(step for step in state.procedure.steps if step.fits == ("ring_side_shims" if part == "opposite_shims" else part))
    move = start_move(state, step)
    if move is None or all(change.change.value == 0 for change in move.changes):
        return ""
    title = state.phrases.steps[step.text].title
    return f" {state.phrases.sentence('first_pack', part=state.phrases.name(part), step=title)}"


def _is_overloaded(state: State, reading: Reading) -> bool:
    """Whether the bearings were squeezed so hard that they may bear marks: a drag of three times the manual's most (assumed)."""
    limits = state.job.limits(reading.quantity)
    if limits is None or limits.high is None or reading.value is None or not reading.quantity.endswith("drag"):
        return False
    return reading.value.base > 3 * limits.high.base


def _as_shown(value: Quantity, unit: str) -> Quantity:
    """A converted value with the decimals that a technician expects of that unit."""
    return pr.quantity_of(pr.size(value), unit)


def pattern_words(state: State) -> str:
    """What the two flanks together say, and what follows from it."""
    for quantity in PATTERNS:
        opposed = opposed_prints(state, quantity)
        if opposed is not None:
            first, second = opposed
            return state.phrases.sentence(
                "pattern.opposed",
                quantity=state.phrases.name(quantity),
                first=state.phrases.choice(first.choice or ""),
                first_spot=state.phrases.say_count(first.spot),
                second=state.phrases.choice(second.choice or ""),
                second_spot=state.phrases.say_count(second.spot),
            )
    asks = pattern_asks(state)
    if asks is None:
        return state.phrases.sentence("pattern.none")
    numbers_first = asks.startswith("pinion") and state.job.limits("pinion_depth") is not None
    return state.phrases.sentence(
        "pattern.numbers_first" if numbers_first or asks.startswith("ring") else "pattern.asks", way=state.phrases.choice(asks)
    )


def move_words(state: State, move: ev.MoveProposed) -> str:
    """A change as it is said: what comes before it, what to do part by part, the pack to fit, what to expect, the chance when it is low, and why."""
    first = words_before(state, move)
    words = [first] if first else []
    if not move.start or state.procedure.step(move.step).fits != "crush_sleeve":  # the step that fits the first sleeve says all of it
        words.append(f" {state.phrases.sentence('then')} ".join(_change_words(state, change) for change in move.changes))
    if move.expected is not None and not move.start:
        words.append(state.phrases.sentence("expect", quantity=state.phrases.name(move.quantity), value=_said(state, move.expected)))
    creeping = any(change.part == "crush_nut" for change in move.changes)  # a small turn is not meant to land yet
    if move.chance is not None and move.chance * 100 < 60 and not move.start and not creeping:
        words.append(state.phrases.sentence("chance", percent=state.phrases.say_count(int(move.chance * 100))))
        helps = most_telling(state, move)
        read = next(
            (
                step
                for step in reversed(state.procedure.steps)
                if step.quantity == helps and step.ask == "reading" and step.id in state.done
            ),
            None,
        )
        if helps is not None and read is not None:
            title = state.phrases.steps[read.text].title
            words.append(state.phrases.sentence("chance_helps", quantity=state.phrases.name(helps), step=title))
    words.append(move.why)
    fitting = [step for step in state.procedure.steps if step.fits in {change.part for change in move.changes if change.stack}]
    if fitting and not move.start:
        words.append(state.phrases.sentence("come_out", step=state.phrases.steps[fitting[0].text].title))
    return " ".join(words)


def words_before(state: State, move: ev.MoveProposed) -> str:
    """What is said before a change: of a first pack where the parts go, of any other what has to come off; empty where there is nothing."""
    step = state.procedure.step(move.step)
    if move.start:
        return _on_this_axle(state, step) if step.fits is not None else ""
    return " ".join(state.phrases.sentence(f"apart.{what}") for what in _comes_apart(state, {change.part for change in move.changes}))


def _comes_apart(state: State, parts: set[str]) -> list[str]:
    """What has to come off before these parts can be changed, in its order: heavy or under load, so it is said with its hazard.

    Source: the cautions of docs/trade.md, section 8 (lift, cap bolts out, press off); bolts slack before adjusters: common practice, no source.
    """
    axle = state.job.axle
    if parts & {"ring_side_adjuster", "opposite_adjuster"}:
        return ["adjusters"]
    if parts & {"ring_side_shims", "opposite_shims"}:
        return ["case", "cones"] if axle.carrier == "case-shims" else ["case"]
    if "pinion_shims" in parts and axle.pinion_shims == "flange":
        return ["cartridge"]
    if parts & {"pinion_shims", "preload_shims"}:
        is_out = "final.case_out" in state.done and "final.case_in" not in state.done
        in_the_way = ["case"] if axle.pinion_shims != "flange" and "carrier.fit_case" in state.done and not is_out else []
        return [*in_the_way, "head" if "pinion_shims" in parts else "tail"]
    return []


def _said(state: State, value: Quantity) -> str:
    """A value in words; figure by figure when it was asked for twice and more."""
    return state.phrases.say(value, "digits" if state.repeats > 1 else "long")


def _change_words(state: State, change: ev.Change) -> str:
    name = state.phrases.name(change.part)
    if change.change.unit == "notch":
        side = state.job.axle.ring_gear_side if change.part.startswith("ring") else state.job.axle.opposite_side
        key = "tighten" if change.change.value > 0 else "loosen"
        return state.phrases.sentence(key, part=name, side=state.phrases.choice(side), change=state.phrases.say_change(change.change))
    if change.part == "crush_sleeve":
        return state.phrases.sentence("new_sleeve")
    if change.part == "crush_nut":
        return state.phrases.sentence("turn_nut", part=name, change=state.phrases.say_change(change.change))
    pack = pack_words(state, change.stack)
    if change.change.value == 0:
        return state.phrases.sentence("fit_pack", part=name, pack=pack, total=_said(state, change.after))
    key = "thicker" if change.change.value > 0 else "thinner"
    return state.phrases.sentence(
        f"fit_{key}", part=name, pack=pack, total=_said(state, change.after), change=state.phrases.say_change(change.change)
    )


def pack_words(state: State, stack: Sequence[Quantity]) -> str:
    """ "two of five thousandths and one of ten thousandths"; millimetres are named once, at the end of the pack, where all are in them."""
    counts = list(Counter(stack).items())
    once = all(shim.unit == "mm" for shim, _ in counts) and state.repeats < 2
    said = [
        state.phrases.say(shim, "short") if once and place < len(counts) else _said(state, shim)
        for place, (shim, _) in enumerate(counts, 1)
    ]
    return _list(state, [_some_of(state, count, words) for (_, count), words in zip(counts, said, strict=True)])


def _some_of(state: State, count: int, shim: str) -> str:
    if count == 1:
        return state.phrases.sentence("pack.one", shim=shim)
    return state.phrases.sentence("pack.many", count=state.phrases.say_count(count), shim=shim)


def alarm_words(state: State, alarm: ev.AlarmRaised) -> str:
    """An alarm as it is said: what does not add up, what to check first, and what can be answered."""
    causes = [state.phrases.choice(suspect.cause) for suspect in alarm.likely]
    return f"{alarm.text} {state.phrases.sentence('alarm_choices', causes=_list(state, causes, 'or'))}"


def two_words(state: State, two: ev.TwoOffered) -> str:
    """Which of the two was it?"""
    first, second = (named(state, words) for words in two.words)
    return state.phrases.sentence("two_offered", first=first, second=second)


def asked_words(state: State, asked: ev.Asked) -> str:
    """A yes/no question about the job."""
    if asked.action == "stop":
        return state.phrases.sentence("ask_stop")
    if asked.action == "correct":
        reading = state.reading(asked.argument)
        return state.phrases.sentence("ask_correct", quantity=_named(state, reading), value=_value_words(state, reading))
    if asked.action == "zero":
        gauge, offset = asked.zero
        return state.phrases.sentence("ask_zero", gauge=gauge_words(state, gauge), value=state.phrases.say(offset))
    if asked.action == "change unit":
        gauge, unit = asked.switched
        return state.phrases.sentence("ask_change_unit", gauge=gauge_words(state, gauge), unit=state.phrases.say_unit(unit))
    return state.phrases.sentence("ask_go_back", step=state.phrases.steps[state.procedure.step(asked.argument).text].title)


def gauge_words(state: State, gauge: str) -> str:
    """A gauge as it is said: a channel of the interface by its spoken name, any other by its own; "the gauge" where none was named."""
    name = state.phrases.tongue.gauges.get(gauge, gauge)
    return state.phrases.sentence("the_gauge", name=name) if name else state.phrases.sentence("any_gauge")


def reply(state: State, command: str) -> str:
    """The answer to repeat, why, help, what do you have and what have you learned."""
    if command == "why":
        return why(state)
    if command == "what do you have":
        return readings_words(state)
    if command == "what have you learned":
        return all_learned_words(state)
    if command == "help":
        now = wait(state)
        said = [] if now is None else [*map(state.phrases.choice, now.choices), *map(state.phrases.command, now.commands)]
        return state.phrases.sentence(
            "help_reading" if now is not None and now.kind == "reading" else "help", words=_list(state, said, "or")
        )
    return reply(state, state.last_reply) if state.last_reply is not None else prompt(state)


def why(state: State) -> str:
    """The reason of what is waited for now."""
    if state.alarm is not None:
        first = state.alarm.likely[0]
        return state.phrases.sentence("why_alarm", cause=state.phrases.choice(first.cause), check=first.check)
    now = wait(state)
    quantity = state.move.quantity if state.move is not None else now.quantity if now is not None else None
    learned = learned_words(state, quantity) if quantity is not None else ""
    return f"{_reason(state)} {learned}".rstrip()


def _reason(state: State) -> str:
    if state.move is not None:
        return state.move.why
    step = state.step()
    return state.phrases.steps[step.text].why if step is not None else state.phrases.sentence("job_over")


def readings_words(state: State) -> str:
    """The standing readings of the quantity that is read now; else the last few."""
    now = wait(state)
    quantity = now.quantity if now is not None else None
    standing = [r for r in state.readings if r.void is None and (quantity is None or r.quantity == quantity)][-6:]
    if not standing:
        return state.phrases.sentence("have_nothing")
    # A pause between place and value: "place one, one three" are two numbers, "place one one three" is another one.
    said = [f"{_named(state, r)}: {_value_words(state, r)}" for r in standing]
    return state.phrases.sentence("have", readings="; ".join(said))


def _named(state: State, reading: Reading) -> str:
    """What a reading is of: the quantity, its place round the ring, and which of several packs."""
    name = _quantity_at(state, reading.quantity, reading.spot, 0)
    if reading.part is None or reading.quantity not in ("stack_thickness", "old_stack_thickness", "shim_thickness"):
        return name
    return state.phrases.sentence("of_pack", quantity=name, part=state.phrases.name(reading.part))


def _value_words(state: State, reading: Reading) -> str:
    return state.phrases.say(reading.value) if reading.value is not None else state.phrases.choice(reading.choice or "")


def _quantity_at(state: State, quantity: str, spot: int, spots: int) -> str:
    name = state.phrases.name(quantity)
    return f"{name} {_place(state, spot, spots)}" if spot else name


def _place(state: State, spot: int, spots: int) -> str:
    if not spots:
        return state.phrases.sentence("spot", spot=state.phrases.say_count(spot))
    return state.phrases.sentence(
        "spot_of",
        spot=state.phrases.say_count(spot),
        spots=state.phrases.say_count(spots),
        degrees=state.phrases.say_count(round(360 / spots)),
    )


def _list(state: State, names: Sequence[str], last: str = "and") -> str:
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {state.phrases.sentence(f'list.{last}')} {names[-1]}"
