"""state → what the screen shows, as JSON values: pure, and the same for every page that looks.

Figures are decimal strings as they were recorded, places on paper whole thousandths; nothing here decides anything about the job.
"""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from assistant.core import predictions as pr
from assistant.core.axle import GAUGE_UNITS, PATTERNS, Limits
from assistant.core.english import GO_BACK_TO, ONE_OF_TWO, QUANTITY_NAMES
from assistant.core.misheard import named
from assistant.core.quantities import Quantity, unit_named
from assistant.core.show import caution_words, prompt, why
from assistant.core.state import Reading, State, Wait, depth_offset
from assistant.core.steps import Step
from assistant.core.waits import done_steps, wait
from assistant.screen import plots
from assistant.screen.moves import drawn_move
from assistant.screen.scale import scale
from assistant.screen.way import way_through
from assistant.screen.words import Words

Drawn = dict[str, Any]
_READINGS_SHOWN = 60
# In the order of the thumb: what answers, then what is asked for, then what takes back or stops.
_ANSWERS = ("understood", "yes", "no", "take", "done", "resume")
_GRAVE = ("undo", "go back", "correct", "hold", "stop")
_MARKS = ("etch_old", "etch_new")


def view(state: State, words: Words) -> Drawn:
    """Everything the page shows of a job."""
    now = wait(state)
    drawn = {
        "job": {"id": state.job_id, "title": state.job.title, "ring_gear_side": state.job.axle.ring_gear_side},
        "now": _now(state, now, words),
        "wait": _wait(state, now, words),
        "caution": _caution(state, words),
        "alarm": _alarm(state, words),
        "doubt": state.doubted.reason if state.doubted is not None and now is not None and now.kind == "reading" else None,
        "heard": _heard(state, words),
        "expected": _expected(state, now, words),
        "move": drawn_move(state, state.move, words) if state.move is not None and not state.caution_open else None,
        "picture": _picture(state, now),
        "way": way_through(state, words),
        "dial": plots.dial(state, words),
        "drag": plots.drag(state, words),
        "print": plots.prints(state, words),
        "readings": [_reading(state, r, words) for r in reversed(state.readings[-_READINGS_SHOWN:])],
        "held": state.held,
        "end": _end(state, words),
    }
    return drawn if words.labels["decimal"] == "." else {key: words.shown(part) if key != "job" else part for key, part in drawn.items()}


# ---- now


def _now(state: State, now: Wait | None, words: Words) -> Drawn:
    """The step's title for the largest letters, what is asked as it is said, and why."""
    step = state.step()
    title = state.phrases.steps[step.text].title if step is not None else ""
    return {
        "title": title,
        "kind": step.kind if step is not None else None,
        "say": prompt(state),
        "why": why(state) if now is not None else "",
        "place": _place(now.spot, now.spots, words) if now is not None else None,
        # The sentence then says no more than the place does.
        "is_next_place": now is not None and now.kind != "confirm" and now.spot > 1 and state.correcting is None and not state.held,
    }


def _caution(state: State, words: Words) -> Drawn | None:
    step = state.step()
    if step is None or not state.caution_open:
        return None
    return {
        "before": step.caution,
        "before_words": words.say(f"caution_{step.caution}"),
        "title": state.phrases.steps[step.text].title,
        "text": caution_words(state, step),
    }


def _alarm(state: State, words: Words) -> Drawn | None:
    if state.alarm is None:
        return None
    likely = [
        {
            "say": one.cause,
            "cause": state.phrases.choice(one.cause),
            "check": one.check,
            "percent": int(one.odds * 100),
            "odds": words.say("odds", percent=int(one.odds * 100)),
        }
        for one in state.alarm.likely
    ]
    return {"text": state.alarm.text, "likely": likely, "evidence": list(state.alarm.evidence)}


def _end(state: State, words: Words) -> Drawn | None:
    if state.verdict is not None:
        failed = [state.phrases.name(quantity) for quantity in state.failed]
        text = state.phrases.sentence("end_out", quantities=", ".join(failed)) if failed else state.phrases.sentence("end_in")
        return {"verdict": state.verdict, "word": words.say(state.verdict.replace(" ", "_")), "text": text, "failed": failed}
    if state.stopped:
        return {"verdict": "stopped", "word": words.say("stopped"), "text": words.say("stopped_long"), "failed": []}
    return None


def _picture(state: State, now: Wait | None) -> str | None:
    """Which picture belongs to what is done now: the move, else the one of the quantity that is read or has just raised an alarm."""
    if state.caution_open:
        return None
    if state.move is not None:
        return "move"
    quantity = now.quantity if now is not None else None
    if state.alarm is not None:
        quantity = state.alarm.quantity
    pictures = {"backlash": "dial", "baseline_backlash": "dial", "pinion_drag": "drag", **dict.fromkeys(PATTERNS, "print")}
    return pictures.get(quantity or "")


# ---- what can be said


def _wait(state: State, now: Wait | None, words: Words) -> Drawn | None:
    """What is waited for, and a button for every word that can be said now."""
    if now is None or state.stopped:
        return None
    answers = [] if state.held else [_choice(choice, label) for choice, label in zip(now.choices, _labels(state, now), strict=True)]
    # Outside a read-back "no" takes the gauge's last reading back: no answer to what is asked now.
    first = tuple(command for command in _ANSWERS if command != "no" or now.kind == "confirm")
    commands = [_button(state, now, command, words) for command in _ordered(now.commands, first)]
    return {
        "for": now.kind,
        "quantity": now.quantity,
        "name": state.phrases.name(now.quantity) if now.quantity is not None else None,
        "value": now.value.json() if now.value is not None else None,
        "choice": state.phrases.choice(now.choice) if now.choice is not None else None,
        "grid": now.quantity in PATTERNS and bool(now.choices),
        "answers": answers + [button for button in commands if button["say"] in first],
        "talk": [button for button in commands if button["say"] not in first],
        "go_back": _go_back(state) if "go back" in now.commands else [],
        "correct": _correct(state, words) if "correct" in now.commands else [],
        "change_unit": _unit_changes(state, now) if "change unit" in now.commands else [],
        "pad": _pad(state, now, words),
    }


def _labels(state: State, now: Wait) -> tuple[str, ...]:
    """The choices as they stand on their buttons: of two readings that were heard, "first" and "second" with what they stand for."""
    said = tuple(map(state.phrases.choice, now.choices))
    if state.two is None or now.choices != ONE_OF_TWO:
        return said
    first, second = (named(state, words) for words in state.two.words)
    return (f"{said[0]}: {first}", f"{said[1]}: {second}", said[2])


def _choice(choice: str, label: str) -> Drawn:
    return {"say": choice, "label": label, "key": "", "weight": "answer"}


def _button(state: State, now: Wait, command: str, words: Words) -> Drawn:
    label = words.buttons[command]
    if command == "no" and now.kind != "confirm" and state.taken_id is not None:
        label = words.say("take_back", figures=_figures(state, state.reading(state.taken_id), words))
    weight = "grave" if command in _GRAVE or (command == "no" and now.kind != "confirm") else "answer" if command in _ANSWERS else "talk"
    return {"say": command, "label": label, "key": words.keys[command], "weight": weight}


def _ordered(commands: tuple[str, ...], answers: tuple[str, ...]) -> list[str]:
    first = [command for command in answers if command in commands]
    last = [command for command in _GRAVE if command in commands]
    return [*first, *(command for command in commands if command not in (*first, *last)), *last]


def _go_back(state: State) -> list[Drawn]:
    """The finished steps, the last one first: with its id, which is the only name that no other step shares."""
    steps = [step for step in done_steps(state) if step.ask != "judge"]
    return [{"say": f"{GO_BACK_TO} {step.id}", "label": state.phrases.steps[step.text].title} for step in reversed(steps)]


def _unit_changes(state: State, now: Wait) -> list[Drawn]:
    """The units that the gauge of this reading may have been switched to."""
    tongue, dimension = state.phrases.tongue, unit_named(now.unit or "1").dimension
    units = [unit for unit in GAUGE_UNITS if unit_named(unit).dimension is dimension]
    return [
        {"say": tongue.unit_changes_said[0].format(unit=tongue.units_said[unit][1]), "label": tongue.units_said[unit][1]} for unit in units
    ]


def _correct(state: State, words: Words) -> list[Drawn]:
    """The newest standing reading of each quantity, the last one first."""
    newest: dict[str, Reading] = {}
    for reading in reversed(state.readings):
        if reading.void is None:
            newest.setdefault(reading.quantity, reading)
    return [
        {"say": f"correct {QUANTITY_NAMES[quantity][0]}", "label": f"{state.phrases.name(quantity)}: {_figures(state, reading, words)}"}
        for quantity, reading in newest.items()
    ]


def _pad(state: State, now: Wait, words: Words) -> Drawn | None:
    """The number pad of a reading wait. suffix: what is sent behind the figures, so that the unit shown is the unit said."""
    if now.kind != "reading" or now.unit is None or state.held:
        return None
    signed = now.quantity in _MARKS
    return {
        "unit": words.unit(now.unit),
        "unit_words": state.phrases.say_unit(now.unit),
        "suffix": "" if signed or now.unit == "1" else f" {now.unit}",
        "signed": signed,
        "name": state.phrases.name(now.quantity or ""),
        "part": state.phrases.name(now.part) if now.part is not None else None,
    }


# ---- numbers


def _heard(state: State, words: Words) -> Drawn | None:
    """The last number, and what became of it: read back, doubted, kept or void."""
    now = wait(state)
    if state.offered is not None and now is not None:
        offered = state.offered
        is_limit = _gives_limits(state)
        return _number(state, words, offered.quantity, offered.value, offered.choice, now.spot, now.spots, "asked", is_limit=is_limit)
    if state.doubted is not None and now is not None:
        doubted = state.doubted
        return _number(state, words, doubted.quantity, doubted.value, None, doubted.spot, now.spots, "doubted")
    if _gives_limits(state) and state.specs_given:
        quantity, _, value = state.specs_given[-1]
        return _number(state, words, quantity, value, None, 0, 0, "noted", is_limit=True)
    if not state.readings:
        return None
    reading = state.readings[-1]
    return _number(
        state, words, reading.quantity, reading.value, reading.choice, reading.spot, _spots(state, reading), reading.void or "kept"
    )


def _gives_limits(state: State) -> bool:
    step: Step | None = state.step()
    return step is not None and step.ask == "specs" and state.correcting is None


def _spots(state: State, reading: Reading) -> int:
    spots = state.procedure.step(reading.step).spots
    return state.job.backlash_spots if spots == -1 else spots


def _number(
    state: State,
    words: Words,
    quantity: str,
    value: Quantity | None,
    choice: str | None,
    spot: int,
    spots: int,
    status: str,
    *,
    is_limit: bool = False,
) -> Drawn:
    limits = None if is_limit else state.job.limits(quantity)
    return {
        "quantity": quantity,
        "name": state.phrases.name(quantity),
        "value": value.text if value is not None else None,
        "choice": state.phrases.choice(choice) if choice is not None else None,
        "unit": words.unit(value.unit) if value is not None else "",
        "place": _place(spot, spots, words),
        "status": status,
        "status_words": words.say(status),
        **(_scaled(state, words, quantity, value, limits, None) if value is not None else _UNSCALED),
    }


_UNSCALED: Drawn = {"scale": None, "limits_words": None, "where_word": None, "by_words": None}


def _place(spot: int, spots: int, words: Words) -> str | None:
    if not spot:
        return None
    if not spots:
        return words.say("place_alone", index=spot)
    return words.say("place", index=spot, of=spots, degrees=round(pr.degrees_of(spot, spots)))


def _scaled(
    state: State, words: Words, quantity: str, value: Quantity | None, limits: Limits | None, expected: pr.Prediction | None
) -> Drawn:
    """The number line of a quantity, its limits in words, and where the value lies in words."""
    unit = value.unit if value is not None and limits is None else state.job.unit_of(quantity)
    shift: Fraction | None = Fraction(0)
    if quantity == "pinion_depth":
        shift = depth_offset(state)
    if shift is None:
        limits, shift = None, Fraction(0)
    found = scale(value, limits, unit, expected, shift)
    where = found["where"] if found is not None else None
    by = found["by"] if found is not None else None
    return {
        "scale": found,
        "limits_words": _limits_words(found, limits, words, unit),
        "where_word": words.say(where) if where is not None else None,
        "by_words": words.say("by", by=by, unit=words.unit(unit)).strip() if by is not None else None,
    }


def _limits_words(found: Drawn | None, limits: Limits | None, words: Words, unit: str) -> str | None:
    if found is None or limits is None:
        return None
    low, high = found["low"], found["high"]
    key = "limits" if low and high else "up_to" if high else "at_least"
    text = words.say(key, low=low and low["text"], high=high and high["text"], unit=words.unit(unit)).strip()
    return text if limits.judge == "all" else f"{text} ({words.say(f'judged_{limits.judge}')})"


def _expected(state: State, now: Wait | None, words: Words) -> Drawn | None:
    """What the belief expects of the reading that is waited for now."""
    if now is None or now.kind != "reading" or now.quantity is None or now.unit is None or _gives_limits(state):
        return None
    predicted = pr.predict(state, now.quantity, now.unit, now.spot)
    if predicted is None:
        return None
    text = words.say("expected", value=predicted.value.text, spread=_spread_text(predicted), unit=words.unit(now.unit)).strip()
    return {
        "name": state.phrases.name(now.quantity),
        "text": text,
        **_scaled(state, words, now.quantity, None, state.job.limits(now.quantity), predicted),
    }


def _spread_text(predicted: pr.Prediction) -> str:
    """The spread with as many figures as the value, and never as nothing: finer would say more than is known."""
    last_place = Decimal(1).scaleb(int(predicted.value.value.as_tuple().exponent))
    return format(max(predicted.spread.value.quantize(last_place, ROUND_HALF_UP), last_place), "f")


def _reading(state: State, reading: Reading, words: Words) -> Drawn:
    status = reading.void or "kept"
    return {
        "id": reading.id,
        "name": state.phrases.name(reading.quantity),
        "figures": _figures(state, reading, words),
        "place": _place(reading.spot, _spots(state, reading), words),
        "status": status,
        "status_words": words.say(status),
        "source": reading.gauge or reading.source,
    }


def _figures(state: State, reading: Reading, words: Words) -> str:
    if reading.value is None:
        return state.phrases.choice(reading.choice or "")
    return f"{words.figures(reading.value.text)} {words.unit(reading.value.unit)}".strip()
