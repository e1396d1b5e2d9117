"""The kinds about where the pinion sits: etch, target, depth, two-bores, bore-centre, chain, feeler."""

from assistant.core.errors import ImpossibleValueError
from assistant.core.quantities import Length, Quantity
from assistant.core.sums import depth
from assistant.core.worked.keys import Answer, Given, Key, Kind
from assistant.core.worked.readers import etch, length, list_of, unit, word

# An etch step above this is lawful (Spicer Drive Axles p. 14: -12 to +9) but rare; a unit slip makes it (common practice, no source).
_WIDE_STEP = Length.of(Quantity.of("0.010", "in"))
_USUAL_SHIM = (Length.of(Quantity.of("0.003", "in")), Length.of(Quantity.of("0.300", "in")))
_WIDE_ERROR = Length.of(Quantity.of("0.020", "in"))
_WIDE_TILT = Length.of(Quantity.of("0.25", "mm"))
_THICKEST = Length.of(Quantity.of("0.500", "in"))

_size = length("0mm", "1000mm", above=True)
_shim = length("0.001in", "0.500in")
_amount = length("0mm", "12.7mm")
_layout = Key("layout", word(*depth.LAY), "where the depth shim sits: flange, head-cone or head-cup")
_sign = Key("sign", word(*depth.WANTS), "what a plus wants: away (a longer mounting distance) or toward (a shorter one)")
_etch_unit = Key("etch_unit", unit(*depth.ETCH_UNITS), "what the etch counts: 0.001in, 0.01mm or 0.001mm")
_etch = Key("etch", etch, "the figure on the pinion, with its sign: +2, -3 or 0")


def _etched(given: Given, name: str) -> Length:
    """The length an etch stands for; nothing when it was left out. Raises ImpossibleValueError for a serial number or a date."""
    if name not in given:
        return Length(0)
    figure, symbol = given.number(name), given.word("etch_unit")
    reason = depth.why_no_etch(figure, symbol)
    if reason is not None:
        raise ImpossibleValueError(f"{name}: {reason}")
    return depth.etch_length(figure, symbol)


def _way(lay: int) -> str:
    return "out, away from the ring-gear centre line" if lay > 0 else "in, toward the ring-gear centre line"


def _say_seat(given: Given) -> None:
    layout = given.word("layout")
    given.say(f"Your shim sits {depth.SEATS[layout]}, so more shim moves the pinion {_way(depth.lay_of(layout))}.")


def _say_sign(given: Given) -> None:
    longer = depth.sense_of(given.word("sign")) > 0
    wants = "out, at a longer mounting distance" if longer else "in, at a shorter mounting distance"
    given.say(f"Plus on your pinion means it wants to sit {wants}.")


def _say_change(given: Given, change: Length) -> None:
    if not change.nanometres:
        given.say("So the shim stays as it is.")
    else:
        given.say(f"So I {'add' if change > Length(0) else 'take away'} {given.text(abs(change))} of shim.")


def _fitted(given: Given, name: str, change: Length) -> Length:
    """The shim given as `name` after the change, with a warning when it is unusual. Raises ImpossibleValueError for none or too much."""
    old = given.length(name)
    shim = old + change
    terms = f"{given.text(old)}{_term(given, change)} = {given.text(shim)}"
    if not Length(0) < shim <= _THICKEST:
        raise ImpossibleValueError(
            f"{name}: the new shim would be {terms}: expected more than nothing and {given.text(_THICKEST)} at most; "
            "check the seat, the sign and the units"
        )
    given.say(f"{terms}.")
    _doubt_shim(given, shim)
    return shim


def _doubt_shim(given: Given, shim: Length) -> None:
    if not _USUAL_SHIM[0] <= shim <= _USUAL_SHIM[1]:
        given.doubt(
            f"a shim of {given.text(shim)} is unusual: {given.text(_USUAL_SHIM[0])} to {given.text(_USUAL_SHIM[1])} is what one meets."
        )


def _solve_etch(given: Given) -> Answer:
    old, new = _etched(given, "etch_old"), _etched(given, "etch_new")
    change = depth.shim_change_for_etch(given.word("layout"), given.word("sign"), old, new)
    _say_seat(given)
    _say_sign(given)
    wanted = (new - old).times(depth.sense_of(given.word("sign")))
    marks = f"{_mark(given, 'etch_old')} to {_mark(given, 'etch_new')} of {given.word('etch_unit')}"
    if wanted.nanometres:
        given.say(f"From {marks}: the new pinion wants to sit {given.text(abs(wanted))} further {'out' if wanted > Length(0) else 'in'}.")
    else:
        given.say(f"From {marks}: both pinions want to sit at the same distance.")
    _say_change(given, change)
    if abs(change) > _WIDE_STEP:
        given.doubt(f"a change of {given.text(abs(change))} is large: check that both etches are in {given.word('etch_unit')}.")
    if "old_shim" not in given:
        return given.answer(change=change)
    return given.answer(change=change, shim=_fitted(given, "old_shim", change))


def _mark(given: Given, name: str) -> str:
    figure = given.number(name)
    return ("+" if figure > 0 else "") + f"{float(figure):g}"


def _solve_target(given: Given) -> Answer:
    etched = _etched(given, "etch")
    target = depth.target_depth(given.length("nominal"), etched, given.word("sign"))
    _say_sign(given)
    more = target >= given.length("nominal")
    given.say(f"{given.text(given.length('nominal'))} {'+' if more else '-'} {given.text(abs(etched))} = {given.text(target)}.")
    return given.answer(target=target)


def _solve_depth(given: Given) -> Answer:
    measured, target = given.length("measured"), given.length("target")
    actual = depth.depth_from_plane(measured, given.length("centre_offset"))
    error = actual - target
    change = depth.shim_change_for_depth(given.word("layout"), actual, target)
    _say_seat(given)
    if "centre_offset" in given:
        offset = given.length("centre_offset")
        given.say(
            f"Carried to the centre of the bore: {given.text(measured)} less an offset of {given.signed(offset)} = {given.text(actual)}."
        )
    if error.nanometres:
        way = "out" if error > Length(0) else "in"
        given.say(f"The pinion stands at {given.text(actual)}, wanted {given.text(target)}: {given.text(abs(error))} too far {way}.")
    else:
        given.say(f"The pinion stands at {given.text(actual)}, as wanted.")
    if abs(error) > _WIDE_ERROR:
        given.doubt(f"{given.text(abs(error))} off is large: has the dial passed a whole turn, and are the bearings loaded?")
    _say_change(given, change)
    return given.answer(change=change, shim=_fitted(given, "shim", change), error=error)


def _solve_two_bores(given: Given) -> Answer:
    left, right, etched = given.length("left"), given.length("right"), _etched(given, "etch")
    mean = depth.mean_of_bores(left, right)
    sign = given.word("sign") if "sign" in given else "away"
    change = depth.shim_change_for_bores(given.word("layout"), left, right, etched, sign)
    _say_seat(given)
    given.say(
        f"Mean of the two bores: ({given.signed(left)} and {given.signed(right)}) / 2 = {given.signed(mean)}; positive: too far from the centre line."
    )
    if abs(left - right) > _WIDE_TILT:
        given.doubt(f"the two bores differ by {given.text(abs(left - right))}: set the gauge up again.")
    if "etch" in given:
        _say_sign(given)
        wanted = depth.target_depth(Length(0), etched, sign)
        given.say(f"The mark asks for {given.signed(wanted)}, so the pinion is off by {given.signed(mean - wanted)}.")
    _say_change(given, change)
    return given.answer(mean=mean, change=change)


def _solve_bore_centre(given: Given) -> Answer:
    plane_to_bore = given.length("plane_to_bore")
    if "cap_half" in given:
        cap_half = given.length("cap_half")
        radius = depth.bore_radius(plane_to_bore, cap_half)
        given.say(f"Radius: ({given.text(plane_to_bore)} + {given.text(cap_half)}) / 2 = {given.text(radius)}.")
    else:
        radius = depth.bore_radius(given.length("diameter"), Length(0))
        given.say(f"Radius: half of {given.text(given.length('diameter'))} = {given.text(radius)}.")
    offset = depth.centre_offset(plane_to_bore, radius)
    if abs(offset).nanometres * 4 > radius.nanometres:
        raise ImpossibleValueError(
            f"the centre would lie {given.text(abs(offset))} from the plane, with a radius of {given.text(radius)}: expected a small part of it; "
            "was a diameter taken for a radius?"
        )
    if offset.nanometres:
        side, sum_ = ("housing", "subtracted from") if offset > Length(0) else ("cap", "added to")
        given.say(f"The centre lies {given.text(abs(offset))} on the {side} side of the plane, to be {sum_} a depth taken from the plane.")
    else:
        given.say("The centre lies in the plane: a depth taken from it needs no correction.")
    return given.answer(radius=radius, centre_offset=offset)


def _solve_chain(given: Given) -> Answer:
    mounting, parts, etched = given.length("mounting"), given.lengths("parts"), _etched(given, "etch")
    sign = given.word("sign") if "sign" in given else "away"
    try:
        shim = depth.shim_from_chain(mounting, parts, etched, sign)
    except ImpossibleValueError as error:
        raise ImpossibleValueError(f"mounting {given.text(mounting)} is less than its parts: {error}") from error
    terms = given.text(mounting) + "".join(_term(given, -part) for part in parts)
    if "etch" in given:
        _say_sign(given)
        terms += _term(given, -etched.times(depth.sense_of(sign)))
    if any(part < Length(0) for part in parts):
        given.say("A part with a minus overlaps the others, so it is added.")
    given.say(f"{terms} = {given.text(shim)}: that is left for the shim.")
    if not Length(0) < shim <= _THICKEST:
        raise ImpossibleValueError(
            f"mounting and parts leave {terms} = {given.text(shim)} for the shim: expected more than nothing and {given.text(_THICKEST)} at most; "
            "is a part missing?"
        )
    _doubt_shim(given, shim)
    return given.answer(shim=shim)


def _term(given: Given, size: Length) -> str:
    return f" {'-' if size < Length(0) else '+'} {given.text(abs(size))}"


def _solve_feeler(given: Given) -> Answer:
    trial, feeler, etched, constant = given.length("trial_shim"), given.length("feeler"), _etched(given, "etch"), given.length("constant")
    try:
        shim = depth.shim_from_feeler(feeler, trial, etched, constant)
    except ImpossibleValueError as error:
        raise ImpossibleValueError(f"trial_shim and feeler are less than etch and constant: {error}") from error
    given.say("The maker's formula: trial shim + feeler - etch - constant; the etch is always subtracted.")
    given.say(f"{given.text(trial)} + {given.text(feeler)}{_term(given, -etched)} - {given.text(constant)} = {given.text(shim)}.")
    if not shim.nanometres:
        raise ImpossibleValueError("trial_shim and feeler leave nothing for the shim: expected more; is the trial shim missing?")
    return given.answer(shim=shim)


KINDS = (
    Kind(
        "etch",
        "the depth shim for another pinion, from the marks on both",
        (
            _layout,
            Key("old_shim", _shim, "the pack that the old pinion ran with", optional=True),
            Key("etch_old", etch, "the figure on the old pinion, with its sign: +2, -3 or 0; 0 with a gauge reading"),
            Key("etch_new", etch, "the figure on the new pinion, with its sign: +2, -3 or 0"),
            _etch_unit,
            _sign,
        ),
        {"change": "how much thicker (+) or thinner (-) the shim gets", "shim": "the new pack, when old_shim is given"},
        "layout=flange old_shim=0.030in etch_old=+2 etch_new=+5 etch_unit=0.001in sign=away",
        _solve_etch,
    ),
    Kind(
        "target",
        "the mounting distance that a marked pinion wants",
        (Key("nominal", _size, "the mounting distance of an unmarked pinion"), _etch, _etch_unit, _sign),
        {"target": "nominal + etch when the sign is away, nominal - etch when it is toward"},
        "nominal=3.500in etch=+3 etch_unit=0.001in sign=away",
        _solve_target,
    ),
    Kind(
        "depth",
        "the depth shim from a measured depth",
        (
            _layout,
            Key("shim", _shim, "the pack fitted now"),
            Key("measured", _size, "the depth measured, from the centre line or from the plane of the caps"),
            Key("target", _size, "the mounting distance wanted of this pinion, its etch included"),
            Key(
                "centre_offset",
                length("-100mm", "100mm"),
                "from bore-centre, when the depth was taken from the plane of the caps",
                optional=True,
            ),
        ),
        {
            "change": "how much thicker (+) or thinner (-) the shim gets",
            "shim": "the new pack",
            "error": "actual - wanted; positive: too far out",
        },
        "layout=flange shim=1.50mm measured=66.22mm target=66.32mm",
        _solve_depth,
    ),
    Kind(
        "two-bores",
        "the change of depth shim from the pinion face against each bore",
        (
            _layout,
            Key("left", length("-12.7mm", "12.7mm"), "the pinion face against the left bore; positive: too far from the centre line"),
            Key("right", length("-12.7mm", "12.7mm"), "the same against the right bore"),
            _etch,
            _etch_unit,
            _sign,
        ),
        {"mean": "of the two bores", "change": "how much thicker (+) or thinner (-) the shim gets"},
        "layout=head-cone left=0.06mm right=0.04mm etch=+2 etch_unit=0.01mm sign=away",
        _solve_two_bores,
        together=(("etch", "etch_unit", "sign"),),
    ),
    Kind(
        "bore-centre",
        "how far the bearing bore's centre lies from the plane of the caps",
        (
            Key("plane_to_bore", _size, "from the plane of the caps to the bottom of the bore"),
            Key("diameter", _size, "the diameter of the bore"),
            Key("cap_half", _size, "from the plane to the top of the bore in the cap"),
        ),
        {"radius": "of the bore", "centre_offset": "positive: on the housing side, to be subtracted from a depth taken from the plane"},
        "plane_to_bore=39.80mm cap_half=40.10mm",
        _solve_bore_centre,
        choices=((("diameter",), ("cap_half",)),),
    ),
    Kind(
        "chain",
        "the shim that fills what the parts leave of a measured size",
        (
            Key("mounting", _size, "the measured housing or mounting size"),
            Key("parts", list_of(length("-1000mm", "1000mm")), "the sizes that lie in it, with commas; one that overlaps has a minus"),
            _etch,
            _etch_unit,
            _sign,
        ),
        {"shim": "mounting - parts, the etch subtracted when the sign is away, added when it is toward"},
        "mounting=283.50mm parts=235.00mm,47.63mm etch=+10 etch_unit=0.01mm sign=away",
        _solve_chain,
        together=(("etch", "etch_unit", "sign"),),
    ),
    Kind(
        "feeler",
        "a maker's formula: trial shim + feeler - etch - constant",
        (
            Key("feeler", _amount, "the feeler that fits"),
            Key("trial_shim", _amount, "the shim fitted while it was measured", optional=True),
            _etch,
            _etch_unit,
            Key("constant", _amount, "the constant of the formula", optional=True),
        ),
        {"shim": "the shim to fit"},
        "feeler=0.23mm trial_shim=3.40mm etch=+1 etch_unit=0.01mm constant=0.20mm",
        _solve_feeler,
        together=(("etch", "etch_unit"),),
    ),
)
