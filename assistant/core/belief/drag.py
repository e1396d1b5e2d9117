"""Bearing drag against tightness: nothing but the bearings' own below contact, then rising with interference, bending upward.

drag = floor + RISE · (interference / reach) ^ bend + error,   interference = tightness − contact, zero below contact

Drag in newton-metres. Tightness runs along one coordinate, named by the maker of the belief: micrometres of a spacer stack between the cones
(thicker is looser), micrometres of a stack outside the cups or beside the case (thicker is tighter), degrees of the nut on a crush sleeve, notches
of the adjusters. Contact, reach, bend and floor are unknown: a grid over reach, bend and floor, and for each of them a row of contact points laid
where the readings allow one, carry the exact posterior weights. Nothing is sampled; the order of readings does not matter.

That drag begins at contact and grows faster than the squeeze is common practice without a source; so are the figures of the priors below unless
one is named. A slope can be checked against Land Rover Discovery II (about 1 N·m per 0.025 mm at 4-6 N·m, shims at the tail cup).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from assistant.core.belief import priors
from assistant.core.belief.normal import Normal
from assistant.core.belief.outlook import Outlook
from assistant.core.belief.priors import POUND_INCH

if TYPE_CHECKING:
    import numpy

RISE = 2.0
"""The rise over the floor, N·m (about 18 lb-in), that `reach` is counted to: the middle of what manuals ask of new pinion bearings."""

# Bearings turned by hand without squeeze: 1 to 6 lb-in, a seal included, assumed; and the values that are tried.
_FLOOR = Normal(3.0 * POUND_INCH, 1.9 * POUND_INCH)
_FLOORS = (1.0 * POUND_INCH, 3.0 * POUND_INCH, 5.5 * POUND_INCH)
# Readings this near to the lowest one are taken for the floor, if they can be: then it is tried finely around them.
_SAME_FLOOR, _HIGHEST_FLOOR = 2.5, 8.0 * POUND_INCH
_BENDS = ((1.0, 0.25), (1.2, 0.35), (1.4, 0.25), (1.75, 0.15))
# How far the true scatter may be from the named one.
_SCATTERS = ((0.5, 0.4), (1.0, 0.4), (1.8, 0.2))
# A reading this many of its spreads above a floor cannot be that floor with a bad look: contact must then lie before it.
_CLEARLY = 4.0
_REACHES = 17
_CONTACTS = 25
_POINTS = 1_500


@dataclass(frozen=True)
class Reach:
    """How far past contact the drag has risen by `RISE`, in the coordinate's unit: a median, and the factor that one spread multiplies it by."""

    median: float
    factor: float


@dataclass(frozen=True)
class Reading:
    """One drag as it was read: the assembly it belongs to, the coordinate, the drag and its spread."""

    assembly: int
    at: float
    drag: float
    noise: float


@dataclass(frozen=True)
class LearnedDrag:
    """What the bearings have shown, for a sentence: where contact lies and how much drag one unit of the coordinate brings at `at`."""

    contact: Normal
    at: float
    slope: Normal
    readings: int


@dataclass(frozen=True)
class DragBelief:
    """What is known of these bearings. Immutable: `observe` gives a new one.

    tightens: +1 when a larger coordinate is tighter, −1 when it is looser. contact: where along the coordinate contact is expected.
    seating: spread along the coordinate that one more assembly brings. first: the drag that was aimed at when the coordinate `first_at` was chosen,
    and how well that aim is trusted: it keeps the unlikely corners of the grid out of the first prediction.
    """

    tightens: Literal[1, -1]
    contact: Normal
    reach: Reach
    seating: float
    first_at: float
    first: Normal
    readings: tuple[Reading, ...] = ()

    @classmethod
    def spacer(cls, pack_um: float, first: Normal = priors.FIRST_PINION_DRAG, contact_um: Normal | None = None) -> "DragBelief":
        """Shims or a spacer between the cones, in micrometres of the whole pack: thicker is LOOSER (Meritor MM-15103; TM 5-3895-359-14&P).

        pack_um: the first pack, chosen to give the drag `first`; contact_um: where contact is expected, if that is known better.
        """
        return cls(-1, contact_um or Normal(pack_um + 55.0, 70.0), Reach(48.0, 1.35), priors.PACK_UM, pack_um, first)

    @classmethod
    def outside_shims(cls, pack_um: float, first: Normal = priors.FIRST_PINION_DRAG, contact_um: Normal | None = None) -> "DragBelief":
        """Shims outside the cups, in micrometres: thicker is TIGHTER (Porsche 944 workshop manual; Land Rover Discovery II). As `spacer`."""
        return cls(1, contact_um or Normal(pack_um - 55.0, 70.0), Reach(48.0, 1.35), priors.PACK_UM, pack_um, first)

    @classmethod
    def sleeve(cls, contact_degrees: Normal = Normal(65.0, 40.0)) -> "DragBelief":  # noqa: B008 (frozen)
        """A crush sleeve, in degrees of the nut from where it is snug and the shaft still has play: it only ever gets tighter.

        A thread of some 1.5 to 1.8 mm a turn moves about 50 micrometres in 10 to 12 degrees.
        """
        return cls(1, contact_degrees, Reach(12.0, 1.6), 1.0, 0.0, Normal(0.4, 0.6))

    @classmethod
    def side_shims(cls, total_um: float, contact_um: Normal | None = None) -> "DragBelief":
        """The side bearings' packs, both sides together, in micrometres: .008 in of preload is a usual figure (Dodge Durango 2000)."""
        return cls(1, contact_um or Normal(total_um - 180.0, 100.0), Reach(200.0, 1.7), 4.0, total_um, priors.FIRST_CARRIER_DRAG)

    @classmethod
    def adjusters(cls, contact_notches: Normal = Normal(0.0, 0.5)) -> "DragBelief":  # noqa: B008 (frozen)
        """The side bearings' adjusters, notches of both sides together from just no play: one to four of preload are usual
        (Astro 2003: 1; Meritor 17X: 3-4)."""
        return cls(1, contact_notches, Reach(3.2, 1.8), 0.1, 2.0, priors.FIRST_CARRIER_DRAG)

    def observe(self, at: float, drag: float, noise: float, assembly: int = 0) -> "DragBelief":
        """After one more reading.

        noise: its spread, N·m (`priors.torque_spread`); assembly: a number that changes each time the parts were moved. Several readings of one
        assembly at one coordinate are averaged: they share what the assembly brought.
        """
        if noise <= 0.0:
            raise ValueError(f"the spread of a reading is above zero, not {noise}")
        return replace(self, readings=tuple(sorted((*self.readings, Reading(assembly, at, drag, noise)), key=_in_order)))

    def predict(self, at: float, noise: float) -> Outlook:
        """The next reading at this coordinate in an assembly still to be made; noise: that reading's own spread, N·m."""
        return _outlook(self._posterior, self.tightens * at, self.seating, noise)

    def chances(self, candidates: Sequence[float], low: float, high: float, noise: float) -> tuple[float, ...]:
        """For each candidate coordinate the chance that the next reading lies between the limits."""
        import numpy as np
        from scipy.special import ndtr

        points = self._posterior

        def chance(at: float) -> float:
            means, slopes = points.drag_and_slope(self.tightens * at)
            spreads = points.scatter * np.hypot(noise, slopes * self.seating)
            return float((ndtr((high - means) / spreads) - ndtr((low - means) / spreads)) @ points.weight)

        return tuple(chance(at) for at in candidates)

    def play(self, at: float) -> float:
        """The chance that the rollers do not touch at this coordinate."""
        points = self._posterior
        return float(points.weight @ (points.contact > self.tightens * at))

    def slope(self, at: float) -> Normal:
        """How much the drag changes per unit of the coordinate around `at`, with its sign."""
        points = self._posterior
        _, slopes = points.drag_and_slope(self.tightens * at)
        mean = float(points.weight @ slopes)
        return Normal(self.tightens * mean, math.sqrt(max(float(points.weight @ (slopes - mean) ** 2), 1e-18)))

    @property
    def contact_now(self) -> Normal:
        """Where along the coordinate contact is believed to lie."""
        points = self._posterior
        mean = float(points.weight @ points.contact)
        return Normal(self.tightens * mean, math.sqrt(max(float(points.weight @ (points.contact - mean) ** 2), 1e-18)))

    @property
    def log_reach(self) -> Normal:
        """What is believed of the reach, by its logarithm."""
        import numpy as np

        points = self._posterior
        logs = np.log(points.reach)
        mean = float(points.weight @ logs)
        return Normal(mean, math.sqrt(max(float(points.weight @ (logs - mean) ** 2), 1e-18)))

    def explain(self) -> LearnedDrag:
        """The numbers behind "what have you learned": slope where the last reading (or the expected contact) lies."""
        at = max(self.readings, key=lambda reading: reading.assembly).at if self.readings else self.contact.mean
        return LearnedDrag(self.contact_now, at, self.slope(at), len(self.readings))

    @cached_property
    def _posterior(self) -> "_Points":
        # Kept here as well: to be found among the others a belief has to be hashed, which takes longer the more readings it has.
        return posterior(self)


def _in_order(reading: Reading) -> tuple[int, float, float, float]:
    return reading.assembly, reading.at, reading.drag, reading.noise


@dataclass(frozen=True, eq=False)
class _Points:
    """Points that stand for the posterior: arrays of one length; weights add up to one. Contact in tightness, scatter in times the named one."""

    weight: "numpy.ndarray[Any, Any]"
    contact: "numpy.ndarray[Any, Any]"
    reach: "numpy.ndarray[Any, Any]"
    bend: "numpy.ndarray[Any, Any]"
    floor: "numpy.ndarray[Any, Any]"
    scatter: "numpy.ndarray[Any, Any]"

    def drag_and_slope(self, tightness: float) -> "tuple[numpy.ndarray[Any, Any], numpy.ndarray[Any, Any]]":
        """The drag at each point, and its growth per unit of tightness."""
        return _law(tightness - self.contact, self.reach, self.bend, self.floor)


# A job asks for the same readings' outlooks a few times: to foretell, to weigh, to choose.
@lru_cache(maxsize=64)
def _outlook(points: _Points, tightness: float, seating: float, noise: float) -> Outlook:
    import numpy as np

    means, slopes = points.drag_and_slope(tightness)
    return Outlook(points.weight, means, points.scatter * np.hypot(noise, slopes * seating))


def forget() -> None:
    """Nothing is remembered any more: what is asked next is worked out anew, as a measure of speed wants it."""
    posterior.cache_clear()
    _outlook.cache_clear()


def _law(
    interference: "numpy.ndarray[Any, Any]",
    reach: "numpy.ndarray[Any, Any]",
    bend: "numpy.ndarray[Any, Any]",
    floor: "numpy.ndarray[Any, Any]",
) -> "tuple[numpy.ndarray[Any, Any], numpy.ndarray[Any, Any]]":
    """Drag and slope of the law at the head of this file, for arrays that broadcast."""
    share, rise = _share_and_rise(interference, reach, bend)
    slope = bend * rise
    share *= reach
    slope /= share
    slope *= interference > 0.0
    return floor + rise, slope


def _share_and_rise(
    interference: "numpy.ndarray[Any, Any]", reach: "numpy.ndarray[Any, Any]", bend: "numpy.ndarray[Any, Any]"
) -> "tuple[numpy.ndarray[Any, Any], numpy.ndarray[Any, Any]]":
    """The interference in reaches, next to nothing at least, and the rise of the drag over its floor."""
    import numpy as np

    share = interference / reach
    np.maximum(share, 1e-9, out=share)
    rise = share**bend
    rise *= RISE
    return share, rise


@cache
def _even(end: float, many: int) -> "numpy.ndarray[Any, Any]":
    """So many places from -end to end."""
    import numpy as np

    return np.linspace(-end, end, many)


@lru_cache(maxsize=64)
def posterior(belief: DragBelief) -> _Points:
    """The exact weights on the grid, thinned to `_POINTS` points of equal weight."""
    import numpy as np

    means = _averaged(belief.readings)
    floors = _floors(means)
    cleared = sum(any(_is_clear(reading, floor) for reading in means) for floor, _ in floors)
    risen = cleared == len(floors)
    steps = _even(2.4, _REACHES if risen or not means else _REACHES // 2 + 1)
    reaches = belief.reach.median * belief.reach.factor**steps
    shares = np.multiply.outer(np.exp(-0.5 * steps**2), [weight for _, weight in _BENDS])
    # As long as every reading was at the floor, contact may be anywhere beyond, and nothing tells the reach: a finer row over the whole of it.
    along = _even(3.3, _CONTACTS if risen else 3 * _CONTACTS)
    # The floors that no reading lies clearly above have one row of contacts in common: half of the work is done once for all of them.
    parts = [_laid(belief, means, reaches, shares, part, along) for part in (floors[:cleared], floors[cleared:]) if part]
    contact, before, misfit = (np.concatenate(arrays, axis=2) for arrays in zip(*parts, strict=True))

    weight = np.empty((len(_SCATTERS), *contact.shape))
    misfit *= 0.5
    for row, (scatter, share) in zip(weight, _SCATTERS, strict=True):
        np.subtract(before, np.divide(misfit, scatter**2, out=row), out=row)
        row += math.log(share) - len(means) * math.log(scatter)
    weight -= weight.max()
    np.exp(weight, out=weight)
    # Every equal share of the weight is stood for by the point in its middle; neighbours on the grid are much alike.
    reached = np.cumsum(weight)
    kept = np.searchsorted(reached, (np.arange(_POINTS) + 0.5) * (reached[-1] / _POINTS))
    scatter, reach, bend, floor, place = np.unravel_index(kept, weight.shape)
    return _Points(
        np.full(_POINTS, 1.0 / _POINTS),
        contact[reach, bend, floor, place],
        reaches[reach],
        np.array([b for b, _ in _BENDS])[bend],
        np.array([f for f, _ in floors])[floor],
        np.array([s for s, _ in _SCATTERS])[scatter],
    )


def _is_clear(reading: Reading, floor: float) -> bool:
    return reading.drag - floor > _CLEARLY * reading.noise


def _laid(
    belief: DragBelief,
    means: Sequence[Reading],
    reaches: "numpy.ndarray[Any, Any]",
    shares: "numpy.ndarray[Any, Any]",
    floors: Sequence[tuple[float, float]],
    along: "numpy.ndarray[Any, Any]",
) -> "tuple[numpy.ndarray[Any, Any], numpy.ndarray[Any, Any], numpy.ndarray[Any, Any]]":
    """Contacts laid for each reach, bend and floor (four axes, contacts last), the logarithm of their weight before scatter counts, and their misfit.

    shares: weights beforehand of reach and bend; along: where each row has its contacts, in widths of it.
    """
    import numpy as np

    reach, bend = reaches.reshape(-1, 1, 1, 1), np.array([b for b, _ in _BENDS]).reshape(-1, 1, 1)
    floor = np.array([f for f, _ in floors]).reshape(-1, 1)
    prior = np.multiply.outer(shares, [weight for _, weight in floors])[..., np.newaxis]

    # Where contact must lie for each shape: the prior, and what every reading clearly above the floor implies, by precision.
    middle = belief.tightens * belief.contact.mean
    precision = np.full((1, 1, 1, 1), belief.contact.spread**-2)
    centre = middle * precision
    for reading in means:
        if not any(_is_clear(reading, f) for f, _ in floors):
            continue
        over = reading.drag - floor
        share = (np.maximum(over, 1e-9) / RISE) ** (1.0 / bend)
        slope = bend * np.maximum(over, 1e-9) / (share * reach)
        weight = np.where(over > _CLEARLY * reading.noise, 1.0 / ((reading.noise / slope) ** 2 + belief.seating**2), 0.0)
        precision = precision + weight
        centre = centre + weight * (belief.tightens * reading.at - share * reach)
    width = 1.4 / np.sqrt(precision)
    contact = centre / precision + width * along

    _, rise = _share_and_rise(belief.tightens * belief.first_at - contact, reach, bend)
    aim = -0.5 * ((floor + rise - belief.first.mean) / belief.first.spread) ** 2
    before = np.log(prior) + np.log(width) - 0.5 * ((contact - middle) / belief.contact.spread) ** 2 + aim
    misfit = np.zeros(before.shape)
    log_width = np.zeros((1, 1, 1, 1))
    for reading in means:
        drag, slope = _law(belief.tightens * reading.at - contact, reach, bend, floor)
        variance = reading.noise**2 + (slope * belief.seating) ** 2
        drag -= reading.drag
        np.square(drag, out=drag)
        drag /= variance
        misfit += drag
        log_width = log_width + 0.5 * np.log(variance)
    before -= log_width
    return np.broadcast_to(contact, before.shape), before, misfit


def _floors(means: Sequence[Reading]) -> list[tuple[float, float]]:
    """The floors to try, each with its weight beforehand: the density there times the room up to its neighbours."""
    tried = set(_FLOORS)
    lowest = min((reading.drag for reading in means), default=math.inf)
    if lowest < _HIGHEST_FLOOR:
        near = [reading for reading in means if reading.drag - lowest <= _SAME_FLOOR * reading.noise]
        middle = math.fsum(reading.drag for reading in near) / len(near)
        spread = max(reading.noise for reading in near) / math.sqrt(len(near))
        tried |= {middle + z * spread for z in (-1.5, -0.5, 0.5, 1.5) if middle + z * spread > 0.0}
    floors = sorted(tried)
    ends = [0.0, *((a + b) / 2.0 for a, b in pairwise(floors)), floors[-1] + 2.0 * POUND_INCH]
    return [(floor, math.exp(_FLOOR.log_density(floor)) * (high - low)) for floor, (low, high) in zip(floors, pairwise(ends), strict=True)]


def _averaged(readings: Sequence[Reading]) -> list[Reading]:
    """One reading for each assembly and coordinate: the mean by precision, and its spread."""
    groups: dict[tuple[int, float], list[Reading]] = {}
    for reading in readings:
        groups.setdefault((reading.assembly, reading.at), []).append(reading)
    averaged = []
    for (assembly, at), group in groups.items():
        weights = [reading.noise**-2 for reading in group]
        total = math.fsum(weights)
        drag = math.fsum(w * reading.drag for w, reading in zip(weights, group, strict=True)) / total
        averaged.append(Reading(assembly, at, drag, total**-0.5))
    return averaged
