"""The job on the bench: layout with its signs, the manual's limits, the marks on the pinions and the shims in the kit.

Signs (trade convention, docs/trade.md): the mounting distance grows away from the ring-gear centre line; `away` on an etch means that a
plus wants a longer mounting distance.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Literal

from assistant.core.quantities import Dimension, Quantity, quantity_from, unit_named

PINION_SHIMS = ("flange", "head-cone", "head-cup")
PRELOADS = ("spacer-shims", "crush-sleeve")
CARRIERS = ("adjusters", "side-shims", "case-shims")

# Every quantity of the public interface with its dimension; the unit follows from the job (`Job.unit_of`).
QUANTITIES: dict[str, Dimension] = {
    "etch_old": Dimension.LENGTH,
    "etch_new": Dimension.LENGTH,
    "pinion_drag": Dimension.TORQUE,
    "seal_drag": Dimension.TORQUE,
    "pinion_depth": Dimension.LENGTH,
    "bore_diameter": Dimension.LENGTH,
    "plane_to_bore": Dimension.LENGTH,
    "shim_thickness": Dimension.LENGTH,
    "stack_thickness": Dimension.LENGTH,
    "old_stack_thickness": Dimension.LENGTH,
    "ring_runout": Dimension.LENGTH,
    "backlash": Dimension.LENGTH,
    "carrier_drag": Dimension.TORQUE,
    "total_drag": Dimension.TORQUE,
    "spread": Dimension.LENGTH,
    "nut_torque": Dimension.TORQUE,
    "cap_torque": Dimension.TORQUE,
    "baseline_backlash": Dimension.LENGTH,
    "baseline_total_drag": Dimension.TORQUE,
}
# The gauges that exist unless a bench names others (docs/machine.md), with what each measures; and the units that gauges are switched to.
CHANNELS: dict[str, Dimension] = {
    "dial": Dimension.LENGTH,
    "torque": Dimension.TORQUE,
    "caliper": Dimension.LENGTH,
    "micrometer": Dimension.LENGTH,
    "depth": Dimension.LENGTH,
}
# Said where the manual's depth is asked for, and in a job file's place of it: the manual gives none, and the pattern leads.
NO_DEPTH = "no depth figure"
GAUGE_UNITS = ("in", "mm", "lb-in", "lb-ft", "N·m")
# Sizes in whole inches or tens of millimetres: coached with their inches, and never as thousandths.
LARGE_QUANTITIES = frozenset(("pinion_depth", "bore_diameter", "plane_to_bore"))
# The play of the gears: none at all is seen at once, and is as much in every unit.
PLAY = ("backlash", "baseline_backlash")
# Read with a micrometer or a depth gauge: in millimetres three decimals are usual.
MEASURED_TO_THREE = LARGE_QUANTITIES | {"shim_thickness", "stack_thickness", "old_stack_thickness"}
# Large enough in newton metres that the figures may be spelt: a lost point would be noticed.
TIGHTENED = frozenset(("nut_torque", "cap_torque"))
PATTERNS = ("pattern_drive", "pattern_coast")
PATTERN_CHOICES = (*(f"{along} {across}" for along in ("toe", "centre", "heel") for across in ("root", "middle", "tip")), "unclear")


@dataclass(frozen=True)
class Axle:
    """The layout. ring_gear_side: where the ring gear's back faces, as the technician faces the housing.

    pressure_angle, spiral_angle: of the ring gear's teeth where the manual or the drawing tells them; both or none.
    """

    pinion_shims: str
    preload: str
    carrier: str
    ring_gear_side: str
    teeth: str
    ring_teeth: int
    pinion_teeth: int
    notch_lead: Quantity | None = None
    pressure_angle: Quantity | None = None
    spiral_angle: Quantity | None = None

    @property
    def depth_sign(self) -> int:
        """+1: a thicker pinion shim moves the pinion away from the ring-gear centre line (out); -1: towards it (in).

        Source: cartridge flange, Spicer Drive Axles Service Manual p. 14; head cone, TM 9-2320-280-34 p. 19-12; head cup,
        Meritor MM-15103 p. 25 (see docs/trade.md).
        """
        return 1 if self.pinion_shims == "flange" else -1

    @property
    def opposite_side(self) -> str:
        """The side away from the ring gear's back, as the technician faces the housing."""
        return "right" if self.ring_gear_side == "left" else "left"


@dataclass(frozen=True)
class Limits:
    """What the manual allows for one quantity; low and high are inclusive.

    variation, judge (`all`, `minimum`, `mean`): backlash round the ring only. seal (`in`, `out`): the state the figure means.
    bearings: `new` or `used`, as the manual's row says.
    """

    low: Quantity | None = None
    high: Quantity | None = None
    variation: Quantity | None = None
    judge: str = "all"
    seal: str | None = None
    bearings: str | None = None

    def allows(self, value: Quantity) -> bool:
        """Whether the decimal lies within the limits, inclusive; exact, across units."""
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)

    def allows_base(self, size: Fraction) -> bool:
        """The same for a size in base units (nanometres, micronewton-metres)."""
        return self.side_of(size) == "inside"

    def side_of(self, size: Fraction) -> Literal["below", "inside", "above"]:
        """Where a size in base units lies; exact, both limits inclusive."""
        if self.low is not None and size < self.low.base:
            return "below"
        return "above" if self.high is not None and size > self.high.base else "inside"

    @property
    def unit(self) -> str:
        """The unit the manual prints."""
        limit = self.low or self.high
        return limit.unit if limit else "1"


@dataclass(frozen=True)
class KitShim:
    """One size in the kit, as measured; count: how many there are (a limit)."""

    thickness: Quantity
    count: int


@dataclass(frozen=True)
class Parts:
    """What lies on the bench. etch_sign: `away` or `toward`, what a plus means."""

    etch_old: Quantity | None = None
    etch_new: Quantity | None = None
    etch_sign: str | None = None
    shim_kit: tuple[KitShim, ...] = ()
    preload_kit: tuple[KitShim, ...] = ()
    side_kit: tuple[KitShim, ...] = ()


@dataclass(frozen=True)
class Job:
    """One job as its file tells it.

    depth_target and depth_tolerance are for an unmarked pinion; see `Job.limits`. depth_by_pattern: the manual gives no depth.
    """

    title: str
    units: str
    axle: Axle
    spec: tuple[tuple[str, Limits], ...] = ()
    depth_target: Quantity | None = None
    depth_tolerance: Quantity | None = None
    depth_by_pattern: bool = False
    carrier_preload: Quantity | None = None
    backlash_spots: int = 3
    parts: Parts = field(default_factory=Parts)

    def limits(self, quantity: str) -> Limits | None:
        """The manual's limits for a quantity, or None when it has none (yet).

        The depth target is shifted by the new pinion's etch: added when a plus means away, subtracted when it means toward.
        """
        return self._limits.get(quantity)

    @cached_property
    def _limits(self) -> dict[str, Limits]:
        limits = dict(self.spec)
        if self.depth_target is not None and self.depth_tolerance is not None:
            centre = self.depth_target.base
            etch = self.parts.etch_new
            if etch is not None and self.parts.etch_sign is not None:
                centre += etch.base if self.parts.etch_sign == "away" else -etch.base
            unit, margin = self.depth_target.unit, self.depth_tolerance.base
            limits["pinion_depth"] = Limits(_length(centre - margin, unit), _length(centre + margin, unit))
        return limits

    @property
    def needed(self) -> tuple[str, ...]:
        """Every quantity that has a spec: the verdict asks for all of them."""
        names = [name for name, _ in self.spec]
        if self.depth_target is not None and "pinion_depth" not in names:
            names.append("pinion_depth")
        return tuple(names)

    def unit_of(self, quantity: str) -> str:
        """The unit in which the technician says a quantity: the job's for lengths, the manual's for torques."""
        if quantity in ("etch_old", "etch_new"):
            mark = self.parts.etch_new if quantity == "etch_new" else self.parts.etch_old
            other = mark or self.parts.etch_new or self.parts.etch_old
            return other.unit if other else ("0.001 in" if self.units == "in" else "0.01 mm")
        if QUANTITIES[quantity] is Dimension.LENGTH:
            return self.units
        # A quantity without limits of its own is said like its like: the wrenches together, the drags together.
        wrenches = ("nut_torque", "cap_torque")
        for like in (quantity, *(wrenches if quantity in wrenches else ("pinion_drag", "total_drag"))):
            limits = self.limits(like)
            if limits is not None:
                return limits.unit
        if self.units == "mm":
            return "N·m"
        return "lb-ft" if quantity in wrenches else "lb-in"


def _length(nanometres: Fraction, unit: str) -> Quantity:
    return quantity_from(nanometres / unit_named(unit).factor, unit)


def zero(unit: str) -> Quantity:
    """Nothing, in a unit."""
    return Quantity(Decimal(0), unit)
