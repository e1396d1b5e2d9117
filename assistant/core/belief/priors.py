"""What is supposed before anything was measured: each figure with its source, or called assumed.

Lengths in micrometres, torques in newton-metres.
"""

import math

from assistant.core.belief.normal import Normal

INCH_UM = 25_400.0
POUND_INCH = 0.1129848290276167

# Backlash per ring movement. The shop's 0.7 (straight 20° teeth, ratio 3.73: 0.703); the published factors run from 0.5 to 1.0 (Toyota Supra
# MA70 RA-38: 0.667; Ford Mustang 2014 205-02: 0.75; GM Firebird 1998: 0.5; Lexus LS460 and Porsche 928: 1.0).
K_RING = Normal(0.7, 0.15)
# With tooth data the formula gives the figure in the plane of rotation; a plunger square to the tooth reads less (times cos of the spiral angle),
# one at the outer diameter more. Spread assumed.
K_RING_FROM_TEETH_SPREAD = 0.12
# The pinion's factor is the ring's over the ratio for axes that meet; the offset of a hypoid changes it. Relative spread assumed.
K_PINION_RELATIVE_SPREAD = 0.25
# Ring movement per adjuster notch where the job does not tell it, give or take about 30 % at most: relative spread assumed.
NOTCH_LEAD_UM = 63.5
NOTCH_LEAD_RELATIVE_SPREAD = 0.20

# Most printed limits lie in .003-.018 in (trade tables of several makers); before the first reading anything up to .030 in is found. Assumed.
FIRST_BACKLASH = Normal(0.011 * INCH_UM, 0.006 * INCH_UM)
# Half the swing of backlash round the ring, root mean square, when the runout is unknown: assumed .0007 in.
HARMONIC_UM = 18.0
# How much of the measured back face runout is believed to turn up in the first harmonic, and what else may: assumed.
HARMONIC_FLOOR_UM = 5.0

# What a runout differs by from assembly to assembly, reading and bearings included: assumed, .0008 in.
RUNOUT_AGAIN_UM = 0.0008 * INCH_UM

# The shift that one more assembly brings (bearings settle, caps pull): assumed, somewhat under .0002 in (the belief tries other sizes too).
SEATING_UM = 4.5

# A pack is as thick as its marks say, give or take this much: each of some four shims is off by .0001 in (assumed; Porsche 996 allows 0.02 mm
# within one).
PACK_UM = 3.5

# Shim to depth: one to one by geometry; the rest is compression of the pack. Assumed.
DEPTH_RESPONSE = Normal(1.0, 0.03)
# Where the pinion stands before the first depth reading: the old shim and both etches bring it this near. Assumed, .0024 in.
FIRST_DEPTH_SPREAD_UM = 60.0

# The first drag, when a pack was chosen to give one inside some manual's limits: new pinion bearings 10-40 lb-in, side bearings 15-35 lb-in
# (Meritor and Spicer tables). How badly a first pack misses is assumed: a few thousandths of an inch, with a long tail upward.
FIRST_PINION_DRAG = Normal(20 * POUND_INCH, 40 * POUND_INCH)
FIRST_CARRIER_DRAG = Normal(20 * POUND_INCH, 18 * POUND_INCH)

# One standard deviation of one reading, half of the 95 % uncertainty that shops reckon with (common practice, no source).
_LENGTH_SPREADS = {
    "micrometer": 0.00015 * INCH_UM / 2,
    "dial .0005 in": 0.0005 * INCH_UM / 2,
    "dial .001 in": 0.001 * INCH_UM / 2,
    "dial 0.01 mm": 15.0 / 2,  # 0.01 mm with a pointer, 0.02 mm with digits, and the job does not know which
    "caliper": 0.002 * INCH_UM / 2,
    "feeler": 0.001 * INCH_UM / 2,
}


# A new seal adds 20 N·cm (BMW E36 type K pages); its spread is assumed.
SEAL = Normal(0.2, 0.1)

# What is usual where neither this axle nor its manual says anything, for a reading that the belief knows nothing of (trade table of usual ranges,
# docs/trade.md, section 3: middle and about a third of the width; the bore's place is assumed). Marks are on the pinion in whole units, -6 to +6.
USUAL = {
    "etch_old": Normal(0.0, 0.003 * INCH_UM),
    "etch_new": Normal(0.0, 0.003 * INCH_UM),
    "shim_thickness": Normal(0.010 * INCH_UM, 0.010 * INCH_UM),
    "stack_thickness": Normal(0.060 * INCH_UM, 0.035 * INCH_UM),
    "old_stack_thickness": Normal(0.060 * INCH_UM, 0.035 * INCH_UM),
    "pinion_drag": Normal(20 * POUND_INCH, 10 * POUND_INCH),
    "seal_drag": SEAL,
    "baseline_total_drag": Normal(20 * POUND_INCH, 10 * POUND_INCH),
    "total_drag": Normal(30 * POUND_INCH, 12 * POUND_INCH),
    "plane_to_bore": Normal(1.6 * INCH_UM, 0.4 * INCH_UM),
    "bore_diameter": Normal(3.2 * INCH_UM, 0.8 * INCH_UM),
    "ring_runout": Normal(0.003 * INCH_UM, 0.002 * INCH_UM),
    "baseline_backlash": FIRST_BACKLASH,
    "spread": Normal(0.007 * INCH_UM, 0.004 * INCH_UM),
}
# How far a cap bolt or a nut ends from its figure (assumed), and the bore's centre from the parting plane (.006 in, assumed).
TORQUE_MISS, CENTRE_MISS_UM = 0.05, 0.006 * INCH_UM


def length_spread(instrument: str) -> float:
    """One standard deviation in micrometres of a reading by `instrument`, one of `LENGTH_INSTRUMENTS`. Raises KeyError for another."""
    return _LENGTH_SPREADS[instrument]


LENGTH_INSTRUMENTS = tuple(_LENGTH_SPREADS)


def torque_spread(torque: float) -> float:
    """The same for a beam or dial torque wrench, in newton-metres at `torque`: 1 lb-in or 4 %, whichever is more, is two of them."""
    return max(POUND_INCH, 0.04 * abs(torque)) / 2


def k_ring_from_teeth(pressure_angle: float, spiral_angle: float, ratio: float) -> Normal:
    """Backlash per ring movement in the plane of rotation, 2 tan(pressure) sin(atan ratio) / cos(spiral); angles in degrees.

    Geometry: moving the ring opens the pitch cones square to the pitch plane, and each of two flanks retreats by the tangent of its angle.
    """
    pitch = math.atan(ratio)
    mean = 2.0 * math.tan(math.radians(pressure_angle)) * math.sin(pitch) / math.cos(math.radians(spiral_angle))
    return Normal(mean, K_RING_FROM_TEETH_SPREAD)
