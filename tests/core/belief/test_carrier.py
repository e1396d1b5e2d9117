"""The carrier's sides: published shim pairs, the drag sum, and what each side does."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.belief.carrier import CarrierBelief, ring_move, tightness
from assistant.core.belief.normal import Normal
from assistant.core.belief.priors import POUND_INCH

WRENCH = 0.06
moves = st.floats(-500, 500)


@pytest.mark.parametrize(
    ("before", "after", "move", "preload", "source"),
    [
        ((0.250, 0.265), (0.244, 0.279), 0.010, 0.008, "GM M1009, TM 9-2320-289-34, p. 6-19 ff.: .010 away, .004 a side"),
        ((0.0, 0.0), (0.002, -0.002), -0.002, 0.0, "Pontiac Firebird 1998: +.002 ring side, -.002 opposite closes the lash"),
    ],
)
def test_published_shim_pairs_move_and_squeeze_as_printed(
    before: tuple[float, float], after: tuple[float, float], move: float, preload: float, source: str
) -> None:
    ring, opposite = after[0] - before[0], after[1] - before[1]
    assert ring_move(ring, opposite) == pytest.approx(move), source
    assert tightness(ring, opposite) == pytest.approx(preload, abs=1e-12), source


def test_tightening_the_ring_side_alone_moves_the_ring_half_as_far_towards_the_pinion() -> None:
    """Geometry: with equal bearings on both sides the case settles half way."""
    assert ring_move(1.0, 0.0, per=63.5) == pytest.approx(-63.5 / 2)
    assert ring_move(1.0, -1.0, per=63.5) == pytest.approx(-63.5)


@given(moves, moves, st.floats(1.0, 100.0))
def test_what_one_side_loses_and_the_other_gains_moves_the_ring_and_leaves_the_preload(ring: float, swap: float, per: float) -> None:
    assert tightness(ring - swap, swap) == pytest.approx(tightness(ring, 0.0), abs=1e-9)
    assert ring_move(ring - swap, swap, per) - ring_move(ring, 0.0, per) == pytest.approx(per * swap, abs=1e-6)


def test_the_total_is_the_pinions_drag_and_the_carriers_share() -> None:
    """An invented axle by hand: 14 lb-in of carrier drag at 41/11 add 3.76 to a pinion's 21.8: 25.6."""
    belief = CarrierBelief.side_shims(41 / 11, 7_200.0)
    for _ in range(3):
        belief = belief.observe_carrier(0.0, 7_200.0, 14 * POUND_INCH, 0.01, assembly=1)
    total = belief.predict_total(0.0, 7_200.0, Normal(21.8 * POUND_INCH, 0.01), WRENCH)
    assert total.mean / POUND_INCH == pytest.approx(25.6, abs=0.25)


def test_a_total_teaches_the_carriers_own_drag_and_the_seal_is_left_out_of_it() -> None:
    """A new pinion seal adds 0.2 N·m (BMW E36 type K): with it in the total, the carrier's share is what remains."""
    pinion = Normal(2.0, 0.02)
    with_seal = CarrierBelief.adjusters(4.0, seal=Normal(0.2, 0.02)).observe_total(1.0, 1.0, 2.7, 0.03, pinion, assembly=1)
    assert with_seal.predict_carrier(1.0, 1.0, 0.05).mean == pytest.approx(0.5 * 4.0, abs=0.25)
    assert with_seal.predict_total(1.0, 1.0, pinion, 0.03).mean == pytest.approx(2.7, abs=0.06)


def test_one_notch_more_on_either_side_adds_the_same_drag() -> None:
    belief = CarrierBelief.adjusters(4.0).observe_carrier(1.0, 1.0, 2.0, WRENCH, assembly=1)
    assert belief.predict_carrier(2.0, 1.0, WRENCH).mean == belief.predict_carrier(1.0, 2.0, WRENCH).mean
    assert belief.predict_carrier(2.0, 1.0, WRENCH).mean > belief.predict_carrier(1.0, 1.0, WRENCH).mean
    learned = belief.explain()
    assert learned.slope.mean > 0
    assert learned.slope_at_pinion.mean == pytest.approx(learned.slope.mean / 4.0)
    assert learned.readings == 1


def test_before_any_reading_the_carrier_adds_what_manuals_say_it_adds() -> None:
    """At the pinion 2-4 lb-in (TM 5-3805-260-24), 0.4-0.6 N·m (Toyota Supra): all within two spreads of what is expected."""
    belief = CarrierBelief.adjusters(3.9)
    added = belief.predict_total(1.0, 1.0, Normal(1.0, 0.001), 0.001)
    low, high = added.interval(0.95)
    for figure in (2 * POUND_INCH, 4 * POUND_INCH, 0.4, 0.6):
        assert low <= 1.0 + figure <= high


def test_a_ratio_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="ratio"):
        CarrierBelief.adjusters(0.0)
