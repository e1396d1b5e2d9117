"""A mesh without backlash: the move that opens it, so that there is something to read. Zero is never a reading.

Rules: it opens only, by what this axle has taught, else by a stated step; it is made and tracked like any other change of the ring gear.
"""

import math

from assistant.core import predictions as pr
from assistant.core.belief.normal import Normal
from assistant.core.events import Change, MoveProposed
from assistant.core.moves import MOST_NOTCHES, SIDES, fitted_total, notch_changes, proposed, side_changes, side_pairs
from assistant.core.quantities import Length
from assistant.core.state import State

# "Open .020 in each way to get a reading" (Ford F150/Explorer 8.8 zero backlash step): off the ring side, onto the other. Micrometres.
_OPENED_BY = 508.0


def opening_move(state: State) -> MoveProposed | None:
    """The ring gear away from the pinion, both sides as far, so that the preload stays; None where the kit has no thinner ring side pack."""
    step = next(step for step in state.procedure.steps if step.ask == "judge" and step.quantity == "backlash")
    middle, limits = pr.aim(state, "backlash"), state.job.limits("backlash")
    k_ring = pr.backlash_belief(state).k_ring
    taught = middle if pr.evidence(state, "backlash") else None
    away = taught / k_ring.mean if taught is not None else _OPENED_BY
    found = _opened_by(state, away)
    if found is None:
        return None
    away, changes = found
    expected = (
        Normal(k_ring.mean * away, math.hypot(k_ring.spread * away, pr.reading_spread(state, "backlash"))) if taught is not None else None
    )
    chance = None
    if expected is not None and limits is not None and limits.low is not None and limits.high is not None:
        chance = expected.chance(pr.size(limits.low), pr.size(limits.high))
    kind = "adjusters" if state.job.axle.carrier == "adjusters" else "sides"
    side = state.phrases.choice(state.job.axle.ring_gear_side)
    why = state.phrases.sentence(f"why.jammed_{kind}", ring_side=side)
    return proposed(state, step.id, changes, "backlash", expected, chance, why)


def _opened_by(state: State, away: float) -> tuple[float, tuple[Change, ...]] | None:
    """The change nearest to so many micrometres that opens the mesh at all, and how many it opens it by."""
    if state.job.axle.carrier == "adjusters":
        lead = pr.notch_lead(state)
        notches = min(max(1, math.ceil(away / lead - 0.5)), MOST_NOTCHES)
        return notches * lead, notch_changes(state, notches)
    ring, opposite = (Length.of(fitted_total(state, part)) for part in SIDES)
    for pair in side_pairs(state, ring - Length(round(away * 1000)), ring + opposite):
        opened = ((pair[1].total - pair[0].total) - (opposite - ring)).nanometres / 2000
        if opened > 0 and pair[0].total.nanometres < ring.nanometres:
            return opened, side_changes(state, pair)
    return None
