"""The kinds about the mesh of ring gear and pinion: backlash-move, k, yoke-backlash, backlash-stats, runout."""

from fractions import Fraction

from assistant.core.errors import ImpossibleValueError
from assistant.core.quantities import Length, Quantity
from assistant.core.sums import mesh, wave
from assistant.core.worked.keys import Answer, Given, Key, Kind
from assistant.core.worked.readers import angle, backlash, length, list_of, number, ratio, teeth, word

# Outside these a reading or a bearing seat is suspected, not the axle (common practice, no source).
_USUAL_K = (Fraction("0.4"), Fraction("1.2"))
_USUAL_BACKLASH = (Length.of(Quantity.of("0.001", "in")), Length.of(Quantity.of("0.040", "in")))
_USUAL_RUNOUT = Length.of(Quantity.of("0.030", "in"))

_limit = length("0in", "0.1in")
_radius = length("0mm", "1000mm", above=True)
K = Key("k", number("0", "2", above=True), "backlash gained per length that the ring gear moves away, such as 0.7")
RATIO = Key("ratio", ratio, "ring teeth over pinion teeth: 3.73, or better the counted teeth 41/11")
_pressure = Key("pressure_angle", angle("10", "30"), "the normal pressure angle in degrees")
_spiral = Key("spiral_angle", angle("0", "55"), "the spiral angle in degrees; 0 for straight teeth")
_ring_teeth = Key("ring_teeth", teeth, "ring gear teeth, counted")
_pinion_teeth = Key("pinion_teeth", teeth, "pinion teeth, counted")


def change_wanted(given: Given) -> Length:
    """The change of backlash, given as such or as the step from one backlash to another."""
    if "change" in given:
        return given.length("change")
    now, target = given.length("backlash"), given.length("target")
    given.say(f"Backlash {given.text(now)}, wanted {given.text(target)}: a change of {given.signed(target - now)}.")
    return target - now


def ring_move(given: Given, change: Length, k: Fraction) -> Length:
    """The move of the ring gear for a change of backlash, said with its direction; a factor that no table has is doubted."""
    move = mesh.ring_move_for(change, k)
    given.say(f"{given.signed(change)} / {_k(k)} = {given.signed(move)}: the ring gear moves {_way(move)}.")
    if not _USUAL_K[0] <= k <= _USUAL_K[1]:
        given.doubt(f"k = {_k(k)} is unusual, manuals print 0.5 to 1.0: suspect a reading, or a bearing that is not seated.")
    return move


def _k(k: Fraction) -> str:
    return f"{float(k):.4g}"


def _way(move: Length) -> str:
    if not move.nanometres:
        return "not at all"
    return "away from the pinion" if move > Length(0) else "toward the pinion"


def _ratio(given: Given) -> Fraction:
    if "ratio" in given:
        return given.number("ratio")
    try:
        found = mesh.tooth_ratio(int(given.number("ring_teeth")), int(given.number("pinion_teeth")))
    except ImpossibleValueError as error:
        raise ImpossibleValueError(f"ring_teeth, pinion_teeth: {error}") from error
    given.say(f"Ratio: {given.number('ring_teeth')} / {given.number('pinion_teeth')} = {float(found):.4f}.")
    return found


def _k_from_angles(given: Given, ratio_: Fraction) -> Fraction:
    pressure, spiral = given.number("pressure_angle"), given.number("spiral_angle")
    k = mesh.k_ring(pressure, spiral, ratio_)
    given.say(
        f"k = 2 tan({float(pressure):g} deg) sin(atan({float(ratio_):.4g})) / cos({float(spiral):g} deg) = {_k(k)}, to {mesh.K_PLACES} decimals; "
        "without offset. A manual's own factor, or one measured on this axle, goes before it."
    )
    return k


def _solve_backlash_move(given: Given) -> Answer:
    change = change_wanted(given)
    if "per_notch" in given:
        return _solve_notches(given, change)
    k = given.number("k") if "k" in given else _k_from_angles(given, _ratio(given))
    move = ring_move(given, change, k)
    given.say(
        f"Ring side {given.signed(-move)} (thicker there pushes the ring gear toward the pinion), opposite side {given.signed(move)}: "
        "the sum stays, and with it the bearing preload."
    )
    return given.answer(ring_move=move, ring_side=-move, opposite=move, k=k)


def _solve_notches(given: Given, change: Length) -> Answer:
    per_notch = given.length("per_notch")
    turned = mesh.notches_for(change, per_notch)
    count = abs(turned)
    exact = abs(Fraction(change.nanometres, per_notch.nanometres))
    given.say(f"{given.text(abs(change))} / {given.text(per_notch)} per notch = {float(exact):.2f}: {count} to the nearest notch.")
    left = change - per_notch.times(turned)
    if left.nanometres:
        given.say(f"That leaves the backlash {given.text(abs(left))} {'below' if left > Length(0) else 'above'} what is wanted.")
    opens = change > Length(0)
    if count:
        first, then = ("ring side", "opposite side") if opens else ("opposite side", "ring side")
        given.say(f"To {'open' if opens else 'close'} the mesh loosen the {first} {count} first, then tighten the {then} the same {count}.")
    # The interface knows open and close; with nothing to change neither is true.
    direction = ("open" if opens else "close") if change.nanometres else "none"
    return given.answer(notches=Quantity.of(count, "notch"), direction=direction)


def _solve_k(given: Given) -> Answer:
    ratio_ = _ratio(given)
    k = _k_from_angles(given, ratio_)
    pinion = mesh.k_pinion(k, ratio_)
    given.say(f"For the pinion: {_k(k)} / {float(ratio_):.4g} = {float(pinion):.4f} of backlash per length that it moves away.")
    return given.answer(k_ring=k, k_pinion=pinion)


def _solve_yoke_backlash(given: Given) -> Answer:
    reading, yoke, ring = given.length("reading"), given.length("yoke_radius"), given.length("ring_radius")
    found = mesh.backlash_from_yoke(reading, yoke, ring, given.number("ratio"))
    ratio_text = f"{float(given.number('ratio')):.4g}"
    given.say(f"{given.text(reading)} x {given.text(ring)} / ({given.text(yoke)} x {ratio_text}) = {given.text(found)} at the ring gear.")
    given.say("Only to screen: bearing play and slack in the joint add in. Read it at the ring gear before deciding.")
    return given.answer(backlash=found)


def _solve_backlash_stats(given: Given) -> Answer:
    readings = given.quantities("readings")
    stats = wave.backlash_stats(given.lengths("readings"))
    _say_wave(given, stats)
    for spot, reading in enumerate(given.lengths("readings"), 1):
        if not _USUAL_BACKLASH[0] <= reading <= _USUAL_BACKLASH[1]:
            given.doubt(
                f"{given.text(reading)} at spot {spot} is unusual: was the dial rocked over a tooth, is its plunger square, did the pinion turn?"
            )
    low, high, variation = given.limit("low"), given.limit("high"), given.limit("variation")
    if low is not None and high is not None and low > high:
        raise ImpossibleValueError(f"low={low}, high={high}: expected low to be the smaller")
    found = {
        "minimum": stats.minimum,
        "mean": stats.mean,
        "maximum": stats.maximum,
        "variation": stats.variation,
        "first_harmonic": stats.first_harmonic,
        "high_spot": _high_spot(given, stats),
    }
    if low is None and high is None and variation is None:
        given.say("No limits were given, so there is no verdict: they are in the manual of the unit on the bench.")
        return given.answer(**found)
    judge = given.word("judge") if "judge" in given else "all"
    passes = wave.is_backlash_in_spec(readings, low=low, high=high, variation=variation, judge=judge)
    limits = [f"{name} {limit}" for name, limit in (("low", low), ("high", high), ("variation", variation)) if limit is not None]
    judged = {"all": "every reading", "minimum": "the minimum", "mean": "the mean"}[judge]
    given.say(f"Judged by {judged}, and the variation, against {', '.join(limits)}, inclusive: {'pass' if passes else 'fail'}.")
    return given.answer(**found, verdict="pass" if passes else "fail")


def _say_wave(given: Given, stats: wave.Wave) -> None:
    given.say(
        f"Least {given.text(stats.minimum)}, greatest {given.text(stats.maximum)}, difference {given.text(stats.variation)}, "
        f"mean {given.text(stats.mean)}."
    )
    if _has_wave(given, stats):
        given.say(
            f"Once per turn it swings by {given.text(stats.first_harmonic)} either way and is highest {stats.high_spot_deg} deg after the first "
            "reading, in the order of reading, the spots equally spaced."
        )
    else:
        given.say("No wave once per turn, so there is no high spot.")


def _has_wave(given: Given, stats: wave.Wave) -> bool:
    return stats.high_spot_deg is not None and bool(stats.first_harmonic.quantity(given.unit).value)


def _high_spot(given: Given, stats: wave.Wave) -> Quantity | str:
    return Quantity(stats.high_spot_deg, "deg") if stats.high_spot_deg is not None and _has_wave(given, stats) else "none"


def _solve_runout(given: Given) -> Answer:
    stats = wave.wave_of(given.lengths("readings"))
    _say_wave(given, stats)
    if not stats.variation.nanometres:
        given.doubt("every reading is the same: does the plunger touch, and did the ring gear turn?")
    if stats.variation > _USUAL_RUNOUT:
        given.doubt(
            f"{given.text(stats.variation)} is unusual: has the dial passed a turn, is there dirt behind the ring gear, or end play?"
        )
    return given.answer(tir=stats.variation, first_harmonic=stats.first_harmonic, high_spot=_high_spot(given, stats))


_STATS = {
    "first_harmonic": "half the swing of the wave once per turn",
    "high_spot": "where it is highest, degrees from the first reading; the word none without a wave",
}
KINDS = (
    Kind(
        "backlash-move",
        "how far to move the ring gear for a change of backlash, as shims or notches",
        (
            Key("backlash", backlash, "the backlash now"),
            Key("target", backlash, "the backlash wanted"),
            Key("change", length("-0.1in", "0.1in"), "the change of backlash; positive: more"),
            K,
            _pressure,
            _spiral,
            _ring_teeth,
            _pinion_teeth,
            Key("per_notch", length("0in", "0.1in", above=True), "backlash per notch of the adjusters"),
        ),
        {
            "ring_move": "positive: away from the pinion",
            "ring_side": "the change of shim behind the ring gear's back face",
            "opposite": "the change of shim on the other side",
            "k": "the factor used",
            "notches": "with per_notch: how many, on both adjusters",
            "direction": "with per_notch: open or close the mesh; none when nothing is to change",
        },
        "backlash=0.022in target=0.013in per_notch=0.003in",
        _solve_backlash_move,
        choices=(
            (("backlash", "target"), ("change",)),
            (("k",), ("pressure_angle", "spiral_angle", "ring_teeth", "pinion_teeth"), ("per_notch",)),
        ),
    ),
    Kind(
        "k",
        "backlash gained per length that the ring gear or the pinion moves away, from the teeth's angles",
        (_pressure, _spiral, RATIO, _ring_teeth, _pinion_teeth),
        {"k_ring": "for the ring gear", "k_pinion": "for the pinion"},
        "pressure_angle=20 spiral_angle=0 ratio=3.73",
        _solve_k,
        choices=((("ratio",), ("ring_teeth", "pinion_teeth")),),
    ),
    Kind(
        "yoke-backlash",
        "the backlash at the ring gear from a reading at the pinion's yoke, to screen",
        (
            Key("reading", length("0in", "1in", above=True), "what the dial read at the yoke"),
            Key("yoke_radius", _radius, "from the pinion's axis to the dial"),
            Key("ring_radius", _radius, "from the ring gear's axis to where backlash is read"),
            RATIO,
        ),
        {"backlash": "at the ring gear"},
        "reading=0.028in yoke_radius=2.0in ring_radius=4.4in ratio=3.73",
        _solve_yoke_backlash,
    ),
    Kind(
        "backlash-stats",
        "backlash readings round a turn: extremes, mean, variation, the wave once per turn, and the verdict",
        (
            Key("readings", list_of(backlash), "three or more, at equal steps of one turn, with commas"),
            Key("low", _limit, "the least the manual allows", optional=True),
            Key("high", _limit, "the most the manual allows", optional=True),
            Key("variation", _limit, "the greatest difference the manual allows", optional=True),
            Key("judge", word(*wave.JUDGES), "what must lie between low and high: minimum, mean or all (when left out)", optional=True),
        ),
        {
            "minimum": "the least",
            "mean": "the mean",
            "maximum": "the greatest",
            "variation": "greatest - least",
            **_STATS,
            "verdict": "pass or fail, when a limit is given",
        },
        "readings=0.28mm,0.30mm,0.30mm,0.28mm variation=0.06mm judge=mean",
        _solve_backlash_stats,
    ),
    Kind(
        "runout",
        "dial readings on the ring gear's back face round a turn",
        (Key("readings", list_of(length("-12.7mm", "12.7mm")), "three or more, at equal steps of one turn, with commas"),),
        {"tir": "total indicated runout: greatest - least", **_STATS},
        "readings=0.000in,0.002in,0.003in,0.001in",
        _solve_runout,
    ),
)
