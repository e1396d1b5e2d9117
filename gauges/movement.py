"""What the readings of something that turns amount to: the total reading of a turn, the swing of a backlash, pulls of torque.

House rules: nothing is filtered; differences and extremes are exact; a result that cannot be trusted is a `Void` with its reason.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from gauges.reading import Event, Fault, Reading
from gauges.settling import LINE_DAMAGE, Settled

# A whole turn and the overlap that proves it whole.
FEWEST_TURNS = Fraction(105, 100)
FEWEST_PER_TURN = 36
# Below this share of the range a pull is no pull.
NO_PULL = Fraction(5, 100)


@dataclass(frozen=True)
class Void:
    """No result. reason: what was seen, what was expected, what to do."""

    reason: str


@dataclass(frozen=True)
class TotalReading:
    """The total indicator reading of a turn.

    value: highest minus lowest, exact, in `unit`. high, low: the readings it is made of. per_turn: readings in one turn.
    missed_percent: how much of the true value may have been missed between two readings, at most, rounded up to 0.1.
    """

    value: Decimal
    unit: str
    high: Reading
    low: Reading
    per_turn: int
    missed_percent: Decimal


def missed_percent(per_turn: int) -> Decimal:
    """The most that so many even samples of a turn can miss of a once-per-turn swing: 1 − cos(π/N), in percent, rounded to 0.1.

    Source: the highest sample lies at most half a step, π/N, from the top of a cosine; so does the lowest from its bottom.
    """
    return (100 * Decimal(1 - math.cos(math.pi / per_turn))).quantize(Decimal("0.1"), ROUND_HALF_EVEN)


def total_reading(
    events: Sequence[Event], *, turns: Fraction = FEWEST_TURNS, fewest_per_turn: int = FEWEST_PER_TURN, needs_agreement: bool = False
) -> TotalReading | Void:
    """The total reading of the events that came while the part made `turns` turns (at least 1.05).

    A refused frame voids the result unless the readings on both sides of it are within one count; so does any fault of the gauge itself.
    needs_agreement: damage can pass as a value, so the highest and the lowest must not stand alone. (Of a swing once a turn, 36 readings a
    turn change by 9 % of it at most from one to the next, 2π/36 of half of it; a quarter is still a turning part, more is a damaged frame.)
    """
    if turns < FEWEST_TURNS:
        return Void(f"turned {float(turns):.2f} times, expected at least {float(FEWEST_TURNS):.2f}: turn a little more than once round")
    readings: list[Reading] = []
    is_broken = False
    for event in events:
        if isinstance(event, Reading):
            if is_broken and (not readings or abs(event.value - readings[-1].value) > event.count):
                return Void("a frame was lost while the value moved, or at the beginning: turn once more")
            is_broken = False
            readings.append(event)
        elif isinstance(event, Fault):
            if event.code not in LINE_DAMAGE:
                return Void(f"{event.code} during the turn ({event.detail}): turn once more")
            is_broken = True
    if is_broken:
        return Void("a frame was lost at the end of the turn: turn once more")
    per_turn = int(len(readings) / turns)
    if per_turn < fewest_per_turn:
        return Void(f"{per_turn} readings in a turn, expected at least {fewest_per_turn}: turn slower")
    if len({(reading.unit, reading.channel) for reading in readings}) > 1:
        return Void("readings of two units or channels in one turn: turn once more")
    high, low = max(readings, key=_value), min(readings, key=_value)
    reach = (high.value - low.value) / 4 + 2 * high.count
    if needs_agreement and (stands_alone(readings, high, reach) or stands_alone(readings, low, reach)):
        return Void("one reading stands apart from those before and after it: turn once more")
    return TotalReading(high.value - low.value, high.unit, high, low, per_turn, missed_percent(per_turn))


def stands_alone(readings: Sequence[Reading], one: Reading, reach: Decimal) -> bool:
    """Whether no neighbour of this reading lies within `reach` of it."""
    at = next(index for index, reading in enumerate(readings) if reading is one)
    return all(abs(near.value - one.value) > reach for near in (*readings[max(0, at - 1) : at], *readings[at + 1 : at + 2]))


@dataclass(frozen=True)
class Swing:
    """One backlash: from one settled end to the other, with its sign, exact, in `unit`."""

    value: Decimal
    unit: str


def swing(first: Settled, second: Settled) -> Swing | Void:
    """The way from the first settled end to the second. The indicator's own dead band on reversal, 1 to 3 µm (from memory), is in it."""
    one, other = first.reading, second.reading
    if (one.unit, one.channel, one.decimals) != (other.unit, other.channel, other.decimals):
        return Void(f"the ends are {one.text} {one.unit} and {other.text} {other.unit} of two settings or channels: measure both again")
    if second.since < first.until:
        return Void("the indicator did not move between the two ends: swing the gear from one side to the other")
    return Swing(other.value - one.value, other.unit)


# A pull ends where it has fallen to a fifth of its peak, where the range of the gauge is not known (assumed).
_LET_GO = Fraction(1, 5)


def peak(readings: Sequence[Reading], *, range_end: Decimal | None = None) -> Reading | Void:
    """The greatest of one pull of a torque gauge in track mode: readings from near zero, through the pull, to near zero again.

    range_end: the end of its range; a pull below 5 % of it is no pull. A reading that stands alone at the top is damage, and voids it.
    """
    if not readings:
        return Void("no reading came during the pull: is the gauge in track mode?")
    top = max(readings, key=lambda reading: abs(reading.value))
    size = abs(top.value)
    if range_end is not None and size < abs(range_end) * NO_PULL.numerator / NO_PULL.denominator:
        return Void(f"the greatest was {top.text} {top.unit}, less than {NO_PULL.numerator} % of the range: that was no pull")
    near_zero = size * _LET_GO.numerator / _LET_GO.denominator
    if size == 0 or abs(readings[0].value) > near_zero or abs(readings[-1].value) > near_zero:
        return Void("the pull has no beginning or no end near zero: let go, pull, and let go again")
    if stands_alone(readings, top, size / 10 + 2 * top.count):
        return Void("one reading stands apart from those before and after it: pull once more")
    return top


@dataclass(frozen=True)
class TurningResistance:
    """breakaway: the peak that set the part moving, kept apart. mean: of the steady turning after it, with the gauge's decimals."""

    breakaway: Reading
    mean: Decimal
    unit: str
    count: int


def turning_resistance(readings: Sequence[Reading], *, turns: Fraction, fewest: int = FEWEST_PER_TURN) -> TurningResistance | Void:
    """The resistance of a part that was set moving and then turned `turns` times at steady speed (at least once).

    The breakaway ends where the readings first fall and rise again; only what comes after it counts for the mean.
    """
    if turns < 1:
        return Void(f"turned {float(turns):.2f} times, expected at least one whole turn at steady speed")
    sizes = [abs(reading.value) for reading in readings]
    top = next((index for index in range(1, len(sizes)) if sizes[index] < sizes[index - 1]), len(sizes)) - 1
    foot = next((index for index in range(top + 1, len(sizes)) if sizes[index] > sizes[index - 1]), len(sizes)) - 1
    steady = readings[foot:]
    if len(steady) < fewest:
        return Void(f"{len(steady)} readings of steady turning, expected at least {fewest}: turn slower or longer")
    if len({(reading.unit, reading.channel, reading.decimals) for reading in readings}) > 1:
        return Void("readings of two settings or channels: measure again")
    middle = sorted(sizes[foot:])[len(steady) // 2]
    if any(abs(reading.value) > 3 * middle + 2 * reading.count for reading in steady):
        return Void("one reading is more than three times the usual: turn steadily once more")
    mean = sum((Fraction(reading.value) for reading in steady), Fraction(0)) / len(steady)
    count = steady[0].count
    rounded = Decimal(round(mean / Fraction(count))) * count
    return TurningResistance(max(readings[: top + 1], key=lambda reading: abs(reading.value)), rounded, steady[0].unit, len(steady))


def _value(reading: Reading) -> Decimal:
    return reading.value
