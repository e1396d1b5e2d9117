"""Where a number lies between its limits: places by hand, and the laws that hold for any number."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.axle import Limits
from assistant.core.belief.normal import Normal
from assistant.core.predictions import Prediction
from assistant.core.quantities import Quantity
from assistant.screen.scale import Axis, axis_for, scale
from tests.strategies import quantities

BACKLASH = Limits(Quantity.of("0.0060", "in"), Quantity.of("0.0100", "in"))


def expecting(value: str, spread: str, unit: str = "in") -> Prediction:
    return Prediction(Quantity.of(value, unit), Quantity.of(spread, unit), Normal(0.0, 1.0))


@pytest.mark.parametrize(
    ("value", "at"),
    # The axis runs three quarters of the span to either side: from 0.0030 to 0.0130, so a thousandth is 100 (by hand).
    # For 0.0030 it is made longer by a twentieth, to 0.0025: 0.0005 of 0.0105 is 48 thousandths.
    [("0.0060", 300), ("0.0100", 700), ("0.0080", 500), ("0.0085", 550), ("0.0030", 48)],
)
def test_a_number_is_drawn_where_it_lies_between_its_limits(value: str, at: int) -> None:
    found = scale(Quantity.of(value, "in"), BACKLASH, "in")
    assert found is not None
    assert found["value"]["at"] == at
    assert (found["low"]["text"], found["high"]["text"]) == ("0.0060", "0.0100")


def test_the_limits_are_compared_inclusive_and_across_units() -> None:
    # 0.0100 in is 0.254 mm exactly (25.4 mm to the inch).
    for value, unit, where in (("0.254", "mm", "inside"), ("0.2541", "mm", "above"), ("0.1524", "mm", "inside"), ("0.1523", "mm", "below")):
        found = scale(Quantity.of(value, unit), BACKLASH, "in")
        assert found is not None
        assert found["where"] == where


def test_a_slip_of_the_decimal_point_lies_off_the_paper_and_leaves_the_limits_readable() -> None:
    found = scale(Quantity.of("0.065", "in"), BACKLASH, "in")
    assert found is not None
    assert (found["value"]["at"], found["value"]["off"], found["where"], found["by"]) == (1000, True, "above", "0.0550")
    assert found["high"]["at"] - found["low"]["at"] >= 200


def test_an_upper_limit_alone_starts_from_nothing() -> None:
    found = scale(Quantity.of("0.0020", "in"), Limits(high=Quantity.of("0.0040", "in")), "in")
    assert found is not None
    assert found["low"] is None
    assert (found["high"]["at"], found["value"]["at"], found["where"]) == (571, 286, "inside")  # 4/7 and 2/7 of the axis


def test_a_lower_limit_alone_has_it_in_the_middle() -> None:
    found = scale(Quantity.of("9", "lb-in"), Limits(low=Quantity.of("10", "lb-in")), "lb-in")
    assert found is not None
    assert (found["low"]["at"], found["where"], found["by"]) == (500, "below", "1")


def test_one_figure_for_both_limits_has_room_to_either_side() -> None:
    torque = Quantity.of("75", "lb-ft")
    found = scale(torque, Limits(torque, torque), "lb-ft")
    assert found is not None
    assert (found["low"]["at"], found["high"]["at"], found["value"]["at"], found["where"]) == (500, 500, 500, "inside")


def test_without_limits_what_is_expected_stands_in_the_middle() -> None:
    found = scale(None, None, "in", expecting("0.0082", "0.0006"))
    assert found is not None
    assert (found["expected"]["at"], found["expected"]["from"], found["expected"]["to"]) == (500, 417, 583)  # a spread is a twelfth
    assert found["where"] is None


def test_nothing_known_draws_nothing() -> None:
    assert scale(Quantity.of("1", "in"), None, "in") is None
    assert axis_for(Limits()) is None


def test_limits_can_be_shifted_to_how_a_number_is_read() -> None:
    shift = Quantity.of("0.0020", "in").base
    found = scale(Quantity.of("0.0115", "in"), BACKLASH, "in", shift=shift)
    assert found is not None
    assert (found["low"]["text"], found["high"]["text"], found["where"]) == ("0.0080", "0.0120", "inside")


@given(quantities(("in", "mm")), st.integers(1, 400), st.integers(0, 300))
def test_any_number_is_on_the_paper_and_is_told_to_be_where_the_verdict_has_it(value: Quantity, low: int, more: int) -> None:
    limits = Limits(Quantity.of(f"{low / 10000:.4f}", "in"), Quantity.of(f"{(low + more) / 10000:.4f}", "in"))
    found = scale(value, limits, "in")
    assert found is not None
    places = [found[name]["at"] for name in ("low", "value", "high")]
    assert all(0 <= place <= 1000 for place in places)
    assert (found["where"] == "inside") == limits.allows(value)
    if found["where"] == "inside":
        assert places == sorted(places)
    assert found["value"]["text"] == value.text


# No axis is shorter than a nanometre, one base unit (`axis_for`).
@given(st.fractions(-1000, 1000), st.fractions(1, 1000), st.fractions(-3000, 3000))
def test_an_axis_keeps_the_order_of_what_is_on_it(low: Fraction, length: Fraction, size: Fraction) -> None:
    axis = Axis(low, low + length)
    assert axis.place(low) == 0
    assert axis.place(low + length) == 1000
    assert axis.place(size) <= axis.place(size + length / 3)
    assert abs(axis.place_of_belief(float(size)) - axis.place(size)) <= 1
    assert axis.holds(size) == (low <= size <= low + length)
