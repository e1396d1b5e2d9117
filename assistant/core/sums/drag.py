"""Torques felt at the pinion, and the spacer between its cones that sets them."""

from fractions import Fraction

from assistant.core.errors import ImpossibleValueError
from assistant.core.quantities import Dimension, Force, Length, Quantity, Torque

FREE = Torque(0)
NOTHING = Length(0)
# Above this no bearing of an axle is turned by hand (common practice, no source): a slip of unit, and the figure is refused.
MOST_DRAG = Quantity.of("130", "lb-in")


def drag_from_pull(force: Force, radius: Length) -> Torque:
    """The torque of a steady pull on a cord. radius: half the diameter that the cord is wound on. Source: TM 5-3895-359-14&P p. 5-16."""
    if force.micronewtons < 0 or radius <= NOTHING:
        raise ImpossibleValueError("a pull is never negative, and its radius is more than nothing")
    return Torque.rounded(Fraction(force.micronewtons * radius.nanometres, 10**9))


def carrier_drag_at_pinion(carrier_drag: Torque, ratio: Fraction) -> Torque:
    """Carry the carrier bearings' drag torque over to the pinion, where the technician feels it.

    carrier_drag: measured turning, not at breakaway, about the carrier's own axis. ratio: best from counted teeth (`mesh.tooth_ratio`).
    Source: equal power on both sides of the mesh; tooth friction is left out. Raises ImpossibleValueError.
    """
    if carrier_drag < FREE or ratio < 1:
        raise ImpossibleValueError("a drag is never negative, and ring teeth over pinion teeth is 1 or more")
    return Torque.rounded(carrier_drag.micronewton_metres / ratio)


def total_drag(pinion: Torque, carrier: Torque, ratio: Fraction, seals: Torque = FREE) -> Torque:
    """The drag felt at the pinion with the carrier meshed in. seals: their own drag, if the pinion was read without them."""
    if pinion < FREE or seals < FREE:
        raise ImpossibleValueError("a drag is never negative")
    return pinion + carrier_drag_at_pinion(carrier, ratio) + seals


def why_no_drag(drag: Quantity) -> str | None:
    """Why this cannot be a rotating drag, with the unit that was likely meant; None when it can be one."""
    if drag.dimension is not Dimension.TORQUE:
        return f"{drag} is not a torque"
    if drag.value <= 0:
        return f"a drag of {drag} is impossible: expected more than nothing"
    if drag <= MOST_DRAG:
        return None
    # The figure is kept and its unit exchanged for the one it is most often mistaken for: N·cm for N·m, lb-in for lb-ft.
    smaller = {"N·m": ("cN·m", "N·cm"), "lb-ft": ("lb-in", "lb-in")}.get(drag.unit)
    reading = Quantity(drag.value, smaller[0]) if smaller else None
    if smaller is None or reading is None or reading > MOST_DRAG:
        return f"no bearing here drags {drag}: expected {MOST_DRAG} ({MOST_DRAG.to('N·m')}) at most"
    return f"no bearing here drags {drag}; the same figure in {smaller[1]} is {reading.to('N·m')} or {reading.to('lb-in')}: was that meant?"


def spacer_between_cones(inserted: Length, play: Length, preload: Length, settling: Length = NOTHING) -> Length:
    """The spacer that turns a measured play into the wanted squeeze. Between the cones thinner is tighter.

    inserted: the spacer in place while play was read. preload: the squeeze wanted. settling: what the bearings give on bedding in.
    Source: Volkswagen 01M (3.00 - 0.93 - 0.12 - 0.10 = 1.85). Raises ImpossibleValueError when nothing is left.
    """
    spacer = inserted - play - preload - settling
    if spacer <= NOTHING:
        raise ImpossibleValueError(f"the spacer would be {spacer.quantity('mm')}: nothing is left of it")
    return spacer
