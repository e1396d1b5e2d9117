"""Where a number lies between its limits, for drawing: places are whole thousandths of the axis, figures are decimal strings.

Whether a number is inside is compared exactly and inclusively, in base units, as the verdict does it; only the place on paper is rounded.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from assistant.core.axle import Limits
from assistant.core.predictions import Prediction
from assistant.core.quantities import Quantity, quantity_from, unit_named

Drawn = dict[str, Any]


@dataclass(frozen=True)
class Axis:
    """A stretch of numbers on paper, in base units; high is above low."""

    low: Fraction
    high: Fraction

    def place(self, size: Fraction) -> int:
        """Thousandths of the way from low to high, never off the paper."""
        return min(max(round(1000 * (size - self.low) / (self.high - self.low)), 0), 1000)

    def place_of_belief(self, size: float) -> int:
        """The same for what is only believed, and is no exact number anyway."""
        low, high = float(self.low), float(self.high)
        return min(max(round(1000 * (size - low) / (high - low)), 0), 1000)

    def holds(self, size: Fraction) -> bool:
        """Whether it is on the paper without being pushed to its edge."""
        return self.low <= size <= self.high


def axis_for(
    limits: Limits | None, expected: Prediction | None = None, shift: Fraction = Fraction(0), values: Sequence[Quantity] = ()
) -> Axis | None:
    """The axis on which the limits fill the middle, made longer for values or an expectation that lie well off; around the expected value
    where there are no limits; None where nothing is known.

    shift: what is added to the limits to compare with a number as it was read (nanometres).
    """
    found = _axis(limits, expected, shift)
    if found is None or limits is None:
        return found
    sizes = [value.base for value in values]
    if expected is not None:
        sizes += [expected.value.base - expected.spread.base, expected.value.base + expected.spread.base]
    # Not without end: a slip of the decimal point is shown off the paper, or the limits would shrink to a line.
    most, room = (found.high - found.low) * 3 / 4, (found.high - found.low) / 20
    low = min([found.low, *(size - room for size in sizes)])
    high = max([found.high, *(size + room for size in sizes)])
    return Axis(max(low, found.low - most), min(high, found.high + most))


def _axis(limits: Limits | None, expected: Prediction | None, shift: Fraction) -> Axis | None:
    low = None if limits is None or limits.low is None else limits.low.base + shift
    high = None if limits is None or limits.high is None else limits.high.base + shift
    if low is not None and high is not None:
        # A single figure (a torque) gets a fifth of itself to either side.
        span = (high - low) * Fraction(3, 4) if high > low else abs(high) / 5 or Fraction(1)
        return Axis(low - span, high + span)
    if high is not None:
        return Axis(min(Fraction(0), high), max(high, Fraction(1)) * Fraction(7, 4))
    if low is not None:
        return Axis(Fraction(0), max(low, Fraction(1)) * 2)
    if expected is not None:
        around = max(expected.spread.base * 6, Fraction(1))
        return Axis(expected.value.base - around, expected.value.base + around)
    return None


def scale(
    value: Quantity | None, limits: Limits | None, unit: str, expected: Prediction | None = None, shift: Fraction = Fraction(0)
) -> Drawn | None:
    """A number, its limits and what was expected on one line; None where there is nothing to compare with.

    unit: in which the limits are written; a value of another unit keeps its own figures. Gives low, high, value and expected, each with
    its text and place (`at`), None where there is none; `where` is inside, below or above, with `by` how much in `unit`.
    """
    axis = axis_for(limits, expected, shift, [value] if value is not None else [])
    if axis is None:
        return None
    found: Drawn = {"unit": unit, "low": None, "high": None, "value": None, "expected": None, "where": None, "by": None}
    if limits is not None:
        for name, limit in (("low", limits.low), ("high", limits.high)):
            if limit is not None:
                size = limit.base + shift
                found[name] = {"text": _text(size, unit, limit), "at": axis.place(size)}
    if value is not None:
        found["value"] = {"text": value.text, "at": axis.place(value.base), "off": not axis.holds(value.base)}
        found["where"], found["by"] = _where(value, limits, unit, shift)
    if expected is not None:
        middle, spread = expected.value.base, expected.spread.base
        found["expected"] = {
            "text": expected.value.text,
            "spread": expected.spread.text,
            "at": axis.place(middle),
            "from": axis.place(middle - spread),
            "to": axis.place(middle + spread),
        }
    return found


def _where(value: Quantity, limits: Limits | None, unit: str, shift: Fraction) -> tuple[str | None, str | None]:
    if limits is None:
        return None, None
    where = limits.side_of(value.base - shift)
    missed = {"below": limits.low, "above": limits.high}.get(where)
    return where, _text(abs(value.base - shift - missed.base), unit) if missed is not None else None


def _text(size: Fraction, unit: str, told: Quantity | None = None) -> str:
    """A size in `unit`; digit for digit as the manual's figure was told, where it is that figure."""
    if told is not None and told.unit == unit and told.base == size:
        return told.text
    return quantity_from(size / unit_named(unit).factor, unit).text
