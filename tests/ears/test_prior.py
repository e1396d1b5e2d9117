"""The prior of a reading: a bell on a floor."""

import math

import pytest

from assistant.core.errors import DimensionError
from assistant.core.quantities import Quantity
from assistant.core.words import Command, Value
from assistant.ears.prior import FLOOR, around


def value(text: str) -> Value:
    return Value(Quantity.parse(text), "", "")


def test_it_is_a_normal_bell_on_its_floor() -> None:
    likely = around(Quantity.parse("0.0065in"), Quantity.parse("0.001in"))
    for deviations in (0, 1, 2, 3):
        expected = FLOOR + (1 - FLOOR) * math.exp(-(deviations**2) / 2)
        assert likely(value(f"0.00{65 + 10 * deviations}in")) == pytest.approx(expected)
        assert likely(value(f"{0.0065 - 0.001 * deviations:.4f}in")) == pytest.approx(expected)


def test_units_of_one_dimension_are_one() -> None:
    inches = around(Quantity.parse("0.0100in"), Quantity.parse("0.001in"))
    millimetres = around(Quantity.parse("0.254mm"), Quantity.parse("0.0254mm"))
    assert inches(value("0.0090in")) == pytest.approx(millimetres(value("0.0090in")))


def test_nothing_is_ruled_out() -> None:
    likely = around(Quantity.parse("0.0065in"), Quantity.parse("0.0001in"))
    assert likely(value("0.03in")) == pytest.approx(FLOOR)
    assert likely(Command("undo")) == FLOOR
    assert likely(value("18lb-in")) == FLOOR


def test_a_deviation_that_is_none_is_our_mistake() -> None:
    with pytest.raises(ValueError, match="more than zero"):
        around(Quantity.parse("0.0065in"), Quantity.parse("0in"))
    with pytest.raises(DimensionError):
        around(Quantity.parse("0.0065in"), Quantity.parse("1lb-in"))
