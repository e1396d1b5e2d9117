"""Measure twice before a change: whether a number alone would have something taken apart, and what to look at before it is read once more.

A second reading costs half a minute, and a teardown an hour. Of the slips that one reading can hold, those that its prediction cannot show (the
starting torque for the turning drag, figures that changed places, a first number of which nothing is known) are some two in a hundred
(assistant/mistakes.toml): that is over a minute of teardown for each reading that has a pack changed, and so it is read twice, as manuals have it
read three times (docs/trade.md, section 3). A number that is in its range is not asked for again, but for one right at its limit, and for the
drag that ends the crushing of a sleeve: it is never read by itself after that.
"""

from assistant.core import predictions as pr
from assistant.core.mistakes import CHECK_MISSES, Context, Look, Weighing
from assistant.core.quantities import Quantity
from assistant.core.state import State, backlash_in_spec, in_spec

_ETCHES = ("etch_new", "etch_old")
_JUDGED = ("pinion_drag", "carrier_drag", "total_drag", "pinion_depth", "ring_runout", "backlash")
_READ_ONCE = ("pinion_drag", "carrier_drag", "total_drag", "pinion_depth")
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
    if (
        limits is None
        or quantity in state.unreachable
        or not (_is_judged(state, quantity) or step.ask == "creep")
        or quantity not in _JUDGED
    ):
        return False
    if quantity == "backlash":
        return _decides_backlash(state, value, spot)
    if _is_read_already(state, quantity):
        return False
    if step.ask == "creep":
        # Past the range only a new sleeve helps; in it, the nut is left for good and the case goes in on top.
        return limits.low is None or value >= limits.low
    if quantity == "total_drag" and in_spec(state, "pinion_drag") is False:
        return False
    return not limits.allows(pr.as_judged(state, quantity, value))


def _decides_backlash(state: State, value: Quantity, spot: int) -> bool:
    """The one place that is out of range where the others are in it; or the last of a round that is out of its range."""
    limits = state.job.limits("backlash")
    assert limits is not None
    others = {r.spot: r.value for r in state.current("backlash") if r.value is not None and r.spot != spot}
    alone = limits.judge == "all" and bool(others) and not limits.allows(value) and all(limits.allows(other) for other in others.values())
    last = len(others) + 1 == max(1, state.job.backlash_spots)
    return alone or (last and not backlash_in_spec((*others.values(), value), limits))


def at_limit(state: State, quantity: str, value: Quantity) -> bool:
    """Whether a number that is in its range lies nearer to a limit than its gauge's own spread, and was read once only as things stand.

    Within its uncertainty a number passes no limit for sure (ISO 14253-1, docs/trade.md, section 3).
    """
    step, limits = state.step(), state.job.limits(quantity)
    if step is None or state.correcting is not None or limits is None or not _is_judged(state, quantity) or quantity not in _READ_ONCE:
        return False
    if step.ask == "creep" or quantity in state.unreachable or _is_read_already(state, quantity):
        return False
    size = pr.as_judged(state, quantity, value)
    near = [
        abs(pr.size(size) - pr.size(limit)) < pr.reading_spread(state, quantity) for limit in (limits.low, limits.high) if limit is not None
    ]
    return limits.allows(size) and any(near)


def _is_judged(state: State, quantity: str) -> bool:
    """Whether a step of this layout asks for a change when it is out of its range."""
    return any(one.ask == "judge" and one.quantity == quantity for one in state.procedure.steps)


def _is_read_already(state: State, quantity: str) -> bool:
    """Whether it was read before as things stand, and is measured again."""
    return any(r.quantity == quantity and r.assembly == state.assembly and r.fitted == pr.fitted_now(state) for r in state.readings)


def looks(state: State, context: Context, weighing: Weighing | None) -> tuple[Look, ...]:
    """What to look at first, the likeliest to be found wrong first; weighing: what the number says of the known mistakes.

    What was looked at already, with all as it is, comes last.
    """
    shares = {suspect.id: suspect.odds for suspect in weighing.suspects} if weighing is not None else {}
    fitting = [look for look in state.phrases.looks if look.fits(context)]
    seen = {look for assembly, look in state.looked if assembly == state.assembly}
    odds = {
        look.text: max(sum(shares.get(row, 0.0) for row in look.rows), 0.1 * look.odds) * (CHECK_MISSES if look.id in seen else 1.0)
        for look in fitting
    }
    return tuple(sorted(fitting, key=lambda look: -odds[look.text])[:_MOST_LOOKS])
