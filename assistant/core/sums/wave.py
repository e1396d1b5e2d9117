"""Readings taken at equal steps round a full turn: extremes, mean, and the wave that comes once per turn."""

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from assistant.core.errors import BadInputError, ImpossibleValueError
from assistant.core.quantities import Length, Quantity, rounded

JUDGES = ("minimum", "mean", "all")


@dataclass(frozen=True)
class Wave:
    """What readings round a turn say.

    minimum, maximum, variation (maximum - minimum; the total indicated runout of a dial on a face): as read.
    mean: to a whole nanometre. first_harmonic: half the swing of the sine wave once per turn that fits best, to a whole nanometre.
    high_spot_deg: where that wave is highest, 0 to below 360 from the first reading in the order of reading, to 0.1; None without a wave.
    """

    minimum: Length
    mean: Length
    maximum: Length
    variation: Length
    first_harmonic: Length
    high_spot_deg: Decimal | None


def wave_of(readings: Sequence[Length]) -> Wave:
    """Three or more readings at equal steps of one full turn, the first not repeated at its end. Raises BadInputError for fewer.

    The wave is the least-squares sine, which at equal steps is the first line of the discrete Fourier transform.
    """
    if len(readings) < 3:
        raise BadInputError(f"readings: {len(readings)} given, expected three or more, at equal steps round the ring gear")
    count = len(readings)
    # Deviations from the first reading are whole and small: equal readings give exactly no wave.
    line = sum((r.nanometres - readings[0].nanometres) * cmath.exp(2j * math.pi * i / count) for i, r in enumerate(readings)) * 2 / count
    swing = Length(round(abs(line)))
    high_spot = rounded(Fraction(math.degrees(cmath.phase(line))) % 360, 1) % 360 if swing.nanometres else None
    return Wave(
        minimum=min(readings),
        mean=Length.rounded(Fraction(sum(r.nanometres for r in readings), count)),
        maximum=max(readings),
        variation=max(readings) - min(readings),
        first_harmonic=swing,
        high_spot_deg=high_spot,
    )


def backlash_stats(readings: Sequence[Length]) -> Wave:
    """`wave_of` backlash readings. Raises ImpossibleValueError for one at or below zero: the gears may be jammed (Ford 8.8 in manuals)."""
    for spot, reading in enumerate(readings, 1):
        if reading <= Length(0):
            raise ImpossibleValueError(
                f"backlash {reading.quantity('mm')} at spot {spot}: zero is not a backlash, the gears may be jammed: "
                "open the mesh and read again"
            )
    return wave_of(readings)


def is_backlash_in_spec(
    readings: Sequence[Quantity], *, low: Quantity | None, high: Quantity | None, variation: Quantity | None, judge: str = "all"
) -> bool:
    """Whether backlash readings pass; limits are inclusive, compared exactly as recorded, a limit of None is not asked for.

    judge: what must lie within low to high: "all" readings, their "minimum" (GM Kodiak 2005) or their "mean" (Audi 0A3). The variation
    counts whatever the judge. Raises BadInputError for no reading or another judge.
    """
    sizes = [reading.base for reading in readings]
    if not sizes:
        raise BadInputError("no backlash reading: expected at least one")
    if judge not in JUDGES:
        raise BadInputError(f"judge {judge!r} is not known: expected {', '.join(JUDGES)}")
    judged = {"all": sizes, "minimum": [min(sizes)], "mean": [sum(sizes, Fraction(0)) / len(sizes)]}[judge]
    return (
        (low is None or min(judged) >= low.base)
        and (high is None or max(judged) <= high.base)
        and (variation is None or max(sizes) - min(sizes) <= variation.base)
    )
