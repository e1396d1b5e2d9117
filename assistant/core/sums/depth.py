"""Where the pinion sits: the depth shim from etches, from a measured depth, from a chain of sizes or from a feeler."""

from collections.abc import Sequence
from fractions import Fraction

from assistant.core.errors import BadInputError, ImpossibleValueError
from assistant.core.quantities import Length, quantity_from, unit_named

# What a thicker shim does to the mounting distance: +1 longer (pinion out), -1 shorter (pinion in). Sources of the seats: flange, Doosan
# D120 p. 26 and Spicer Drive Axles p. 14; head cone, Nissan M35/M45 and TM 9-2320-289-34 p. 6-37; head cup, Meritor MM-15103 p. 25
# and Spicer Single Speed p. 15.
LAY = {"flange": 1, "head-cone": -1, "head-cup": -1}
SEATS = {"flange": "under the cartridge flange", "head-cone": "under the head bearing cone", "head-cup": "behind the head bearing cup"}
# What a plus on the pinion wants: +1 a longer mounting distance, -1 a shorter one (TM 9-2320-289-34 p. 6-37).
WANTS = {"away": 1, "toward": -1}
# The units an etch counts in, with the largest figure of each that is no serial number, date or ratio (common practice, no source).
MOST_ETCH = {"0.001 in": 15, "0.01 mm": 40, "0.001 mm": 400}
ETCH_UNITS = tuple(MOST_ETCH)


def lay_of(layout: str) -> int:
    """+1 when a thicker shim moves the pinion away from the ring-gear centre line, -1 when toward. Raises BadInputError."""
    if layout not in LAY:
        raise BadInputError(f"layout {layout!r} is not known: expected {', '.join(LAY)}")
    return LAY[layout]


def sense_of(etch_sign: str) -> int:
    """+1 when a plus etch wants a longer mounting distance, -1 when a shorter one. Raises BadInputError."""
    if etch_sign not in WANTS:
        raise BadInputError(f"etch sign {etch_sign!r} is not known: expected away or toward")
    return WANTS[etch_sign]


def etch_length(figure: Fraction | int, unit: str) -> Length:
    """The signed length that an etched figure stands for: -3 of "0.001 in" is -0.003 in. Raises BadInputError for another unit."""
    known = unit_named(unit)
    if known.symbol not in ETCH_UNITS:
        raise BadInputError(f"an etch counts in {', '.join(ETCH_UNITS)}, not in {unit!r}")
    return Length.rounded(figure * known.factor)


def why_no_etch(figure: Fraction | int, unit: str) -> str | None:
    """Why this cannot be an etch in this unit, with what to look for; None when it can be one.

    Figures like 25, 312 or 0884 on a pinion are serial numbers and dates (TM 9-2320-266-34 tells them apart); one below 1, like +.15, is
    printed in millimetres (Meritor MM-15103 p. 25).
    """
    size, most = abs(Fraction(figure)), MOST_ETCH[unit_named(unit).symbol]
    if size > most:
        return f"{_figure(figure)} is no etch in units of {unit}: expected {most} at most either way; is it a serial number or a date?"
    if 0 < size < 1:
        return f"{_figure(figure)} is less than one unit of {unit}: is it printed in millimetres? Then 0.15 is 15 of 0.01 mm"
    return None


def shim_change_for_etch(layout: str, etch_sign: str, etch_old: Length, etch_new: Length) -> Length:
    """How much thicker the depth shim must get when the pinion is exchanged; negative: thinner.

    etch_old, etch_new: signed, from `etch_length`. With a gauge reading, which is the shim for an unmarked pinion, etch_old is zero.
    Source: Doosan D120 p. 26 (flange), Meritor MM-15103 p. 25 (head cup), TM 9-2320-289-34 p. 6-37 (head cone, plus means toward).
    """
    return (etch_new - etch_old).times(lay_of(layout) * sense_of(etch_sign))


def target_depth(nominal: Length, etch: Length, etch_sign: str) -> Length:
    """The mounting distance wanted of a pinion with this etch.

    nominal: of an unmarked pinion. Source: Spicer Single Speed p. 15 (3.500 in and +3: 3.503 in); Porsche 928 sheet 39-15.
    """
    return nominal + etch.times(sense_of(etch_sign))


def depth_from_plane(measured: Length, centre_offset: Length) -> Length:
    """The mounting distance, from a depth that was taken from the plane of the caps. Sign of the offset: see `centre_offset`."""
    return measured - centre_offset


def shim_change_for_depth(layout: str, depth: Length, target: Length) -> Length:
    """How much thicker the depth shim must get to bring the pinion from `depth` to `target`; negative: thinner.

    Source: Porsche 911 1972 (66.22 found, 66.32 wanted: +0.10, flange); Daewoo B20S-2 (78.10 found, 77.92 wanted: +0.18, head side).
    """
    return (target - depth).times(lay_of(layout))


def bore_radius(housing_half: Length, cap_half: Length) -> Length:
    """The radius of a bore from the depths of its two halves below and above the plane of the caps (geometry)."""
    return (housing_half + cap_half).times(Fraction(1, 2))


def centre_offset(plane_to_bore: Length, radius: Length) -> Length:
    """How far the bore's centre lies from the plane of the caps; positive on the housing side, to be subtracted from a depth (geometry)."""
    return plane_to_bore - radius


def mean_of_bores(left: Length, right: Length) -> Length:
    """The pinion's error from its face against each bore; positive: too far from the centre line. Source: Mazda RX-8 2004 (M-60)."""
    return (left + right).times(Fraction(1, 2))


def shim_change_for_bores(layout: str, left: Length, right: Length, etch: Length, etch_sign: str) -> Length:
    """How much thicker the depth shim must get; the pinion's etch moves the zero. Source: Mazda RX-8 2004 (M-60)."""
    return shim_change_for_depth(layout, mean_of_bores(left, right), target_depth(Length(0), etch, etch_sign))


def shim_from_chain(mounting: Length, parts: Sequence[Length], etch: Length, etch_sign: str) -> Length:
    """What fills the mounting size beside its parts.

    parts: sizes that lie in the chain; a negative one overlaps. etch: lengthens the pinion's own part when the sign is away.
    Source: Meritor 17X p. 16 (283.50 - (235 + 0.10) - 47.63 = 0.77). Raises ImpossibleValueError when nothing is left.
    """
    rest = mounting - etch.times(sense_of(etch_sign))
    for part in parts:
        rest = rest - part
    return _left("shim", rest)


def shim_from_feeler(feeler: Length, trial_shim: Length, etch: Length, constant: Length) -> Length:
    """A maker's formula: trial shim + feeler - etch - constant; the etch is always subtracted.

    Source: Subaru Legacy 2003 DI-33 (3.40 + 0.23 - 0.01 - 0.20 = 3.42); Datsun 521 PD-10. Raises ImpossibleValueError.
    """
    return _left("shim", trial_shim + feeler - etch - constant)


def _left(what: str, thickness: Length) -> Length:
    if thickness < Length(0):
        raise ImpossibleValueError(f"the {what} would be {thickness.quantity('mm')}: no shim is thinner than nothing")
    return thickness


def _figure(figure: Fraction | int) -> str:
    return quantity_from(Fraction(figure), "1").text
