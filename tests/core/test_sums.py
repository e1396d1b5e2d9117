"""The sums of the trade against published worked examples; each names its page. Laws (signs, round trips) by hypothesis."""

import math
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assistant.core.errors import BadInputError, DimensionError, ImpossibleValueError
from assistant.core.quantities import Force, Length, Quantity, Torque
from assistant.core.sums import carrier, depth, drag, figures, mesh, wave
from assistant.core.sums.carrier import SideShims


def length(text: str) -> Length:
    return Length.of(Quantity.parse(text))


def lengths(text: str) -> list[Length]:
    return [length(part) for part in text.split(",")]


def torque(text: str) -> Torque:
    return Torque.of(Quantity.parse(text))


def force(text: str) -> Force:
    return Force.of(Quantity.parse(text))


some_lengths = st.integers(-2_000_000, 2_000_000).map(Length)
thicknesses = st.integers(500_000, 12_700_000).map(Length)
ratios = st.tuples(st.integers(30, 60), st.integers(5, 20)).map(lambda teeth: mesh.tooth_ratio(*teeth))
layouts = st.sampled_from(sorted(depth.LAY))
etch_signs = st.sampled_from(["away", "toward"])


# Depth


@pytest.mark.parametrize(
    ("layout", "sign", "old_shim", "etch_old", "etch_new", "unit", "new_shim", "source"),
    [
        ("flange", "away", "0.030in", 2, 5, "0.001 in", "0.033in", "Doosan D120 p. 26, example 1"),
        ("flange", "away", "0.030in", -2, 5, "0.001 in", "0.037in", "Doosan D120 p. 26, example 2"),
        ("flange", "away", "0.030in", 2, -5, "0.001 in", "0.023in", "Doosan D120 p. 26, example 3"),
        ("flange", "away", "0.030in", -2, -5, "0.001 in", "0.027in", "Doosan D120 p. 26, example 4"),
        ("head-cup", "away", "0.030in", 2, 5, "0.001 in", "0.027in", "Meritor MM-15103 p. 25, Table A example 1"),
        ("head-cone", "away", "3.21mm", 2, -1, "0.01 mm", "3.24mm", "Nissan M35/M45 front final drive, Pinion Gear Height"),
        ("head-cone", "away", "3.30mm", 2, -1, "0.01 mm", "3.33mm", "Subaru Impreza 2003 DI-45"),
        ("head-cone", "toward", "0.019in", 0, 2, "0.001 in", "0.021in", "TM 9-2320-289-34 p. 6-37, example (b)"),
        ("head-cone", "toward", "0.031in", 0, -3, "0.001 in", "0.028in", "TM 9-2320-289-34 p. 6-37, example (c)"),
    ],
)
def test_etched_pinions_get_the_shim_of_the_manual(
    layout: str, sign: str, old_shim: str, etch_old: int, etch_new: int, unit: str, new_shim: str, source: str
) -> None:
    old, new = depth.etch_length(etch_old, unit), depth.etch_length(etch_new, unit)
    assert length(old_shim) + depth.shim_change_for_etch(layout, sign, old, new) == length(new_shim), source


@given(etch_signs, some_lengths, some_lengths)
def test_a_flange_and_a_head_side_seat_get_opposite_changes(sign: str, old: Length, new: Length) -> None:
    change = depth.shim_change_for_etch("flange", sign, old, new)
    assert depth.shim_change_for_etch("head-cup", sign, old, new) == -change
    assert depth.shim_change_for_etch("head-cone", sign, old, new) == -change


@given(layouts, some_lengths, some_lengths)
def test_the_two_meanings_of_a_plus_give_opposite_changes(layout: str, old: Length, new: Length) -> None:
    away, toward = (depth.shim_change_for_etch(layout, sign, old, new) for sign in ("away", "toward"))
    assert away == -toward


@given(layouts, etch_signs, some_lengths, some_lengths)
def test_changing_the_pinion_back_brings_the_old_shim_back(layout: str, sign: str, old: Length, new: Length) -> None:
    assert depth.shim_change_for_etch(layout, sign, old, new) == -depth.shim_change_for_etch(layout, sign, new, old)


@given(layouts, etch_signs, some_lengths, some_lengths, thicknesses)
def test_the_etch_sum_is_the_depth_sum_of_the_two_targets(layout: str, sign: str, old: Length, new: Length, nominal: Length) -> None:
    # 4.1 and 4.2 of the trade are one thing seen twice: the old pinion stood at its target, the new one is to stand at its own.
    targets = [depth.target_depth(nominal, etch, sign) for etch in (old, new)]
    assert depth.shim_change_for_depth(layout, targets[0], targets[1]) == depth.shim_change_for_etch(layout, sign, old, new)


@pytest.mark.parametrize(
    ("nominal", "etch", "unit", "target", "source"),
    [
        ("3.500in", 3, "0.001 in", "3.503in", "Spicer Single Speed p. 15"),
        ("72.70mm", 18, "0.01 mm", "72.88mm", "Porsche 928 sheet 39-15"),
        ("78.00mm", -8, "0.01 mm", "77.92mm", "Daewoo B20S-2, Pinion Depth Check"),
    ],
)
def test_a_plus_etch_lengthens_the_mounting_distance(nominal: str, etch: int, unit: str, target: str, source: str) -> None:
    assert depth.target_depth(length(nominal), depth.etch_length(etch, unit), "away") == length(target), source


@pytest.mark.parametrize(
    ("layout", "found", "target", "change", "source"),
    [
        ("flange", "66.22mm", "66.32mm", "0.10mm", "Porsche 911 1972, sheet with gauge example"),
        ("head-cup", "78.10mm", "77.92mm", "0.18mm", "Daewoo B20S-2, Pinion Depth Check"),
    ],
)
def test_a_measured_depth_gets_the_change_of_the_manual(layout: str, found: str, target: str, change: str, source: str) -> None:
    assert depth.shim_change_for_depth(layout, length(found), length(target)) == length(change), source


def test_a_depth_from_the_plane_of_the_caps_is_carried_to_the_centre_of_the_bore() -> None:
    # Geometry, numbers chosen: halves of 39.80 and 40.10 make a radius of 39.95, so the centre lies 0.15 on the cap side of the plane.
    radius = depth.bore_radius(length("39.80mm"), length("40.10mm"))
    offset = depth.centre_offset(length("39.80mm"), radius)
    assert (radius, offset) == (length("39.95mm"), length("-0.15mm"))
    assert depth.depth_from_plane(length("60.00mm"), offset) == length("60.15mm")


def test_two_bores_are_averaged_and_the_etch_taken_off() -> None:
    # Mazda RX-8 2004 and Mazda6 supplement (M-60): (0.06 + 0.04) / 2 - 2/100 = +0.03, positive: thicker.
    etch = depth.etch_length(2, "0.01 mm")
    assert depth.shim_change_for_bores("head-cone", length("0.06mm"), length("0.04mm"), etch, "away") == length("0.03mm")


@pytest.mark.parametrize(
    ("mounting", "parts", "etch", "sign", "shim", "source"),
    [
        ("283.50mm", "235.00mm,47.63mm", "0.10mm", "away", "0.77mm", "Meritor 17X p. 16, step 1.3"),
        ("160.50mm", "127.00mm,32.00mm", "0.05mm", "away", "1.45mm", "Doosan GC33E-5 p. 58"),
        ("77.50mm", "75.45mm", "0.20mm", "toward", "2.25mm", "BMW R1150GS rear drive, input pinion spacer"),
        ("153.57mm", "56.24mm,96.00mm", "0mm", "away", "1.33mm", "ZF 5HP19FL p. 1.4/22"),
        ("221.10mm", "181.00mm,39.10mm", "0mm", "away", "1.00mm", "Hyundai HL955 p. 3-233, example A"),
        ("143.95mm", "40.00mm,101.95mm", "0mm", "away", "2.00mm", "Suzuki SX4 3C-12"),
        ("135.54mm", "119.00mm,16.00mm,-0.45mm", "0mm", "away", "0.99mm", "Porsche 996 sheet 39-222"),
    ],
)
def test_a_chain_of_sizes_leaves_the_shim_of_the_manual(mounting: str, parts: str, etch: str, sign: str, shim: str, source: str) -> None:
    assert depth.shim_from_chain(length(mounting), lengths(parts), length(etch), sign) == length(shim), source


@pytest.mark.parametrize(
    ("trial", "feeler", "etch", "constant", "shim", "source"),
    [
        ("3.40mm", "0.23mm", 1, "0.20mm", "3.42mm", "Subaru Legacy 2003 DI-33"),
        ("0.15mm", "0.10mm", 0, "0.05mm", "0.20mm", "Subaru Legacy 2003 DI-50"),
        ("0mm", "0.50mm", 2, "0.20mm", "0.28mm", "Datsun 521 PD-10"),
    ],
)
def test_a_feeler_gives_the_shim_of_the_maker(trial: str, feeler: str, etch: int, constant: str, shim: str, source: str) -> None:
    found = depth.shim_from_feeler(length(feeler), length(trial), depth.etch_length(etch, "0.01 mm"), length(constant))
    assert found == length(shim), source


def test_a_shim_below_nothing_is_refused() -> None:
    with pytest.raises(ImpossibleValueError, match="thinner than nothing"):
        depth.shim_from_chain(length("10mm"), lengths("9mm,2mm"), Length(0), "away")


def test_an_unknown_seat_sign_or_etch_unit_is_refused_with_what_is_known() -> None:
    with pytest.raises(BadInputError, match="expected flange, head-cone, head-cup"):
        depth.shim_change_for_depth("tail", Length(0), Length(0))
    with pytest.raises(BadInputError, match="expected away or toward"):
        depth.target_depth(Length(0), Length(0), "plus")
    with pytest.raises(BadInputError, match=r"0\.001 in, 0\.01 mm, 0\.001 mm"):
        depth.etch_length(3, "mm")


# Mesh


def test_the_factor_of_a_straight_tooth_is_the_shop_rule_of_seven_tenths() -> None:
    # Geometry: 2 tan 20° sin(atan 3.73) = 0.703; the spiral of 35° divides by its cosine: 0.858.
    straight = mesh.k_ring(Fraction(20), Fraction(0), Fraction("3.73"))
    assert abs(straight - Fraction("0.703")) <= Fraction(1, 1000)
    assert abs(mesh.k_pinion(straight, Fraction("3.73")) - Fraction("0.1885")) <= Fraction(1, 2000)
    assert abs(mesh.k_ring(Fraction(20), Fraction(35), Fraction("3.73")) - Fraction("0.858")) <= Fraction(1, 1000)


@given(st.integers(10, 30), st.integers(0, 50), ratios)
def test_the_factor_is_what_two_retreating_flanks_open(pressure: int, spiral: int, ratio: Fraction) -> None:
    """Derived afresh with numpy from vectors: the ring's axial unit move, the normal of a flank, and the slack along the pitch circle."""
    cone, psi, phi = np.arctan(float(ratio)), np.radians(spiral), np.radians(pressure)
    # At the pitch point: x along the pitch cone's element, y along the pitch circle, z square to the pitch plane.
    move = np.array([np.cos(cone), 0.0, np.sin(cone)])
    slack = 0.0
    for flank in (1.0, -1.0):
        normal = np.array([np.sin(psi) * np.cos(phi) * flank, np.cos(psi) * np.cos(phi) * flank, np.sin(phi)])
        slack += float(move @ normal) / (float(np.cos(psi) * np.cos(phi)))
    assert abs(float(mesh.k_ring(Fraction(pressure), Fraction(spiral), ratio)) - slack) <= 0.5e-4 + 1e-9


@pytest.mark.parametrize(
    ("change", "k", "move", "source"),
    [
        ("0.003in", "0.75", "0.004in", "Ford Mustang 2014, 205-02, backlash table"),
        ("0.015in", "0.75", "0.020in", "Ford Mustang 2014, 205-02, backlash table"),
        ("-0.001in", "0.5", "-0.002in", "Pontiac Firebird 1998, backlash adjustment"),
    ],
)
def test_a_change_of_backlash_needs_the_move_of_the_manual(change: str, k: str, move: str, source: str) -> None:
    assert mesh.ring_move_for(length(change), Fraction(k)) == length(move), source


def test_toyotas_shim_step_gives_toyotas_change() -> None:
    # Toyota Supra MA70 RA-38: a swap of 0.03 mm changes backlash by 0.02 mm.
    assert mesh.ring_move_for(length("0.02mm"), Fraction(2, 3)) == length("0.03mm")


def test_notches_are_counted_to_the_nearest() -> None:
    # Spicer SHAIS150A p. 5: 0.003 in per notch; readings chosen.
    assert mesh.notches_for(length("-0.009in"), length("0.003in")) == -3
    assert mesh.notches_for(length("0.010in"), length("0.003in")) == 3
    assert mesh.notches_for(length("-0.010in"), length("0.0028in")) == -4


def test_half_a_notch_is_decided_for_the_wider_mesh() -> None:
    assert mesh.notches_for(length("0.0045in"), length("0.003in")) == 2
    assert mesh.notches_for(length("-0.0045in"), length("0.003in")) == -1


@given(some_lengths, st.integers(10_000, 200_000).map(Length))
def test_what_notches_leave_is_at_most_half_a_notch(change: Length, per_notch: Length) -> None:
    left = change - per_notch.times(mesh.notches_for(change, per_notch))
    assert abs(left).nanometres * 2 <= per_notch.nanometres


def test_a_yoke_reading_is_carried_to_the_ring() -> None:
    # Geometry: 0.028 * 4.4 / (2.0 * 3.73) = 0.0165 in.
    found = mesh.backlash_from_yoke(length("0.028in"), length("2.0in"), length("4.4in"), Fraction("3.73"))
    assert abs(found - length("0.0165in")) <= length("0.0001in")


@pytest.mark.parametrize(("ring", "pinion"), [(37, 0), (9, 37), (0, 0)])
def test_tooth_counts_that_no_axle_has_are_refused(ring: int, pinion: int) -> None:
    with pytest.raises(ImpossibleValueError, match="teeth"):
        mesh.tooth_ratio(ring, pinion)


@pytest.mark.parametrize(("pressure", "spiral", "ratio"), [("0", "35", "4"), ("45", "35", "4"), ("20", "60", "4"), ("20", "35", "0.24")])
def test_angles_and_ratios_that_no_gear_has_are_refused(pressure: str, spiral: str, ratio: str) -> None:
    with pytest.raises(ImpossibleValueError, match=r"expected|1 or more"):
        mesh.k_ring(Fraction(pressure), Fraction(spiral), Fraction(ratio))


def test_a_move_needs_a_factor_and_a_notch_that_do_something() -> None:
    with pytest.raises(ImpossibleValueError, match="factor"):
        mesh.ring_move_for(length("0.003in"), Fraction(0))
    with pytest.raises(ImpossibleValueError, match="per notch"):
        mesh.notches_for(length("0.003in"), Length(0))
    with pytest.raises(ImpossibleValueError, match="radius"):
        mesh.backlash_from_yoke(length("0.028in"), Length(0), length("4.4in"), Fraction(4))


# Readings round a turn

readings_round = st.lists(st.integers(50_000, 800_000).map(Length), min_size=3, max_size=12)


def test_audis_four_readings_have_audis_mean_and_pass() -> None:
    # Audi A4 Cabriolet 0A3, Measuring backlash: 0.28, 0.30, 0.30, 0.28: mean 0.29, variation 0.02, at most 0.06 allowed.
    stats = wave.backlash_stats(lengths("0.28mm,0.30mm,0.30mm,0.28mm"))
    assert (stats.mean, stats.variation) == (length("0.29mm"), length("0.02mm"))
    assert (stats.minimum, stats.maximum) == (length("0.28mm"), length("0.30mm"))
    # By symmetry the wave is highest half way between the second and the third reading, at 135°; half its swing is 0.01 * sqrt 2.
    assert stats.high_spot_deg == Decimal("135.0")
    assert abs(stats.first_harmonic.nanometres - 10_000 * math.sqrt(2)) <= 0.5


@given(readings_round)
def test_the_wave_is_numpys_least_squares_sine(readings: Sequence[Length]) -> None:
    turns = 2 * np.pi * np.arange(len(readings)) / len(readings)
    sizes = np.array([float(r.nanometres) for r in readings])
    (_, cosine, sine), *_ = np.linalg.lstsq(np.column_stack([np.ones_like(turns), np.cos(turns), np.sin(turns)]), sizes, rcond=None)
    found = wave.backlash_stats(readings)
    assert abs(found.first_harmonic.nanometres - np.hypot(cosine, sine)) <= 0.51
    spectrum = np.fft.rfft(sizes)
    assert abs(found.first_harmonic.nanometres - 2 * abs(spectrum[1]) / len(readings)) <= 0.51
    if found.first_harmonic.nanometres > 100:
        assert found.high_spot_deg is not None
        off = (float(found.high_spot_deg) - np.degrees(np.arctan2(sine, cosine)) + 180) % 360 - 180
        assert abs(off) <= 0.06
    assert abs(found.mean.nanometres - float(np.mean(sizes))) <= 0.51


@given(readings_round, st.integers(0, 11))
def test_starting_at_another_spot_turns_only_the_high_spot(readings: list[Length], start: int) -> None:
    start %= len(readings)
    one, other = wave.wave_of(readings), wave.wave_of(readings[start:] + readings[:start])
    assert (one.minimum, one.mean, one.maximum, one.variation) == (other.minimum, other.mean, other.maximum, other.variation)
    assert abs(one.first_harmonic - other.first_harmonic) <= Length(1)
    if one.first_harmonic > Length(100):
        assert one.high_spot_deg is not None
        assert other.high_spot_deg is not None
        turned = float(one.high_spot_deg) - float(other.high_spot_deg) - 360 * start / len(readings)
        assert abs((turned + 180) % 360 - 180) <= 0.15


def test_equal_readings_have_no_high_spot() -> None:
    assert wave.wave_of(lengths("0.2mm,0.2mm,0.2mm,0.2mm,0.2mm")).high_spot_deg is None


@given(readings_round)
def test_the_high_spot_lies_within_one_turn(readings: list[Length]) -> None:
    high_spot = wave.wave_of(readings).high_spot_deg
    assert high_spot is None or 0 <= high_spot < 360


@pytest.mark.parametrize("readings", ["0in,0in,0in,0in", "0.008in,0in,0.007in", "0.008in,-0.001in,0.007in"])
def test_zero_is_not_a_backlash(readings: str) -> None:
    # Rule in Ford 8.8 inch manuals (zero backlash step): open the mesh and read again.
    with pytest.raises(ImpossibleValueError, match="jammed"):
        wave.backlash_stats(lengths(readings))


def test_fewer_than_three_spots_say_nothing_of_a_turn() -> None:
    with pytest.raises(BadInputError, match="three or more"):
        wave.wave_of(lengths("0.2mm,0.3mm"))


def limits(low: str, high: str, variation: str) -> dict[str, Quantity | None]:
    names = {"low": low, "high": high, "variation": variation}
    return {name: Quantity.parse(text) if text else None for name, text in names.items()}


@pytest.mark.parametrize(
    ("readings", "low", "high", "variation", "judge", "passes"),
    [
        ("0.28mm,0.30mm,0.30mm,0.28mm", "", "", "0.06mm", "mean", True),
        ("0.006in,0.010in,0.008in", "0.006in", "0.010in", "0.004in", "all", True),
        ("0.0059in,0.008in,0.008in", "0.006in", "0.010in", "0.004in", "all", False),
        ("0.006in,0.0101in,0.008in", "0.006in", "0.010in", "", "all", False),
        ("0.006in,0.0101in,0.008in", "0.006in", "0.010in", "", "minimum", True),
        ("0.0101in,0.011in,0.0102in", "0.006in", "0.010in", "", "minimum", False),
        ("0.005in,0.007in,0.009in", "0.006in", "0.010in", "", "mean", True),
        ("0.005in,0.007in,0.009in", "0.006in", "0.010in", "0.0039in", "mean", False),
        ("0.1524mm,0.254mm,0.2mm", "0.006in", "0.010in", "", "all", True),
    ],
)
def test_limits_are_inclusive_and_the_judge_says_what_must_lie_between(
    readings: str, low: str, high: str, variation: str, judge: str, passes: bool
) -> None:
    sizes = [Quantity.parse(text) for text in readings.split(",")]
    assert wave.is_backlash_in_spec(sizes, **limits(low, high, variation), judge=judge) is passes


def test_a_mean_just_outside_a_limit_is_not_rounded_in() -> None:
    # The mean of these three is 0.0100033… in: a rounded mean would pass.
    sizes = [Quantity.parse(text) for text in ("0.01in", "0.01in", "0.01001in")]
    assert not wave.is_backlash_in_spec(sizes, **limits("", "0.010in", ""), judge="mean")


def test_no_reading_and_no_known_judge_are_refused() -> None:
    with pytest.raises(BadInputError, match="at least one"):
        wave.is_backlash_in_spec([], low=None, high=None, variation=None)
    with pytest.raises(BadInputError, match="expected minimum, mean, all"):
        wave.is_backlash_in_spec([Quantity.parse("1mm")], low=None, high=None, variation=None, judge="median")


# Carrier


def test_side_shims_move_and_then_take_half_of_the_preload_each() -> None:
    # TM 9-2320-289-34 p. 6-19, Table 6-1: .250/.265 at no play and no backlash, move .010, .004 each side: .244/.279.
    found = carrier.side_shims_after(SideShims(length("0.250in"), length("0.265in")), length("0.010in"), preload=length("0.008in"))
    assert (found.ring_side, found.opposite, found.total) == (length("0.244in"), length("0.279in"), length("0.523in"))


def test_the_porsche_pack_is_split_with_its_bias() -> None:
    # Porsche 996 sheet 39-228: 5.00 + 0.75 + 0.40 = 6.15; halves of 3.075 less and more 0.70.
    zero_play = carrier.zero_play_total([length("5.00mm")], length("0.75mm"))
    total = zero_play + length("0.40mm")
    half = total.times(Fraction(1, 2))
    found = carrier.side_shims_after(SideShims(half, half), length("0.70mm"))
    assert (total, found.ring_side, found.opposite) == (length("6.15mm"), length("2.375mm"), length("3.775mm"))


def test_dummies_and_the_dial_make_the_total_without_play() -> None:
    # Dodge Durango 2000 p. 3-52, steps 14-15; the dial's .042 was chosen.
    assert carrier.zero_play_total(lengths("0.118in,0.118in"), length("0.042in")) == length("0.278in")


def test_a_step_rounds_the_sides_in_opposite_directions() -> None:
    # Ford Mustang 2014, 205-02: 0.010 in at k 0.75 is 0.0133, in the table 0.014 in (steps of 0.002 in); both packs chosen.
    move = mesh.ring_move_for(length("0.010in"), Fraction("0.75"))
    found = carrier.side_shims_after(SideShims(length("0.250in"), length("0.260in")), move, step=length("0.002in"))
    assert (found.ring_side, found.opposite) == (length("0.236in"), length("0.274in"))


packs = st.builds(SideShims, thicknesses, thicknesses)
steps = st.none() | st.sampled_from([Length(25_400), Length(50_000), Length(50_800)])


@given(packs, some_lengths, steps)
def test_a_backlash_move_never_changes_the_sum(shims: SideShims, move: Length, step: Length | None) -> None:
    assume(min(shims.ring_side - move, shims.opposite + move) > Length(60_000))
    after = carrier.side_shims_after(shims, move, step=step)
    assert after.total == shims.total
    assert abs(after.ring_side - (shims.ring_side - move)).nanometres * 2 <= (step.nanometres if step else 0)


def test_side_packs_below_nothing_and_steps_of_nothing_are_refused() -> None:
    with pytest.raises(ImpossibleValueError, match="thinner than nothing"):
        carrier.side_shims_after(SideShims(length("0.010in"), length("0.200in")), length("0.020in"))
    with pytest.raises(ImpossibleValueError, match="step"):
        carrier.side_shims_after(SideShims(length("0.1in"), length("0.2in")), length("0.02in"), step=Length(0))


def test_the_caps_spread_as_in_the_manual() -> None:
    # Meritor MM-15103 p. 43, Table D.
    assert carrier.cap_spread(length("13.927in"), length("13.932in")) == length("0.005in")


def test_a_spread_of_nothing_or_less_is_no_measurement() -> None:
    with pytest.raises(ImpossibleValueError, match="to the last digit"):
        carrier.cap_spread(length("13.925in"), length("13.925in"))
    with pytest.raises(ImpossibleValueError, match="swapped"):
        carrier.cap_spread(length("13.932in"), length("13.927in"))


# Drag


@pytest.mark.parametrize(
    ("pull", "radius", "expected", "within", "source"),
    [
        ("5lbf", "3in", "15lb-in", "0.01lb-in", "TM 5-3895-359-14&P p. 5-16"),
        ("12.7N", "37.8mm", "0.48N.m", "0.005N.m", "Subaru Legacy rear differential service data (VA)"),
        ("32.2N", "37.8mm", "1.22N.m", "0.005N.m", "Subaru Legacy rear differential service data (VA)"),
    ],
)
def test_a_pull_on_a_cord_is_the_torque_of_the_manual(pull: str, radius: str, expected: str, within: str, source: str) -> None:
    found = drag.drag_from_pull(force(pull), length(radius))
    off = abs(found.micronewton_metres - torque(expected).micronewton_metres)
    assert off <= torque(within).micronewton_metres, source


def test_the_carriers_share_is_divided_by_the_ratio() -> None:
    # TM 5-3805-260-24 p. 3-243 (the carrier adds 2 to 4 lb-in at the pinion); 22 + 12/4.1 + 2 = 26.93, numbers chosen.
    share = drag.carrier_drag_at_pinion(torque("12lb-in"), Fraction("4.1"))
    assert torque("2lb-in") < share < torque("4lb-in")
    total = drag.total_drag(torque("22lb-in"), torque("12lb-in"), Fraction("4.1"), torque("2lb-in"))
    assert total.quantity("lb-in").text == "26.93"


@given(st.integers(0, 15_000_000).map(Torque), ratios)
def test_no_power_is_lost_between_carrier_and_pinion(carrier_drag: Torque, ratio: Fraction) -> None:
    at_pinion = drag.carrier_drag_at_pinion(carrier_drag, ratio)
    assert abs(at_pinion.micronewton_metres * ratio - carrier_drag.micronewton_metres) <= ratio / 2


@pytest.mark.parametrize(
    ("text", "offer"),
    [
        ("300N.m", "3.0 N·m"),
        ("30lb-ft", "30 lb-in"),
        ("2000N.m", "at most"),
        ("131lb-in", "at most"),
        ("0N.m", "more than nothing"),
        ("3mm", "torque"),
    ],
)
def test_a_drag_that_cannot_be_names_the_unit_that_was_likely_meant(text: str, offer: str) -> None:
    reason = drag.why_no_drag(Quantity.parse(text))
    assert reason is not None
    assert offer in reason


@pytest.mark.parametrize("text", ["18lb-in", "3N.m", "130lb-in", "1.5lb-ft"])
def test_a_drag_of_an_axle_is_let_through(text: str) -> None:
    assert drag.why_no_drag(Quantity.parse(text)) is None


def test_a_spacer_between_the_cones_is_thinned_by_play_and_squeeze() -> None:
    # Volkswagen 01M, Adjusting pinion shaft: 3.00 - 0.93 - 0.12 - 0.10 = 1.85.
    found = drag.spacer_between_cones(length("3.00mm"), length("0.93mm"), length("0.12mm"), length("0.10mm"))
    assert found == length("1.85mm")


def test_impossible_drags_and_spacers_are_refused() -> None:
    with pytest.raises(ImpossibleValueError, match="never negative"):
        drag.drag_from_pull(force("-5lbf"), length("3in"))
    with pytest.raises(ImpossibleValueError, match="never negative"):
        drag.carrier_drag_at_pinion(torque("-1lb-in"), Fraction(4))
    with pytest.raises(ImpossibleValueError, match="never negative"):
        drag.total_drag(torque("-1lb-in"), torque("1lb-in"), Fraction(4))
    with pytest.raises(ImpossibleValueError, match="nothing is left"):
        drag.spacer_between_cones(length("1mm"), length("0.93mm"), length("0.12mm"))


# One quantity printed twice


@pytest.mark.parametrize(
    ("one", "other", "agrees", "source"),
    [
        ("0.005in", "0.12mm", True, "TM 9-2320-280-34 p. 19-12: exact is 0.127"),
        ("20lb-in", "2.3N.m", True, "Chevrolet C/K 1988, 8-1/2 inch axle"),
        ("25lb-in", "2.8N.m", True, "Chevrolet C/K 1988, 8-1/2 inch axle"),
        ("1.757in", "40.0mm", False, "Suzuki SX4 3C-12: 40.0 mm is 1.575 in"),
        ("0.003in", "0.068mm", False, "invented: overlaps, but 10.8 % apart"),
        ("0.030in", "0.72mm", False, "invented: 5.5 % apart, but no last digit covers it"),
    ],
)
def test_a_printed_pair_agrees_or_not(one: str, other: str, agrees: bool, source: str) -> None:
    assert figures.agree(Quantity.parse(one), Quantity.parse(other)) is agrees, source
    assert figures.agree(Quantity.parse(other), Quantity.parse(one)) is agrees, source


@given(st.decimals(min_value=Decimal("0.5"), max_value=100, places=3), st.integers(3, 4))
def test_a_figure_agrees_with_its_own_conversion(value: Decimal, places: int) -> None:
    inches = Quantity(value, "in")
    assert figures.agree(inches, Quantity(round(value * Decimal("25.4"), places), "mm"))


def test_what_a_last_digit_leaves_open_is_half_of_it_either_way() -> None:
    assert figures.left_open(Quantity.parse("0.30mm")) == (Fraction(295_000), Fraction(305_000))
    assert figures.left_open(Quantity.parse("20mm")) == (Fraction(19_500_000), Fraction(20_500_000))


def test_two_kinds_of_quantity_are_no_pair() -> None:
    with pytest.raises(DimensionError, match="cannot be one quantity"):
        figures.agree(Quantity.parse("1in"), Quantity.parse("1N.m"))
    assert figures.agree(Quantity.parse("0in"), Quantity.parse("0mm"))
