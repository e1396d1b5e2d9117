"""Results: exact values, and their public lines."""

from decimal import Decimal, InvalidOperation

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gauges.reading import Fault, Reading, Status, decimals_of, exact_value, to_json


@pytest.mark.parametrize(
    ("sent", "text"),
    [
        ("+0012.345", "12.345"), ("-0.020", "-0.020"), (" .0395", "0.0395"), ("2.1380", "2.1380"), ("-0.000", "0.000"),
        ("0000000E-7", "0.0000000"), ("1234", "1234"),
    ],
)  # fmt: skip
def test_a_value_keeps_each_digit_after_the_point_and_loses_padding_and_the_sign_of_zero(sent: str, text: str) -> None:
    assert Reading(exact_value(sent), "mm").text == text


@given(digits=st.integers(0, 10**9), decimals=st.integers(0, 7), is_negative=st.booleans())
def test_text_and_value_are_the_same_number(digits: int, decimals: int, is_negative: bool) -> None:
    reading = Reading(exact_value(f"{'-' if is_negative else ''}{digits}E-{decimals}"), "in")
    assert Decimal(reading.text) == reading.value == (-digits if is_negative else digits) / Decimal(10) ** decimals
    assert reading.decimals == decimals
    assert reading.count == Decimal(1) / Decimal(10) ** decimals


def test_what_is_no_number_is_our_own_mistake_and_raises() -> None:
    with pytest.raises(InvalidOperation):
        exact_value("1 2.3")
    with pytest.raises(ValueError, match="not a finite number"):
        decimals_of(Decimal("NaN"))


def test_public_lines_have_a_channel_only_where_the_frame_has_one() -> None:
    assert to_json(Reading(Decimal("12.345"), "mm", "01", marks=("hold",))) == {"value": "12.345", "unit": "mm", "channel": "01"}
    assert to_json(Reading(Decimal("12.345"), "mm")) == {"value": "12.345", "unit": "mm"}
    assert to_json(Fault("parity", "byte B5")) == {"fault": "parity"}
    assert to_json(Status("BAT1")) == {"status": "BAT1"}


@pytest.mark.parametrize(("text", "is_low"), [("BAT0", True), ("MM B0", True), ("BAT1", False), ("KEY0", False), ("BAT0X", False)])
def test_only_the_battery_words_say_that_it_is_low(text: str, is_low: bool) -> None:
    assert Status(text).is_battery_low is is_low
