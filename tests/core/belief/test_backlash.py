"""Backlash: published factors, a brute-force reference for the chance, laws of sign and order."""

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.core.belief import priors
from assistant.core.belief.backlash import BacklashBelief, Judge
from assistant.core.belief.normal import Normal

THOU = 25.4
QUARTERS = (0.0, 90.0, 180.0, 270.0)


def start(**changes: object) -> BacklashBelief:
    return BacklashBelief.start(**{"ratio": 41 / 11, "noise_um": 0.25 * THOU, **changes})  # type: ignore[arg-type]


def round_of(belief: BacklashBelief, ring: float, level: float, assembly: int, pinion: float = 0.0) -> BacklashBelief:
    for spot in QUARTERS:
        belief = belief.observe(ring, pinion, spot, level, assembly=assembly)
    return belief


@pytest.mark.parametrize(
    ("factor", "source"),
    [
        (0.02 / 0.03, "Toyota Supra MA70 repair manual, RA-38: 0.03 mm of shim is 0.02 mm of backlash"),
        (0.75, "Ford Mustang 2014 Workshop Manual 205-02, backlash table"),
        (0.5, "Pontiac Firebird 1998 service manual: .001 per .002 in"),
        (0.6, "the same line in millimetres: 0.03 per 0.05"),
        (1.0, "Lexus LS460: one for one"),
        (1.0, "Porsche 928 Workshop Manual, sheets 39-135 and 39-229: one for one"),
    ],
)
def test_every_published_factor_lies_within_two_spreads_of_the_prior(factor: float, source: str) -> None:
    assert abs(start().k_ring.z(factor)) <= 2.0 + 1e-9, source


@pytest.mark.parametrize(("spiral", "expected"), [(0.0, 0.703), (35.0, 0.858)])
def test_the_factor_from_the_teeth_is_that_of_the_geometry(spiral: float, expected: float) -> None:
    """Pressure angle 20°, ratio 3.73, worked out by hand: 2 · 0.36397 · 0.96587 / cos(spiral); the straight tooth is the shop's 0.7."""
    assert priors.k_ring_from_teeth(20.0, spiral, 3.73).mean == pytest.approx(expected, abs=0.001)


def test_a_straight_tooths_pinion_factor_is_the_rings_over_the_ratio() -> None:
    """Geometry: sin γ / sin Γ = 1 / ratio for axes that meet: 0.703 / 3.73 = 0.1885."""
    belief = start(ratio=3.73, k_ring=priors.k_ring_from_teeth(20.0, 0.0, 3.73))
    assert belief.k_pinion.mean == pytest.approx(0.1885, abs=0.0005)


def test_one_move_teaches_the_factor() -> None:
    """An invented light axle: 12.0 thou before, 7.2 after the ring went 7 thou in: k seen 4.8/7 = 0.69; here a stiffer one, 0.5."""
    belief = round_of(round_of(start(), 0.0, 12.0 * THOU, 1), -7.0 * THOU, 8.5 * THOU, 2)
    assert belief.k_ring.mean == pytest.approx(0.55, abs=0.06)
    assert belief.k_ring.spread < 0.75 * priors.K_RING.spread


def test_the_published_move_lands_where_the_manual_says_once_the_factor_is_known() -> None:
    """Ford Mustang 2014, 205-02: .015 in of backlash is .020 in of shim at 0.75."""
    belief = round_of(start(k_ring=Normal(0.75, 0.01)), 0.0, 5.0 * THOU, 1)
    gained = belief.predict_mean(20.0 * THOU, 0.0, QUARTERS).mean - belief.predict_mean(0.0, 0.0, QUARTERS).mean
    assert gained / THOU == pytest.approx(15.0, abs=0.2)


def test_an_unknown_notch_lead_is_learned_through_the_slope() -> None:
    """Spicer SHAIS150A: .003 in of backlash per notch; the nominal notch of .0025 in then has a slope of 1.2."""
    belief = start(lead_spread=priors.NOTCH_LEAD_RELATIVE_SPREAD)
    assert belief.k_ring.spread == pytest.approx(math.hypot(0.15, 0.7 * 0.2))
    for notches in (0, 3, 6):
        belief = round_of(belief, notches * priors.NOTCH_LEAD_UM, (10.0 + 3.0 * notches) * THOU, notches)
    assert belief.k_ring.mean == pytest.approx(1.2, abs=0.05)


def test_what_the_ring_teaches_moves_the_pinions_factor_too() -> None:
    before = start()
    after = round_of(round_of(before, 0.0, 250.0, 1), 200.0, 450.0, 2)
    assert after.k_ring.mean > 0.85
    assert after.k_pinion.mean > before.k_pinion.mean


def test_a_wave_round_the_ring_is_found_with_its_swing_and_high_spot() -> None:
    """Eight spots of 250 + 30 cos(θ − 60°); the reference is numpy's least squares on the same factors."""
    spots = np.arange(8) * 45.0
    values = 250.0 + 30.0 * np.cos(np.radians(spots - 60.0))
    belief = start(noise_um=1.0, runout_um=100.0)
    for spot, value in zip(spots, values, strict=True):
        belief = belief.observe(0.0, 0.0, float(spot), float(value), assembly=1)
    design = np.column_stack([np.ones(8), np.cos(np.radians(spots)), np.sin(np.radians(spots))])
    _, a, c = np.linalg.lstsq(design, values, rcond=None)[0]
    learned = belief.explain()
    assert learned.swing == pytest.approx(2 * math.hypot(a, c), rel=0.01)
    assert learned.high_spot == pytest.approx(60.0, abs=0.5)
    assert learned.readings == 8


def test_measured_runout_says_how_large_a_wave_to_expect() -> None:
    """Geometry: .003 in of runout explains about .7 of it as variation; its half is the amplitude, about .001 in."""
    calm, wobbling = start(runout_um=0.0), start(runout_um=8.0 * THOU)
    assert calm.predict(0, 0, 0).spread < wobbling.predict(0, 0, 0).spread
    settled_calm = calm.observe(0, 0, 0, 250.0, assembly=1).predict(0, 0, 180, assembly=1).spread
    settled_wobbling = wobbling.observe(0, 0, 0, 250.0, assembly=1).predict(0, 0, 180, assembly=1).spread
    assert settled_calm < 0.6 * settled_wobbling


@pytest.mark.parametrize("judge", ["all", "minimum", "mean"])
@pytest.mark.parametrize("read_at", [QUARTERS[:3], (20.0, 50.0, 80.0)])
@pytest.mark.parametrize(("ring", "variation"), [(0.0, 2.0), (20.0, 3.0), (-60.0, None)])
def test_the_chance_agrees_with_many_random_draws_of_the_whole_model(
    judge: Judge, ring: float, variation: float | None, read_at: tuple[float, ...]
) -> None:
    """Reference: 100,000 draws by numpy from the joint law of all spots, judged one by one."""
    belief = start()
    for spot, value in zip(read_at, (7.9, 8.6, 8.8), strict=True):  # uneven sets: level and wave lean on each other
        belief = belief.observe(0.0, 0.0, spot, value * THOU, assembly=1)
    law = belief.regression.next_assembly
    angles = np.radians(QUARTERS)
    rows = np.column_stack([np.ones(4), np.full(4, ring), np.zeros(4), np.cos(angles), np.sin(angles), np.ones(4)])
    dice = np.random.default_rng(20)
    drawn = dice.multivariate_normal(law.mean, law.covariance, 100_000) @ rows.T
    drawn += dice.normal(0.0, belief.regression.reading_factor * belief.regression.noise, drawn.shape)
    judged = {"all": drawn, "minimum": drawn.min(axis=1, keepdims=True), "mean": drawn.mean(axis=1, keepdims=True)}[judge]
    passes = ((judged >= 6.0 * THOU) & (judged <= 10.0 * THOU)).all(axis=1)
    if variation is not None:
        passes &= np.ptp(drawn, axis=1) <= variation * THOU
    limit = None if variation is None else variation * THOU
    found = belief.chance(ring, 0.0, QUARTERS, 6.0 * THOU, 10.0 * THOU, limit, judge)
    assert found == pytest.approx(passes.mean(), abs=0.02)


def test_the_same_question_has_the_same_answer_bit_for_bit() -> None:
    belief = round_of(start(), 0.0, 250.0, 1)
    assert belief.chance(30, 0, QUARTERS, 150, 250, 76) == belief.chance(30, 0, QUARTERS, 150, 250, 76)


readings = st.lists(st.tuples(st.sampled_from([0.0, 45.0, 90.0, 180.0, 270.0]), st.floats(100.0, 500.0)), min_size=2, max_size=6)


@settings(max_examples=30, deadline=None)
@given(readings, st.randoms(use_true_random=False))
def test_the_order_of_the_readings_of_one_assembly_does_not_matter(taken: list[tuple[float, float]], dice: random.Random) -> None:
    shuffled = taken.copy()
    dice.shuffle(shuffled)
    one, other = start(), start()
    for spot, value in taken:
        one = one.observe(0.0, 0.0, spot, value, assembly=1)
    for spot, value in shuffled:
        other = other.observe(0.0, 0.0, spot, value, assembly=1)
    assert one.predict(50, 0, 90).mean == pytest.approx(other.predict(50, 0, 90).mean, rel=1e-6)
    assert one.predict(50, 0, 90).spread == pytest.approx(other.predict(50, 0, 90).spread, rel=1e-6)


@settings(max_examples=30, deadline=None)
@given(st.floats(100.0, 500.0), st.floats(10.0, 300.0))
def test_away_opens_and_towards_closes(level: float, move: float) -> None:
    belief = round_of(start(), 0.0, level, 1)
    here = belief.predict_mean(0, 0, QUARTERS).mean
    assert belief.predict_mean(move, 0, QUARTERS).mean > here > belief.predict_mean(-move, 0, QUARTERS).mean
    assert belief.predict_mean(0, move, QUARTERS).mean > here > belief.predict_mean(0, -move, QUARTERS).mean


@settings(max_examples=30, deadline=None)
@given(st.floats(200.0, 300.0))
def test_a_reading_where_it_was_expected_narrows_the_next(value: float) -> None:
    belief = start()
    wide = belief.predict(0, 0, 0).spread
    once = belief.observe(0, 0, 0, value, assembly=1)
    twice = once.observe(0, 0, 0, value, assembly=1)
    assert wide > once.predict(0, 0, 0, assembly=1).spread > twice.predict(0, 0, 0, assembly=1).spread


def test_a_further_move_is_less_certain() -> None:
    belief = round_of(start(), 0.0, 250.0, 1)
    spreads = [belief.predict(move, 0, 0).spread for move in (0, 50, 100, 200)]
    assert spreads == sorted(spreads)


def test_a_ratio_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="ratio"):
        start(ratio=0.0)


def test_nine_tenths_of_the_readings_fall_in_the_middle_nine_tenths() -> None:
    """Virtual axles whose constants differ from the prior's: k flat in 0.45-1.0, waves and scatters of other sizes; 90 ± 5 %."""
    dice = np.random.default_rng(11)
    held = {"same": [], "moved": []}
    for _ in range(60):
        k, wave, phase = dice.uniform(0.45, 1.0), dice.rayleigh(13.0), dice.uniform(0.0, 2 * math.pi)
        level, noise, seat = dice.uniform(150, 450), dice.uniform(4.0, 9.0), dice.uniform(3.0, 12.0)
        belief, ring = start(ratio=float(dice.uniform(3, 5))), 0.0
        for assembly in range(4):
            shift = dice.normal(0.0, seat)
            for spot in QUARTERS:
                value = level + k * ring + shift + wave * math.cos(math.radians(spot) - phase) + dice.normal(0.0, noise)
                low, high = belief.predict(ring, 0.0, spot, assembly).interval(0.9)
                if spot or assembly:
                    held["same" if spot else "moved"].append(low <= value <= high)
                belief = belief.observe(ring, 0.0, spot, value, assembly=assembly)
            ring += float(dice.uniform(-150, 150))
    assert np.mean(held["same"]) == pytest.approx(0.9, abs=0.05)
    assert np.mean(held["moved"]) == pytest.approx(0.9, abs=0.07)  # 180 of them: one standard error is 0.022
