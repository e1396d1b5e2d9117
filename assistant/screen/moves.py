"""The change to make, as it is drawn: which pack or adjuster, which way, how much, and on which side as the technician faces the housing.

An adjuster or a nut is never drawn as turning this or that way round: hands of thread differ, so a sketch shows in and out, and the word
tighten or loosen says the rest.
"""

from collections import Counter
from fractions import Fraction
from typing import Any

from assistant.core.events import Change, MoveProposed
from assistant.core.quantities import Quantity
from assistant.core.show import words_before
from assistant.core.state import State
from assistant.screen.words import Words

Drawn = dict[str, Any]
# What of the two sketches (the pinion in section, the carrier from the front) a part belongs to.
PICTURES = {
    "pinion_shims": "pinion",
    "preload_shims": "pinion",
    "crush_nut": "pinion",
    "crush_sleeve": "pinion",
    "ring_side_adjuster": "carrier",
    "opposite_adjuster": "carrier",
    "ring_side_shims": "carrier",
    "opposite_shims": "carrier",
}


def drawn_move(state: State, move: MoveProposed, words: Words) -> Drawn:
    """The whole change, in the order in which it is said."""
    expect = None
    if move.expected is not None and move.low is not None and move.high is not None and not move.start:
        expect = {
            "text": words.say(
                "aims_at", quantity=state.phrases.name(move.quantity), value=move.expected.text, unit=words.unit(move.expected.unit)
            ),
            "low": move.low.text,
            "high": move.high.text,
        }
    return {
        "first": words_before(state, move),
        "changes": [_change(state, change, words) for change in move.changes],
        "axle": {
            "pinion_shims": state.job.axle.pinion_shims,
            "preload": state.job.axle.preload,
            "carrier": state.job.axle.carrier,
            "ring_gear_side": state.job.axle.ring_gear_side,
        },
        "ring": _ring_goes(state, move),
        "pinion": _pinion_goes(state, move),
        "goes": _goes_words(state, move, words),
        "expect": expect,
        "chance": _chance(move, words),
        "why": move.why,
    }


def _chance(move: MoveProposed, words: Words) -> Drawn | None:
    if move.chance is None or move.start:
        return None
    percent = int(move.chance * 100)
    # The bar of the spoken sentence: below it, the chance is said aloud too.
    return {"percent": percent, "text": words.say("chance_low" if percent < 60 else "chance", percent=percent), "low": percent < 60}


def _change(state: State, change: Change, words: Words) -> Drawn:
    side = side_of(state, change.part)
    way = _way(change)
    return {
        "part": change.part,
        "name": state.phrases.name(change.part),
        "picture": PICTURES[change.part],
        "side": side,
        "side_words": words.say(side) if side is not None else None,
        "way": way,
        "amount": amount_text(change.change, words),
        "headline": _headline(state, change, side, way, words),
        "from_to": words.say("from_to", before=change.before.text, after=_signed_text(change.after, words)),
        "stack": [
            {"count": count, "thickness": shim.text, "text": words.say("shim", count=count, thickness=shim.text)}
            for shim, count in Counter(change.stack).items()
        ],
    }


def side_of(state: State, part: str) -> str | None:
    """left or right, as the technician faces the housing; None for what sits on the pinion."""
    if part.startswith("ring_side"):
        return state.job.axle.ring_gear_side
    return state.job.axle.opposite_side if part.startswith("opposite") else None


def _way(change: Change) -> str:
    if change.part == "crush_sleeve":
        return "new"
    if change.change.unit in ("notch", "deg"):
        return "tighten" if change.change.value > 0 else "loosen"
    if change.change.value == 0:
        return "fit"
    return "thicker" if change.change.value > 0 else "thinner"


def _headline(state: State, change: Change, side: str | None, way: str, words: Words) -> str:
    """The change in one line, for the largest letters."""
    name = state.phrases.name(change.part)
    facing = words.say(side) if side is not None else ""
    amount = amount_text(change.change, words)
    if way == "new":
        return words.say("new_sleeve", part=name)
    if change.part == "crush_nut":
        return words.say("turn", part=_capital(name), amount=amount)
    if way in ("tighten", "loosen"):
        return words.say(way, side=facing, amount=amount)
    before = words.say("side", side=facing) if facing else ""
    part = name if facing else _capital(name)
    return words.say(way, side=before, part=part, amount=amount, total=amount_text(change.after, words))


def amount_text(quantity: Quantity, words: Words) -> str:
    """The size of a change without its sign, with its unit: "1 notch", "0.0015 in", "15°"."""
    size = Quantity(abs(quantity.value), quantity.unit)
    if size.unit == "notch":
        return words.say("notch" if size.value == 1 else "notches", count=size.text)
    if size.unit == "deg":
        return words.say("degrees", count=size.text)
    return words.say("length", count=size.text, unit=words.unit(size.unit)).strip()


def _signed_text(quantity: Quantity, words: Words) -> str:
    return f"{'-' if quantity.value < 0 else ''}{amount_text(quantity, words)}"


def _ring_goes(state: State, move: MoveProposed) -> str | None:
    """To which side the ring gear moves. Tightening its own side, or a thicker pack there, pushes it toward the other (interface: Words)."""
    changes = {change.part: change.change.base for change in move.changes}
    ring = sum((size for part, size in changes.items() if part.startswith("ring_side")), Fraction(0))
    opposite = sum((size for part, size in changes.items() if part.startswith("opposite")), Fraction(0))
    if move.start or ring == opposite:
        return None
    return state.job.axle.opposite_side if ring > opposite else state.job.axle.ring_gear_side


def _pinion_goes(state: State, move: MoveProposed) -> str | None:
    """Whether the pinion moves out (away from the ring-gear centre line) or in."""
    change = next((change.change for change in move.changes if change.part == "pinion_shims"), None)
    if change is None or change.value == 0 or move.start:
        return None
    return "out" if (change.value > 0) == (state.job.axle.depth_sign > 0) else "in"


def _goes_words(state: State, move: MoveProposed, words: Words) -> str | None:
    ring, pinion = _ring_goes(state, move), _pinion_goes(state, move)
    if ring is not None:
        return words.say(f"ring_{ring}")
    return words.say(f"pinion_{pinion}") if pinion is not None else None


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]
