"""Measure twice before a change: whether a number alone would have something taken apart, and what to look at before it is read once more.

A second reading costs half a minute, and a teardown an hour. Of the slips that one reading can hold, those that its prediction cannot show (the
starting torque for the turning drag, figures that changed places, a first number of which nothing is known) are some two in a hundred
(assistant/mistakes.toml): that is over a minute of teardown for each reading that has a pack changed, and so it is read twice, as manuals have it
read three times (docs/trade.md, section 3). A number that is in its range is not asked for again.
"""

from assistant.core import predictions as pr
from assistant.core.mistakes import Context, Look, Weighing
from assistant.core.quantities import Quantity
from assistant.core.state import State, backlash_in_spec, in_spec

_ETCHES = ("etch_new", "etch_old")
_JUDGED = ("pinion_drag", "carrier_drag", "total_drag", "pinion_depth", "ring_runout", "backlash")
# More looks than these nobody makes.
_MOST_LOOKS = 3


def decides(state: State, quantity: str, value: Quantity, spot: int) -> bool:
    """Whether this number, taken once in this assembly, would have something changed; or is a mark, on which the whole depth rests."""
    step = state.step()
    if step is None or state.correcting is not None:
        return False
    if quantity in _ETCHES:
        return value.value != 0
    limits = state.job.limits(quantity)
    judged = any(one.ask == "judge" and one.quantity == quantity for one in state.procedure.steps)
    if limits is None or quantity in state.unreachable or not (judged or step.ask == "creep") or quantity not in _JUDGED:
        return False
    if quantity == "backlash":
        return _decides_backlash(state, value, spot)
    if any(r.quantity == quantity and r.assembly == state.assembly and r.fitted == pr.fitted_now(state) for r in state.readings):
        return False  # it was read before as things stand, and measured again
    if step.ask == "creep":
        return limits.high is not None and value > limits.high  # only a new sleeve helps then
    if quantity == "total_drag" and in_spec(state, "pinion_drag") is False:
        return False
    return not limits.allows(pr.mounting_distance(state, value) if quantity == "pinion_depth" else value)


def _decides_backlash(state: State, value: Quantity, spot: int) -> bool:
    """The one place that is out of range where the others are in it; or the last of a round that is out of its range."""
    limits = state.job.limits("backlash")
    assert limits is not None
    others = {r.spot: r.value for r in state.current("backlash") if r.value is not None and r.spot != spot}
    alone = limits.judge == "all" and bool(others) and not limits.allows(value) and all(limits.allows(other) for other in others.values())
    last = len(others) + 1 == max(1, state.job.backlash_spots)
    return alone or (last and not backlash_in_spec((*others.values(), value), limits))


def looks(state: State, context: Context, weighing: Weighing | None) -> tuple[Look, ...]:
    """What to look at first, the likeliest to be found wrong first; weighing: what the number says of the known mistakes."""
    shares = {suspect.id: suspect.odds for suspect in weighing.suspects} if weighing is not None else {}
    fitting = [look for look in state.phrases.looks if look.fits(context)]
    odds = {look.text: max(sum(shares.get(row, 0.0) for row in look.rows), 0.1 * look.odds) for look in fitting}
    return tuple(sorted(fitting, key=lambda look: -odds[look.text])[:_MOST_LOOKS])
