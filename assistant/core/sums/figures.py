"""One quantity printed twice: whether two figures can be the same thing, rounded."""

from fractions import Fraction

from assistant.core.errors import DimensionError
from assistant.core.quantities import UNITS, Quantity

# A manual's second column is often coarse (0.12 mm beside 0.005 in): common practice, no source.
ALLOWANCE = Fraction(1, 10)


def left_open(figure: Quantity) -> tuple[Fraction, Fraction]:
    """The least and the greatest size (base units) that a figure may stand for: half of its last written digit either way."""
    half = Fraction(10) ** int(figure.value.as_tuple().exponent) / 2 * UNITS[figure.unit].factor
    return figure.base - half, figure.base + half


def apart(one: Quantity, other: Quantity) -> Fraction:
    """How far two figures differ, as a part of the larger. Raises DimensionError."""
    if one.dimension is not other.dimension:
        raise DimensionError(f"{one} is {one.dimension.noun} and {other} {other.dimension.noun}: they cannot be one quantity")
    larger = max(abs(one.base), abs(other.base))
    return abs(one.base - other.base) / larger if larger else Fraction(0)


def agree(one: Quantity, other: Quantity) -> bool:
    """Whether what each figure's last digit leaves open overlaps, and the two differ by at most a tenth. Raises DimensionError.

    Source of the need: TM 9-2320-280-34 p. 19-12 prints 0.12 mm beside 0.005 in; Suzuki SX4 3C-12 prints 1.757 in beside 40.0 mm.
    """
    (low, high), (other_low, other_high) = left_open(one), left_open(other)
    return apart(one, other) <= ALLOWANCE and low <= other_high and other_low <= high
