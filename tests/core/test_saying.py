"""What is said aloud. The phrases are examples set down for the bench before the code was; sizes follow from 1 thou = 0.001 in."""

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.english import UNITS_SAID
from assistant.core.quantities import UNITS, Quantity
from assistant.core.saying import Style, read_back, say, say_change, say_count, say_range, say_unit

SAYABLE = re.compile(r"[a-z]+(?:-[a-z]+)?(?:,? [a-z]+(?:-[a-z]+)?)*")
STYLES: tuple[Style, ...] = ("long", "short", "digits")
FORMS = (
    "thou",
    "point_thou",
    "half",
    "quarter",
    "tenths",
    "digits",
    "digits_bare",
    "typed",
    "count",
    "point_mm",
    "hundredths",
    "point_nm",
    "bare",
)


@pytest.mark.parametrize(
    ("quantity", "spoken"),
    [
        ("0.0065in", "six point five thousandths"),
        ("0.006in", "six thousandths"),
        ("0.0060in", "six thousandths"),
        ("0.001in", "one thousandth"),
        ("0.0004in", "four tenths of a thousandth"),
        ("0.0001in", "one tenth of a thousandth"),
        ("0.00025in", "two and a half tenths"),
        ("0.00005in", "half a tenth"),
        ("0.0005in", "half a thousandth"),
        ("0.00625in", "six point two five thousandths"),
        ("0.0105in", "ten point five thousandths"),
        ("0.015in", "one five, fifteen thousandths"),
        ("0.050in", "five zero, fifty thousandths"),
        ("0.000in", "zero thousandths"),
        ("-0.002in", "minus two thousandths"),
        ("2.6250in", "two point six two five zero inches"),
        ("13.925in", "one three, thirteen point nine two five zero inches"),
        ("0.14mm", "zero point one four millimetres"),
        ("0.10mm", "zero point one zero millimetres"),
        ("0.1mm", "zero point one zero millimetres"),
        ("0.145mm", "zero point one four five millimetres"),
        ("18lb-in", "one eight, eighteen inch pounds"),
        ("9lb-in", "nine inch pounds"),
        ("1lb-in", "one inch pound"),
        ("22lb-in", "twenty two inch pounds"),
        ("118lb-in", "one one eight inch pounds"),
        ("18.5lb-in", "one eight, eighteen point five inch pounds"),
        ("125lb-ft", "one two five foot pounds"),
        ("2.1N.m", "two point one newton metres"),
        ("1.18N.m", "one point one eight newton metres"),
        ("250N.m", "two five zero, two hundred fifty newton metres"),
        ("90deg", "nine zero, ninety degrees"),
        ("3notch", "three notches"),
        ("1notch", "one notch"),
        ("1.5notch", "one and a half notches"),
        ("12.7N", "twelve point seven newtons"),
    ],
)
def test_a_quantity_is_said_the_way_the_bench_says_it(quantity: str, spoken: str) -> None:
    assert say(Quantity.parse(quantity)) == spoken


@pytest.mark.parametrize(
    ("value", "unit", "spoken"),
    [
        ("2", "0.001 in", "plus two thousandths"),
        ("-3", "0.001 in", "minus three thousandths"),
        ("0", "0.001 in", "zero thousandths"),
        ("0.5", "0.001 in", "plus half a thousandth"),
        ("5", "0.01 mm", "plus five hundredths of a millimetre"),
        ("-1", "0.01 mm", "minus one hundredth of a millimetre"),
        ("30", "0.001 mm", "plus three zero, thirty thousandths of a millimetre"),
        ("37", "1", "thirty seven"),
    ],
)
def test_an_etch_always_carries_its_sign(value: str, unit: str, spoken: str) -> None:
    assert say(Quantity.of(value, unit)) == spoken


@pytest.mark.parametrize(
    ("quantity", "style", "spoken"),
    [
        ("0.0065in", "digits", "point zero zero six five inches"),
        ("0.0065in", "short", "six point five"),
        ("2.6250in", "digits", "two point six two five zero inches"),
        ("13.925in", "digits", "one three point nine two five zero inches"),
        ("9lb-in", "digits", "zero nine inch pounds"),
        ("18lb-in", "digits", "one eight inch pounds"),
        ("18lb-in", "short", "one eight, eighteen"),
        ("0.14mm", "digits", "zero point one four millimetres"),
        ("0.00025in", "short", "two and a half tenths"),
    ],
)
def test_a_slow_repeat_is_in_digits_and_a_short_one_is_the_number_alone(quantity: str, style: Style, spoken: str) -> None:
    assert say(Quantity.parse(quantity), style) == spoken


@pytest.mark.parametrize(
    ("quantity", "heard", "spoken"),
    [
        ("0.0065in", "digits", "six point five thousandths"),
        ("0.0065in", "half", "six point five thousandths"),
        ("0.0065in", "point_thou", "six and a half thousandths"),
        ("0.0037in", "point_thou", "point zero zero three seven inches"),
        ("0.006in", "thou", "point zero zero six zero inches"),
        ("0.006in", "digits", "six thousandths"),
        ("0.015in", "thou", "one five, fifteen thousandths"),
        ("0.0004in", "tenths", "point zero zero zero four inches"),
        ("0.0004in", "digits", "four tenths of a thousandth"),
        ("0.14mm", "digits", "one four, fourteen hundredths of a millimetre"),
        ("0.14mm", "hundredths", "zero point one four millimetres"),
        ("18lb-in", "count", "one eight, eighteen inch pounds"),
        ("18lb-in", "digits_bare", "one eight, eighteen inch pounds"),
        ("9lb-in", "digits_bare", "nine inch pounds"),
        ("9lb-in", "count", "zero nine inch pounds"),
        ("118lb-in", "count", "one one eight inch pounds"),
        ("118lb-in", "digits", "one hundred eighteen inch pounds"),
    ],
)
def test_a_read_back_has_another_form_than_was_heard(quantity: str, heard: str, spoken: str) -> None:
    assert read_back(Quantity.parse(quantity), heard) == spoken


@pytest.mark.parametrize(
    ("low", "high", "spoken"),
    [
        ("0.003in", "0.007in", "three to seven thousandths"),
        ("0.001in", "0.007in", "one to seven thousandths"),
        ("0.0005in", "0.007in", "half a thousandth to seven thousandths"),
        ("0.0060in", "0.0100in", "six to one zero, ten thousandths"),
        ("13lb-in", "30lb-in", "one three, thirteen, to three zero, thirty inch pounds"),
        ("160lb-ft", "200lb-ft", "one six zero to two zero zero foot pounds"),
        ("0.10mm", "0.20mm", "zero point one zero to zero point two zero millimetres"),
        ("0.006in", "0.0060in", "six thousandths"),
        ("0.095in", "0.125in", "ninety five thousandths to zero point one two five zero inches"),
    ],
)
def test_a_range_names_its_unit_once_where_it_is_one(low: str, high: str, spoken: str) -> None:
    assert say_range(Quantity.parse(low), Quantity.parse(high)) == spoken


def test_a_change_is_said_without_its_sign() -> None:
    assert say_change(Quantity.parse("-0.002in")) == "two thousandths"
    assert say_change(Quantity.of("-3", "0.001 in")) == "three thousandths"
    assert say_change(Quantity.parse("-3notch")) == "three notches"


def test_counts_are_plain_numbers() -> None:
    assert [say_count(number) for number in (0, 18, -2, 100, 4096)] == [
        "zero",
        "eighteen",
        "minus two",
        "one hundred",
        "four thousand ninety six",
    ]


def test_every_unit_of_the_quantities_has_its_words() -> None:
    assert set(UNITS) <= set(UNITS_SAID)
    assert all(SAYABLE.fullmatch(say_unit(unit)) for unit in UNITS)


anything = st.builds(Quantity, st.decimals(-(10**7), 10**7, places=5) | st.decimals(-1, 1, places=5), st.sampled_from(sorted(UNITS)))


@given(anything, st.sampled_from(STYLES), st.sampled_from(FORMS))
def test_only_letters_blanks_commas_and_hyphens_are_ever_said(quantity: Quantity, style: Style, form: str) -> None:
    for spoken in (say(quantity, style), read_back(quantity, form), say_change(quantity), say_range(quantity, quantity)):
        assert SAYABLE.fullmatch(spoken), spoken


@given(anything, anything)
def test_a_range_of_anything_can_be_said(low: Quantity, high: Quantity) -> None:
    assert SAYABLE.fullmatch(say_range(low, high))


@given(st.integers(-(10**7), 10**7))
def test_two_counts_are_never_said_alike(number: int) -> None:
    assert say_count(number) != say_count(number + 1)
    assert say(Quantity(Decimal(number), "1")) != say(Quantity(Decimal(number + 1), "1"))


def test_a_bare_number_is_read_back_in_full() -> None:
    assert read_back(Quantity.parse("0.005in"), "bare") == "five thousandths of an inch"
    assert read_back(Quantity.parse("0.0005in"), "bare") == "half a thousandth of an inch"
    assert read_back(Quantity.parse("0.0004in"), "bare") == "four tenths of a thousandth"
