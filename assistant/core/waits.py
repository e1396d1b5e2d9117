"""What the engine waits for, as a function of the state alone: the same state waits for the same thing, after a crash too."""

from dataclasses import replace

from assistant.core.axle import NO_DEPTH, PATTERN_CHOICES
from assistant.core.english import ONE_OF_TWO
from assistant.core.state import State, Wait, missing_specs, next_spot, spots_of
from assistant.core.steps import Step
from assistant.core.words import Expectation

ANYWHERE = ("repeat", "undo", "stop", "hold")
TALK = ("why", "what do you have", "what have you learned", "help", "go back", "correct")
ALARM_ANSWERS = ("nothing found", "measure again")
# What is heard where no job says it: by `listen`, the doctor and the benchmarks (docs/machine.md, "Words").
READING_COMMANDS = ("take", "help", "why", "go back", "repeat", "undo", "stop", "hold")
CONFIRM_COMMANDS = ("yes", "no", "repeat", "undo", "stop", "hold")
WAIT_COMMANDS = ("done", "understood", "repeat", "why", "what do you have", "help", "undo", "go back", "stop", "hold")
ETCH_UNITS = {
    "thousandths of an inch": "0.001 in",
    "hundredths of a millimetre": "0.01 mm",
    "thousandths of a millimetre": "0.001 mm",
}


def wait(state: State) -> Wait | None:
    """What is waited for now; None when the job is over."""
    if state.verdict is not None:
        return None
    found = _wait(state)
    commands = found.commands
    if state.held:
        commands = ("resume", "stop")
    elif state.taken_id is not None and "no" not in commands:
        commands = (*commands, "no")
    return Wait(**{**vars(found), "commands": commands})


def _wait(state: State) -> Wait:
    if state.asked is not None:
        return Wait("confirm", commands=("yes", "no", *ANYWHERE))
    if state.offered is not None:
        offered = state.offered
        behind = open_wait(state)
        return Wait(
            "confirm",
            quantity=offered.quantity,
            part=behind.part,
            unit=behind.unit,
            spot=behind.spot,
            spots=behind.spots,
            value=offered.value,
            choice=offered.choice,
            commands=("yes", "no", *ANYWHERE),
        )
    if state.two is not None:
        return Wait("choice", choices=ONE_OF_TWO, commands=(*ANYWHERE, *TALK))
    return open_wait(state)


def open_wait(state: State) -> Wait:
    """What the step itself waits for, whatever is asked about it now."""
    talk = (*ANYWHERE, *TALK)
    if state.correcting is not None:
        return _correction_wait(state, state.correcting)
    if state.alarm is not None:
        causes = tuple(suspect.cause for suspect in state.alarm.likely)
        return Wait("choice", choices=(*causes, *ALARM_ANSWERS), commands=talk)
    step = state.step()
    assert step is not None  # decide leaves no state without a step, a question or an end
    if state.caution_open:
        return Wait("caution", commands=("understood", *talk))
    if state.move is not None:
        return Wait("done", part=state.move.changes[0].part if state.move.changes else step.part, commands=("done", *talk))
    if step.ask == "choice":
        return Wait("choice", choices=step.choices, commands=talk)
    if step.ask == "pattern":
        return Wait(
            "choice",
            quantity=step.quantity,
            spot=next_spot(state, step) or 0,
            spots=spots_of(state, step),
            choices=PATTERN_CHOICES,
            commands=talk,
        )
    if step.ask == "specs":
        quantity, which = missing_specs(state)[0]
        # A manual may leave the depth to the pattern (docs/trade.md, the step "depth checked by gauge or left to pattern").
        choices = (NO_DEPTH,) if (quantity, which) == ("pinion_depth", "target") else ()
        return Wait("reading", quantity=quantity, part=which, unit=state.job.unit_of(quantity), choices=choices, commands=talk)
    if step.ask in ("reading", "many", "creep"):
        assert step.quantity is not None
        return Wait(
            "reading",
            quantity=step.quantity,
            part=step.part,
            unit=unit_of(state, step.quantity),
            spot=next_spot(state, step) or 0 if step.ask == "reading" else 0,
            spots=spots_of(state, step),
            commands=("take", "zero the gauge", "change unit", *talk, *(("done",) if step.ask == "many" else ())),
        )
    return Wait("done", part=step.part, commands=("done", *talk))


def _correction_wait(state: State, reading_id: str) -> Wait:
    reading = state.reading(reading_id)
    step = state.procedure.step(reading.step)
    if reading.choice is not None:
        return Wait(
            "choice", reading.quantity, spot=reading.spot, spots=spots_of(state, step), choices=PATTERN_CHOICES, commands=(*ANYWHERE, *TALK)
        )
    return Wait(
        "reading",
        reading.quantity,
        reading.part,
        unit_of(state, reading.quantity),
        reading.spot,
        spots_of(state, step),
        commands=("take", "zero the gauge", "change unit", *ANYWHERE, *TALK),
    )


def unit_of(state: State, quantity: str) -> str:
    """The unit in which a quantity is said now: an etch in the unit that was chosen for it."""
    chosen = state.answer(f"intake.{quantity}_unit")
    return ETCH_UNITS[chosen] if chosen is not None else state.job.unit_of(quantity)


def expectation(state: State) -> Expectation:
    """What can be answered now, for the words and the recogniser's grammar."""
    now = wait(state)
    tongue, steps = state.phrases.tongue, done_steps(state)
    if now is None:
        return Expectation(None, None, tongue=tongue)
    choices = now.choices
    if state.two is not None and state.offered is None and state.asked is None and not state.held:
        # Saying the value once more answers "which of the two" as well.
        now = replace(open_wait(state), commands=now.commands)
        choices = (*choices, *now.choices)
    if state.held:
        return Expectation(None, None, commands=now.commands, tongue=tongue)
    reading = now.kind == "reading"
    return Expectation(
        quantity=now.quantity if reading else None,
        unit=now.unit if reading else None,
        signed=reading and now.quantity in ("etch_old", "etch_new"),
        choices=choices,
        commands=now.commands,
        steps=tuple(step.id for step in steps),
        tongue=tongue,
        choice_words=tuple(map(state.phrases.choice, choices)),
        step_words=tuple(state.phrases.steps[step.text].title for step in steps),
    )


def done_steps(state: State) -> tuple[Step, ...]:
    """The steps that are done, in the order of the work: those that "go back" may name."""
    return tuple(step for step in state.procedure.steps if step.id in state.done)
