"""Drag: the direction of each kind of shim from the manuals, a finer brute-force grid as reference, and how often it is right."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from assistant.core.belief import drag as module
from assistant.core.belief.drag import RISE, DragBelief
from assistant.core.belief.normal import Normal
from assistant.core.belief.priors import POUND_INCH, torque_spread

THOU = 25.4
WRENCH = 0.06


def test_a_thicker_spacer_between_the_cones_is_looser() -> None:
    """Meritor MM-15103: thicker spacer, less preload."""
    belief = DragBelief.spacer(13_335.0).observe(13_335.0, 25 * POUND_INCH, WRENCH, 1)
    assert belief.predict(13_335.0 + THOU, WRENCH).mean < belief.predict(13_335.0, WRENCH).mean
    assert belief.slope(13_335.0).mean < 0.0


def test_a_thicker_shim_outside_the_cups_is_tighter_by_about_what_a_manual_says() -> None:
    """Land Rover Discovery II: about 1 N·m per 0.025 mm at its 4 to 6 N·m. The prior, told one reading there, must hold that figure."""
    belief = DragBelief.outside_shims(1_000.0, first=Normal(5.0, 2.0)).observe(1_000.0, 5.0, 0.1, 1)
    slope = belief.slope(1_000.0).scaled(25.0)
    assert slope.mean > 0.0
    assert abs(slope.z(1.0)) < 2.0


def test_a_second_pack_teaches_the_slope() -> None:
    """An invented heavy axle, worked by hand: .5245 in gives 34 lb-in, .5255 gives 22: 12 lb-in per thou."""
    belief = DragBelief.spacer(0.5245 * 25_400)
    belief = belief.observe(0.5245 * 25_400, 34 * POUND_INCH, WRENCH, 1).observe(0.5255 * 25_400, 22 * POUND_INCH, WRENCH, 2)
    learned = belief.explain()
    slope = learned.slope.scaled(THOU / POUND_INCH)
    between = belief.slope(0.5250 * 25_400).scaled(THOU / POUND_INCH)
    assert between.mean == pytest.approx(-12.0, abs=1.0)
    assert abs(slope.mean) < abs(between.mean), "it bends: less slope where it is looser"
    assert learned.readings == 2
    assert belief.predict(0.5258 * 25_400, WRENCH).mean / POUND_INCH == pytest.approx(18.6, abs=1.0)


def test_the_grid_agrees_with_a_much_finer_one() -> None:
    """Reference: the same law and priors on 200 × 4 × 3 × 3 × 2,000 evenly spaced points, summed by brute force with scipy's normal density."""
    belief = DragBelief.spacer(13_335.0)
    readings = [(13_335.0, 3.1), (13_360.0, 1.9)]
    for assembly, (at, value) in enumerate(readings):
        belief = belief.observe(at, value, WRENCH, assembly)
    new = 13_350.0
    steps = np.linspace(-2.4, 2.4, 200)
    contact = np.linspace(13_335.0 - 300.0, 13_335.0 + 400.0, 2_000)
    total, moments = 0.0, np.zeros(2)
    for bend, bend_weight in module._BENDS:
        for floor, floor_weight in module._floors([]):
            for step in steps:
                reach = 48.0 * 1.35**step

                def law(at: float, reach: float = reach, bend: float = bend, floor: float = floor) -> tuple[np.ndarray, np.ndarray]:
                    share = np.maximum((contact - at) / reach, 1e-9)
                    return floor + RISE * share**bend, np.where(contact > at, RISE * bend * share ** (bend - 1) / reach, 0.0)

                weight = np.exp(-0.5 * step**2) * bend_weight * floor_weight * norm.pdf(contact, 13_390.0, 70.0)
                weight = weight * norm.pdf(law(13_335.0)[0], belief.first.mean, belief.first.spread)
                for factor, factor_weight in module._SCATTERS:
                    here = weight * factor_weight
                    for at, value in readings:
                        mean, slope = law(at)
                        here = here * norm.pdf(value, mean, factor * np.hypot(WRENCH, slope * belief.seating))
                    mean, slope = law(new)
                    total += here.sum()
                    second = mean**2 + factor**2 * (WRENCH**2 + (slope * belief.seating) ** 2)
                    moments += [(here * mean).sum(), (here * second).sum()]
    mean, second = moments / total
    found = belief.predict(new, WRENCH)
    assert found.mean == pytest.approx(mean, abs=0.1 * found.spread)
    assert found.spread == pytest.approx(math.sqrt(second - mean**2), rel=0.1)


def test_below_contact_there_is_only_the_floor() -> None:
    belief = DragBelief.spacer(13_335.0)
    for assembly, at in enumerate((13_335.0, 13_310.0)):
        belief = belief.observe(at, 3.5 * POUND_INCH, WRENCH, assembly)
    assert belief.predict(13_600.0, WRENCH).mean == pytest.approx(3.5 * POUND_INCH, abs=0.15)
    assert belief.contact_now.mean < 13_320.0


def test_a_sleeve_gets_tighter_with_every_degree() -> None:
    belief = DragBelief.sleeve()
    for angle, pounds in ((30.0, 3.5), (40.0, 6.0), (46.0, 12.0)):
        belief = belief.observe(angle, pounds * POUND_INCH, WRENCH, int(angle))
    means = [belief.predict(angle, WRENCH).mean for angle in (46.0, 48.0, 50.0, 54.0)]
    assert means == sorted(means)
    assert belief.slope(46.0).mean > 0.0
    overshoot = [1.0 - belief.predict(angle, WRENCH).below(29 * POUND_INCH) for angle in (46.0, 50.0, 56.0, 70.0)]
    assert overshoot == sorted(overshoot)
    assert overshoot[0] < 0.01
    assert overshoot[-1] > 0.9


def test_the_outlooks_chances_and_quantiles_are_those_of_its_mixture() -> None:
    """Reference: scipy's normal law, summed part by part."""
    outlook = DragBelief.spacer(13_335.0).observe(13_335.0, 2.5, WRENCH, 1).predict(13_350.0, WRENCH)
    expected = sum(w * norm.cdf(2.0, m, s) for w, m, s in zip(outlook.weights, outlook.means, outlook.spreads, strict=True))
    assert outlook.below(2.0) == pytest.approx(expected, abs=1e-9)
    low, high = outlook.interval(0.9)
    assert outlook.chance(low, high) == pytest.approx(0.9, abs=0.002)
    assert outlook.chance(3.0, 1.0) == 0.0
    assert outlook.weights.sum() == pytest.approx(1.0)


def test_repeats_of_one_assembly_are_averaged() -> None:
    once = DragBelief.spacer(13_335.0).observe(13_335.0, 2.0, WRENCH / math.sqrt(2), 1)
    twice = DragBelief.spacer(13_335.0).observe(13_335.0, 1.9, WRENCH, 1).observe(13_335.0, 2.1, WRENCH, 1)
    assert twice.predict(13_350.0, WRENCH).mean == pytest.approx(once.predict(13_350.0, WRENCH).mean)


@settings(max_examples=15, deadline=None)
@given(st.permutations([(13_335.0, 3.0, 1), (13_350.0, 2.0, 2), (13_360.0, 1.6, 3)]))
def test_the_order_of_readings_does_not_matter_bit_for_bit(taken: list[tuple[float, float, int]]) -> None:
    belief, sorted_belief = DragBelief.spacer(13_335.0), DragBelief.spacer(13_335.0)
    for at, value, assembly in taken:
        belief = belief.observe(at, value, WRENCH, assembly)
    for at, value, assembly in sorted(taken, key=lambda reading: reading[2]):
        sorted_belief = sorted_belief.observe(at, value, WRENCH, assembly)
    assert belief == sorted_belief
    assert belief.predict(13_340.0, WRENCH).mean == sorted_belief.predict(13_340.0, WRENCH).mean


def test_the_best_candidate_is_between_too_tight_and_too_loose() -> None:
    belief = DragBelief.spacer(13_335.0).observe(13_335.0, 40 * POUND_INCH, WRENCH, 1)
    packs = [13_335.0 + 0.5 * THOU * step for step in range(12)]
    chances = belief.chances(packs, 16 * POUND_INCH, 29 * POUND_INCH, WRENCH)
    best = chances.index(max(chances))
    assert 0 < best < len(packs) - 1
    assert chances[0] < 0.05
    assert all(0.0 <= chance <= 1.0 for chance in chances)


def test_a_reading_without_any_uncertainty_is_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        DragBelief.sleeve().observe(10.0, 1.0, 0.0)


def test_nine_tenths_of_the_next_drags_fall_in_the_middle_nine_tenths() -> None:
    """Virtual bearings with other constants than the grid's (bend 1.1 to 1.7, reach 33 to 82 µm, floor 1 to 6 lb-in); 90 ± 5 %."""
    dice = np.random.default_rng(5)
    held = []
    for _ in range(80):
        reach, bend, floor = 52.0 * math.exp(dice.uniform(-0.45, 0.45)), dice.uniform(1.1, 1.7), dice.uniform(1, 6) * POUND_INCH
        contact, seat = dice.uniform(13_360.0, 13_420.0), dice.uniform(1.0, 6.0)
        pack = 13_335.0
        belief = DragBelief.spacer(pack)
        for assembly in range(4):
            true = floor + RISE * (max(contact - pack + dice.normal(0, seat), 0.0) / reach) ** bend
            value = true + dice.normal(0.0, torque_spread(true))
            if assembly:
                low, high = belief.predict(pack, torque_spread(value)).interval(0.9)
                held.append(low <= value <= high)
            belief = belief.observe(pack, value, torque_spread(value), assembly)
            packs = [pack + 0.5 * THOU * step for step in range(-10, 11) if step]
            chances = belief.chances(packs, 16 * POUND_INCH, 29 * POUND_INCH, WRENCH)
            pack = packs[chances.index(max(chances))]
    assert np.mean(held) == pytest.approx(0.9, abs=0.05)
