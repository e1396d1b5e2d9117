"""Numbers that cannot be true, numbers that surprise, and what a surprise may mean.

Three answers to a number, in this order: impossible (nothing changes, the reason is said), doubtful (asked for once more before it is
recorded), surprising though said twice (recorded, and an alarm names the likely causes with what to check first).
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from assistant.core import predictions as pr
from assistant.core.events import AlarmRaised, Suspect
from assistant.core.quantities import Quantity
from assistant.core.saying import say
from assistant.core.state import Reading, State

# How many standard deviations a reading may lie from its prediction before it is asked for once more.
DOUBTFUL = 4.0
# Two readings of one thing lie this many of a reading's standard deviations apart at most.
_SAME = 4.0
_INCH, _MM = "in", "mm"


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
# usual. The drag refusal is twice that of the trade reference, for a pack that is far too thin really drags like that, and has to be told
# to get a thicker one.
RANGES = {
    "shim_thickness": _range("0.0001in", "0.001in", "0.500in", "2in"),
    "stack_thickness": _range("0.0001in", "0.001in", "0.500in", "4in"),
    "old_stack_thickness": _range("0.0001in", "0.001in", "0.500in", "4in"),
    "etch_old": _range("-0.060in", "-0.016in", "0.016in", "0.060in"),
    "etch_new": _range("-0.060in", "-0.016in", "0.016in", "0.060in"),
    "pinion_drag": _range("0lb-in", "1lb-in", "62lb-in", "260lb-in"),
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
    if quantity in ("backlash", "baseline_backlash") and value.value == 0:
        return state.phrases.sentence("impossible.zero_backlash")
    if bounds.refuse_low is not None and value < bounds.refuse_low:
        return state.phrases.sentence("impossible.low", quantity=name, value=say(value))
    if bounds.refuse_high is not None and value > bounds.refuse_high:
        return state.phrases.sentence("impossible.high", quantity=name, value=say(value))
    return None


# A depth tolerance of the trade is a few thousandths: beyond this another figure of the page was read (bound assumed).
_WIDEST_TOLERANCE = Quantity.of("0.060", "in")


def impossible_limit(state: State, quantity: str, which: str, value: Quantity) -> str | None:
    """Why a figure cannot be this limit of the manual (which: low, high, value, target or tolerance), as it is said; None when it can."""
    name = state.phrases.name(quantity)
    if which == "tolerance":
        if value.value <= 0:
            return state.phrases.sentence("impossible.low", quantity=state.phrases.name(which), value=say(value))
        if value > _WIDEST_TOLERANCE:
            return state.phrases.sentence("impossible.high", quantity=state.phrases.name(which), value=say(value))
        return None
    low = next((given for of, side, given in state.specs_given if (of, side) == (quantity, "low")), None)
    if which == "high" and low is not None and value < low:
        return state.phrases.sentence("impossible.crossed", quantity=name, value=say(value), low=say(low))
    bounds = RANGES[quantity]
    if bounds.refuse_low is not None and value < bounds.refuse_low:
        return state.phrases.sentence("impossible.low", quantity=name, value=say(value))
    if bounds.refuse_high is not None and value > bounds.refuse_high:
        return state.phrases.sentence("impossible.high", quantity=name, value=say(value))
    return None


def doubtful(state: State, quantity: str, value: Quantity, spot: int) -> str | None:
    """Why a value surprises, as it is said; None when it does not, or when it was asked for once more and is the same again."""
    if said_again(state, quantity, value, spot):
        return None
    name = state.phrases.name(quantity)
    expected = pr.law(state, quantity, spot)
    if expected is not None and abs(pr.size(value) - expected.mean) > DOUBTFUL * expected.spread:
        unit = value.unit
        return state.phrases.sentence(
            "doubt.expected",
            quantity=name,
            value=say(value),
            expected=say(pr.quantity_of(expected.mean, unit)),
            slip=_slip(state, value, expected.mean),
        )
    bounds = RANGES.get(quantity)
    if bounds is not None and ((bounds.ask_low and value < bounds.ask_low) or (bounds.ask_high and value > bounds.ask_high)):
        return state.phrases.sentence("doubt.unusual", quantity=name, value=say(value))
    return None


def said_again(state: State, quantity: str, value: Quantity, spot: int) -> bool:
    """Whether this value was asked for once more and has come again; two looks at one gauge differ by its own spread."""
    asked = state.doubted
    if asked is None or (asked.quantity, asked.spot) != (quantity, spot):
        return False
    return abs(pr.size(value) - pr.size(asked.value)) <= _SAME * pr.reading_spread(state, quantity)


def _slip(state: State, value: Quantity, expected: float) -> str:
    """The slip of the tongue or the unit that would explain a surprise, as it is said; empty when there is none."""
    if expected <= 0:
        return ""
    share = pr.size(value) / expected
    slips = (("slip.ten_times", 10.0), ("slip.a_tenth", 0.1), ("slip.inch_mm", 25.4), ("slip.mm_inch", 1 / 25.4))
    found = next((key for key, factor in slips if abs(share / factor - 1) < 0.15), None)
    return state.phrases.sentence(found) if found else ""


def alarm_after(state: State, quantity: str) -> AlarmRaised | None:
    """The alarm that the newest reading of a quantity raises, or None.

    A change of the pack that changed the reading by less than a quarter of what it should have: something between the shim and the
    bearing did not move (docs/trade.md, F06). A number out of its range that no part can be changed for (runout) is one as well.
    """
    answers = [answer for name, answer in state.alarms if name == quantity]
    if len(answers) >= 2:
        return None  # two in a row on one thing: the check was made, the number stands
    if quantity == "ring_runout":
        return _runout_alarm(state) if answers[-1:] != ["nothing found"] else None
    part = {"pinion_drag": "preload_shims", "pinion_depth": "pinion_shims"}.get(quantity)
    readings = pr.evidence(state, quantity)
    if part is None or len(readings) < 2:
        return None
    before, now = readings[-2], readings[-1]
    if before.value is None or now.value is None:
        return None
    expected = _expected_change(state, quantity, before, now)
    if expected is None:
        return None
    seen = pr.size(now.value) - pr.size(before.value)
    noise = 2 * pr.reading_spread(state, quantity)
    if abs(expected) < 3 * noise or (seen / expected > 0.25 and abs(seen) > noise):
        return None
    turned = seen / expected < -0.25
    causes = ("reversed",) if turned else ()
    return _alarm(state, quantity, "alarm.reversed" if turned else "alarm.no_response", (before.id, now.id), (*causes, *_causes(part)))


def _expected_change(state: State, quantity: str, before: Reading, now: Reading) -> float | None:
    """How far the reading should have gone, by what was changed: depth one for one, drag by the usual stiffness; None for nothing known."""
    if quantity == "pinion_depth":
        packs = dict(before.fitted).get("pinion_shims"), dict(now.fitted).get("pinion_shims")
        return (
            state.job.axle.depth_sign * (pr.size(packs[1]) - pr.size(packs[0])) if packs[0] is not None and packs[1] is not None else None
        )
    at = pr.tightness_at(state, before.fitted), pr.tightness_at(state, now.fitted)
    # About 10 lb-in for a thousandth between the cones, thicker is looser: the belief's own prior around the usual drags.
    return -(at[1] - at[0]) * 0.0445 if at[0] is not None and at[1] is not None else None


def _causes(part: str) -> tuple[str, ...]:
    return ("not_seated", "nut_loose", "wrong_pack", "misread") if part == "preload_shims" else ("burr", "wrong_pack", "misread")


def _runout_alarm(state: State) -> AlarmRaised | None:
    latest, limits = state.latest("ring_runout"), state.job.limits("ring_runout")
    if latest is None or latest.value is None or limits is None or limits.allows(latest.value):
        return None
    return _alarm(state, "ring_runout", "alarm.runout", (latest.id,), ("ring_dirt", "ring_bolts", "misread"))


_PRELOAD_AGAIN = ("preload.tail_cone", "preload.nut", "preload.nut_torque", "preload.drag")
_RING_AGAIN = ("carrier.ring_bolts", "carrier.fit_case", "carrier.caps", "carrier.cap_torque")
# What to make again when a cause is confirmed, beside the reading itself.
_REDO = {
    ("pinion_drag", "not_seated"): _PRELOAD_AGAIN,
    ("pinion_drag", "nut_loose"): _PRELOAD_AGAIN[1:],
    ("pinion_drag", "wrong_pack"): _PRELOAD_AGAIN,
    ("pinion_drag", "reversed"): _PRELOAD_AGAIN,
    ("pinion_depth", "burr"): ("depth.cage",),
    ("pinion_depth", "wrong_pack"): ("depth.cage",),
    ("pinion_depth", "reversed"): ("depth.cage",),
    ("ring_runout", "ring_dirt"): _RING_AGAIN,
    ("ring_runout", "ring_bolts"): _RING_AGAIN,
}
_ODDS = {
    "not_seated": 5, "nut_loose": 3, "wrong_pack": 2, "misread": 1, "reversed": 4, "burr": 4, "ring_dirt": 4, "ring_bolts": 2,
}  # fmt: skip


def _alarm(state: State, quantity: str, key: str, evidence: tuple[str, ...], causes: tuple[str, ...]) -> AlarmRaised:
    total = sum(_ODDS[cause] for cause in causes)
    likely = tuple(
        Suspect(
            state.phrases.sentence(f"cause.{cause}"),
            Decimal(round(Fraction(100 * _ODDS[cause], total))) / 100,
            state.phrases.sentence(f"check.{cause}"),
            _REDO.get((quantity, cause), ()),
        )
        for cause in causes
    )
    return AlarmRaised(
        id=f"a{state.alarm_count + 1}",
        step=state.reading(evidence[-1]).step,
        quantity=quantity,
        text=state.phrases.sentence(key, quantity=state.phrases.name(quantity), check=likely[0].check),
        evidence=evidence,
        likely=likely,
    )
