"""Numbers that cannot be true, numbers that surprise, and what a surprise may mean.

Three answers to a number, in this order: impossible (nothing changes, the reason is said), doubtful (asked for once more before it is
recorded), surprising though said twice (recorded, and an alarm names the likely causes with what to check first).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from assistant.core import mistakes, twice
from assistant.core import predictions as pr
from assistant.core.axle import PATTERNS, PLAY
from assistant.core.belief import priors
from assistant.core.belief.normal import Normal
from assistant.core.events import AlarmRaised, Suspect
from assistant.core.moves import SIDES, pattern_asks
from assistant.core.quantities import Quantity
from assistant.core.state import Reading, State, is_complete

# Two readings of one thing lie this many of a reading's standard deviations apart at most.
_SAME = 4.0


@dataclass(frozen=True)
class Range:
    """Possible outside of nothing, usual inside of something: beyond `ask` a number is asked for once more, beyond `refuse` it is no number.

    Bounds are exact quantities; None: no bound.
    """

    refuse_low: Quantity | None = None
    ask_low: Quantity | None = None
    ask_high: Quantity | None = None
    refuse_high: Quantity | None = None


def _q(text: str | None) -> Quantity | None:
    return Quantity.parse(text) if text is not None else None


def _range(refuse_low: str | None, ask_low: str | None, ask_high: str | None, refuse_high: str | None) -> Range:
    return Range(_q(refuse_low), _q(ask_low), _q(ask_high), _q(refuse_high))


# "Ask again outside" and "refuse" of the trade reference (docs/trade.md, section 3); where it names no refusal the bound is ten times the
# usual. The drag refusal is some five times that of the trade reference, for a pack that is far too thin really drags like that, and has to be told
# to get a thicker one.
RANGES = {
    "shim_thickness": _range("0.0001in", "0.001in", "0.500in", "2in"),
    "stack_thickness": _range("0.0001in", "0.001in", "0.500in", "4in"),
    "old_stack_thickness": _range("0.0001in", "0.001in", "0.500in", "4in"),
    "etch_old": _range("-0.060in", "-0.016in", "0.016in", "0.060in"),
    "etch_new": _range("-0.060in", "-0.016in", "0.016in", "0.060in"),
    "pinion_drag": _range("0lb-in", "1lb-in", "62lb-in", "600lb-in"),
    "seal_drag": _range("0lb-in", "0lb-in", "20lb-in", "60lb-in"),
    "carrier_drag": _range("0lb-in", "1lb-in", "120lb-in", "400lb-in"),
    "total_drag": _range("0lb-in", "1lb-in", "120lb-in", "400lb-in"),
    "baseline_total_drag": _range("0lb-in", "0lb-in", "150lb-in", "400lb-in"),
    "pinion_depth": _range("0.1in", "0.2in", "15in", "40in"),
    "bore_diameter": _range("0.2in", "0.5in", "20in", "60in"),
    "plane_to_bore": _range("0.1in", "0.2in", "12in", "40in"),
    "ring_runout": _range("0in", "0in", "0.030in", "0.5in"),
    "backlash": _range("0.0001in", "0.001in", "0.040in", "0.5in"),
    "baseline_backlash": _range("0.0001in", "0.001in", "0.080in", "0.5in"),
    "spread": _range("0in", "0in", "0.020in", "0.2in"),
    "nut_torque": _range("0.5lb-ft", "5lb-ft", "1500lb-ft", "5000lb-ft"),
    "cap_torque": _range("0.5lb-ft", "5lb-ft", "500lb-ft", "3000lb-ft"),
}


def impossible(state: State, quantity: str, value: Quantity) -> str | None:
    """Why a value cannot be this quantity at all, as it is said; None when it can."""
    bounds = RANGES.get(quantity)
    if bounds is None:
        return None
    name = state.phrases.name(quantity)
    if quantity in PLAY and value.value == 0:
        if quantity == "backlash":
            return state.phrases.sentence("impossible.zero_backlash", looks=looks_at_jam(state))
        return state.phrases.sentence("impossible.zero_baseline")
    if bounds.refuse_low is not None and value < bounds.refuse_low:
        return state.phrases.sentence("impossible.low", quantity=name, value=state.phrases.say(value))
    if bounds.refuse_high is not None and value > bounds.refuse_high:
        looks = _looks_words(state, _looks(state, quantity, value, 0, "typed", None)) if state.refused == "impossible" else ""
        # Said twice, it may be what the gauge shows: bearings that a shim too many has locked turn no drag of the trade.
        sentence = "impossible.stays" if looks else "impossible.high"
        return state.phrases.sentence(sentence, quantity=name, value=state.phrases.say(value), looks=looks)
    return None


# A depth tolerance of the trade is a few thousandths: beyond this another figure of the page was read (bound assumed).
_WIDEST_TOLERANCE = Quantity.of("0.060", "in")


def impossible_limit(state: State, quantity: str, which: str, value: Quantity) -> str | None:
    """Why a figure cannot be this limit of the manual (which: low, high, value, target or tolerance), as it is said; None when it can."""
    name = state.phrases.name(quantity)
    if which == "tolerance":
        if value.value <= 0:
            return state.phrases.sentence("impossible.low", quantity=state.phrases.name(which), value=state.phrases.say(value))
        if value > _WIDEST_TOLERANCE:
            return state.phrases.sentence("impossible.high", quantity=state.phrases.name(which), value=state.phrases.say(value))
        return None
    low = next((given for of, side, given in state.specs_given if (of, side) == (quantity, "low")), None)
    if which == "high" and low is not None and value < low:
        return state.phrases.sentence("impossible.crossed", quantity=name, value=state.phrases.say(value), low=state.phrases.say(low))
    bounds = RANGES[quantity]
    if bounds.refuse_low is not None and value < bounds.refuse_low:
        return state.phrases.sentence("impossible.low", quantity=name, value=state.phrases.say(value))
    if bounds.refuse_high is not None and value > bounds.refuse_high:
        return state.phrases.sentence("impossible.high", quantity=name, value=state.phrases.say(value))
    return None


@dataclass(frozen=True)
class Doubt:
    """Why a value is asked for once more, as it is said, and what is to be looked at before, by the ids of the looks."""

    reason: str
    looks: tuple[str, ...] = ()


def doubtful(state: State, quantity: str, value: Quantity, spot: int, source: str) -> Doubt | None:
    """Why a value is asked for once more; None when it is not, or when it was and is the same again.

    It surprises, it is unusual, it alone would have something changed, or it lies right at a limit (`twice`).
    """
    if said_again(state, quantity, value, spot):
        return None
    name, said = state.phrases.name(quantity), state.phrases.say(value)
    weighing = weighed(state, quantity, value, spot, source)
    decides = twice.decides(state, quantity, value, spot)
    at_limit = not decides and twice.at_limit(state, quantity, value)
    surprise = weighing if weighing is not None and weighing.verdict(_limits(state, quantity, value)) == "doubtful" else None
    # What surprises because of something on the bench is no slip: the same would be read again.
    on_the_bench = surprise is not None and sum(each.odds for each in surprise.likely if not each.slip) >= _BENCH_SHARE
    looks = _looks(state, quantity, value, spot, source, weighing) if decides or at_limit or on_the_bench else ()
    first_look = _looks_words(state, looks)
    ids = tuple(look.id for look in looks)
    if surprise is not None:
        expected = pr.law(state, quantity, spot)
        assert expected is not None
        first = surprise.likely[0] if surprise.likely and surprise.likely[0].odds >= _WORTH_SAYING else None
        reason = state.phrases.sentence(
            "doubt.expected",
            quantity=name,
            value=said,
            expected=state.phrases.say(pr.quantity_of(expected.mean, value.unit)),
            slip=f" {as_sentence(first.phrase)}" if first is not None and first.slip else "",
            looks=first_look,
        )
        return Doubt(reason, ids)
    bounds = RANGES.get(quantity)
    if bounds is not None and ((bounds.ask_low and value < bounds.ask_low) or (bounds.ask_high and value > bounds.ask_high)):
        return Doubt(state.phrases.sentence("doubt.unusual", quantity=name, value=said, looks=first_look), ids)
    # A depth gauge's error lies in how it stands: looked at once more as it stands, it is the same.
    depth = "_depth" if quantity == "pinion_depth" else ""
    if at_limit:
        return Doubt(state.phrases.sentence(f"doubt.limit{depth}", quantity=name, value=said, looks=first_look), ids)
    if not decides:
        return None
    if quantity in ("etch_new", "etch_old"):
        return Doubt(state.phrases.sentence("doubt.mark", value=said))
    step, limits = state.step(), state.job.limits(quantity)
    if step is not None and step.ask == "creep" and limits is not None and limits.allows(value):
        return Doubt(state.phrases.sentence("doubt.last_turn", quantity=name, value=said, looks=first_look), ids)
    return Doubt(state.phrases.sentence(f"doubt.twice{depth}", quantity=name, value=said, looks=first_look), ids)


def looks_at_jam(state: State) -> str:
    """What to look at where there is no backlash at all, as it is said: swapped sides, or a change made twice, drive the teeth together."""
    return _looks_words(state, _looks(state, "backlash", Quantity(Decimal("0.0"), state.job.units), 1, "typed", None))


def _looks(
    state: State, quantity: str, value: Quantity, spot: int, source: str, weighing: mistakes.Weighing | None
) -> tuple[mistakes.Look, ...]:
    """What to look at before it is read once more."""
    if quantity == "backlash":
        # The places read before it in this assembly hold the same mistake, if there is one: without them the number shows it.
        earlier = tuple(r for r in state.readings if r.quantity != quantity or r.assembly != state.assembly)
        weighing = weighed(replace(state, readings=earlier), quantity, value, spot, source)
    return twice.looks(state, _context(state, quantity, value, spot, source), weighing)


def _looks_words(state: State, looks: tuple[mistakes.Look, ...]) -> str:
    """The same as it is said; empty when there is nothing."""
    return f" {state.phrases.sentence('doubt.looks', looks='; '.join(look.text for look in looks))}" if looks else ""


def said_again(state: State, quantity: str, value: Quantity, spot: int) -> bool:
    """Whether this value was asked for once more and has come again; two looks at one gauge differ by its own spread."""
    asked = state.doubted
    if asked is None or (asked.quantity, asked.spot) != (quantity, spot):
        return False
    return abs(pr.size(value) - pr.size(asked.value)) <= _SAME * pr.reading_spread(state, quantity)


def surprising_again(state: State, quantity: str, value: Quantity, spot: int, source: str) -> bool:
    """Whether a value that surprised came once more; what was only measured twice before a change does not surprise."""
    if not said_again(state, quantity, value, spot):
        return False
    weighing = weighed(replace(state, doubted=None), quantity, value, spot, source)
    return weighing is not None and weighing.verdict(_limits(state, quantity, value)) == "doubtful"


# A number that would have everything taken apart again is looked at more closely: the look costs minutes, the teardown an hour.
_BEFORE_A_TEARDOWN = mistakes.Limits(surprise=2.3, doubt=0.85, alarm=0.85)


def _limits(state: State, quantity: str, value: Quantity) -> mistakes.Limits:
    """How surprising a number must be, by what would follow from it."""
    limits = state.job.limits(quantity)
    if quantity not in ("pinion_drag", "pinion_depth") or limits is None or state.pack("crush_sleeve") is not None:
        return mistakes.Limits()
    seen = pr.as_judged(state, quantity, value)
    return mistakes.Limits() if limits.allows(seen) else _BEFORE_A_TEARDOWN


def weighed(state: State, quantity: str, value: Quantity, spot: int, source: str) -> mistakes.Weighing | None:
    """What a value says about every known mistake, before it is recorded; None where nothing is expected of it, or it is as expected."""
    expected = pr.law(state, quantity, spot)
    if expected is None or not state.phrases.mistakes:
        return None
    context = _context(state, quantity, value, spot, source)
    if abs(pr.size(value) - expected.mean) <= 1.5 * context.step and context.last is not None:
        return None  # the next mark on the gauge's own scale surprises nobody, however sure the belief is
    return mistakes.weigh(state.phrases.mistakes, value, expected, context)


def _context(state: State, quantity: str, value: Quantity, spot: int, source: str) -> mistakes.Context:
    readings = pr.evidence(state, quantity)
    last = readings[-1] if readings else None
    changed = last is not None and last.fitted != pr.fitted_now(state)
    moved = last is not None and last.assembly != state.assembly
    axle = state.job.axle
    occasion = {axle.pinion_shims, axle.preload, axle.carrier, {"spoken": "voice", "gauge": "gauge"}.get(source, "typed")}
    if last is None:
        occasion.add("first")
    if changed:
        occasion.add("changed")
    if last is None or moved:
        occasion |= {"assembled", "nut" if quantity.endswith("drag") else "caps"}
    if state.pack("crush_sleeve") is not None:
        occasion.add("sleeve")
    step = state.step()
    if step is not None and step.phase == "final":
        occasion.add("final")
    places = -int(value.value.as_tuple().exponent)
    step_size = pr.size(Quantity(Decimal(1).scaleb(-places), value.unit))
    return mistakes.Context(
        quantity=quantity,
        occasion=frozenset(occasion),
        noise=pr.reading_spread(state, quantity),
        step=step_size,
        before=pr.law_at(state, quantity, spot, last.fitted) if changed and last is not None else None,
        last=last.value if last is not None else None,
        sizes=_sizes(state, quantity),
        laws=_laws(state, quantity),
        earned=_earned(state, quantity),
        said_again=said_again(state, quantity, value, spot),
        parts=_parts(state, quantity),
    )


def _parts(state: State, quantity: str) -> tuple[Normal, ...]:
    """The laws that make up the drag of the pinion: near contact it is lopsided."""
    drag = pr.outlook(state, quantity, pr.fitted_now(state)) if quantity == "pinion_drag" else None
    return drag.parts(16) if drag is not None else ()


# A yoke's radius is this share of the ring's: 2.0 in of 4.4 in (docs/trade.md, 4.7), give or take; what is read there is that times the ratio.
_YOKE = 0.48
# A burr or a chip, and a bearing that is not home, in micrometres (.0035 in and .0055 in: common practice, no source).
_THICKER, _STAND_OFF = 89.0, 140.0


def _sizes(state: State, quantity: str) -> dict[str, tuple[float, ...]]:
    """By how much a reading would be off for each way in which something is wrong, in micrometres or newton-metres."""
    axle = state.job.axle
    dial_turn = 2540.0 if state.job.units == "in" else 1000.0
    sizes: dict[str, tuple[float, ...]] = {}
    pinion = [pr.size(shim) for shim in fitted.stack] if (fitted := state.pack("pinion_shims")) is not None else []
    if quantity == "pinion_depth":
        lay = axle.depth_sign
        sizes = {
            "shim-missing": tuple(-lay * shim for shim in sorted(set(pinion))),
            "shim-extra": tuple(lay * shim for shim in sorted(set(pinion))),
            "thicker": (lay * _THICKER,),
            "stand-off": (lay * _STAND_OFF,),
            "dial-turn": (dial_turn, -dial_turn),
        }
        new, old = state.job.parts.etch_new, state.job.parts.etch_old
        if new is not None and new.value:
            sense = 1 if state.job.parts.etch_sign == "away" else -1
            # A mark read with the wrong sign, or in the next unit, sends the first pack off by that much.
            sizes["etch-sign"] = (2 * sense * pr.size(new),)
            sizes["etch-unit"] = (sense * pr.size(new) * 9, -sense * pr.size(new) * 0.9)
            sizes["etch-old"] = (sense * pr.size(old),) if old is not None and old.value else ()
    elif quantity == "pinion_drag":
        sizes["seal"] = (priors.SEAL.mean, -priors.SEAL.mean)
    elif quantity == "backlash":
        belief_lash = pr.backlash_belief(state)
        k_pinion, k_ring, lay = belief_lash.k_pinion.mean, belief_lash.k_ring.mean, axle.depth_sign
        sizes = {
            "shim-missing": tuple(-lay * k_pinion * shim for shim in sorted(set(pinion))),
            "shim-extra": tuple(lay * k_pinion * shim for shim in sorted(set(pinion))),
            "thicker": (lay * k_pinion * _THICKER,),
            "dial-turn": (dial_turn, -dial_turn),
            "yoke": (_YOKE * axle.ring_teeth / axle.pinion_teeth,),
        }
        if axle.carrier == "adjusters":
            notch = k_ring * pr.notch_lead(state)
            sizes["notch"] = (notch, -notch)
        else:
            # A thicker ring side pack closes the mesh by half of what it gains, a thicker one on the other side opens it.
            each = {part: [pr.size(shim) for shim in fitted.stack] for part in SIDES if (fitted := state.pack(part)) is not None}
            way = {part: k_ring / 2 * (-1 if part == SIDES[0] else 1) for part in SIDES}
            sizes["side-missing"] = tuple(-way[part] * shim for part, shims in each.items() for shim in sorted(set(shims)))
            sizes["side-extra"] = tuple(way[part] * shim for part, shims in each.items() for shim in sorted(set(shims)))
            sizes["side-swapped"] = (k_ring * (sum(each.get(SIDES[0], ())) - sum(each.get(SIDES[1], ()))),)
            sizes["side-thicker"] = tuple(way[part] * _THICKER for part in each)
    return {name: values for name, values in sizes.items() if values}


def _laws(state: State, quantity: str) -> dict[str, tuple[Normal, ...]]:
    """What the drag would be with a shim missing or doubled, with something under one, or with the cones not together: it ends at its floor.

    Behind the head cup the depth pack works on the drag too, the other way round: what is too much there tightens.
    """
    if quantity in ("carrier_drag", "total_drag") and state.job.axle.carrier != "adjusters":
        return _side_laws(state, quantity)
    belief, at = pr.drag_belief(state), pr.tightness_at(state, pr.fitted_now(state))
    pack = state.pack("preload_shims")
    if quantity != "pinion_drag" or belief is None or at is None or pack is None:
        return {}
    shims = sorted({pr.size(shim) for shim in pack.stack})
    moved = {"shim-missing": [-shim for shim in shims], "shim-extra": shims, "thicker": [_THICKER], "apart": [_THICKER]}
    depth = state.pack("pinion_shims")
    if state.job.axle.pinion_shims == "head-cup" and depth is not None:
        sizes = sorted({pr.size(shim) for shim in depth.stack})
        moved["shim-missing"] += sizes
        moved["depth-extra"] = [*(-size for size in sizes), -_THICKER]
    noise = priors.torque_spread(pr.aim(state, quantity) or 2.0)
    return {name: tuple(law for by in ways for law in belief.predict(at + by, noise).parts(4)) for name, ways in moved.items() if ways}


def _side_laws(state: State, quantity: str) -> dict[str, tuple[Normal, ...]]:
    """The same for the side bearings, with a side shim missing or doubled, or something under one."""
    packs = [pack for part in SIDES if (pack := state.pack(part)) is not None]
    if not packs:
        return {}
    shims = sorted({pr.size(shim) for pack in packs for shim in pack.stack})
    moved = {"side-missing": [-shim for shim in shims], "side-extra": shims, "side-thicker": [_THICKER]}
    fitted = dict(pr.fitted_now(state))
    laws: dict[str, tuple[Normal, ...]] = {}
    for name, ways in moved.items():
        for by in ways:
            # On either side: the bearings feel the sum.
            more = Quantity(fitted[packs[0].part].to("mm").value + Decimal(round(by)) / 1000, "mm")
            drag = pr.outlook(state, quantity, tuple({**fitted, packs[0].part: more}.items()))
            laws[name] = (*laws.get(name, ()), *(drag.parts(4) if drag is not None else ()))
    return {name: parts for name, parts in laws.items() if parts}


def _earned(state: State, quantity: str) -> dict[str, float]:
    """What a look at the axle has already told.

    A cause that was looked for and not found is less likely; so is a slip once the number was measured again from the beginning.
    """
    earned: dict[str, float] = {}
    by_cause = {row.cause: row for row in state.phrases.mistakes}
    for answered in state.alarms:
        rows = [by_cause[cause] for cause in answered.causes if cause in by_cause] if answered.quantity == quantity else []
        for row in rows:
            if answered.answer == "nothing found":
                earned = mistakes.nothing_found(earned, row.id)
            elif answered.answer == "measure again" and row.kind == "slip":
                earned = {**earned, row.id: earned.get(row.id, 0.0) + math.log(row.again)}
    return earned


def alarm_at(before: State, after: State, reading: Reading) -> AlarmRaised | None:
    """The alarm that a recorded reading raises, or None.

    before: the state that did not hold it yet: what it says is weighed against what was expected then. after: with it.
    """
    if _alarms_in_a_row(before, reading.quantity) >= 2:
        return None  # the check was made twice over, the number stands: never a loop
    if reading.value is not None:
        weighing = weighed(before, reading.quantity, reading.value, reading.spot, reading.source)
        if weighing is not None and weighing.verdict(_limits(before, reading.quantity, reading.value)) == "alarm":
            return _alarm_from(after, reading, _with_earlier(before, reading, weighing))
    if reading.quantity == "backlash" and is_complete(after, "backlash"):
        weighing = _round_weighed(after)
        if weighing is not None and weighing.verdict() == "alarm":
            return _alarm_from(after, reading, weighing)
    if reading.quantity in PATTERNS and all(is_complete(after, name) for name in PATTERNS):
        weighing = _pattern_weighed(after)
        depth = after.latest("pinion_depth")
        if weighing is not None and depth is not None and weighing.verdict() == "alarm":
            return _alarm_from(after, depth, weighing)
    return None


def _with_earlier(before: State, reading: Reading, weighing: mistakes.Weighing) -> mistakes.Weighing:
    """What a reading says, and what it says of the one before it: that one may have been the slip, and this one right.

    A slip then foretold the earlier reading so much better than no mistake did, and without that reading this one is as it should be.
    """
    last = next((r for r in reversed(pr.evidence(before, reading.quantity)) if r.value is not None), None)
    if last is None or last.value is None or reading.value is None:
        return weighing
    without = replace(before, readings=tuple(r for r in before.readings if r.id != last.id), doubted=None)
    then, now = pr.law_at(without, reading.quantity, last.spot, last.fitted), pr.law(without, reading.quantity, reading.spot)
    expected = pr.law(before, reading.quantity, reading.spot)
    if then is None or now is None or expected is None:
        return weighing
    context = _context(without, reading.quantity, last.value, last.spot, last.source)
    earlier = mistakes.weigh(before.phrases.mistakes, last.value, then, context)
    value = pr.size(reading.value)
    # By the same laws as the weighing's own: a normal one has hardly any tail where a drag ends at its floor.
    likely, unlikely = (_parts(at, reading.quantity) or (law,) for at, law in ((without, now), (before, expected)))
    return mistakes.joined(weighing, earlier, mistakes.log_density(likely, value) - mistakes.log_density(unlikely, value))


def _alarms_in_a_row(state: State, quantity: str) -> int:
    """How many alarms on a quantity were answered without a quiet reading of it since."""
    row = 0
    for answered in reversed([one for one in state.alarms if one.quantity == quantity]):
        since = sum(1 for r in state.readings if r.quantity == quantity and int(r.id[1:]) > answered.reading_count)
        if since > (row + 1) * max(1, state.job.backlash_spots if quantity == "backlash" else 1):
            break
        row += 1
    return row


def _round_weighed(state: State) -> mistakes.Weighing | None:
    """A whole round of backlash against what the runout explains (docs/trade.md, 4.8); None before the runout was measured."""
    runout = state.latest("ring_runout")
    values = [pr.size(r.value) for r in state.current("backlash") if r.value is not None]
    if runout is None or runout.value is None or len(values) < 3:
        return None
    swing = pr.backlash_belief(state).k_ring.mean * pr.size(runout.value)
    noise = pr.reading_spread(state, "backlash")
    context = mistakes.Context("backlash", frozenset({state.job.axle.carrier}), noise, noise)
    # Readings of one and the same thing differ too: by about twice their spread for three or four of them, by three times for eight.
    expected = math.hypot(swing, (1 + math.log2(len(values)) / 2) * noise)
    return mistakes.weigh_round(state.phrases.mistakes, values, Normal(expected, max(swing / 3, noise)), context)


def _pattern_weighed(state: State) -> mistakes.Weighing | None:
    """Both prints against the depth that was read: a print that contradicts it is evidence too."""
    asks = pattern_asks(state)
    depth, middle = state.latest("pinion_depth"), pr.aim(state, "pinion_depth")
    if depth is None or depth.value is None or middle is None or asks is None or not asks.startswith("pinion"):
        return None
    error = Normal(pr.size(pr.mounting_distance(state, depth.value)) - middle, pr.reading_spread(state, "pinion_depth"))
    occasion = frozenset({state.job.axle.pinion_shims, state.job.axle.preload, state.job.axle.carrier, "assembled"})
    context = mistakes.Context("pinion_depth", occasion, error.spread, error.spread, sizes=_sizes(state, "pinion_depth"))
    return mistakes.weigh_pattern(state.phrases.mistakes, "out" if asks == "pinion in" else "in", error, context)


# Causes named at an alarm, and the share below which one is not worth a word.
_MOST_CAUSES, _WORTH_NAMING, _WORTH_SAYING = 4, 0.03, 0.4
# From this share of the known mistakes on, those of the bench are worth a look before a surprising number is read once more.
_BENCH_SHARE = 0.3
# At the second alarm on one thing all of it is gone through: from this share on, and so many.
_ALL_OF_IT = 0.005, 7


def _alarm_from(state: State, reading: Reading, weighing: mistakes.Weighing) -> AlarmRaised | None:
    again = _alarms_in_a_row(state, reading.quantity) > 0
    worth, most = _ALL_OF_IT if again else (_WORTH_NAMING, _MOST_CAUSES)
    likely = [suspect for suspect in weighing.likely if suspect.odds >= worth][:most]
    if not likely:
        return None
    steps = {step.id for step in state.procedure.steps}
    suspects = tuple(
        Suspect(
            suspect.cause,
            share,
            as_sentence(suspect.check),
            tuple(step for step in state.procedure.matching(suspect.redo) if step in steps),
        )
        for suspect, share in zip(likely, shares([suspect.odds for suspect in likely]), strict=True)
    )
    earlier = [r.id for r in pr.evidence(state, reading.quantity) if r.id != reading.id][-1:]
    text = state.phrases.sentence(
        "alarm.second" if again else "alarm.first",
        quantity=state.phrases.name(reading.quantity),
        phrase=as_sentence(likely[0].phrase),
        check=suspects[0].check,
        checks=" ".join(suspect.check for suspect in suspects),
    )
    return _raised(state, reading, text, (*earlier, reading.id), suspects)


def changed_since(state: State, quantity: str) -> bool:
    """Whether something was moved, pressed or torqued since this quantity was read last; not where it never was."""
    earlier = [r for r in state.readings if r.quantity == quantity and r.void != "wrong"]
    return bool(earlier) and earlier[-1].assembly != state.assembly


def stuck_alarm(before: State, after: State, reading: Reading) -> AlarmRaised | None:
    """The alarm of a gauge that has not moved by one count since before the change; None once it was looked for twice.

    The odds are common practice, no source.
    """
    if _alarms_in_a_row(before, reading.quantity) >= 2:
        return None
    suspects = tuple(
        Suspect(after.phrases.cause(cause), odds, after.phrases.sentence(f"check.{cause}"))
        for cause, odds in (("gauge_stuck", Decimal("0.6")), ("gauge_off", Decimal("0.4")))
    )
    text = after.phrases.sentence("alarm.stuck", quantity=after.phrases.name(reading.quantity), check=suspects[0].check)
    earlier = [r.id for r in after.readings if r.quantity == reading.quantity and r.void != "wrong" and r.id != reading.id][-1:]
    return _raised(after, reading, text, (*earlier, reading.id), suspects)


def runout_alarm(state: State) -> AlarmRaised | None:
    """The alarm of a ring gear that runs out too far: no shim cures that; None once it was looked for."""
    latest, limits = state.latest("ring_runout"), state.job.limits("ring_runout")
    answers = [one.answer for one in state.alarms if one.quantity == "ring_runout"]
    if latest is None or latest.value is None or limits is None or limits.allows(latest.value):
        return None
    if len(answers) >= 2 or answers[-1:] == ["nothing found"]:
        return None
    suspects = tuple(
        Suspect(state.phrases.cause(cause), odds, state.phrases.sentence(f"check.{cause}"), state.procedure.matching(redo))
        for cause, odds, redo in (
            (
                "side_play",
                Decimal("0.4"),
                _SIDES_AGAIN,
            ),  # seen in a minute, with nothing taken apart; end play adds to the swing (trade table)
            ("ring_dirt", Decimal("0.35"), _RING_AGAIN),
            ("ring_bolts", Decimal("0.15"), _RING_AGAIN),
            ("misread", Decimal("0.1"), ()),
        )
    )
    text = state.phrases.sentence("alarm.runout", check=suspects[0].check)
    return _raised(state, latest, text, (latest.id,), suspects)


_SIDES_AGAIN = (
    "carrier.caps",
    "carrier.cap_torque",
    "carrier.spread",
    "carrier.drag",
    "backlash.measure",
    "final.locks",
    "final.cap_torque",
    "final.spread",
    "final.carrier_drag",
    "final.backlash",
)
_RING_AGAIN = ("carrier.ring_bolts", "carrier.fit_case", "carrier.caps", "carrier.cap_torque", "carrier.spread", "carrier.drag")


def _raised(state: State, reading: Reading, text: str, evidence: tuple[str, ...], suspects: tuple[Suspect, ...]) -> AlarmRaised:
    return AlarmRaised(f"a{state.alarm_count + 1}", reading.step, reading.quantity, text, evidence, suspects)


def as_sentence(text: str) -> str:
    """A row's words as a sentence of their own."""
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('?') else '.'}" if text else ""


def shares(odds: Sequence[float]) -> list[Decimal]:
    """Odds as hundredths that add up to one: each cut, and what is left given to those that lost most by it. odds: one or more, above zero."""
    exact = [100 * each / sum(odds) for each in odds]
    hundredths = [int(each) for each in exact]
    most_cut = sorted(range(len(odds)), key=lambda at: hundredths[at] - exact[at])
    for at in most_cut[: 100 - sum(hundredths)]:
        hundredths[at] += 1
    return [Decimal(each) / 100 for each in hundredths]
