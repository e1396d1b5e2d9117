"""The way through the job: every step that belongs to it, and how it stands. Done is a word and a sign, and so is what has to be made again."""

from typing import Any

from assistant.core.state import Reading, State, applies
from assistant.core.steps import PHASES, Step
from assistant.screen.words import Words

Drawn = dict[str, Any]


def way_through(state: State, words: Words) -> list[Drawn]:
    """Phase by phase: its name, how it stands, and its steps.

    A step is done, now, ahead, or has to be made again: the walk never passes an open step, so an open one before a step that is done was
    done once, and so was one whose readings lost their ground. What only judges is no step for hands, and is left out.
    """
    wanted = [step for step in state.procedure.steps if step.ask != "judge" and (step.id in state.done or applies(state, step))]
    last_done = max((index for index, step in enumerate(wanted) if step.id in state.done), default=-1)
    found: list[Drawn] = []
    for phase in PHASES:
        steps = [_step(state, step, index < last_done, words) for index, step in enumerate(wanted) if step.phase == phase]
        if steps:
            found.append({"phase": phase, "name": words.phases[phase], "stands": _phase_stands(steps, words), "steps": steps})
    return found


def _step(state: State, step: Step, passed: bool, words: Words) -> Drawn:
    lost = _lost(state, step)
    if step.id == state.open_step:
        stands = "now"
    elif step.id in state.done:
        stands = "done"
    else:
        stands = "again" if passed or lost else "ahead"
    return {
        "id": step.id,
        "title": state.phrases.steps[step.text].title,
        "kind": step.kind,
        "stands": stands,
        "word": words.say(stands),
        "void": [_value(state, reading, words) for reading in lost] if stands != "done" else [],
    }


def _lost(state: State, step: Step) -> tuple[Reading, ...]:
    """The step's readings that lost their ground and have not been taken again: the last one for each place."""
    last = {(r.spot, r.part): r for r in state.readings if r.step == step.id}
    return tuple(r for r in last.values() if r.void == "changed")


def _value(state: State, reading: Reading, words: Words) -> str:
    unit = words.unit(reading.value.unit) if reading.value is not None else ""
    return words.say(
        "void_one", value=reading.value.text if reading.value is not None else state.phrases.choice(reading.choice or ""), unit=unit
    ).strip()


def _phase_stands(steps: list[Drawn], words: Words) -> Drawn:
    kinds = {step["stands"] for step in steps}
    if "now" in kinds:
        stands = "now"
    elif "again" in kinds:
        stands = "again"
    else:
        stands = "done" if kinds == {"done"} else "ahead"
    return {"key": stands, "word": words.say(stands)}
