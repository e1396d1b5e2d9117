"""What this axle has taught so far, in one sentence with numbers; nothing before a change was made and measured."""

from decimal import Decimal

from assistant.core import predictions as pr
from assistant.core.quantities import Quantity, unit_named
from assistant.core.state import State

# Movements that a sentence is told about: ten thousandths or a tenth of a millimetre of the ring gear, one or two hundredths of shim.
_RING_MOVE = {"in": "0.0100", "mm": "0.10"}
_SHIM = {"in": "0.0010", "mm": "0.01"}


_TAUGHT = ("pinion_drag", "pinion_depth", "backlash")


def all_learned_words(state: State) -> str:
    """A sentence for each thing that this axle has taught, in the order of the work; that there is none yet, where there is none."""
    told = [words for words in (learned_words(state, quantity) for quantity in _TAUGHT) if words]
    return " ".join(told) or state.phrases.sentence("learned.nothing")


def learned_words(state: State, quantity: str) -> str:
    """How a quantity answers to what is changed for it, as the belief has it now; empty where nothing was learned yet."""
    readings = pr.evidence(state, quantity)
    if len({reading.fitted for reading in readings}) < 2:
        return ""
    tellers = {"backlash": _backlash, "pinion_depth": _depth, "pinion_drag": _drag}
    return tellers[quantity](state, len(readings)) if quantity in tellers else ""


def _backlash(state: State, readings: int) -> str:
    learned = pr.backlash_belief(state).explain()
    move = Quantity.of(_RING_MOVE[state.job.units], state.job.units)
    return state.phrases.sentence(
        "learned.backlash",
        move=state.phrases.say(move),
        change=state.phrases.say(_length(state, learned.k_ring.mean * pr.size(move))),
        room=state.phrases.say(_length(state, learned.k_ring.spread * pr.size(move))),
        swing=state.phrases.say(_length(state, learned.swing)),
        readings=state.phrases.say_count(readings),
    )


def _depth(state: State, readings: int) -> str:
    belief = pr.depth_belief(state)
    if belief is None:
        return ""
    learned = belief.explain()
    move = Quantity.of(_RING_MOVE[state.job.units], state.job.units)
    seen = learned.seen or learned.response
    return state.phrases.sentence(
        "learned.depth",
        move=state.phrases.say(move),
        change=state.phrases.say(_length(state, seen.mean * pr.size(move))),
        readings=state.phrases.say_count(readings),
    )


def _drag(state: State, readings: int) -> str:
    belief = pr.drag_belief(state)
    if belief is None:
        return ""
    slope = belief.explain().slope
    unit = state.job.unit_of("pinion_drag")
    sleeve = state.job.axle.preload == "crush-sleeve"
    step = 5.0 if sleeve else pr.size(Quantity.of(_SHIM[state.job.units], state.job.units))
    change, room = (pr.quantity_of(size * step, unit) for size in (abs(slope.mean), slope.spread))
    if change.value == 0:  # the bearings have not met yet
        return ""
    return state.phrases.sentence(
        "learned.sleeve" if sleeve else "learned.drag",
        move=state.phrases.say(Quantity.of("5", "deg") if sleeve else Quantity.of(_SHIM[state.job.units], state.job.units)),
        change=state.phrases.say(change),
        room=state.phrases.say(room if room.value else Quantity(Decimal(1).scaleb(-unit_named(unit).places), unit)),
        readings=state.phrases.say_count(readings),
    )


def _length(state: State, micrometres: float) -> Quantity:
    return pr.quantity_of(micrometres, state.job.units)
