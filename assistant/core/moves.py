"""Which change to make: the one most likely to land in spec, out of those that the kit and the adjusters can make.

This module chooses; `predictions` predicts. Every change is exact (what is fitted is a sum of real shims, or whole notches); only its
chance and its expectation come from the belief. The ring gear is compensated when the pinion moves under a measured backlash.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from assistant.core import predictions as pr
from assistant.core.belief import priors
from assistant.core.belief.backlash import Judge
from assistant.core.belief.drag import DragBelief
from assistant.core.belief.normal import Normal
from assistant.core.events import Change, MoveProposed
from assistant.core.quantities import Length, Quantity, quantity_from, rounded
from assistant.core.saying import say
from assistant.core.stacks import Pack, Shim, best_pack, packs_near
from assistant.core.state import State
from assistant.core.steps import Step
from assistant.core.sums.depth import shim_change_for_etch

# Packs farther than this from the one that is in are not weighed: no preload or depth correction of the trade is larger (F02 warns above .010 in).
_FARTHEST = Length(50 * 25_400)
_MOST_NOTCHES = 24
# Below this chance a change is no better than a guess, and the quantity is called unreachable with this kit.
_HOPELESS = 0.02
# A pattern alone gives a direction; the first step and the later ones are small (.004 then .002 in: common practice, no source).
_PATTERN_STEPS = (Length(4 * 25_400), Length(2 * 25_400))


@dataclass(frozen=True)
class Unreachable:
    """No change brings the quantity into the manual's range; reason: one sentence to be said."""

    reason: str


def start_move(state: State, step: Step) -> MoveProposed | None:
    """The first pack (or the first preload of the adjusters) that a fit step puts in; None when there is nothing to start from."""
    part = step.fits
    if part in ("preload_shims", "pinion_shims"):
        return _start_pack(state, step, part)
    if part == "ring_side_adjuster" and state.job.carrier_preload is not None:
        return _start_notches(state, step, state.job.carrier_preload)
    return None


def _start_pack(state: State, step: Step, part: str) -> MoveProposed | None:
    old = state.latest("old_stack_thickness", part) or state.latest("stack_thickness", part)
    if old is None or old.value is None:
        return None
    parts, axle = state.job.parts, state.job.axle
    wanted = Length.of(old.value)
    why = "why.start_preload"
    if part == "pinion_shims":
        why = "why.start_depth"
        if parts.etch_new is not None and parts.etch_sign is not None:
            etch_old = Length.of(parts.etch_old) if parts.etch_old is not None else Length(0)
            wanted += shim_change_for_etch(axle.pinion_shims, parts.etch_sign, etch_old, Length.of(parts.etch_new))
            why = f"why.start_depth_etch_{'old_unknown' if parts.etch_old is None else parts.etch_sign}"
    pack = best_pack(wanted, _kit(state, part)) or Pack((wanted,))
    change = _pack_change(state, part, old.value, pack)
    quantity = "pinion_drag" if part == "preload_shims" else "pinion_depth"
    expected, chance = _start_outlook(state, quantity, size_of(pack.total))
    return _move(state, step.id, (change,), quantity, expected, chance, state.phrases.sentence(why, **_seat(state, part)), start=True)


def _start_outlook(state: State, quantity: str, pack_um: float) -> tuple[Normal | None, float | None]:
    """What a first pack is expected to give: the middle of the manual's range, as widely as a first try is known."""
    middle, bounds = pr.aim(state, quantity), _bounds(state, quantity)
    if middle is None or bounds is None:
        return None, None
    if quantity == "pinion_drag":
        first = Normal(middle, priors.FIRST_PINION_DRAG.spread)
        outlook = DragBelief.spacer(pack_um, first).predict(pack_um, priors.torque_spread(middle))
        return outlook.normal, outlook.chance(*bounds)
    guess = Normal(middle, priors.FIRST_DEPTH_SPREAD_UM)
    return guess, guess.chance(*bounds)


def _start_notches(state: State, step: Step, preload: Quantity) -> MoveProposed:
    """The manual's preload notches from zero play: half on each side, an odd one on the opposite side (it opens the mesh)."""
    ring = Decimal(int(preload.value) // 2)
    sides = (("opposite_adjuster", preload.value - ring), ("ring_side_adjuster", ring))
    changes = tuple(_notch_change(state, part, count) for part, count in sides if count)
    return _move(state, step.id, changes, "backlash", None, None, state.phrases.sentence("why.start_notches"), start=True)


def correction(state: State, quantity: str, step: Step) -> MoveProposed | Unreachable:
    """The change that brings a quantity which is out of its range into it with the best chance."""
    choose = {
        "pinion_drag": _preload_move,
        "pinion_depth": _depth_move,
        "backlash": _backlash_move,
        "total_drag": _total_move,
        "pattern": _pattern_move,
    }
    return choose[quantity](state, step)


def _preload_move(state: State, step: Step) -> MoveProposed | Unreachable:
    belief, fitted, bounds = pr.drag_belief(state), state.pack("preload_shims"), _bounds(state, "pinion_drag")
    assert belief is not None
    assert fitted is not None
    assert bounds is not None
    middle = (bounds[0] + bounds[1]) / 2
    noise = priors.torque_spread(middle)
    now = Length.of(fitted.total)
    packs = [pack for pack in _near(state, "preload_shims", now) if pack.total != now]
    if not packs:
        return Unreachable(state.phrases.sentence("unreachable.kit", part=state.phrases.name("preload_shims")))
    chances = belief.chances([size_of(pack.total) for pack in packs], *bounds, noise)
    # Of packs that are as good, the one nearest to the middle of the range: the next reading then teaches and lands at once.
    best = max(range(len(packs)), key=lambda i: (round(chances[i], 3), -abs(belief.predict(size_of(packs[i].total), noise).mean - middle)))
    if chances[best] < _HOPELESS:
        return Unreachable(state.phrases.sentence("unreachable.kit", part=state.phrases.name("preload_shims")))
    change = _pack_change(state, "preload_shims", fitted.total, packs[best])
    direction = "thinner" if change.change.value < 0 else "thicker"
    expected = belief.predict(size_of(packs[best].total), noise).normal
    why = state.phrases.sentence(f"why.preload_{direction}", change=say(_absolute(change.change)))
    return _move(state, step.id, (change,), "pinion_drag", expected, chances[best], why)


def _depth_move(state: State, step: Step) -> MoveProposed | Unreachable:
    belief, fitted, bounds = pr.depth_belief(state), state.pack("pinion_shims"), _bounds(state, "pinion_depth")
    assert belief is not None
    assert fitted is not None
    assert bounds is not None
    now = Length.of(fitted.total)
    packs = [pack for pack in _near(state, "pinion_shims", now) if pack.total != now]
    chances = [belief.chance(size_of(pack.total), *bounds) for pack in packs]
    middle = (bounds[0] + bounds[1]) / 2
    order = sorted(
        range(len(packs)),
        key=lambda i: (-round(chances[i], 3), abs(belief.predict(size_of(packs[i].total)).mean - middle), len(packs[i].shims)),
    )
    if not order or chances[order[0]] < _HOPELESS:
        return Unreachable(state.phrases.sentence("unreachable.kit", part=state.phrases.name("pinion_shims")))
    pack, chance = packs[order[0]], chances[order[0]]
    return _pinion_move(state, step, pack, "pinion_depth", belief.predict(size_of(pack.total)), chance)


def _pinion_move(state: State, step: Step, pack: Pack, quantity: str, expected: Normal | None, chance: float | None) -> MoveProposed:
    fitted = state.pack("pinion_shims")
    assert fitted is not None
    change = _pack_change(state, "pinion_shims", fitted.total, pack)
    away = state.job.axle.depth_sign * size_of(Length.of(change.change))
    why = state.phrases.sentence(
        f"why.depth_{'out' if away > 0 else 'in'}",
        change=say(_absolute(change.change)),
        more=state.phrases.sentence("depth.thicker" if change.change.value > 0 else "depth.thinner"),
        **_seat(state, "pinion_shims"),
    )
    return _move(state, step.id, (change, *_ring_compensation(state, away)), quantity, expected, chance, why)


def _ring_compensation(state: State, pinion_away_um: float) -> tuple[Change, ...]:
    """The ring gear's own move when the pinion moves under a measured backlash, so that backlash stays where it was."""
    if not pr.evidence(state, "backlash") or state.job.axle.carrier != "adjusters":
        return ()
    belief = pr.backlash_belief(state)
    notches = round(-belief.k_pinion.mean * pinion_away_um / (belief.k_ring.mean * pr.notch_lead(state)))
    return _notch_changes(state, notches) if notches else ()


def _backlash_move(state: State, step: Step) -> MoveProposed | Unreachable:
    belief, bounds, limits = pr.backlash_belief(state), _bounds(state, "backlash"), state.job.limits("backlash")
    assert bounds is not None
    assert limits is not None
    now, zero, lead = pr.fitted_now(state), pr.pinion_zero(state), pr.notch_lead(state)
    ring, pinion = pr.ring_away(state, now), pr.pinion_away(state, now) - zero
    spots = [pr.degrees_of(spot, state.job.backlash_spots) for spot in range(1, state.job.backlash_spots + 1)]
    variation = pr.size(limits.variation) if limits.variation is not None else None
    judge: Judge = "minimum" if limits.judge == "minimum" else "mean" if limits.judge == "mean" else "all"
    counts = [n for n in range(-_MOST_NOTCHES, _MOST_NOTCHES + 1) if n]
    chances = {n: belief.chance(ring + n * lead, pinion, spots, *bounds, variation, judge) for n in counts}
    middle = (bounds[0] + bounds[1]) / 2
    best = min(counts, key=lambda n: (-round(chances[n], 3), abs(belief.predict_mean(ring + n * lead, pinion, spots).mean - middle)))
    if chances[best] < _HOPELESS:
        return Unreachable(state.phrases.sentence("unreachable.variation"))
    expected = belief.predict_mean(ring + best * lead, pinion, spots)
    why = state.phrases.sentence("why.backlash_open" if best > 0 else "why.backlash_close", **_sides(state))
    return _move(state, step.id, _notch_changes(state, best), "backlash", expected, chances[best], why)


def _total_move(state: State, step: Step) -> MoveProposed | Unreachable:
    """More or less preload of the carrier bearings, the same on both sides so that the ring gear stays where it is."""
    belief, bounds, pinion = pr.carrier_belief(state), _bounds(state, "total_drag"), state.latest("pinion_drag")
    assert bounds is not None
    if belief is None or pinion is None or pinion.value is None or state.job.axle.carrier != "adjusters":
        return Unreachable(state.phrases.sentence("unreachable.total"))
    ratio = state.job.axle.ring_teeth / state.job.axle.pinion_teeth
    rest = pr.size(pinion.value) + pr.seal_allowance(state).mean
    noise = priors.torque_spread(sum(bounds) / 2) * ratio
    low, high = (bounds[0] - rest) * ratio, (bounds[1] - rest) * ratio
    now = pr.side_total(pr.fitted_now(state))
    counts = [n for n in range(-4, 5) if n]
    chances = dict(zip(counts, belief.chances([now + 2 * n for n in counts], low, high, noise), strict=True))
    best = max(counts, key=lambda n: (round(chances[n], 3), -abs(n)))
    if chances[best] < _HOPELESS:
        return Unreachable(state.phrases.sentence("unreachable.total"))
    outlook = belief.predict(now + 2 * best, noise).normal
    expected = Normal(rest + outlook.mean / ratio, outlook.spread / ratio)
    sides = ("ring_side_adjuster", "opposite_adjuster") if best < 0 else ("opposite_adjuster", "ring_side_adjuster")
    changes = tuple(_notch_change(state, part, Decimal(best)) for part in sides)
    why = state.phrases.sentence("why.total_more" if best > 0 else "why.total_less")
    return _move(state, step.id, changes, "total_drag", expected, chances[best], why)


def _pattern_move(state: State, step: Step) -> MoveProposed | Unreachable:
    """A small step in the direction that both flanks ask for; only for a job whose manual gives no depth (numbers come before prints)."""
    direction = pattern_asks(state)
    fitted = state.pack("pinion_shims")
    tried = sum(1 for move in state.moves_made if move.quantity == "pattern")
    if direction not in ("pinion in", "pinion out") or fitted is None or tried >= 4:
        return Unreachable(state.phrases.sentence("unreachable.pattern"))
    out = direction == "pinion out"
    step_size = _PATTERN_STEPS[min(tried, 1)]
    wanted = Length.of(fitted.total) + step_size.times(state.job.axle.depth_sign * (1 if out else -1))
    pack = best_pack(wanted, [*_kit(state, "pinion_shims")], prefer=[Length.of(shim) for shim in fitted.stack])
    if pack is None or pack.total == Length.of(fitted.total):
        return Unreachable(state.phrases.sentence("unreachable.kit", part=state.phrases.name("pinion_shims")))
    return _pinion_move(state, step, pack, "pattern", None, None)


# How the print moves, (drive, coast) → what is wrong: Revolution Gear & Axle contact pattern page, backlash and mounting-distance rows; the
# milled ring row agrees with TM 10-3930-638-24&P, the hobbed rows with the GM Silverado 2008 table (docs/trade.md, section 6).
_MILLED = {
    ("toe root", "toe root"): "ring out",
    ("heel tip", "heel tip"): "ring in",
    ("toe root", "heel root"): "pinion out",
    ("heel tip", "toe tip"): "pinion in",
}
_HOBBED = {
    ("toe root", "heel root"): "ring out",
    ("heel tip", "toe tip"): "ring in",
    ("heel root", "toe root"): "pinion out",
    ("toe tip", "heel tip"): "pinion in",
}


def pattern_asks(state: State) -> str | None:
    """Which way the two flanks together ask for: `pinion in`, `pinion out`, `ring in`, `ring out`; None where they ask for nothing.

    The corrective move, the opposite of the cause. Contradictory words, one flank alone or an unknown cut give no move.
    """
    drive, coast = (_usual_print(state, name) for name in ("pattern_drive", "pattern_coast"))
    if drive is None or coast is None:
        return None
    tables = {"face-milled": (_MILLED,), "face-hobbed": (_HOBBED,)}.get(state.job.axle.teeth, (_MILLED, _HOBBED))
    answers = {table.get((drive, coast)) for table in tables}
    return answers.pop() if len(answers) == 1 else None


def _usual_print(state: State, quantity: str) -> str | None:
    """The print that most spots show; None when there is no majority."""
    prints = [r.choice for r in state.current(quantity) if r.choice is not None]
    return next((p for p in prints if prints.count(p) * 2 > len(prints)), None)


# ---- building blocks


def size_of(length: Length) -> float:
    """Micrometres."""
    return length.nanometres / 1000


def _bounds(state: State, quantity: str) -> tuple[float, float] | None:
    limits = state.job.limits(quantity)
    if limits is None or limits.low is None or limits.high is None:
        return None
    return pr.size(limits.low), pr.size(limits.high)


def _kit(state: State, part: str) -> tuple[Shim, ...]:
    return tuple(Shim(Length.of(item.thickness), item.count) for item in state.kit(part))


def _near(state: State, part: str, now: Length) -> tuple[Pack, ...]:
    fitted = state.pack(part)
    prefer = [Length.of(shim) for shim in fitted.stack] if fitted else []
    return packs_near(now, _kit(state, part), within=_FARTHEST, limit=120, prefer=prefer)


def _pack_change(state: State, part: str, before: Quantity, pack: Pack) -> Change:
    unit = state.job.units
    total = pack.total.quantity(unit)
    return Change(
        part,
        before.to(unit),
        total,
        quantity_from(total.number_in(unit) - before.number_in(unit), unit),
        tuple(s.quantity(unit) for s in pack.shims),
    )


def _notch_change(state: State, part: str, count: Decimal) -> Change:
    fitted = state.pack(part)
    before = fitted.total if fitted is not None else Quantity(Decimal(0), "notch")
    return Change(part, before, Quantity(before.value + count, "notch"), Quantity(count, "notch"), ())


def _notch_changes(state: State, away: int) -> tuple[Change, ...]:
    """Move the ring gear by notches, positive away from the pinion: loosen first, then tighten the other side as far."""
    ring, opposite = _notch_change(state, "ring_side_adjuster", Decimal(-away)), _notch_change(state, "opposite_adjuster", Decimal(away))
    return (ring, opposite) if away > 0 else (opposite, ring)


def _absolute(quantity: Quantity) -> Quantity:
    return Quantity(abs(quantity.value), quantity.unit)


def _seat(state: State, part: str) -> dict[str, str]:
    if part != "pinion_shims":
        return {}
    seat = state.phrases.sentence(f"seat.{state.job.axle.pinion_shims}")
    return {"seat": seat, "way": state.phrases.sentence("way.out" if state.job.axle.depth_sign > 0 else "way.in")}


def _sides(state: State) -> dict[str, str]:
    return {"ring_side": state.job.axle.ring_gear_side, "opposite": state.job.axle.opposite_side}


def _move(
    state: State,
    step: str,
    changes: Sequence[Change],
    quantity: str,
    expected: Normal | None,
    chance: float | None,
    why: str,
    *,
    start: bool = False,
) -> MoveProposed:
    unit = state.job.unit_of(quantity) if quantity != "pattern" else "1"
    low, high = expected.interval() if expected is not None else (None, None)
    return MoveProposed(
        group=f"m{state.move_count + 1}",
        step=step,
        changes=tuple(changes),
        quantity=quantity,
        expected=pr.quantity_of(expected.mean, unit) if expected is not None else None,
        low=pr.quantity_of(low, unit) if low is not None else None,
        high=pr.quantity_of(high, unit) if high is not None else None,
        chance=None if chance is None else rounded(Fraction(min(max(chance, 0.0), 1.0)), 2),
        why=why,
        start=start,
    )


def changed_parts(move: MoveProposed) -> Iterable[str]:
    """The parts that a move changes."""
    return (change.part for change in move.changes)
