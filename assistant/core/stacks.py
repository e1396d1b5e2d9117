"""Shim packs from what is in the kit: the pack nearest to a wanted thickness, exactly.

Rules: the nearest total wins, then the fewest shims, then the pack that keeps most of the shims already fitted, then the thinner total,
then the thicker shims. Counts are limits. Thicknesses are as measured, not as marked.

A set of totals is one whole number, bit s for a total of s grains (a grain: the greatest common divisor of all thicknesses), so trying one
more shim on all totals at once is a shift and an OR. A kit measured so finely that those numbers become huge goes to a mixed-integer
solver instead (scipy's milp, HiGHS).
"""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from assistant.core.errors import ImpossibleValueError
from assistant.core.quantities import Length

# Bits to shift above which the solver takes over: some seconds of one core. Below it the search is the quicker of the two by far, also on
# kits whose thicknesses share no grain above a nanometre.
_MOST_WORK = 20_000_000_000
_MOST_SECONDS = 10.0


@dataclass(frozen=True)
class Shim:
    """One size in the kit. thickness: as measured, more than nothing; count: how many there are, zero or more."""

    thickness: Length
    count: int


@dataclass(frozen=True)
class Pack:
    """Shims to fit together, thickest first."""

    shims: tuple[Length, ...]

    @cached_property
    def total(self) -> Length:
        """Their thicknesses added up."""
        return Length(sum(shim.nanometres for shim in self.shims))


def best_pack(
    target: Length, kit: Sequence[Shim], *, tolerance: Length | None = None, at_least: int = 1, prefer: Sequence[Length] = ()
) -> Pack | None:
    """The pack of `kit` nearest to `target`; None when no pack has `at_least` shims or the nearest lies beyond `tolerance`.

    at_least: the fewest shims allowed (three for a cage that must seal: Spicer Drive Axles p. 14). prefer: the old pack; those of its
    shims that may be used again must be in the kit too. Raises ImpossibleValueError for a shim of no thickness or a negative count.
    """
    nearest = nearest_pack(target, kit, at_least=at_least, prefer=prefer)
    return nearest.pack if nearest is not None and (tolerance is None or nearest.miss <= tolerance) else None


@dataclass(frozen=True, eq=False)
class NearestPack:
    """What `best_pack` gives: how far it misses the target is known at once, its shims are chosen when they are asked for."""

    miss: Length
    _choose: Callable[[], Pack]

    @cached_property
    def pack(self) -> Pack:
        """The pack itself."""
        return self._choose()


def nearest_pack(target: Length, kit: Sequence[Shim], *, at_least: int = 1, prefer: Sequence[Length] = ()) -> NearestPack | None:
    """The pack of `kit` nearest to `target`, however far; None when no pack has `at_least` shims. As `best_pack` otherwise."""
    sizes = _sizes(kit)
    if not sizes or sum(sizes.values()) < at_least:
        return None
    # A pack above both bounds gets nearer by losing a shim, or by exchanging one for the thinnest that is left.
    thinnest_first = sorted(Counter(sizes).elements())
    furthest = max(target.nanometres + thinnest_first[-1], sum(thinnest_first[:at_least]))
    search = _Search(sizes, furthest, at_least, Counter(shim.nanometres for shim in prefer))
    if search.work > _MOST_WORK:
        solved = solved_pack(target, kit, at_least=at_least, prefer=prefer)
        return NearestPack(abs(solved.total - target), lambda: solved)
    totals = search.nearest(target.nanometres)

    def choose() -> Pack:
        packs = [search.pack(total) for total in totals]
        return min(packs, key=lambda found: (len(found.shims), -search.kept(found), found.total))

    return NearestPack(Length(abs(totals[0] - target.nanometres)), choose)


def packs_near(
    target: Length, kit: Sequence[Shim], *, within: Length, limit: int = 20, at_least: int = 1, prefer: Sequence[Length] = ()
) -> tuple[Pack, ...]:
    """Packs whose totals lie within `within` of `target`, inclusive, nearest first: the best pack of each total, `limit` at most.

    Raises ImpossibleValueError as `best_pack` does.
    """
    sizes = _sizes(kit)
    if not sizes:
        return ()
    search = _Search(sizes, target.nanometres + within.nanometres, at_least, Counter(shim.nanometres for shim in prefer))
    wanted = search.between(target.nanometres - within.nanometres, target.nanometres + within.nanometres)
    nearest = sorted(wanted, key=lambda total: (abs(total - target.nanometres), total))
    # One more than asked for: two totals may be equally near, and then the fewer shims go first.
    packs = [search.pack(total) for total in nearest[: limit + 1]]
    far = target.nanometres
    packs.sort(key=lambda pack: (abs(pack.total.nanometres - far), len(pack.shims), -search.kept(pack), pack.total.nanometres))
    return tuple(packs[:limit])


class _Search:
    """All totals up to `furthest` (nanometres) that packs of at least `at_least` shims can make, and the best pack of each."""

    def __init__(self, sizes: dict[int, int], furthest: int, at_least: int, prefer: Counter[int]) -> None:
        self._grain = math.gcd(*sizes)
        self._sizes = [(thickness // self._grain, count) for thickness, count in sorted(sizes.items(), reverse=True)]
        self._prefer = {thickness // self._grain: count for thickness, count in prefer.items() if thickness in sizes}
        self._bits = max(furthest // self._grain + 1, 1)
        self._at_least = at_least
        # Row n, column i: the totals of exactly n shims of the sizes from i on.
        self._rows: list[list[int]] = [[1] * (len(self._sizes) + 1)]
        self._kept: dict[tuple[int, int, int], tuple[int, int]] = {}

    @property
    def work(self) -> int:
        """About how many bits a search shifts."""
        return self._bits * sum(count for _, count in self._sizes) * (self._at_least + 8)

    @cached_property
    def _within(self) -> int:
        return (1 << self._bits) - 1

    @cached_property
    def _totals(self) -> int:
        # Column n: totals of n shims; the last one: of at_least or more.
        by_count = [1] + [0] * self._at_least
        for thickness, count in self._sizes:
            for shims in _bundles(count):
                for before in range(self._at_least, -1, -1):
                    by_count[min(before + shims, self._at_least)] |= by_count[before] << shims * thickness & self._within
        return by_count[-1]

    def nearest(self, target: int) -> list[int]:
        """The one or two totals nearest to a target, all in nanometres; there is one at least."""
        floor = target // self._grain
        below = (self._totals & ((1 << floor + 1) - 1)).bit_length() - 1 if floor >= 0 else -1
        rest = self._totals >> max(floor + 1, 0)
        found = [below * self._grain] if below >= 0 else []
        if rest:
            found.append(((rest & -rest).bit_length() - 1 + max(floor + 1, 0)) * self._grain)
        least = min(abs(total - target) for total in found)
        return [total for total in found if abs(total - target) == least]

    def between(self, low: int, high: int) -> list[int]:
        """Every total from low to high, inclusive, in nanometres."""
        first, last = max(-(-low // self._grain), 0), min(high // self._grain, self._bits - 1)
        return [total * self._grain for total in range(first, last + 1) if self._totals >> total & 1]

    def kept(self, pack: Pack) -> int:
        """How many shims of the old pack this one keeps."""
        if not self._prefer:
            return 0
        fitted = Counter(shim.nanometres // self._grain for shim in pack.shims)
        return sum(min(count, self._prefer.get(thickness, 0)) for thickness, count in fitted.items())

    def pack(self, total: int) -> Pack:
        """The best pack that makes a reachable total (nanometres): fewest shims, most kept, thickest shims."""
        grains = total // self._grain
        shims = self._at_least
        while not self._row(shims)[0] >> grains & 1:
            shims += 1
        fitted: list[Length] = []
        for size, (thickness, _) in enumerate(self._sizes):
            take = self._most_kept(size, grains, shims)[1]
            fitted += [Length(thickness * self._grain)] * take
            grains, shims = grains - take * thickness, shims - take
        return Pack(tuple(fitted))

    def _most_kept(self, size: int, left: int, wanted: int) -> tuple[int, int]:
        """(shims kept, how many of this size to take) for the rest of a pack: `wanted` shims of `left` grains, which there are."""
        if size == len(self._sizes):
            return 0, 0
        known = self._kept.get((size, left, wanted))
        if known is not None:
            return known
        thickness, count = self._sizes[size]
        old = self._prefer.get(thickness, 0)
        found = max(
            (min(take, old) + self._most_kept(size + 1, left - take * thickness, wanted - take)[0], take)
            for take in range(min(count, wanted, left // thickness) + 1)
            if self._rows[wanted - take][size + 1] >> left - take * thickness & 1
        )
        self._kept[size, left, wanted] = found
        return found

    def _row(self, shims: int) -> list[int]:
        while len(self._rows) <= shims:
            row = [0] * (len(self._sizes) + 1)
            for size in range(len(self._sizes) - 1, -1, -1):
                thickness, count = self._sizes[size]
                totals = row[size + 1]
                for take in range(1, min(count, len(self._rows)) + 1):
                    totals |= self._rows[-take][size + 1] << take * thickness
                row[size] = totals & self._within
            self._rows.append(row)
        return self._rows[shims]


def solved_pack(target: Length, kit: Sequence[Shim], *, at_least: int = 1, prefer: Sequence[Length] = ()) -> Pack:
    """`best_pack` by mixed-integer programming, for kits whose totals are too many to list; the kit has at_least shims or more.

    Three solves, each holding what the last one found: the distance from the target, the number of shims, how many old ones stay. The
    solver works in floats and for ten seconds at most each time: the distance is the least to within its feasibility tolerance (1e-6 of a
    shim) or the least found by then; the total of the pack is exact.
    Raises ImpossibleValueError as `best_pack` does.
    """
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    sizes = sorted(_sizes(kit).items(), reverse=True)
    old = Counter(shim.nanometres for shim in prefer)
    thickness = np.array([size for size, _ in sizes], dtype=float)
    scale = float(thickness.max())
    many, none = len(sizes), np.zeros(len(sizes))
    # Columns: how many of each size, how many of those are old ones, and the distance from the target.
    upper = np.array([count for _, count in sizes] + [min(count, old[size]) for size, count in sizes] + [np.inf], dtype=float)
    bounds = Bounds(np.zeros(2 * many + 1), upper)
    whole = np.array([1] * (2 * many) + [0])
    row = np.concatenate
    goal = target.nanometres / scale
    rules = [
        LinearConstraint(row([thickness / scale, none, [-1.0]]), -np.inf, goal),
        LinearConstraint(row([thickness / scale, none, [1.0]]), goal, np.inf),
        LinearConstraint(row([none + 1, none, [0.0]]), at_least, np.inf),
        LinearConstraint(np.hstack([-np.eye(many), np.eye(many), np.zeros((many, 1))]), -np.inf, 0),
    ]
    distance, shims, kept = row([none, none, [1.0]]), row([none + 1, none, [0.0]]), row([none, none - 1, [0.0]])
    takes: list[int] = []
    for aim in (distance, shims, kept):
        answer = milp(aim, integrality=whole, bounds=bounds, constraints=rules, options={"mip_rel_gap": 0.0, "time_limit": _MOST_SECONDS})
        if answer.x is None:
            raise ImpossibleValueError(f"no pack found for {target.quantity('mm')}: {answer.message}")
        takes = [round(take) for take in answer.x[:many]]
        if aim is distance:
            found = abs(sum(take * size for take, (size, _) in zip(takes, sizes, strict=True)) - target.nanometres)
            rules.append(LinearConstraint(aim, -np.inf, (found + 0.5) / scale))
        else:
            rules.append(LinearConstraint(aim, -np.inf, round(float(aim @ answer.x))))
    return Pack(tuple(Length(size) for take, (size, _) in zip(takes, sizes, strict=True) for _ in range(take)))


def _bundles(count: int) -> list[int]:
    """Numbers of which some, added up, make each number from nothing to `count`: 1, 2, 4 … and the rest."""
    bundles: list[int] = []
    while count > 0:
        bundles.append(min(1 << len(bundles), count))
        count -= bundles[-1]
    return bundles


def _sizes(kit: Sequence[Shim]) -> dict[int, int]:
    """Thickness in nanometres → count, sizes that there are; equal thicknesses added up."""
    sizes: dict[int, int] = {}
    for shim in kit:
        if shim.thickness.nanometres <= 0:
            raise ImpossibleValueError(f"a shim of {shim.thickness.quantity('mm')} in the kit: expected more than nothing")
        if shim.count < 0:
            raise ImpossibleValueError(f"{shim.count} shims of {shim.thickness.quantity('mm')} in the kit: expected 0 or more")
        sizes[shim.thickness.nanometres] = sizes.get(shim.thickness.nanometres, 0) + shim.count
    return {thickness: count for thickness, count in sizes.items() if count}
