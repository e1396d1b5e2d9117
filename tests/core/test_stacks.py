"""Shim packs, against a listing of every pack and against another library's solver.

Thicknesses as makers sell them: Dana .003/.005/.010/.030 in (Ford Light Truck 1982), Meritor 17X .10/.15/.20/.50 mm.
"""

from collections import Counter
from collections.abc import Sequence
from itertools import product
from time import perf_counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.core import stacks
from assistant.core.errors import ImpossibleValueError
from assistant.core.quantities import Length, Quantity
from assistant.core.stacks import Pack, Shim, best_pack, packs_near, solved_pack


def length(text: str) -> Length:
    return Length.of(Quantity.parse(text))


def kit(text: str) -> list[Shim]:
    """ "0.005in x4, 0.010in x3" as a kit."""
    return [Shim(length(size.split("x")[0]), int(size.split("x")[1])) for size in text.split(",")]


def pack(*thicknesses: str) -> Pack:
    return Pack(tuple(length(text) for text in thicknesses))


def by_listing(target: Length, shims: Sequence[Shim], at_least: int, prefer: Sequence[Length]) -> Pack | None:
    """The rule, applied to every pack there is."""
    old = Counter(prefer)
    packs = []
    for takes in product(*(range(shim.count + 1) for shim in shims)):
        chosen = Counter({shim.thickness: 0 for shim in shims})
        for shim, take in zip(shims, takes, strict=True):
            chosen[shim.thickness] += take
        fitted = tuple(sorted(chosen.elements(), reverse=True))
        if len(fitted) >= at_least:
            kept = (Counter(fitted) & old).total()
            total = Pack(fitted).total
            packs.append((abs(total - target), len(fitted), -kept, total, tuple(-size for size in fitted)))
    return Pack(tuple(-size for size in min(packs)[4])) if packs else None


small_kits = st.lists(st.builds(Shim, st.integers(1, 40).map(lambda size: Length(size * 12_700)), st.integers(0, 3)), max_size=4)


@given(st.integers(-5, 160), small_kits, st.integers(1, 4), st.lists(st.integers(1, 40), max_size=4))
def test_no_pack_that_can_be_made_is_better(target: int, shims: list[Shim], at_least: int, old: list[int]) -> None:
    wanted, prefer = Length(target * 12_700), [Length(size * 12_700) for size in old]
    assert best_pack(wanted, shims, at_least=at_least, prefer=prefer) == by_listing(wanted, shims, at_least, prefer)


@settings(max_examples=25, deadline=None)
@given(
    st.integers(1, 400),
    st.lists(st.builds(Shim, st.integers(5, 60).map(lambda size: Length(size * 12_700)), st.integers(1, 4)), min_size=1, max_size=5),
    st.integers(1, 3),
    st.lists(st.integers(5, 60), max_size=3),
)
def test_the_solver_agrees_with_the_search(target: int, shims: list[Shim], at_least: int, old: list[int]) -> None:
    """scipy's milp (HiGHS) is a second opinion on distance, number of shims and shims kept; it may choose another pack that is as good."""
    wanted, prefer = Length(target * 12_700), [Length(size * 12_700) for size in old]
    searched = best_pack(wanted, shims, at_least=at_least, prefer=prefer)
    if searched is None:
        assert sum(shim.count for shim in shims) < at_least
        return
    solved = solved_pack(wanted, shims, at_least=at_least, prefer=prefer)

    def worth(found: Pack) -> tuple[Length, int, int]:
        return abs(found.total - wanted), len(found.shims), -(Counter(found.shims) & Counter(prefer)).total()

    assert worth(solved) == worth(searched)
    available = Counter({shim.thickness: 0 for shim in shims})
    for shim in shims:
        available[shim.thickness] += shim.count
    assert Counter(solved.shims) <= available


def test_a_kit_too_fine_to_list_goes_to_the_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    shims = kit("0.003in x2, 0.005in x3, 0.010in x4")
    searched = best_pack(length("0.038in"), shims)
    monkeypatch.setattr(stacks, "_MOST_WORK", 0)
    assert best_pack(length("0.038in"), shims) == searched == pack("0.010in", "0.010in", "0.010in", "0.005in", "0.003in")
    assert best_pack(length("0.0381in"), shims, tolerance=length("0.00005in")) is None


def test_the_solver_says_so_when_the_kit_has_too_few_shims() -> None:
    with pytest.raises(ImpossibleValueError, match="no pack found"):
        solved_pack(length("0.038in"), kit("0.003in x2"), at_least=3)


@given(st.integers(0, 120), small_kits, st.integers(0, 20), st.integers(1, 3))
def test_packs_near_lists_each_total_once_nearest_first_with_its_best_pack(
    target: int, shims: list[Shim], within: int, at_least: int
) -> None:
    wanted, margin = Length(target * 12_700), Length(within * 12_700)
    packs = packs_near(wanted, shims, within=margin, limit=1000, at_least=at_least)
    reachable = {
        sum(take * shim.thickness.nanometres for take, shim in zip(takes, shims, strict=True))
        for takes in product(*(range(shim.count + 1) for shim in shims))
        if sum(takes) >= at_least
    }
    distances = [abs(found.total - wanted) for found in packs]
    assert distances == sorted(distances)
    assert {found.total.nanometres for found in packs} == {t for t in reachable if abs(t - wanted.nanometres) <= margin.nanometres}
    assert len({found.total for found in packs}) == len(packs)
    for found in packs:
        assert found == by_listing(found.total, shims, at_least, ())
    assert packs_near(wanted, shims, within=margin, limit=2, at_least=at_least) == packs[:2]


def test_the_nearest_total_wins_and_then_the_fewest_shims() -> None:
    dana = kit("0.003in x3, 0.005in x4, 0.010in x3, 0.030in x2")
    assert best_pack(length("0.039in"), dana) == pack("0.030in", "0.003in", "0.003in", "0.003in")
    assert best_pack(length("0.030in"), dana) == pack("0.030in")


def test_of_packs_as_good_the_one_that_keeps_the_old_shims_is_taken() -> None:
    shims = kit("0.10mm x3, 0.15mm x3, 0.20mm x3, 0.25mm x3, 0.30mm x3")
    assert best_pack(length("0.40mm"), shims, prefer=[length("0.25mm")]) == pack("0.25mm", "0.15mm")
    assert best_pack(length("0.40mm"), shims, prefer=[length("0.20mm"), length("0.20mm")]) == pack("0.20mm", "0.20mm")


def test_counts_are_limits_and_equal_sizes_are_one_size() -> None:
    assert best_pack(length("0.020in"), kit("0.005in x2, 0.005in x1")) == pack("0.005in", "0.005in", "0.005in")


def test_a_cage_gets_its_three_shims_for_sealing() -> None:
    # Spicer Drive Axles p. 14: at least three shims in a cage pack.
    assert best_pack(length("0.030in"), kit("0.005in x4, 0.010in x4, 0.030in x1"), at_least=3) == pack("0.010in", "0.010in", "0.010in")


def test_shims_measured_in_two_units_still_add_up_exactly() -> None:
    # 0.010 in is 254 000 nm, 0.15 mm 150 000 nm: the sum is exact in nanometres.
    found = best_pack(length("0.40mm"), kit("0.010in x1, 0.15mm x1"))
    assert found is not None
    assert found.total == Length(404_000)


@pytest.mark.parametrize("shims", [[], [Shim(Length(127_000), 0)]])
def test_an_empty_kit_gives_no_pack(shims: list[Shim]) -> None:
    assert best_pack(Length(254_000), shims) is None
    assert packs_near(Length(254_000), shims, within=Length(254_000)) == ()


def test_a_pack_beyond_the_tolerance_is_no_pack() -> None:
    shims = kit("0.010in x3")
    assert best_pack(length("0.0249in"), shims, tolerance=length("0.0049in")) == pack("0.010in", "0.010in")
    assert best_pack(length("0.0249in"), shims, tolerance=length("0.0048in")) is None


@pytest.mark.parametrize("shim", [Shim(Length(0), 1), Shim(Length(-127_000), 1), Shim(Length(127_000), -1)])
def test_a_shim_that_cannot_be_is_refused(shim: Shim) -> None:
    with pytest.raises(ImpossibleValueError, match="in the kit"):
        best_pack(Length(254_000), [shim])


@pytest.mark.parametrize("target", ["0.0352in", "0.2853in", "0.49in"])
def test_twelve_sizes_of_six_are_searched_in_a_blink(target: str) -> None:
    """Measured to 0.0001 in, as on the bench. The promise to the caller is 20 ms; the best of three is free of other programs' turns."""
    sizes = ("0.0031", "0.004", "0.0049", "0.006", "0.0072", "0.008", "0.0101", "0.012", "0.0148", "0.02", "0.0251", "0.0303")
    shims = [Shim(length(f"{size}in"), 6) for size in sizes]

    def seconds() -> float:
        start = perf_counter()
        assert best_pack(length(target), shims, prefer=[length("0.0101in")]) is not None
        return perf_counter() - start

    assert min(seconds() for _ in range(3)) < 0.020
