"""What a run of readings says about the process that made them: mean, range, deviation, capability. Exact as far as sums go.

Source: the usual handbooks of statistical process control and ISO 22514-2 (both from memory): within a subgroup the deviation is the mean
range over d2, for single readings the mean moving range over d2 of two; Cp = (U - L)/6s, Cpk = the nearer limit over 3s with the deviation
within subgroups, Pp and Ppk with that of all readings. They mean something only for a process that is in control and about normal.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from itertools import pairwise

# The mean range of n readings of a normal process, in deviations (tests integrate it anew).
D2 = {
    2: Fraction("1.128"), 3: Fraction("1.693"), 4: Fraction("2.059"), 5: Fraction("2.326"), 6: Fraction("2.534"), 7: Fraction("2.704"),
    8: Fraction("2.847"), 9: Fraction("2.970"), 10: Fraction("3.078"),
}  # fmt: skip
# Below this the figures are told with a warning: a handful says little about a process (common practice).
FEW = 50
_EXACT = Context(prec=28)


@dataclass(frozen=True)
class Summary:
    """Of `count` readings, in their unit. deviation: of all; within: within subgroups; None where there are too few, or no limits."""

    count: int
    mean: Fraction
    lowest: Fraction
    highest: Fraction
    deviation: Decimal | None
    within: Decimal | None
    cp: Decimal | None
    cpk: Decimal | None
    pp: Decimal | None
    ppk: Decimal | None

    @property
    def range(self) -> Fraction:
        """Highest minus lowest."""
        return self.highest - self.lowest

    @property
    def is_of_few(self) -> bool:
        """Whether there are too few to judge a process by."""
        return self.count < FEW


def summary(values: Sequence[Fraction], *, low: Fraction | None = None, high: Fraction | None = None, subgroup: int = 1) -> Summary:
    """The summary of readings in the order they came. low, high: the limits, in the same unit. subgroup: readings in one, 1 to 10.

    Raises ValueError for no reading at all, or a subgroup of another size.
    """
    if not values or not (subgroup == 1 or subgroup in D2):
        raise ValueError(f"{len(values)} readings in subgroups of {subgroup}, expected one or more in subgroups of 1 to {max(D2)}")
    mean = sum(values, Fraction(0)) / len(values)
    deviation = _root(sum(((value - mean) ** 2 for value in values), Fraction(0)) / (len(values) - 1)) if len(values) > 1 else None
    within = _within(values, subgroup)
    pp, ppk = _indices(mean, deviation, low, high)
    cp, cpk = _indices(mean, within, low, high)
    return Summary(len(values), mean, min(values), max(values), deviation, within, cp, cpk, pp, ppk)


def _within(values: Sequence[Fraction], subgroup: int) -> Decimal | None:
    """The deviation within subgroups, whole ones only; for single readings from one to the next."""
    if subgroup == 1:
        ranges = [abs(second - first) for first, second in pairwise(values)]
    else:
        whole = [values[at : at + subgroup] for at in range(0, len(values) - subgroup + 1, subgroup)]
        ranges = [max(group) - min(group) for group in whole]
    if not ranges:
        return None
    return _decimal(sum(ranges, Fraction(0)) / len(ranges) / D2[max(2, subgroup)])


def _indices(
    mean: Fraction, deviation: Decimal | None, low: Fraction | None, high: Fraction | None
) -> tuple[Decimal | None, Decimal | None]:
    """(U - L)/6s and the nearer limit's distance over 3s; None without limits, or where nothing varies."""
    if not deviation:
        return None, None
    spread = Fraction(deviation)
    both = (high - low) / (6 * spread) if low is not None and high is not None else None
    sides = [side for side in (None if high is None else high - mean, None if low is None else mean - low) if side is not None]
    nearer = min(sides) / (3 * spread) if sides else None
    return None if both is None else _decimal(both), None if nearer is None else _decimal(nearer)


def _decimal(number: Fraction) -> Decimal:
    return _EXACT.divide(Decimal(number.numerator), Decimal(number.denominator))


def _root(number: Fraction) -> Decimal:
    return _EXACT.sqrt(_decimal(number))
