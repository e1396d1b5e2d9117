"""What the next reading should be, and how sure that is: the one place where the job's history becomes a belief about this axle.

Readings that were wrong are left out; readings whose ground has changed are the best evidence there is of how the axle answers to a
change. Inside, micrometres and newton-metres as floats; `Prediction` turns them back into decimals with their unit.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from assistant.core.belief import drag, priors
from assistant.core.belief.backlash import BacklashBelief
from assistant.core.belief.carrier import CarrierBelief, ring_move, tightness
from assistant.core.belief.depth import DepthBelief
from assistant.core.belief.drag import DragBelief, Reach
from assistant.core.belief.normal import Normal, standard_quantile
from assistant.core.belief.outlook import Outlook
from assistant.core.folding import Folding
from assistant.core.quantities import Dimension, Quantity, quantity_from, rounded, unit_named
from assistant.core.state import Reading, State, centre_offset

# Base units (nanometres, micronewton-metres) in one unit of the belief.
_SCALE = {Dimension.LENGTH: 1000, Dimension.TORQUE: 10**6}


@dataclass(frozen=True)
class Prediction:
    """The next reading: value and one standard deviation, in the wait's unit; law: the same in micrometres or newton-metres."""

    value: Quantity
    spread: Quantity
    law: Normal


def size(quantity: Quantity) -> float:
    """Micrometres of a length, newton-metres of a torque, else the plain number."""
    base = quantity.base
    # The same float as that of the exact fraction: a quotient of whole numbers is rounded once.
    return base.numerator / (base.denominator * _SCALE.get(quantity.dimension, 1))


def quantity_of(number: float, unit: str, places: int | None = None) -> Quantity:
    """The decimal of a belief's number (micrometres, newton-metres or plain), to the unit's usual places."""
    known = unit_named(unit)
    scale = _SCALE.get(known.dimension, 1)
    return Quantity(rounded(Fraction(number) * scale / known.factor, known.places if places is None else places) + 0, unit)


def evidence(state: State, quantity: str) -> tuple[Reading, ...]:
    """Every reading of a quantity that was right when it was taken, oldest first.

    Where a reading contradicted the ones before it, was measured again or its causes looked for in vain, and still stands, something was wrong
    before it that nobody found: what was read before that says nothing any more.
    """
    first, correcting = _contradicted(state, quantity), state.correcting

    def step(found: tuple[Reading, ...], r: Reading) -> tuple[Reading, ...]:
        # What is being corrected was wrong.
        counts = r.quantity == quantity and r.void != "wrong" and r.value is not None and r.assembly >= first and r.id != correcting
        return (*found, r) if counts else found

    return _EVIDENCE.after((quantity, first, correcting), tuple, step, state.readings)


_EVIDENCE: Folding[Reading, tuple[Reading, ...]] = Folding()


def _contradicted(state: State, quantity: str) -> int:
    """The assembly from which readings of a quantity count; the very first when nothing was ever contradicted."""
    first = 0
    before = None
    for answered in state.alarms:
        if answered.quantity != quantity:
            continue
        at = next((r.assembly for r in state.readings if r.id == f"r{answered.reading_count}"), 0)
        twice = before is not None and before == (answered.answer, at)
        if answered.answer == "nothing found" or (answered.answer == "measure again" and twice):
            first = at
        before = (answered.answer, at)
    return first


def reading_spread(state: State, quantity: str) -> float:
    """One standard deviation of one reading by the usual instrument for a quantity, in micrometres or newton-metres (trade.md 4.10)."""
    if quantity in ("pinion_depth", "bore_diameter", "plane_to_bore"):
        return priors.length_spread("dial .0005 in" if state.job.units == "in" else "dial 0.01 mm")
    if quantity.endswith(("drag", "torque")):
        latest = state.latest(quantity)
        return priors.torque_spread(size(latest.value) if latest is not None and latest.value is not None else 2.0)
    return priors.length_spread("dial .0005 in" if state.job.units == "in" else "dial 0.01 mm")


def degrees_of(spot: int, spots: int) -> float:
    """Where a spot lies on the ring, in degrees from the first."""
    return 360.0 * (spot - 1) / spots if spots else 0.0


def pinion_away(state: State, fitted: Iterable[tuple[str, Quantity]]) -> float:
    """How far the pinion stands out, in micrometres, compared with a pack of nothing."""
    pack = dict(fitted).get("pinion_shims")
    return state.job.axle.depth_sign * size(pack) if pack is not None else 0.0


def notch_lead(state: State) -> float:
    """Micrometres of ring movement for one notch on both sides, as told or supposed."""
    lead = state.job.axle.notch_lead
    return size(lead) if lead is not None else priors.NOTCH_LEAD_UM


def ring_away(state: State, fitted: Iterable[tuple[str, Quantity]]) -> float:
    """How far the ring gear stands away from the pinion, in micrometres from the first setting.

    Tightening the ring-side adjuster, or a thicker shim there, moves it toward the pinion; one side alone moves it half as far.
    """
    have = dict(fitted)
    if "ring_side_adjuster" in have or "opposite_adjuster" in have:
        return ring_move(*sides(fitted), notch_lead(state))
    if "ring_side_shims" in have and "opposite_shims" in have:
        return ring_move(*sides(fitted))
    return 0.0


def sides(fitted: Iterable[tuple[str, Quantity]]) -> tuple[float, float]:
    """What is set on the ring side and on the opposite side: notches of the adjusters, or micrometres of the side shims."""
    have = dict(fitted)
    ring, opposite = (
        sum(size(have[part]) for part in parts if part in have)
        for parts in (("ring_side_adjuster", "ring_side_shims"), ("opposite_adjuster", "opposite_shims"))
    )
    return ring, opposite


def fitted_now(state: State) -> tuple[tuple[str, Quantity], ...]:
    """What is in the axle now, as readings remember it."""
    return tuple((item.part, item.total) for item in state.fitted)


def aim(state: State, quantity: str) -> float | None:
    """The middle of the manual's range, in the belief's unit."""
    limits = state.job.limits(quantity)
    if limits is None or limits.low is None or limits.high is None:
        return None
    return (size(limits.low) + size(limits.high)) / 2


def tightness_at(state: State, fitted: Iterable[tuple[str, Quantity]]) -> float | None:
    """Where the pinion bearings stand along the coordinate of their belief; None before anything was fitted.

    Micrometres of the pack between the cones (less the depth pack where that one sits behind the head cup: it pushes the cups apart, so it
    tightens one for one), or degrees of the nut from where it was snug on the crush sleeve that is in.
    """
    have = dict(fitted)
    if state.job.axle.preload == "crush-sleeve":
        return size(have["crush_nut"]) - _snug_at(state, have.get("crush_sleeve")) if "crush_nut" in have else None
    if "preload_shims" not in have:
        return None
    behind_cup = size(have["pinion_shims"]) if state.job.axle.pinion_shims == "head-cup" and "pinion_shims" in have else 0.0
    return size(have["preload_shims"]) - behind_cup


def _snug_at(state: State, sleeve: Quantity | None) -> float:
    """The nut's count when it was snug on a sleeve: at the first drag read on it. The count itself goes on from sleeve to sleeve."""
    first = next((dict(r.fitted) for r in evidence(state, "pinion_drag") if dict(r.fitted).get("crush_sleeve") == sleeve), None)
    now = dict(fitted_now(state)) if first is None else first
    return size(now["crush_nut"]) if "crush_nut" in now else 0.0


def _first_fitted(state: State) -> tuple[tuple[str, Quantity], ...]:
    """What was in when the first drag was read; before that, what is in now."""
    first = next(iter(evidence(state, "pinion_drag")), None)
    return first.fitted if first is not None else fitted_now(state)


def drag_belief(state: State) -> DragBelief | None:
    """What is known of the pinion bearings, from every drag with what was fitted when it was read; None before anything was fitted."""
    at = tightness_at(state, _first_fitted(state))
    if at is None:
        return None
    snug = None
    if state.job.axle.preload == "crush-sleeve":
        start, readings = DragBelief.sleeve(), _since_new_sleeve(state)
        snug = _snug_at(state, dict(fitted_now(state)).get("crush_sleeve"))
    else:
        middle = aim(state, "pinion_drag")
        start = DragBelief.spacer(at, priors.FIRST_PINION_DRAG if middle is None else Normal(middle, priors.FIRST_PINION_DRAG.spread))
        readings = evidence(state, "pinion_drag")

    reach = taught(state, "reach")
    if reach is not None:
        start = replace(start, reach=Reach(reach.mean, reach.spread))

    def step(belief: DragBelief, reading: Reading) -> DragBelief:
        there = tightness_at(state, reading.fitted)
        if reading.value is None or there is None:
            return belief
        drag = size(reading.value)
        return belief.observe(there, drag, priors.torque_spread(drag), reading.assembly)

    # What the step reads of the state beside the readings: where the sleeve that is in was snug, and whether the depth pack squeezes too.
    return _PINION_DRAG.after((start, snug, state.job.axle.pinion_shims), lambda: start, step, readings)


_PINION_DRAG: Folding[Reading, DragBelief] = Folding()


def _since_new_sleeve(state: State) -> tuple[Reading, ...]:
    """Drags on the sleeve that is in: a new one has its own contact."""
    sleeves = dict(fitted_now(state)).get("crush_sleeve")
    return tuple(r for r in evidence(state, "pinion_drag") if dict(r.fitted).get("crush_sleeve") == sleeves)


def _exact(nanometres: Fraction, unit: str) -> Quantity:
    return quantity_from(nanometres / unit_named(unit).factor, unit)


def from_plane(state: State) -> bool:
    """Whether depths are taken from the parting plane, so that the centre offset has to come off."""
    return state.answer("depth.taken_from") == "from the plane"


def mounting_distance(state: State, reading: Quantity) -> Quantity:
    """A depth as read → from the ring-gear centre line. MD = P − (plane to bore − radius) where it was taken from the plane (geometry)."""
    offset = centre_offset(state)
    return _exact(reading.base - offset.base, reading.unit) if offset is not None and from_plane(state) else reading


def as_judged(state: State, quantity: str, value: Quantity) -> Quantity:
    """A reading as its limits mean it: a depth from the ring-gear centre line, anything else as it was read."""
    return mounting_distance(state, value) if quantity == "pinion_depth" else value


def depth_belief(state: State) -> DepthBelief | None:
    """What is known of the pinion's depth; None without a target or before a pack was fitted."""
    middle, pack = aim(state, "pinion_depth"), state.pack("pinion_shims")
    if middle is None or pack is None:
        return None
    readings = evidence(state, "pinion_depth")
    first = dict(readings[0].fitted).get("pinion_shims", pack.total) if readings else pack.total
    noise = reading_spread(state, "pinion_depth")

    def start() -> DepthBelief:
        return DepthBelief.start(
            lay=1 if state.job.axle.depth_sign == 1 else -1,
            stack_um=size(first),
            guess=Normal(middle, priors.FIRST_DEPTH_SPREAD_UM),
            noise_um=noise,
        )

    def step(belief: DepthBelief, reading: Reading) -> DepthBelief:
        fitted = dict(reading.fitted)
        if reading.value is None or "pinion_shims" not in fitted:
            return belief
        return belief.observe(size(fitted["pinion_shims"]), size(mounting_distance(state, reading.value)), assembly=reading.assembly)

    # What the two above read of the state beside the readings.
    offset = centre_offset(state) if from_plane(state) else None
    return _DEPTH.after((state.job.axle.depth_sign, size(first), middle, noise, offset), start, step, readings)


_DEPTH: Folding[Reading, DepthBelief] = Folding()


def backlash_belief(state: State) -> BacklashBelief:
    """What is known of backlash: how it answers to ring and pinion, and how it goes round the ring."""
    runout = state.latest("ring_runout")
    zero = pinion_zero(state)
    ratio = state.job.axle.ring_teeth / state.job.axle.pinion_teeth
    noise, k_ring = reading_spread(state, "backlash"), k_ring_before(state)
    runout_um = size(runout.value) if runout is not None and runout.value is not None else None
    lead_spread = priors.NOTCH_LEAD_RELATIVE_SPREAD if state.job.axle.carrier == "adjusters" and state.job.axle.notch_lead is None else 0.0

    def start() -> BacklashBelief:
        return BacklashBelief.start(ratio=ratio, k_ring=k_ring, noise_um=noise, runout_um=runout_um, lead_spread=lead_spread)

    def step(belief: BacklashBelief, reading: Reading) -> BacklashBelief:
        if reading.value is None:
            return belief
        return belief.observe(
            ring_away(state, reading.fitted),
            pinion_away(state, reading.fitted) - zero,
            degrees_of(reading.spot, state.job.backlash_spots),
            size(reading.value),
            assembly=reading.assembly,
        )

    # What the two above read of the state beside the readings.
    key = (ratio, k_ring, noise, runout_um, lead_spread, zero, state.job.axle.depth_sign, notch_lead(state), state.job.backlash_spots)
    return _BACKLASH.after(key, start, step, evidence(state, "backlash"))


# A job asks for the same belief, or for one reading more, again and again.
_BACKLASH: Folding[Reading, BacklashBelief] = Folding()


def taught(state: State, name: str) -> Normal | None:
    """What the shop's own builds say of a sensitivity (`shop_priors.NAMES`); None where they say nothing."""
    return next((Normal(float(one.mean), float(one.spread)) for one in state.learned if one.name == name), None)


def k_ring_before(state: State) -> Normal:
    """Backlash per ring movement as supposed before the first move: from the shop's own builds, or the angles of the teeth, where they were told."""
    axle = state.job.axle
    own = taught(state, "k_ring")
    if own is not None and (axle.carrier != "adjusters" or axle.notch_lead is not None):
        return own
    if axle.pressure_angle is None or axle.spiral_angle is None:
        return priors.K_RING
    return priors.k_ring_from_teeth(size(axle.pressure_angle), size(axle.spiral_angle), axle.ring_teeth / axle.pinion_teeth)


def pinion_zero(state: State) -> float:
    """Where the pinion stood at the first backlash reading: the place that the belief counts from."""
    first = next(iter(evidence(state, "backlash")), None)
    return pinion_away(state, first.fitted if first is not None else fitted_now(state))


def carrier_belief(state: State) -> CarrierBelief:
    """What is known of the carrier bearings: their own drag, and the total drag less pinion and seal, carried over the ratio."""
    ratio = state.job.axle.ring_teeth / state.job.axle.pinion_teeth
    if state.job.axle.carrier == "adjusters":
        # Preload set by the manual's own way is not in the count: the first setting may then lie a few notches past contact (assumed).
        contact = None if state.job.carrier_preload is not None else Normal(-2.0, 1.5)
        belief = CarrierBelief.adjusters(ratio, seal_allowance(state), contact)
    else:
        belief = CarrierBelief.side_shims(ratio, tightness(*sides(fitted_now(state))), seal_allowance(state))
    for reading in evidence(state, "carrier_drag"):
        if reading.value is not None:
            own = size(reading.value)
            belief = belief.observe_carrier(*sides(reading.fitted), own, priors.torque_spread(own), reading.assembly)
    pinion = _pinion_drag(state)
    if pinion is None:
        return belief
    for reading in evidence(state, "total_drag"):
        if reading.value is not None:
            total = size(reading.value)
            belief = belief.observe_total(*sides(reading.fitted), total, priors.torque_spread(total), pinion, reading.assembly)
    return belief


def _pinion_drag(state: State) -> Normal | None:
    """The pinion's own drag as it was read last."""
    latest = state.latest("pinion_drag")
    if latest is None or latest.value is None:
        return None
    return Normal(size(latest.value), priors.torque_spread(size(latest.value)))


def total_of_shares(state: State) -> Normal | None:
    """The total drag that the pinion's and the carrier's own last readings make up, its own reading's error included; None where one is missing."""
    pinion, carrier = _pinion_drag(state), state.latest("carrier_drag")
    if pinion is None or carrier is None or carrier.value is None:
        return None
    own = size(carrier.value)
    share = Normal(own, priors.torque_spread(own)).scaled(state.job.axle.pinion_teeth / state.job.axle.ring_teeth)
    total = pinion.plus(share).plus(seal_allowance(state))
    return total.plus(Normal(0.0, priors.torque_spread(total.mean)))


def seal_allowance(state: State) -> Normal:
    """What the seal adds between the pinion drag as the manual means it and the total drag."""
    pinion, total = state.job.limits("pinion_drag"), state.job.limits("total_drag")
    measured = state.latest("seal_drag")
    if measured is not None and measured.value is not None:
        return Normal(size(measured.value), priors.torque_spread(size(measured.value)))
    both_in = pinion is not None and pinion.seal == "in"
    return Normal(0.0, 0.02) if both_in or (total is not None and total.seal == "out") else priors.SEAL


def outlook(state: State, quantity: str, fitted: tuple[tuple[str, Quantity], ...]) -> Outlook | None:
    """What drag to expect with something fitted, as the mixture that it is; None for what is no drag, or where nothing is known."""
    if quantity == "pinion_drag":
        belief, at = drag_belief(state), tightness_at(state, fitted)
        return belief.predict(at, priors.torque_spread(aim(state, quantity) or 2.0)) if belief is not None and at is not None else None
    if quantity == "carrier_drag":
        return carrier_belief(state).predict_carrier(*sides(fitted), priors.torque_spread(aim(state, quantity) or 2.0))
    if quantity == "total_drag":
        pinion = _pinion_drag(state)
        return carrier_belief(state).predict_total(*sides(fitted), pinion, pinion.spread) if pinion is not None else None
    return None


def law(state: State, quantity: str, spot: int = 0) -> Normal | None:
    """The law of the next reading of a quantity at a spot, in micrometres or newton-metres; None where nothing is known."""
    return law_at(state, quantity, spot, fitted_now(state))


def law_at(state: State, quantity: str, spot: int, fitted: tuple[tuple[str, Quantity], ...]) -> Normal | None:
    """The same with something else fitted: what to expect had nothing been changed since."""
    if quantity in ("pinion_drag", "carrier_drag", "total_drag"):
        drag = outlook(state, quantity, fitted)
        return drag.normal if drag is not None else None
    if quantity == "pinion_depth":
        depth, stack = depth_belief(state), dict(fitted).get("pinion_shims")
        expected = depth.predict(size(stack)) if depth is not None and stack is not None else None
        offset = centre_offset(state)
        if expected is not None and offset is not None and from_plane(state):
            return Normal(expected.mean + size(offset), expected.spread)
        return expected
    if quantity == "ring_runout":
        seen = [size(r.value) for r in evidence(state, quantity) if r.value is not None]
        # The same ring gear on the same case runs out as it did, whatever stands beside its bearings.
        return Normal(seen[-1], priors.RUNOUT_AGAIN_UM) if seen else None
    if quantity == "backlash":
        now = fitted_now(state)
        same = fitted == now and any(r.assembly == state.assembly for r in evidence(state, "backlash"))
        return backlash_belief(state).predict(
            ring_away(state, fitted),
            pinion_away(state, fitted) - pinion_zero(state),
            degrees_of(spot, state.job.backlash_spots),
            state.assembly if same else None,
        )
    return None


def predict(state: State, quantity: str, unit: str, spot: int = 0) -> Prediction | None:
    """The next reading of a quantity in `unit`, with its spread (one standard deviation); None where nothing is known."""
    known = unit_named(unit)
    drag = outlook(state, quantity, fitted_now(state))
    if drag is not None:
        # Lopsided near contact: the middle of it, and a spread that nine tenths of it lie within 1.645 of, as for a normal law.
        low, high = drag.interval()
        middle, spread = drag.quantile(0.5), (high - low) / (2 * standard_quantile(0.95))
        return Prediction(quantity_of(middle, unit), quantity_of(spread, unit, known.finest), drag.normal)
    expected = law(state, quantity, spot)
    if expected is None:
        return None
    return Prediction(quantity_of(expected.mean, unit), quantity_of(expected.spread, unit, known.finest), expected)


def foretold(state: State, quantity: str, unit: str, spot: int = 0) -> Prediction | None:
    """`predict`; where nothing is known of this axle, what is usual for it. None for what nothing is usual for."""
    predicted = predict(state, quantity, unit, spot)
    expected = _usual(state, quantity) if predicted is None else None
    if expected is None:
        return predicted
    spread = quantity_of(expected.spread, unit, max(unit_named(unit).finest, unit_named(unit).places))
    return Prediction(quantity_of(expected.mean, unit), spread, expected)


def _usual(state: State, quantity: str) -> Normal | None:
    """What one would expect before anything was read of a quantity: from what belongs to it, from the manual, else from the trade."""
    other = other_of_the_bore(state, quantity)
    if other is not None:
        return other
    round_so_far = [size(r.value) for r in state.current(quantity) if r.value is not None] if quantity == "baseline_backlash" else []
    if round_so_far:
        return Normal(sum(round_so_far) / len(round_so_far), 2 * priors.HARMONIC_UM)
    limits = state.job.limits(quantity)
    if limits is None or limits.high is None:
        return priors.USUAL.get(quantity)
    high = size(limits.high)
    low = size(limits.low) if limits.low is not None else 0.0
    return Normal((low + high) / 2, max((high - low) / 4, priors.TORQUE_MISS * high))


def other_of_the_bore(state: State, quantity: str) -> Normal | None:
    """The bore from its plane, the plane from its bore, in micrometres; None for another quantity, or where the other was not read."""
    ways = {"bore_diameter": ("plane_to_bore", 2.0), "plane_to_bore": ("bore_diameter", 0.5)}
    if quantity not in ways:
        return None
    other, times = ways[quantity]
    read = state.latest(other)
    if read is None or read.value is None:
        return None
    return Normal(times * size(read.value), priors.CENTRE_MISS_UM * max(times, 1.0))


def forget() -> None:
    """Nothing is remembered any more: what is asked next is worked out anew, as a measure of speed wants it."""
    drag.forget()
    for folding in (_EVIDENCE, _PINION_DRAG, _DEPTH, _BACKLASH):
        folding.forget()
