"""How far the bearing caps open, and the change of preload that brings it into the manual's range.

The law is the plainest that holds: from no play on, caps open in proportion to the squeeze. How steeply, two readings at two settings tell;
before that, one reading and the count from no play; before that, half of the squeeze is taken (assumed: housing and bearings give way alike).
"""

import math

from assistant.core import predictions as pr
from assistant.core.belief.normal import Normal
from assistant.core.events import Change, MoveProposed
from assistant.core.moves import HOPELESS, Unreachable, proposed, range_for, squeezes
from assistant.core.state import State
from assistant.core.steps import Step

_SHARE = 0.5
# How far off the slope may be, as a part of itself: from two settings, from one and the count, assumed.
_TWO, _ONE, _NONE = 0.15, 0.3, 0.5


def spread_move(state: State, step: Step) -> MoveProposed | Unreachable:
    """Both sides tighter or looser alike, so that the ring gear stays. Unreachable where no setting is likely to do, or where drag forbids it."""
    latest, bounds = state.latest("spread"), range_for(state, "spread")
    assert latest is not None
    assert latest.value is not None
    assert bounds is not None
    seen = pr.size(latest.value)
    low, high = bounds
    is_more = seen < low
    slope, room = _slope(state, seen)
    noise = pr.reading_spread(state, "spread")
    best: tuple[float, float, Normal, tuple[Change, ...]] | None = None
    for more, changes in squeezes(state):
        if (more > 0) != is_more:
            continue
        expected = Normal(max(0.0, seen + slope * more), math.hypot(noise, slope * more * room))
        chance = expected.chance(low, high)
        merit = (round(chance, 3), -abs(expected.mean - (low + high) / 2))
        if best is None or merit > best[:2]:
            best = (*merit, expected, changes)
    if best is None or best[0] < HOPELESS or _drag_forbids(state, is_more=is_more):
        return Unreachable(state.phrases.sentence("unreachable.spread"))
    why = state.phrases.sentence(f"why.spread_{'more' if is_more else 'less'}")
    return proposed(state, step.id, best[3], "spread", best[2], best[0], why)


def _slope(state: State, seen: float) -> tuple[float, float]:
    """Micrometres that the caps open for one notch or micrometre of squeeze, and how far off that may be, as a part of it."""
    points = {sum(pr.sides(r.fitted)): pr.size(r.value) for r in pr.evidence(state, "spread") if r.value is not None}
    if len(points) > 1:
        (before, opened), (now, opens) = list(points.items())[-2:]
        slope = (opens - opened) / (now - before)
        if slope > 0:
            return slope, _TWO
    total = sum(pr.sides(pr.fitted_now(state)))
    is_notches = state.job.axle.carrier == "adjusters"
    if is_notches and state.job.carrier_preload is not None and total > 0 and seen > 0:
        return seen / total, _ONE
    return _SHARE * (pr.notch_lead(state) if is_notches else 1.0), _NONE


def _drag_forbids(state: State, *, is_more: bool) -> bool:
    """Whether a drag has just asked for the opposite: two limits that no preload meets both are not chased in circles."""
    last = next((move for move in reversed(state.moves_made) if move.quantity in ("total_drag", "carrier_drag", "spread")), None)
    if last is None or last.quantity == "spread":
        return False
    return (sum(pr.size(change.change) for change in last.changes) > 0) != is_more
