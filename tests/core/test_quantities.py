"""Exact quantities. Source of the factors: NIST SP 811 (2008), appendix B.8 (inch, pound-force inch)."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from assistant.core.errors import BadInputError, DimensionError, UnknownUnitError
from assistant.core.quantities import UNITS, Length, Quantity, Torque, quantity_from, rounded

decimals = st.decimals(min_value=-1000, max_value=1000, allow_nan=False, allow_infinity=False, places=5)


@given(decimals, st.sampled_from(sorted(UNITS)))
def test_text_to_quantity_to_text_is_the_identity(value: Decimal, unit: str) -> None:
    quantity = Quantity(value, unit)
    again = Quantity.of(quantity.text, quantity.unit)
    assert (again.text, again.unit) == (quantity.text, quantity.unit)


def test_an_inch_is_25_4_millimetres_exactly() -> None:
    assert Quantity.of("1", "in") == Quantity.of("25.4", "mm")
    assert Quantity.of("0.0065", "in").to("mm").text == "0.1651"
    assert Length.of(Quantity.of("0.00001", "in")) == Length(254)


@pytest.mark.parametrize(
    ("pound_inches", "newton_metres"),
    # NIST SP 811, B.8: pound-force inch to newton metre 1.129848 E-01; pound-force foot 1.355818 E+00.
    [("1 lb-in", "0.1129848"), ("1 lb-ft", "1.355818")],
)
def test_torque_factors_agree_with_nist(pound_inches: str, newton_metres: str) -> None:
    exact = Quantity.parse(pound_inches).number_in("N·m")
    assert abs(exact - Fraction(newton_metres)) < Fraction(1, 10**6)


@given(decimals)
def test_order_across_units_is_the_order_of_sizes(value: Decimal) -> None:
    inches = Quantity(value, "in")
    millimetres = Quantity(value * Decimal("25.4"), "mm")
    assert inches == millimetres
    assert not inches < millimetres
    assert inches < Quantity(millimetres.value + Decimal("0.0001"), "mm")


def test_a_length_is_never_compared_with_a_torque() -> None:
    assert Quantity.of("1", "in") != Quantity.of("1", "lb-in")
    with pytest.raises(DimensionError):
        assert Quantity.of("1", "in") < Quantity.of("1", "lb-in")
    with pytest.raises(DimensionError):
        Torque.of(Quantity.of("1", "mm"))


@pytest.mark.parametrize("text", ["", "0.0.6in", "1e3mm", "6,5mm", "0.006", "in", "six in", "٣ in"])
def test_text_that_is_no_quantity_is_refused(text: str) -> None:
    with pytest.raises(BadInputError):
        Quantity.parse(text)


def test_an_unknown_unit_is_named() -> None:
    with pytest.raises(UnknownUnitError, match="furlong"):
        Quantity.parse("18 furlong")


def test_a_sum_keeps_the_usual_places_and_drops_only_zeros_beyond_them() -> None:
    assert Length(838_200).quantity("in").text == "0.0330"
    assert quantity_from(Fraction(1, 3), "in").text == "0.33333"
    assert quantity_from(Fraction(-1, 10**9), "mm").text == "0.00"


@given(st.fractions(min_value=-(10**6), max_value=10**6), st.integers(0, 5))
@example(Fraction(1, 8), 2)
@example(Fraction(3, 8), 2)
@example(Fraction(-1, 8), 2)
def test_rounding_is_that_of_the_standard_librarys_fractions_halves_to_even(number: Fraction, places: int) -> None:
    assert rounded(number, places) == Decimal(round(number * 10**places)).scaleb(-places)
    assert Fraction(rounded(number, places)) == round(number, places)


@given(st.fractions(min_value=-1000, max_value=1000), st.sampled_from(sorted(UNITS)))
def test_a_sum_has_no_more_decimals_than_it_needs_between_the_usual_and_the_finest(number: Fraction, unit: str) -> None:
    known, shown = UNITS[unit], quantity_from(number, unit)
    places = -int(shown.value.as_tuple().exponent)
    assert known.places <= places <= known.finest
    assert Fraction(shown.value) == round(number, known.finest)
    assert places == known.places or int(shown.value.scaleb(places)) % 10 != 0
