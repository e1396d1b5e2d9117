"""How backlash follows the ring gear: the factor k, the move for a change, notches of an adjuster, a reading at the yoke."""

import math
from fractions import Fraction

from assistant.core.errors import ImpossibleValueError
from assistant.core.quantities import Length

K_PLACES = 4


def tooth_ratio(ring_teeth: int, pinion_teeth: int) -> Fraction:
    """Ring teeth over pinion teeth, counted: the name of an axle (3.73) is rounded. Raises ImpossibleValueError."""
    if pinion_teeth < 1 or ring_teeth < pinion_teeth:
        raise ImpossibleValueError(f"{ring_teeth} ring teeth to {pinion_teeth} pinion teeth: the pinion has the fewer, and at least 1")
    return Fraction(ring_teeth, pinion_teeth)


def k_ring(pressure_angle_deg: Fraction, spiral_angle_deg: Fraction, ratio: Fraction) -> Fraction:
    """Backlash gained per length that the ring gear moves away along its axis, to four decimals.

    k = 2 tan(pressure) sin(atan(ratio)) / cos(spiral), in the transverse plane; normal pressure angle, no hypoid offset. Derivation: a
    move opens the pitch cones by its part square to the pitch plane, and each of two flanks retreats by that times the tangent of the
    transverse pressure angle. Published shop factors lie around it: 0.667 (Toyota Supra RA-38), 0.75 (Ford Mustang 2014, 205-02), 0.5
    (GM Firebird 1998). Raises ImpossibleValueError for an angle or a ratio that no such gear has.
    """
    if not 0 < pressure_angle_deg < 45:
        raise ImpossibleValueError(f"a pressure angle of {float(pressure_angle_deg):g} deg: expected between 0 and 45, such as 20")
    if not 0 <= spiral_angle_deg < 60:
        raise ImpossibleValueError(f"a spiral angle of {float(spiral_angle_deg):g} deg: expected from 0 to below 60, such as 35")
    if ratio < 1:
        raise ImpossibleValueError(f"a ratio of {float(ratio):g}: ring teeth over pinion teeth is 1 or more")
    pressure, spiral = math.radians(pressure_angle_deg), math.radians(spiral_angle_deg)
    return Fraction(round(10**K_PLACES * 2 * math.tan(pressure) * math.sin(math.atan(ratio)) / math.cos(spiral)), 10**K_PLACES)


def k_pinion(ring_factor: Fraction, ratio: Fraction) -> Fraction:
    """Backlash gained per length that the pinion moves away: the sines of the two pitch cones stand to each other as the teeth."""
    return ring_factor / ratio


def ring_move_for(change: Length, k: Fraction) -> Length:
    """How far the ring gear must move for this change of backlash; positive: away from the pinion, backlash grows.

    Source: GM Firebird 1998 (less by .001 at k 0.5: .002 toward the pinion); Toyota Supra RA-38. Raises ImpossibleValueError.
    """
    if k <= 0:
        raise ImpossibleValueError(f"a backlash factor of {float(k):g}: moving the ring gear away always adds backlash, k is above 0")
    return change.times(1 / k)


def notches_for(change: Length, per_notch: Length) -> int:
    """Notches to turn both adjusters, each the other way, to the nearest; positive opens the mesh, negative closes it.

    per_notch: backlash per notch. Half a notch is decided for the wider mesh: too much backlash is read again, none jams the gears.
    Source: Spicer SHAIS150A p. 5 (0.003 in of backlash per notch). Raises ImpossibleValueError.
    """
    if per_notch <= Length(0):
        raise ImpossibleValueError(f"{per_notch.quantity('mm')} of backlash per notch: expected more than nothing, such as 0.003 in")
    return math.floor(Fraction(change.nanometres, per_notch.nanometres) + Fraction(1, 2))


def backlash_from_yoke(reading: Length, yoke_radius: Length, ring_radius: Length, ratio: Fraction) -> Length:
    """Backlash at the ring gear's teeth, from a dial that stood on the pinion's yoke.

    yoke_radius, ring_radius: from each axis to where it is read. Geometry; bearing play and joint slack add in, so only to screen.
    """
    if yoke_radius <= Length(0) or ring_radius <= Length(0) or ratio < 1:
        raise ImpossibleValueError("a radius must be above 0 and the ratio 1 or more")
    return reading.times(Fraction(ring_radius.nanometres, yoke_radius.nanometres) / ratio)
