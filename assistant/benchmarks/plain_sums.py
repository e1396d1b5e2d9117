"""Moves by plain sums, without a belief: what the benchmark on builds compares ours with.

`Sums.correction` stands in for `assistant.core.moves.correction`. Lengths in micrometres, torques in newton-metres.
"""

import math
from dataclasses import dataclass
from decimal import Decimal

from assistant.core import moves
from assistant.core import predictions as pr
from assistant.core.belief import priors
from assistant.core.belief.normal import Normal, standard_below
from assistant.core.events import Change, MoveProposed
from assistant.core.moves import Unreachable
from assistant.core.quantities import Length, Quantity
from assistant.core.stacks import Pack, best_pack
from assistant.core.state import State, in_spec
from assistant.core.steps import Step
from assistant.virtual_axle import VirtualAxle

# Backlash per ring move; drag per micrometre of squeeze (Land Rover Discovery II: 1 N·m for 0.025 mm); carrier drag per micrometre (assumed).
_THUMB_K, _THUMB_DRAG, _THUMB_CARRIER = 0.7, 1.0 / 25.0, 8.0 / 1000.0
# Degrees on a crush sleeve: 5 to 10 near the end (Toyota LS430 2003); always the fewer once a sleeve was lost.
_THUMB_TURN, _THUMB_NEAR = 10, 5
_MOST_TURN = 45


@dataclass(frozen=True)
class Sums:
    """A rule of thumb, or (knowing) the axle's own sensitivities; careful: of what was too much and what was too little it takes the middle."""

    axle: VirtualAxle
    knowing: bool = False
    careful: bool = False

    def correction(self, state: State, quantity: str, step: Step) -> MoveProposed | Unreachable:
        """As `moves.correction`."""
        chosen = {
            "pinion_drag": self._pinion, "pinion_depth": self._pinion, "backlash": self._backlash, "total_drag": self._squeeze,
            "carrier_drag": self._squeeze, "creep": self._creep,
        }.get(quantity)  # fmt: skip
        return chosen(state, step) if chosen is not None else moves.correction(state, quantity, step)

    # ---- pinion

    def _pinion(self, state: State, step: Step) -> MoveProposed | Unreachable:
        assert step.quantity is not None
        integral = state.job.axle.pinion_shims != "flange"
        both = self.knowing and integral
        changes: list[Change] = []
        moved_by = 0.0
        if step.quantity == "pinion_depth" or (both and in_spec(state, "pinion_depth") is False):
            change = self._depth_change(state)
            if change is not None:
                changes.append(change)
                moved_by = pr.size(change.change)
                if self.knowing and pr.evidence(state, "backlash"):
                    changes += self._ring_changes(state, -state.job.axle.depth_sign * moved_by * self._k_pinion() / self._k())
        couples = both and state.job.axle.pinion_shims == "head-cup" and moved_by != 0.0 and state.pack("preload_shims") is not None
        if step.quantity == "pinion_drag" or (both and in_spec(state, "pinion_drag") is False) or couples:
            change = self._preload_change(state, moved_by if state.job.axle.pinion_shims == "head-cup" else 0.0)
            changes += [change] if change is not None else []
        return self._moved(state, step, changes, step.quantity)

    def _depth_change(self, state: State) -> Change | None:
        middle, pack = pr.aim(state, "pinion_depth"), state.pack("pinion_shims")
        if middle is None or pack is None:
            return None
        lay = state.job.axle.depth_sign
        bases = [
            pr.size(pr.mounting_distance(state, reading.value)) - lay * pr.size(dict(reading.fitted)["pinion_shims"])
            for reading in pr.evidence(state, "pinion_depth")
            if reading.value is not None and "pinion_shims" in dict(reading.fitted)
        ]
        base = sum(bases) / len(bases) if self.knowing else bases[-1]
        return self._pack(state, "pinion_shims", lay * (middle - base))

    def _preload_change(self, state: State, follows: float) -> Change | None:
        middle, pack = pr.aim(state, "pinion_drag"), state.pack("preload_shims")
        readings = [r for r in pr.evidence(state, "pinion_drag") if r.value is not None]
        if middle is None or pack is None or not readings:
            return None
        if not self.knowing:
            drag = pr.size(readings[-1].value) if readings[-1].value is not None else 0.0
            wanted = pr.size(pack.total) - (middle - drag) / _THUMB_DRAG
            return self._pack(state, "preload_shims", self._between(state, wanted) if self.careful else wanted)
        at = pr.tightness_at(state, pr.fitted_now(state))
        assert at is not None
        wanted = self._contact(state) - self._squeeze_for(middle)
        return self._pack(state, "preload_shims", pr.size(pack.total) + (wanted - at) + follows)

    def _between(self, state: State, wanted: float) -> float:
        """A pack that was too loose and one that was too tight are known: the middle of them, if the sum leads past one."""
        limits = state.job.limits("pinion_drag")
        packs: dict[str, list[float]] = {"low": [], "high": []}
        assert limits is not None
        for reading in pr.evidence(state, "pinion_drag"):
            pack = dict(reading.fitted).get("preload_shims")
            if reading.value is not None and pack is not None and not limits.allows(reading.value):
                packs["low" if limits.low is not None and reading.value < limits.low else "high"].append(pr.size(pack))
        if not packs["low"] or not packs["high"]:
            return wanted
        loose, tight = min(packs["low"]), max(packs["high"])
        return wanted if tight < wanted < loose else (loose + tight) / 2

    def _contact(self, state: State) -> float:
        """Where the rollers just touch, along `tightness_at`: every reading above the free drag tells it, the others only bound it."""
        truth = self.axle.truth
        laws: list[Normal] = []
        loosest = math.inf
        for reading in pr.evidence(state, "pinion_drag"):
            at = pr.tightness_at(state, reading.fitted)
            if reading.value is None or at is None:
                continue
            drag = pr.size(reading.value)
            noise = priors.torque_spread(drag)
            if drag > truth.drag_free + 2 * noise:
                squeeze = self._squeeze_for(drag)
                slope = truth.drag_rate * (1 + 2 * truth.drag_bend * squeeze / 50.0) / 1000.0
                laws.append(Normal(at + squeeze, noise / slope))
            else:
                loosest = min(loosest, at)
        if laws:
            weights = [law.spread**-2 for law in laws]
            return sum(w * law.mean for w, law in zip(weights, laws, strict=True)) / sum(weights)
        # Still loose: what the old pack missed by, cut off at the tightest pack that was loose.
        first = pr.tightness_at(state, pr.evidence(state, "pinion_drag")[0].fitted)
        middle = pr.aim(state, "pinion_drag")
        assert first is not None
        assert middle is not None
        before = Normal(first + self._squeeze_for(middle), self.axle.constants.preload_miss_thou * 25.4)
        z = before.z(loosest)
        below = max(standard_below(z), 1e-9)
        return before.mean - before.spread * math.exp(-z * z / 2) / math.sqrt(2 * math.pi) / below

    def _squeeze_for(self, drag: float) -> float:
        """Micrometres of squeeze that give a drag, by the axle's own law."""
        truth = self.axle.truth
        over = max(drag - truth.drag_free, 0.0)
        curve = truth.drag_rate * truth.drag_bend / 0.05
        root = math.sqrt(truth.drag_rate**2 + 4 * curve * over)
        return 1000.0 * (over / truth.drag_rate if curve == 0 else (root - truth.drag_rate) / (2 * curve))

    def _creep(self, state: State, step: Step) -> MoveProposed | Unreachable:
        latest, nut = state.latest("pinion_drag"), state.pack("crush_nut")
        limits = state.job.limits("pinion_drag")
        assert latest is not None
        assert latest.value is not None
        assert nut is not None
        assert limits is not None
        assert limits.high is not None
        if latest.value > limits.high:
            return moves.correction(state, "creep", step)
        near = limits.low is not None and 2 * latest.value.base > limits.low.base
        careful = near or sum(move.changes[0].part == "crush_sleeve" for move in state.moves_made) > 1
        turn = self._turn(state, pr.size(latest.value)) if self.knowing else _THUMB_NEAR if careful else _THUMB_TURN
        change = Change("crush_nut", nut.total, Quantity(nut.total.value + turn, "deg"), Quantity(Decimal(turn), "deg"), ())
        return self._moved(state, step, [change], "pinion_drag")

    def _turn(self, state: State, drag: float) -> int:
        truth, middle = self.axle.truth, pr.aim(state, "pinion_drag")
        assert middle is not None
        seal = truth.seal_drag if state.job.limits("pinion_drag") is not None else 0.0
        free = truth.drag_free + seal
        there = self._squeeze_for(middle - seal)
        # Below the free drag's own spread contact may be just ahead: as far as would be right if it were here.
        here = self._squeeze_for(drag - seal) if drag > free + 2 * priors.torque_spread(drag) else 0.0
        return max(1, min(_MOST_TURN, int((there - here) / 1000.0 / truth.sleeve_lead)))

    # ---- ring

    def _k(self) -> float:
        return self.axle.truth.k_ring if self.knowing else _THUMB_K

    def _k_pinion(self) -> float:
        return self.axle.truth.k_pinion if self.knowing else _THUMB_K / self.axle.build.ratio

    def _lead(self, state: State) -> float:
        return self.axle.truth.notch_lead * 1000.0 if self.knowing else pr.notch_lead(state)

    def _backlash(self, state: State, step: Step) -> MoveProposed | Unreachable:
        if not state.current("backlash"):
            return Unreachable("no backlash was read")
        return self._moved(state, step, self._ring_changes(state, self._away(state), least=True), "backlash")

    def _away(self, state: State) -> float:
        """Micrometres that the ring gear has to go away for the middle of the range."""
        middle = pr.aim(state, "backlash")
        seen = [pr.size(r.value) for r in state.current("backlash") if r.value is not None]
        assert middle is not None
        now = (min(seen) + max(seen)) / 2 if self.knowing else sum(seen) / len(seen)
        return (middle - now) / self._k()

    def _ring_changes(self, state: State, away: float, *, least: bool = False) -> list[Change]:
        """Move the ring away by so many micrometres; least: by one notch where it would be none."""
        if state.job.axle.carrier == "adjusters":
            notches = round(away / self._lead(state))
            if notches == 0 and least:
                notches = 1 if away > 0 else -1
            return list(moves.notch_changes(state, notches)) if notches else []
        now = [Length.of(moves.fitted_total(state, part)) for part in moves.SIDES]
        pairs = moves.side_pairs(state, now[0] - Length(round(away * 1000)), now[0] + now[1])
        return list(moves.side_changes(state, pairs[0])) if pairs else []

    def _squeeze(self, state: State, step: Step) -> MoveProposed | Unreachable:
        """Tighter or looser on both sides alike."""
        assert step.quantity is not None
        latest, middle = state.latest(step.quantity), pr.aim(state, step.quantity)
        assert latest is not None
        assert latest.value is not None
        assert middle is not None
        ratio = self.axle.build.ratio if step.quantity == "total_drag" else 1.0
        rate = self.axle.truth.carrier_rate / 1000.0 if self.knowing else _THUMB_CARRIER
        more = (middle - pr.size(latest.value)) * ratio / rate
        if state.job.axle.carrier == "adjusters":
            notches = round(more / self._lead(state) / 2) or (1 if more > 0 else -1)
            sides = ("opposite_adjuster", "ring_side_adjuster")
            return self._moved(state, step, [moves.notch_change(state, part, Decimal(notches)) for part in sides], step.quantity)
        now = [Length.of(moves.fitted_total(state, part)) for part in moves.SIDES]
        each = Length(round(more * 500))
        along = self.knowing and step.quantity == "carrier_drag" and in_spec(state, "backlash") is False
        away = Length(round(self._away(state) * 1000)) if along else Length(0)
        pairs = moves.side_pairs(state, now[0] + each - away, now[0] + now[1] + each.times(2))
        return self._moved(state, step, list(moves.side_changes(state, pairs[0])) if pairs else [], step.quantity)

    # ---- building blocks

    def _pack(self, state: State, part: str, wanted_um: float) -> Change | None:
        """The pack nearest to what is wanted; None when that is the one that is in."""
        now = moves.fitted_total(state, part)
        pack = best_pack(Length(round(wanted_um * 1000)), moves.kit(state, part))
        if pack is None or pack.total == Length.of(now):
            return None
        return moves.pack_change(state, part, now, Pack(pack.shims))

    def _moved(self, state: State, step: Step, changes: list[Change], quantity: str) -> MoveProposed | Unreachable:
        if not any(change.change.value for change in changes):
            return Unreachable("the sum asks for no change")
        return moves.proposed(state, step.id, changes, quantity, None, None, "by the sum")
