"""Which change to make: the one most likely to land in spec, out of those that the kit and the adjusters can make.

This module chooses; `predictions` predicts. Every change is exact (what is fitted is a sum of real shims, or whole notches); only its
chance and its expectation come from the belief. The ring gear is compensated when the pinion moves under a measured backlash.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import partial

from assistant.core import predictions as pr
from assistant.core.axle import PATTERNS, QUANTITIES
from assistant.core.belief import priors
from assistant.core.belief.backlash import Judge
from assistant.core.belief.carrier import tightness
from assistant.core.belief.normal import Normal
from assistant.core.belief.outlook import Outlook
from assistant.core.events import Change, MoveProposed
from assistant.core.quantities import Length, Quantity, quantity_from, rounded, unit_named
from assistant.core.stacks import NearestPack, Pack, Shim, best_pack, nearest_pack, packs_near
from assistant.core.state import Reading, State, applies, in_spec
from assistant.core.steps import Step
from assistant.core.sums.depth import shim_change_for_etch

# Packs farther than this from the one that is in are not weighed: no preload or depth correction of the trade is larger (F02 warns above .010 in).
_FARTHEST = Length(50 * 25_400)
MOST_NOTCHES = 24
# Two packs no farther apart than this, in micrometres, are the same total: kits are made in steps of ten thousandths of an inch at the finest.
_SAME_PLACE = 0.5
_COARSE = 8
# Below this chance a change is no better than a guess, and the quantity is called unreachable with this kit.
HOPELESS = 0.02
# A pattern alone gives a direction; the first step and the later ones are small (.004 then .002 in: common practice, no source).
# A total this many spreads off what its shares make up was read wrong, or one of them was.
_ADDS_UP = 4.0
SIDES = ("ring_side_shims", "opposite_shims")
# Turns of a nut on a crush sleeve, and the chance of going past the range that one turn may bring. 5 to 10 degrees near the end are usual
# (Toyota LS430 2003), an eighth of a turn at most (common practice, no source).
_CREEP_DEGREES = (5, 8, 10, 15, 20, 30, 45)
_OVERSHOOT = 0.015
_MOST_PATTERN_STEPS = 4
_PATTERN_STEPS = (Length(4 * 25_400), Length(2 * 25_400))


@dataclass(frozen=True)
class Unreachable:
    """No change brings the quantity into the manual's range; reason: one sentence to be said."""

    reason: str


def start_move(state: State, step: Step) -> MoveProposed | None:
    """The first pack, sleeve or preload of the adjusters that a fit step puts in; None when there is nothing to start from."""
    part = step.fits
    if part in ("preload_shims", "pinion_shims"):
        return _start_pack(state, step, part)
    if part == "ring_side_shims":
        return _start_sides(state, step)
    if part == "ring_side_adjuster" and state.job.carrier_preload is not None:
        return _start_notches(state, step, state.job.carrier_preload)
    if part == "crush_sleeve":
        return proposed(
            state, step.id, (_sleeve_change(state),), "pinion_drag", None, None, state.phrases.sentence("why.sleeve"), start=True
        )
    return None


def _start_pack(state: State, step: Step, part: str) -> MoveProposed | None:
    old = _start_thickness(state, part)
    if old is None:
        return None
    fitted = state.pack(part)
    wanted, why = _start_target(state, part, Length.of(old))
    pack = best_pack(wanted, kit(state, part))
    if fitted is not None:
        if _was_corrected(state, (part,)) or pack is None or pack.total == Length.of(fitted.total):
            # Gone back to: what is in stays the aim, not what was in before the first change.
            wanted, why = Length.of(fitted.total), "why.start_again"
            pack = best_pack(wanted, kit(state, part), prefer=[Length.of(shim) for shim in fitted.stack])
        old = fitted.total
    change = pack_change(state, part, old, pack or Pack((wanted,)))
    quantity = "pinion_drag" if part == "preload_shims" else "pinion_depth"
    expected, chance = _start_outlook(state, quantity)
    return proposed(state, step.id, (change,), quantity, expected, chance, state.phrases.sentence(why, **_seat(state, part)), start=True)


def _was_corrected(state: State, parts: Sequence[str]) -> bool:
    """Whether a reading has moved one of these packs since the first was fitted: then the number that the first rested on counts no more."""
    return any(part in parts for move in state.moves_made if not move.start for part in changed_parts(move))


def _start_thickness(state: State, part: str) -> Quantity | None:
    """What was in the axle before, or what the manual starts from."""
    old = state.latest("old_stack_thickness", part) or state.latest("stack_thickness", part)
    return old.value if old is not None else None


def _start_target(state: State, part: str, old: Length) -> tuple[Length, str]:
    """The first pack to aim for, and the reason for it."""
    parts, axle = state.job.parts, state.job.axle
    if part == "preload_shims":
        old_pinion, pinion = _start_thickness(state, "pinion_shims"), state.pack("pinion_shims")
        if axle.pinion_shims == "head-cup" and old_pinion is not None and pinion is not None:
            # A thicker depth pack behind the cup pushes the cups apart: the preload pack follows one for one (geometry; common practice).
            return old + Length.of(pinion.total) - Length.of(old_pinion), "why.start_preload_cup"
        return old, "why.start_preload"
    if parts.etch_new is None or parts.etch_sign is None:
        return old, "why.start_depth"
    etch_old = Length.of(parts.etch_old) if parts.etch_old is not None else Length(0)
    wanted = old + shim_change_for_etch(axle.pinion_shims, parts.etch_sign, etch_old, Length.of(parts.etch_new))
    return wanted, f"why.start_depth_etch_{'old_unknown' if parts.etch_old is None else parts.etch_sign}"


def _start_outlook(state: State, quantity: str) -> tuple[Normal | None, float | None]:
    """What a first pack is expected to give: the middle of the manual's range, as widely as a first try is known."""
    middle, bounds = pr.aim(state, quantity), range_for(state, quantity)
    if middle is None or bounds is None:
        return None, None
    guess = Normal(middle, priors.FIRST_PINION_DRAG.spread if quantity == "pinion_drag" else priors.FIRST_DEPTH_SPREAD_UM)
    return guess, guess.chance(*bounds)


def _start_notches(state: State, step: Step, preload: Quantity) -> MoveProposed:
    """The manual's preload notches from zero play: half on each side, an odd one on the opposite side (it opens the mesh)."""
    ring = Decimal(int(preload.value) // 2)
    sides = (("opposite_adjuster", preload.value - ring), ("ring_side_adjuster", ring))
    changes = tuple(notch_change(state, part, count) for part, count in sides if count)
    return proposed(state, step.id, changes, "backlash", None, None, state.phrases.sentence("why.start_notches"), start=True)


def _start_sides(state: State, step: Step) -> MoveProposed | None:
    """The old side packs again, as the kit can make them, their sum kept."""
    old = tuple(_start_thickness(state, part) for part in SIDES)
    if old[0] is None or old[1] is None:
        return None
    before = tuple(fitted.total if (fitted := state.pack(part)) is not None else old[index] for index, part in enumerate(SIDES))
    ring, opposite = (Length.of(total) for total in (before if _was_corrected(state, SIDES) else old) if total is not None)
    packs = _side_packs(state, ring, ring + opposite) or (Pack((ring,)), Pack((opposite,)))
    changes = tuple(
        pack_change(state, part, total, pack) for part, total, pack in zip(SIDES, before, packs, strict=True) if total is not None
    )
    return proposed(state, step.id, changes, "backlash", None, None, state.phrases.sentence("why.start_sides"), start=True)


def correction(state: State, quantity: str, step: Step) -> MoveProposed | Unreachable:
    """The change that brings a quantity which is out of its range into it with the best chance."""
    choose = {
        "pinion_drag": _pinion_correction,
        "pinion_depth": _pinion_correction,
        "backlash": _backlash_move,
        "total_drag": _total_move,
        "carrier_drag": _carrier_move,
        "pattern": _pattern_move,
        "creep": _creep_move,
    }
    return choose[quantity](state, step)


# ---- pinion: preload and depth


@dataclass(frozen=True)
class _Choice:
    """A pack, what it should give, and its chance to be in range."""

    pack: Pack
    expected: Normal | Outlook
    chance: float


def _pinion_correction(state: State, step: Step) -> MoveProposed | Unreachable:
    """Preload and depth: each by itself in a cartridge, both in one assembly in an integral housing."""
    integral = state.job.axle.pinion_shims != "flange"
    wants_drag = step.quantity == "pinion_drag" or (integral and _is_out(state, "pinion_drag"))
    wants_depth = step.quantity == "pinion_depth" or (integral and _is_out(state, "pinion_depth"))
    depth = _depth_choice(state) if wants_depth else None
    if wants_depth and depth is None and step.quantity == "pinion_depth":
        return Unreachable(state.phrases.sentence("unreachable.kit", part=state.phrases.name("pinion_shims")))
    couples = state.job.axle.pinion_shims == "head-cup" and depth is not None and state.pack("preload_shims") is not None
    preload = _preload_choice(state, depth.pack if depth is not None else None) if wants_drag or couples else None
    if wants_drag and preload is None and step.quantity == "pinion_drag":
        return Unreachable(state.phrases.sentence("unreachable.kit", part=state.phrases.name("preload_shims")))
    changes: list[Change] = []
    reasons: list[str] = []
    if depth is not None:
        changes.append(pack_change(state, "pinion_shims", fitted_total(state, "pinion_shims"), depth.pack))
        reasons.append(_why_depth(state, changes[-1]))
        changes += _ring_compensation(state, state.job.axle.depth_sign * size_of(Length.of(changes[-1].change)))
    if preload is not None:
        changes.append(pack_change(state, "preload_shims", fitted_total(state, "preload_shims"), preload.pack))
        reasons.append(_why_preload(state, changes[-1], wants_drag=wants_drag))
    # The drag is read first after both were changed.
    quantity, choice = ("pinion_drag", preload) if preload is not None else ("pinion_depth", depth)
    assert choice is not None
    return proposed(state, step.id, changes, quantity, choice.expected, choice.chance, " ".join(reasons))


def _is_out(state: State, quantity: str) -> bool:
    return in_spec(state, quantity) is False and quantity not in state.unreachable


def _preload_choice(state: State, pinion_pack: Pack | None) -> _Choice | None:
    """The preload pack with the best chance, given the depth pack that goes in with it; None where the kit has no pack worth fitting."""
    belief, bounds, fitted = pr.drag_belief(state), range_for(state, "pinion_drag"), state.pack("preload_shims")
    if belief is None or bounds is None or fitted is None:
        return None
    middle = (bounds[0] + bounds[1]) / 2
    noise = priors.torque_spread(middle)
    now = Length.of(fitted.total)
    follows = Length(0)
    if pinion_pack is not None and state.job.axle.pinion_shims == "head-cup":
        follows = pinion_pack.total - Length.of(fitted_total(state, "pinion_shims"))
    at = pr.tightness_at(state, pr.fitted_now(state))
    assert at is not None
    packs = [pack for pack in _near(state, "preload_shims", now + follows) if pack.total != now or follows != Length(0)]
    # What is too loose is made tighter, what is too tight looser, whatever a pack's own error may make of it.
    latest = state.latest("pinion_drag")
    drag = pr.size(latest.value) if latest is not None and latest.value is not None else middle
    way = belief.tightens if drag < bounds[0] else -belief.tightens if drag > bounds[1] else 0
    packs = [pack for pack in packs if way == 0 or way * size_of(pack.total - now - follows) > 0]
    if not packs:
        return None
    places = [at + size_of(pack.total - now - follows) for pack in packs]
    # The same shims give the same drag again: a pack that was read before is as good as that reading, whatever the rest teaches.
    read = _drags_read(state, pinion_pack)
    known = [_drag_read_at(read, place) for place in places]
    supposed = belief.chances(places, *bounds, noise)
    chances = [chance if read is None else read.chance(*bounds) for chance, read in zip(supposed, known, strict=True)]
    # Of packs that are as good, the one nearest to the middle of the range: the next reading then teaches and lands at once.
    most = max(round(chance, 3) for chance in chances)
    good = [i for i, chance in enumerate(chances) if round(chance, 3) == most]
    best = min(good, key=lambda i: abs(belief.predict(places[i], noise).mean - middle))
    return _Choice(packs[best], known[best] or belief.predict(places[best], noise), chances[best]) if chances[best] >= HOPELESS else None


def _drags_read(state: State, pinion_pack: Pack | None) -> list[tuple[float, int, float]]:
    """Every pinion drag that was read: the coordinate that its packs gave, its assembly, the drag.

    Behind the head cup only those with the depth pack that will be in: two other packs of the same difference are not the same shims.
    """
    pinion = state.pack("pinion_shims")
    depth = pinion_pack.total if pinion_pack is not None else Length.of(pinion.total) if pinion is not None else None
    return [
        (there, reading.assembly, pr.size(reading.value))
        for reading in pr.evidence(state, "pinion_drag")
        if reading.value is not None
        and (there := pr.tightness_at(state, reading.fitted)) is not None
        and (state.job.axle.pinion_shims != "head-cup" or depth is None or Length.of(dict(reading.fitted)["pinion_shims"]) == depth)
    ]


def _drag_read_at(read: Sequence[tuple[float, int, float]], at: float) -> Normal | None:
    """The pinion drag as it was read (`_drags_read`) with the packs that give this coordinate; None where they were not in before.

    Read in two assemblies, it is known: another fit of the same is not worth a teardown, however near to the limit it lies.
    """
    seen = [(assembly, drag) for there, assembly, drag in read if abs(there - at) < _SAME_PLACE]
    mean = sum(drag for _, drag in seen) / len(seen) if seen else 0.0
    once = len({assembly for assembly, _ in seen}) == 1
    return Normal(mean, priors.torque_spread(mean) if once else 1e-6) if seen else None


def _depth_choice(state: State) -> _Choice | None:
    """The depth pack with the best chance; None where the kit has no other pack worth fitting."""
    belief, bounds, fitted = pr.depth_belief(state), range_for(state, "pinion_depth"), state.pack("pinion_shims")
    if belief is None or bounds is None or fitted is None:
        return None
    now = Length.of(fitted.total)
    packs = [pack for pack in _near(state, "pinion_shims", now) if pack.total != now]
    chances = [belief.chance(size_of(pack.total), *bounds) for pack in packs]
    middle = (bounds[0] + bounds[1]) / 2
    order = sorted(
        range(len(packs)),
        key=lambda i: (-round(chances[i], 3), abs(belief.predict(size_of(packs[i].total)).mean - middle), len(packs[i].shims)),
    )
    if not order or chances[order[0]] < HOPELESS:
        return None
    return _Choice(packs[order[0]], belief.predict(size_of(packs[order[0]].total)), chances[order[0]])


def _why_depth(state: State, change: Change) -> str:
    out = state.job.axle.depth_sign * change.change.value > 0
    return state.phrases.sentence(
        f"why.depth_{'out' if out else 'in'}",
        change=state.phrases.say(_absolute(change.change)),
        more=state.phrases.sentence("depth.thicker" if change.change.value > 0 else "depth.thinner"),
        **_seat(state, "pinion_shims"),
    )


def _why_preload(state: State, change: Change, *, wants_drag: bool) -> str:
    if not wants_drag:
        return state.phrases.sentence("why.preload_follows")
    direction = "thinner" if change.change.value < 0 else "thicker"
    drag, bounds = state.latest("pinion_drag"), range_for(state, "pinion_drag")
    low = drag is not None and drag.value is not None and bounds is not None and pr.size(drag.value) < bounds[0]
    if (direction == "thinner") != low:  # a depth pack behind the cup outweighs the correction itself
        return state.phrases.sentence("why.preload_follows")
    return state.phrases.sentence(f"why.preload_{direction}", change=state.phrases.say(_absolute(change.change)))


def _ring_compensation(state: State, pinion_away_um: float) -> tuple[Change, ...]:
    """The ring gear's own move when the pinion moves under a measured backlash, so that backlash stays where it was."""
    if not pr.evidence(state, "backlash"):
        return ()
    belief = pr.backlash_belief(state)
    away = -belief.k_pinion.mean * pinion_away_um / belief.k_ring.mean
    if state.job.axle.carrier == "adjusters":
        notches = round(away / pr.notch_lead(state))
        return notch_changes(state, notches) if notches else ()
    now = tuple(Length.of(fitted_total(state, part)) for part in SIDES)
    packs = _side_packs(state, now[0] - Length(round(away * 1000)), now[0] + now[1])
    return side_changes(state, packs) if packs is not None else ()


def _creep_move(state: State, step: Step) -> MoveProposed | Unreachable:
    """The next turn of the nut on a crush sleeve: as far as it goes with hardly any chance of going past the range, which no nut undoes."""
    belief, bounds, latest, nut = (
        pr.drag_belief(state),
        range_for(state, "pinion_drag"),
        state.latest("pinion_drag"),
        state.pack("crush_nut"),
    )
    assert latest is not None
    assert latest.value is not None
    assert bounds is not None
    assert belief is not None
    assert nut is not None
    if pr.size(latest.value) > bounds[1]:
        return proposed(state, step.id, (_sleeve_change(state),), "pinion_drag", None, None, state.phrases.sentence("why.sleeve_over"))
    noise = priors.torque_spread((bounds[0] + bounds[1]) / 2)
    now = pr.tightness_at(state, pr.fitted_now(state))
    assert now is not None
    turn = _CREEP_DEGREES[0]
    for degrees in _CREEP_DEGREES:
        if 1 - belief.predict(now + degrees, noise).below(bounds[1]) > _OVERSHOOT:
            break
        turn = degrees
    outlook = belief.predict(now + turn, noise)
    change = Change("crush_nut", nut.total, Quantity(nut.total.value + turn, "deg"), Quantity(Decimal(turn), "deg"), ())
    return proposed(state, step.id, (change,), "pinion_drag", outlook, outlook.chance(*bounds), state.phrases.sentence("why.creep"))


def _sleeve_change(state: State) -> Change:
    fitted = state.pack("crush_sleeve")
    before = fitted.total if fitted is not None else Quantity(Decimal(0), "1")
    return Change("crush_sleeve", before, Quantity(before.value + 1, "1"), Quantity(Decimal(1), "1"), ())


# ---- ring: backlash and carrier preload


class _Mesh:
    """What a move of the ring gear, in micrometres away from the pinion, makes of the backlash."""

    def __init__(self, state: State) -> None:
        bounds, limits = range_for(state, "backlash"), state.job.limits("backlash")
        assert bounds is not None
        assert limits is not None
        now = pr.fitted_now(state)
        self._belief, self._bounds = pr.backlash_belief(state), bounds
        self._ring, self._pinion = pr.ring_away(state, now), pr.pinion_away(state, now) - pr.pinion_zero(state)
        self._spots = [pr.degrees_of(spot, state.job.backlash_spots) for spot in range(1, state.job.backlash_spots + 1)]
        self._variation = pr.size(limits.variation) if limits.variation is not None else None
        self._judge: Judge = "minimum" if limits.judge == "minimum" else "mean" if limits.judge == "mean" else "all"

    def chance(self, away: float) -> float:
        """That the round is in the manual's range."""
        return self._belief.chance(self._ring + away, self._pinion, self._spots, *self._bounds, self._variation, self._judge)

    def merit(self, away: float) -> tuple[float, float]:
        """Least is best: the chance first; of moves as good, how near the mean comes to the middle of the range."""
        mean = self._belief.predict_mean(self._ring + away, self._pinion, self._spots).mean
        return (-round(self.chance(away), 3), abs(mean - sum(self._bounds) / 2))

    def expected(self, away: float) -> Outlook:
        """A reading at any place round the ring."""
        return self._belief.predict_any(self._ring + away, self._pinion, self._spots)

    def best(self, step: float) -> float:
        """The best of the moves that are whole numbers of `step` micrometres."""
        # The merit has one summit: coarse places first, then every place between the neighbours of the best.
        rough = min(range(-80, 81, _COARSE), key=lambda n: self.merit(n * step))
        return step * min(range(rough - _COARSE + 1, rough + _COARSE), key=lambda n: self.merit(n * step))


def _backlash_move(state: State, step: Step) -> MoveProposed | Unreachable:
    mesh = _Mesh(state)
    candidates = _ring_moves(state, mesh)
    if not candidates:
        return Unreachable(state.phrases.sentence("unreachable.kit", part=state.phrases.name("ring_side_shims")))
    away, changes = min(candidates, key=lambda candidate: mesh.merit(candidate[0]))
    chance = mesh.chance(away)
    if chance < HOPELESS:
        return Unreachable(state.phrases.sentence("unreachable.variation"))
    kind = "backlash" if state.job.axle.carrier == "adjusters" else "side_backlash"
    why = state.phrases.sentence(f"why.{kind}_open" if away > 0 else f"why.{kind}_close", **_sides(state))
    return proposed(state, step.id, changes(), "backlash", mesh.expected(away), chance, why)


def _ring_moves(state: State, mesh: _Mesh) -> list[tuple[float, Callable[[], tuple[Change, ...]]]]:
    """The ring moves that can be made: (micrometres away from the pinion, what gives the changes).

    Whole notches, or side packs whose sum stays.
    """
    if state.job.axle.carrier == "adjusters":
        lead = pr.notch_lead(state)
        return [(n * lead, partial(notch_changes, state, n)) for n in range(-MOST_NOTCHES, MOST_NOTCHES + 1) if n]
    moves: list[tuple[float, Callable[[], tuple[Change, ...]]]] = []
    for away, pair in _side_moves(state, mesh, Length(0)):
        if away:
            moves.append((away, partial(side_changes, state, pair)))
    return moves


def _side_moves(state: State, mesh: _Mesh, more: Length) -> list[tuple[float, tuple[Pack, Pack]]]:
    """Pairs of side packs whose sum grows by `more`, round the best place for the ring gear: (micrometres that it goes away, the pair)."""
    ring, opposite = (Length.of(fitted_total(state, part)) for part in SIDES)
    # Half a thousandth, a hundredth of a millimetre: finer than kits are.
    aim = mesh.best(12.7 if state.job.units == "in" else 10.0)
    wanted = ring + Length(more.nanometres // 2 - round(aim * 1000))
    pairs = side_pairs(state, wanted, ring + opposite + more)
    return [(((pair[1].total - pair[0].total) - (opposite - ring)).nanometres / 2000, pair) for pair in pairs]


def _side_packs(state: State, ring: Length, total: Length) -> tuple[Pack, Pack] | None:
    """The two side packs nearest to a wanted ring-side pack and a wanted sum."""
    return next(_each_side_pair(state, ring, total, most=8), None)


def side_pairs(state: State, ring: Length, total: Length) -> list[tuple[Pack, Pack]]:
    """Pairs of side packs out of the one kit, the sum's error first, then the ring side's: what one side loses the other gains."""
    return list(_each_side_pair(state, ring, total, most=24))


def _each_side_pair(state: State, ring: Length, total: Length, most: int) -> Iterator[tuple[Pack, Pack]]:
    shims = kit(state, "ring_side_shims")
    pairs: list[tuple[Pack, NearestPack]] = []
    for pack in packs_near(ring, shims, within=_FARTHEST, limit=most):
        taken = Counter(pack.shims)
        rest = [Shim(shim.thickness, shim.count - taken.pop(shim.thickness, 0)) for shim in shims]
        other = nearest_pack(total - pack.total, [shim for shim in rest if shim.count > 0])
        if other is not None:
            pairs.append((pack, other))
    least = min((other.miss.nanometres for _, other in pairs), default=0)
    # A sum off by more than the best that the kit can do changes the preload for nothing.
    return ((pack, other.pack) for pack, other in pairs if other.miss.nanometres <= least + 5_100)


def side_changes(state: State, packs: tuple[Pack, Pack]) -> tuple[Change, ...]:
    """Both side packs fitted anew, the ring side first."""
    return tuple(pack_change(state, part, fitted_total(state, part), pack) for part, pack in zip(SIDES, packs, strict=True))


def _total_move(state: State, step: Step) -> MoveProposed | Unreachable:
    """More or less preload of the carrier bearings, for the total drag at the pinion."""
    bounds, pinion = range_for(state, "total_drag"), state.latest("pinion_drag")
    assert bounds is not None
    if pinion is None or pinion.value is None:
        return Unreachable(state.phrases.sentence("unreachable.total"))
    total, shares = state.latest("total_drag"), pr.total_of_shares(state)
    if total is not None and total.value is not None and shares is not None and abs(shares.z(pr.size(total.value))) > _ADDS_UP:
        return Unreachable(state.phrases.sentence("unreachable.total_shares"))
    rest = pr.size(pinion.value) + pr.seal_allowance(state).mean
    return _squeeze_move(state, step, bounds, rest, state.job.axle.ring_teeth / state.job.axle.pinion_teeth)


def _carrier_move(state: State, step: Step) -> MoveProposed | Unreachable:
    """The same for the drag of the carrier bearings themselves."""
    bounds = range_for(state, "carrier_drag")
    assert bounds is not None
    return _squeeze_move(state, step, bounds, 0.0, 1.0)


def _squeeze_move(state: State, step: Step, bounds: tuple[float, float], rest: float, ratio: float) -> MoveProposed | Unreachable:
    """Tighten or loosen both sides alike, so that the ring gear stays where it is. rest: what of the reading is not the carrier's."""
    assert step.quantity is not None
    kind = "total" if step.quantity == "total_drag" else "carrier"
    belief = pr.carrier_belief(state).drag
    noise = priors.torque_spread(sum(bounds) / 2) * ratio
    low, high = (bounds[0] - rest) * ratio, (bounds[1] - rest) * ratio
    now = tightness(*pr.sides(pr.fitted_now(state)))
    options = squeezes(state)
    places = [now + more for more, _ in options]
    chances = belief.chances(places, low, high, noise) if options else ()
    own = range_for(state, "carrier_drag")
    if options and kind == "total" and own is not None:
        # What the side bearings must have of themselves they keep: no total makes up for it.
        kept = belief.chances(places, *own, priors.torque_spread(sum(own) / 2))
        chances = tuple(chance * keep for chance, keep in zip(chances, kept, strict=True))
    if not options or max(chances) < HOPELESS:
        return Unreachable(state.phrases.sentence(f"unreachable.{kind}"))
    best = max(range(len(options)), key=lambda i: (round(chances[i], 3), -abs(options[i][0])))
    more, changes = options[best]
    why = state.phrases.sentence(f"why.{kind}_more" if more > 0 else f"why.{kind}_less")
    together = _mesh_with(state, step, more)
    if together is not None:
        more, changes, why = together
    outlook = belief.predict(now + more, noise)
    expected = outlook.scaled(1 / ratio).plus_number(rest)
    return proposed(state, step.id, changes, step.quantity, expected, outlook.chance(low, high), why)


# Above this chance of play in the side bearings a backlash is not read yet: looseness there feels like backlash.
_MAY_BE_LOOSE = 0.02


def mesh_is_read_first(state: State) -> bool:
    """Whether the backlash is still to be read with these side packs, and can be: the side bearings have no play that would spoil it."""
    if state.job.axle.carrier == "adjusters":
        return False
    to_be_read = any(
        step.ask == "reading"
        and step.quantity == "backlash"
        and step.phase == "backlash"
        and step.id not in state.done
        and applies(state, step)
        for step in state.procedure.steps
    )
    return to_be_read and pr.carrier_belief(state).drag.play(tightness(*pr.sides(pr.fitted_now(state)))) < _MAY_BE_LOOSE


def _mesh_with(state: State, step: Step, more: float) -> tuple[float, tuple[Change, ...], str] | None:
    """A backlash that is out of its range, set with the same side packs: they come out anyway. more: micrometres that both shall grow by.

    Gives what they grow by, the changes and the reason; None where the ring gear stays.
    """
    if step.quantity != "carrier_drag" or state.job.axle.carrier == "adjusters" or in_spec(state, "backlash") is not False:
        return None
    mesh = _Mesh(state)
    pairs = [(away, pair) for away, pair in _side_moves(state, mesh, Length(round(more * 1000))) if _grows(state, pair) * more > 0]
    if not pairs:
        return None
    away, pair = min(pairs, key=lambda candidate: mesh.merit(candidate[0]))
    why = f"why.carrier_{'more' if more > 0 else 'less'}_{'open' if away > 0 else 'close'}"
    return _grows(state, pair), side_changes(state, pair), state.phrases.sentence(why, **_sides(state))


def _grows(state: State, packs: tuple[Pack, Pack]) -> float:
    """Micrometres that both sides grow by together."""
    ring, opposite = (Length.of(fitted_total(state, part)) for part in SIDES)
    return size_of(packs[0].total + packs[1].total - ring - opposite)


def squeezes(state: State) -> list[tuple[float, tuple[Change, ...]]]:
    """The changes of preload that can be made: (notches or micrometres of both sides together, the changes)."""
    if state.job.axle.carrier == "adjusters":
        found = []
        for n in (-4, -3, -2, -1, 1, 2, 3, 4):
            sides = ("ring_side_adjuster", "opposite_adjuster") if n < 0 else ("opposite_adjuster", "ring_side_adjuster")
            found.append((float(2 * n), tuple(notch_change(state, part, Decimal(n)) for part in sides)))
        return found
    ring, opposite = (Length.of(fitted_total(state, part)) for part in SIDES)
    step = Length(25_400) if state.job.units == "in" else Length(20_000)
    options: dict[int, tuple[float, tuple[Change, ...]]] = {}
    for n in range(-10, 11):
        pair = _side_packs(state, ring + step.times(n), ring + opposite + step.times(2 * n))
        more = (pair[0].total + pair[1].total - ring - opposite).nanometres if pair is not None else 0
        if pair is not None and more:
            options.setdefault(more, (more / 1000, side_changes(state, pair)))
    return list(options.values())


# ---- pattern


def _pattern_move(state: State, step: Step) -> MoveProposed | Unreachable:
    """A small step in the direction that both flanks ask for; only for a job whose manual gives no depth (numbers come before prints)."""
    direction = pattern_asks(state)
    fitted = state.pack("pinion_shims")
    made = [move for move in state.moves_made if move.quantity == "pattern"]
    if direction not in ("pinion in", "pinion out") or fitted is None or len(made) >= _MOST_PATTERN_STEPS:
        return Unreachable(state.phrases.sentence("unreachable.pattern"))
    sign = state.job.axle.depth_sign * (1 if direction == "pinion out" else -1)
    before = [next(change.change.value for change in move.changes if change.part == "pinion_shims") for move in made]
    if len(before) > 1 and before[-1] * sign < 0:
        # Past it, and back by the small step: it lies between two packs that a print cannot tell apart any better.
        return Unreachable(state.phrases.sentence("unreachable.pattern_between"))
    wanted = Length.of(fitted.total) + _PATTERN_STEPS[min(len(made), 1)].times(sign)
    pack = best_pack(wanted, kit(state, "pinion_shims"), prefer=[Length.of(shim) for shim in fitted.stack])
    if pack is None or pack.total == Length.of(fitted.total):
        return Unreachable(state.phrases.sentence("unreachable.kit", part=state.phrases.name("pinion_shims")))
    change = pack_change(state, "pinion_shims", fitted.total, pack)
    changes = [change, *_ring_compensation(state, state.job.axle.depth_sign * size_of(Length.of(change.change)))]
    if state.job.axle.pinion_shims == "head-cup" and state.pack("preload_shims") is not None:
        preload = _preload_choice(state, pack)
        changes += [pack_change(state, "preload_shims", fitted_total(state, "preload_shims"), preload.pack)] if preload is not None else []
    return proposed(state, step.id, changes, "pattern", None, None, _why_depth(state, change))


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
    drive, coast = (_usual_print(state, name) for name in PATTERNS)
    if drive is None or coast is None or any(opposed_prints(state, name) is not None for name in PATTERNS):
        return None
    tables = {"face-milled": (_MILLED,), "face-hobbed": (_HOBBED,)}.get(state.job.axle.teeth, (_MILLED, _HOBBED))
    answers = {table.get((drive, coast)) for table in tables}
    return answers.pop() if len(answers) == 1 else None


_ALONG, _ACROSS = ("toe", "heel"), ("root", "tip")


def opposed_prints(state: State, quantity: str) -> tuple[Reading, Reading] | None:
    """Two places round the ring where one flank's print lies at opposite ends of the tooth, or at opposite edges; None where there are none.

    A ring gear that runs out carries its print from one end to the other once a turn (geometry of the offset; the trade's rule that a print
    which changes round the ring is runout: common practice, no source). No shim cures that.
    """
    prints = [r for r in state.current(quantity) if r.choice is not None]
    for ends in (_ALONG, _ACROSS):
        first, second = (next((r for r in prints if r.choice is not None and end in r.choice.split()), None) for end in ends)
        if first is not None and second is not None:
            return (first, second) if first.spot <= second.spot else (second, first)
    return None


def _usual_print(state: State, quantity: str) -> str | None:
    """The print that most spots show; None when there is no majority."""
    prints = [r.choice for r in state.current(quantity) if r.choice is not None]
    return next((p for p in prints if prints.count(p) * 2 > len(prints)), None)


# ---- building blocks


def size_of(length: Length) -> float:
    """Micrometres."""
    return length.nanometres / 1000


def range_for(state: State, quantity: str) -> tuple[float, float] | None:
    """The range to aim for. Where the manual gives one limit only: from nothing, or to twice the least (assumed; the verdict has no such bound)."""
    limits = state.job.limits(quantity)
    if limits is None or (limits.low is None and limits.high is None):
        return None
    low = 0.0 if limits.low is None else pr.size(limits.low)
    return low, 2 * low if limits.high is None else pr.size(limits.high)


def kit(state: State, part: str) -> tuple[Shim, ...]:
    """The shims of a part's kit, each size as measured, with how many there are; those that are fitted count as there."""
    return tuple(Shim(Length.of(item.thickness), item.count) for item in state.kit(part))


def fitted_total(state: State, part: str) -> Quantity:
    """What is fitted of a part; nothing before its first fit."""
    fitted = state.pack(part)
    return fitted.total if fitted is not None else Quantity(Decimal(0), state.job.units)


def _near(state: State, part: str, now: Length) -> tuple[Pack, ...]:
    fitted = state.pack(part)
    prefer = [Length.of(shim) for shim in fitted.stack] if fitted else []
    return packs_near(now, kit(state, part), within=_FARTHEST, limit=120, prefer=prefer)


def pack_change(state: State, part: str, before: Quantity, pack: Pack) -> Change:
    """`pack` fitted in place of one of `before`, in the job's own unit; exact: what is told is the sum of the shims."""
    unit = state.job.units
    total = pack.total.quantity(unit)
    return Change(
        part,
        before.to(unit),
        total,
        quantity_from(total.number_in(unit) - before.number_in(unit), unit),
        tuple(s.quantity(unit) for s in pack.shims),
    )


def notch_change(state: State, part: str, count: Decimal) -> Change:
    """An adjuster turned by so many notches, positive tightens, on top of what it was turned by before."""
    fitted = state.pack(part)
    before = fitted.total if fitted is not None else Quantity(Decimal(0), "notch")
    return Change(part, before, Quantity(before.value + count, "notch"), Quantity(count, "notch"), ())


def notch_changes(state: State, away: int) -> tuple[Change, ...]:
    """Move the ring gear by notches, positive away from the pinion: loosen first, then tighten the other side as far."""
    ring, opposite = notch_change(state, "ring_side_adjuster", Decimal(-away)), notch_change(state, "opposite_adjuster", Decimal(away))
    return (ring, opposite) if away > 0 else (opposite, ring)


def _absolute(quantity: Quantity) -> Quantity:
    return Quantity(abs(quantity.value), quantity.unit)


def _seat(state: State, part: str) -> dict[str, str]:
    if part != "pinion_shims":
        return {}
    seat = state.phrases.sentence(f"seat.{state.job.axle.pinion_shims}")
    return {"seat": seat, "way": state.phrases.sentence("way.out" if state.job.axle.depth_sign > 0 else "way.in")}


def _sides(state: State) -> dict[str, str]:
    sides = {"ring_side": state.job.axle.ring_gear_side, "opposite": state.job.axle.opposite_side}
    return {name: state.phrases.choice(side) for name, side in sides.items()}


def proposed(
    state: State,
    step: str,
    changes: Sequence[Change],
    quantity: str,
    expected: Normal | Outlook | None,
    chance: float | None,
    why: str,
    *,
    start: bool = False,
) -> MoveProposed:
    """The change as an event. expected: what the next reading of `quantity` should be; chance: that it is in range."""
    unit = state.job.unit_of(quantity) if quantity != "pattern" else "1"
    low, high = expected.interval() if expected is not None else (None, None)
    # No drag and no size is less than nothing, whatever a bell curve says.
    low = max(low, 0.0) if low is not None else None
    # Finer than it is read: rounded to the gauge's own step, the interval would hold more than it should; narrower than that step, it holds the
    # number that the gauge will show.
    finest = unit_named(unit).finest
    shown = pr.quantity_of(max(expected.quantile(0.5), 0.0), unit) if expected is not None else None
    return MoveProposed(
        group=f"m{state.move_count + 1}",
        step=step,
        changes=tuple(changes),
        quantity=quantity,
        expected=shown,
        low=min(pr.quantity_of(low, unit, finest), shown) if low is not None and shown is not None else None,
        high=max(pr.quantity_of(high, unit, finest), shown) if high is not None and shown is not None else None,
        chance=None if chance is None else rounded(Fraction(min(max(chance, 0.0), 1.0)), 2),
        why=why,
        start=start,
    )


def most_telling(state: State, move: MoveProposed) -> str | None:
    """The reading that would sharpen an uncertain move most; None where the change itself is the reading (creeping up on a sleeve).

    Backlash hangs on the wave round the ring as long as nobody knows the runout; else the number that is out of range, read once more as it
    stands, shares out the error of a single look.
    """
    if move.start or any(change.part in ("crush_nut", "crush_sleeve") for change in move.changes):
        return None
    if move.quantity == "backlash" and state.latest("ring_runout") is None:
        return "ring_runout"
    return move.quantity if move.quantity in QUANTITIES and pr.evidence(state, move.quantity) else None


def changed_parts(move: MoveProposed) -> Iterable[str]:
    """The parts that a move changes."""
    return (change.part for change in move.changes)
