"""Three pictures of what was measured: backlash round the ring, drag against what squeezes the bearings, the print on the teeth.

Everything that is drawn comes as whole thousandths of the paper, and every figure beside it as the decimal that was recorded.
"""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

from assistant.core import predictions as pr
from assistant.core.axle import PATTERNS, Limits
from assistant.core.belief import priors
from assistant.core.quantities import Quantity, quantity_from, unit_named
from assistant.core.state import Reading, State
from assistant.core.waits import wait
from assistant.screen.scale import Axis, axis_for, scale
from assistant.screen.words import Words

Drawn = dict[str, Any]
# In base units.
_MICROMETRE = 1000
_NEWTON_METRE = 10**6
_ROUND = tuple(range(0, 360, 15))
_ALONG = 16


def newest_by_spot(readings: Iterable[Reading]) -> dict[int, Reading]:
    """The newest reading at each place: one that stands if there is one, else the newest that lost its ground; wrong ones never."""
    found: dict[int, Reading] = {}
    for reading in readings:
        if reading.void == "wrong":
            continue
        before = found.get(reading.spot)
        if before is None or before.void is not None or reading.void is None:
            found[reading.spot] = reading
    return found


def dial(state: State, words: Words) -> Drawn | None:
    """Backlash round the ring; None before the first one was read. Before teardown it shows the old backlash, later only the new."""
    now = wait(state)
    of_baseline = now is not None and now.quantity == "baseline_backlash"
    quantity = "baseline_backlash" if of_baseline or (not _any(state, "backlash") and not _awaits(state, "backlash")) else "backlash"
    places = newest_by_spot(r for r in state.readings if r.quantity == quantity)
    if not places and not _awaits(state, quantity):
        return None
    limits, unit, spots = state.job.limits(quantity), state.job.unit_of(quantity), max(state.job.backlash_spots, 1)
    values = [r.value for r in places.values() if r.value is not None]
    axis = axis_for(limits, values=values) or _axis_of(values)
    here = now.spot if now is not None and now.quantity == quantity else 0
    return {
        "title": words.say("dial_before_title" if of_baseline or quantity != "backlash" else "dial_title"),
        "unit": words.unit(unit),
        "limits": _band(limits, unit, axis),
        "spots": [_spot(state, quantity, places.get(spot), spot, spots, axis, is_here=spot == here) for spot in range(1, spots + 1)],
        "expected": _expected_round(state, axis) if quantity == "backlash" and _any(state, "backlash") else [],
        "expected_words": words.say("dial_expected"),
        "variation": _variation(state, quantity, list(places.values()), words),
    }


def _awaits(state: State, quantity: str) -> bool:
    now = wait(state)
    return now is not None and now.quantity == quantity


def _any(state: State, quantity: str) -> bool:
    return any(r.quantity == quantity and r.void != "wrong" for r in state.readings)


def _axis_of(values: Sequence[Quantity]) -> Axis:
    """An axis for numbers that have no limits: from nothing to half as much again as the largest."""
    largest = max((value.base for value in values), default=Fraction(1))
    return Axis(Fraction(0), max(largest, Fraction(1)) * Fraction(3, 2))


def _spot(state: State, quantity: str, reading: Reading | None, spot: int, spots: int, axis: Axis, *, is_here: bool) -> Drawn:
    value = reading.value if reading is not None else None
    found = scale(value, state.job.limits(quantity), state.job.unit_of(quantity))
    return {
        "index": spot,
        "degrees": round(pr.degrees_of(spot, spots)),
        "here": is_here,
        "text": value.text if value is not None else None,
        "at": axis.place(value.base) if value is not None else None,
        "void": reading is not None and reading.void is not None,
        "where": found["where"] if found is not None else None,
    }


def _expected_round(state: State, axis: Axis) -> list[int]:
    """What is expected round the ring with what is fitted now, every fifteen degrees."""
    belief, fitted = pr.backlash_belief(state), pr.fitted_now(state)
    ring, pinion = pr.ring_away(state, fitted), pr.pinion_away(state, fitted) - pr.pinion_zero(state)
    assembly = state.assembly if any(r.assembly == state.assembly for r in pr.evidence(state, "backlash")) else None
    return [axis.place_of_belief(belief.predict(ring, pinion, degrees, assembly).mean * _MICROMETRE) for degrees in _ROUND]


def _variation(state: State, quantity: str, readings: Sequence[Reading], words: Words) -> Drawn | None:
    """Largest less smallest of what stands, exact, and the manual's most."""
    standing = [r.value for r in readings if r.void is None and r.value is not None]
    if len(standing) < 2:
        return None
    size, unit = max(standing).base - min(standing).base, state.job.unit_of(quantity)
    limits = state.job.limits(quantity)
    limit = limits.variation if limits is not None else None
    value = quantity_from(size / unit_named(unit).factor, unit).text
    if limit is None:
        return {"text": words.say("dial_variation", value=value, unit=words.unit(unit)), "where": None}
    text = words.say("dial_variation_limit", value=value, limit=limit.to(unit).text, unit=words.unit(unit))
    return {"text": text, "where": "inside" if size <= limit.base else "above"}


# ---- drag


def drag(state: State, words: Words) -> Drawn | None:
    """Pinion drag against the pack between the cones, or against the degrees of the nut; None before the first drag was read."""
    readings = [r for r in pr.evidence(state, "pinion_drag") if pr.tightness_at(state, r.fitted) is not None]
    if not readings:
        return None
    is_nut = state.job.axle.preload == "crush-sleeve"
    if is_nut:
        # Another sleeve has another curve: only what was read on the one that is in belongs together.
        sleeve = dict(pr.fitted_now(state)).get("crush_sleeve")
        readings = [r for r in readings if dict(r.fitted).get("crush_sleeve") == sleeve]
    points = [(_tightness(state, r), r) for r in readings]
    here = pr.tightness_at(state, pr.fitted_now(state))
    across = [at for at, _ in points] + ([here] if here is not None else [])
    if not across:
        return None
    limits, unit = state.job.limits("pinion_drag"), state.job.unit_of("pinion_drag")
    x_unit = "deg" if is_nut else state.job.units
    x_axis = _x_axis(across, is_nut)
    y_axis = _y_axis(axis_for(limits), [r.value for r in readings])
    return {
        "title": words.say("drag_title"),
        "unit": words.unit(unit),
        "x_words": words.say("drag_nut") if is_nut else words.say("drag_pack", unit=x_unit),
        "x_ends": [_x_text(x_axis.low, x_unit, is_nut), _x_text(x_axis.high, x_unit, is_nut)],
        "limits": _band(limits, unit, y_axis),
        "points": [
            {
                "x": x_axis.place(_exact(at)),
                "y": y_axis.place(r.value.base) if r.value is not None else 0,
                "text": r.value.text if r.value is not None else "",
                "x_text": _x_text(_exact(at), x_unit, is_nut),
                "void": r.void is not None,
            }
            for at, r in points
        ],
        "here": x_axis.place(_exact(here)) if here is not None else None,
        "curve": _curve(state, x_axis, y_axis),
        "expected_words": words.say("drag_expected"),
    }


def _tightness(state: State, reading: Reading) -> float:
    at = pr.tightness_at(state, reading.fitted)
    assert at is not None  # only such readings are asked
    return at


def _exact(at: float) -> Fraction:
    return Fraction(round(at * 1000), 1000)


def _x_axis(across: Sequence[float], is_nut: bool) -> Axis:
    """Room to either side of what was tried: at least 60 micrometres of pack, or 30 degrees of nut."""
    low, high = _exact(min(across)), _exact(max(across))
    room = max((high - low) / 4, Fraction(15 if is_nut else 30))
    return Axis(low - room, high + room)


def _y_axis(wanted: Axis | None, values: Sequence[Quantity | None]) -> Axis:
    """From no drag to well above the limits and the largest reading."""
    largest = max((value.base for value in values if value is not None), default=Fraction(1))
    top = max(largest * Fraction(5, 4), wanted.high if wanted is not None else Fraction(1))
    return Axis(Fraction(0), top)


def _x_text(at: Fraction, unit: str, is_nut: bool) -> str:
    known = unit_named(unit)
    number = at if is_nut else at * _MICROMETRE / known.factor
    return quantity_from(Fraction(round(number * 10**known.places), 10**known.places), unit).text


def _band(limits: Limits | None, unit: str, axis: Axis) -> Drawn:
    """The limits' places on an axis."""
    found: Drawn = {"low": None, "high": None}
    for name, limit in (("low", limits.low), ("high", limits.high)) if limits is not None else ():
        if limit is not None:
            found[name] = {"text": limit.to(unit).text, "at": axis.place(limit.base)}
    return found


def _curve(state: State, x_axis: Axis, y_axis: Axis) -> list[list[int]]:
    """What is expected along the axis: place, least, middle and most (one spread)."""
    belief = pr.drag_belief(state)
    if belief is None:
        return []
    noise = priors.torque_spread(pr.aim(state, "pinion_drag") or 2.0)
    found = []
    for step in range(_ALONG + 1):
        at = x_axis.low + (x_axis.high - x_axis.low) * step / _ALONG
        law = belief.predict(float(at), noise).normal
        sizes = (law.mean - law.spread, law.mean, law.mean + law.spread)
        found.append([x_axis.place(at), *(y_axis.place_of_belief(size * _NEWTON_METRE) for size in sizes)])
    return found


# ---- prints


def prints(state: State, words: Words) -> Drawn | None:
    """The print on both flanks; None before a pattern was read or is asked for."""
    if not any(_any(state, name) or _awaits(state, name) for name in PATTERNS):
        return None
    return {
        "title": words.say("print_title"),
        "flanks": [_flank(state, name, words) for name in PATTERNS],
        "marks": {name: words.say(name) for name in ("toe", "heel", "root", "tip")},
        "none": words.say("no_print"),
    }


def _flank(state: State, name: str, words: Words) -> Drawn:
    found = newest_by_spot(r for r in state.readings if r.quantity == name)
    return {
        "flank": words.say("drive" if name == "pattern_drive" else "coast"),
        "here": _awaits(state, name),
        "prints": [
            {
                "spot": spot,
                "along": None if reading.choice in (None, "unclear") else str(reading.choice).split()[0],
                "across": None if reading.choice in (None, "unclear") else str(reading.choice).split()[1],
                "text": state.phrases.choice(reading.choice) if reading.choice is not None else None,
                "void": reading.void is not None,
            }
            for spot, reading in sorted(found.items())
        ],
    }
