"""Depth: the sign of each layout from published worked examples, and the response as a finding."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.core.belief import priors
from assistant.core.belief.depth import DepthBelief
from assistant.core.belief.normal import Normal

THOU = 25.4


def start(lay: int, stack: float, guess: float, **changes: object) -> DepthBelief:
    known = {"lay": lay, "stack_um": stack, "guess": Normal(guess, priors.FIRST_DEPTH_SPREAD_UM), "noise_um": 0.25 * THOU, **changes}
    return DepthBelief.start(**known)  # type: ignore[arg-type]


def test_a_shim_under_a_bearing_plate_moves_the_pinion_away() -> None:
    """Porsche 911 workshop manual, 1972: 66.22 mm found, 66.32 wanted, shim +0.10."""
    belief = start(1, 500.0, 66_220.0).observe(500.0, 66_220.0, assembly=1)
    assert belief.predict(600.0).mean == pytest.approx(66_320.0, abs=1.0)


def test_a_shim_on_a_head_seat_moves_the_pinion_towards() -> None:
    """Daewoo B20S-2: 78.10 mm found, 78.00 - 0.08 wanted, 0.18 more shim."""
    belief = start(-1, 1_000.0, 78_100.0).observe(1_000.0, 78_100.0, assembly=1)
    assert belief.predict(1_180.0).mean == pytest.approx(77_920.0, abs=1.0)


def test_a_pack_that_does_not_answer_is_a_finding() -> None:
    """Ten thou of shim that move the pinion by two: a burr, a seat, the wrong shim."""
    belief = start(1, 500.0, 66_000.0)
    for _ in range(3):
        belief = belief.observe(500.0, 66_000.0, assembly=1)
    assert belief.response_seen is None
    for _ in range(3):
        belief = belief.observe(500.0 + 10 * THOU, 66_000.0 + 2 * THOU, assembly=2)
    seen = belief.explain().seen
    assert seen is not None
    assert seen.mean == pytest.approx(0.2, abs=0.001)
    assert seen.z(1.0) > 10.0
    assert belief.response.mean < 1.0


def test_the_seen_response_is_the_slope_of_a_straight_line_through_both_packs() -> None:
    belief = start(-1, 800.0, 50_000.0)
    for assembly, stack, value in ((1, 800.0, 50_004.0), (1, 800.0, 49_998.0), (2, 950.0, 49_849.0)):
        belief = belief.observe(stack, value, assembly=assembly)
    assert belief.response_seen is not None
    assert belief.response_seen.mean == pytest.approx((50_001.0 - 49_849.0) / 150.0)


def test_the_chance_is_that_of_the_prediction() -> None:
    belief = start(1, 500.0, 66_000.0).observe(500.0, 66_000.0, assembly=1)
    predicted = belief.predict(540.0)
    assert belief.chance(540.0, 66_020.0, 66_060.0) == predicted.chance(66_020.0, 66_060.0)
    assert belief.chance(540.0, 66_000.0, 66_080.0) > belief.chance(540.0, 66_020.0, 66_060.0)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from([1, -1]), st.floats(60_000, 70_000), st.floats(10.0, 300.0))
def test_a_thicker_pack_moves_the_pinion_as_the_layout_says(lay: int, value: float, more: float) -> None:
    belief = start(lay, 500.0, value).observe(500.0, value, assembly=1)
    moved = belief.predict(500.0 + more).mean - belief.predict(500.0).mean
    assert lay * moved == pytest.approx(more, rel=0.02)


@settings(max_examples=20, deadline=None)
@given(st.permutations([50_000.0, 50_006.0, 49_995.0]))
def test_the_order_of_repeats_does_not_matter_and_they_narrow(values: list[float]) -> None:
    belief = start(1, 500.0, 50_050.0)
    spreads = [belief.predict(500.0, 1).spread]
    for value in values:
        belief = belief.observe(500.0, value, assembly=1)
        spreads.append(belief.predict(500.0, 1).spread)
    assert spreads == sorted(spreads, reverse=True)
    assert belief.predict(500.0, 1).mean == pytest.approx(50_000.5, abs=0.7)
