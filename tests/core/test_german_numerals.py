"""German number words against a library of number words, and what of them is no number.

Sources: num2words 0.5.14 (language "de") for every count; the examples of the spelling rules are Duden's, from memory.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from assistant.core.german_numerals import (
    count_words,
    digit_words,
    folded,
    is_number_word,
    number_from,
    plain_figures,
    sounds_like_another,
    with_half,
    with_unit,
)
from assistant.core.number import Number, RunOn, Shape


def read(text: str) -> Number | RunOn | None:
    return number_from(folded(text).split())


def value(text: str) -> Fraction | None:
    found = read(text)
    return found.value if isinstance(found, Number) else None


def test_every_count_is_said_as_the_library_says_it() -> None:
    assert [count_words(number) for number in range(10_000)] == [num2words(number, lang="de") for number in range(10_000)]


def test_every_count_of_the_library_is_read_as_itself() -> None:
    assert [value(num2words(number, lang="de")) for number in range(10_000)] == list(range(10_000))


def test_no_two_counts_share_a_word() -> None:
    assert len({count_words(number) for number in range(10_000)}) == 10_000


@given(st.integers(10_000, 999_999))
def test_a_larger_count_is_said_as_the_library_says_it(number: int) -> None:
    assert count_words(number) == num2words(number, lang="de")


def test_from_a_million_on_a_number_is_spelt() -> None:
    assert count_words(1_000_000) == "eins null null null null null null"


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("hundertfünfundzwanzig", 125),
        ("hundert fünfundzwanzig", 125),
        ("hundert fünf und zwanzig", 125),
        ("ein hundert fünfundzwanzig", 125),
        ("zwei hundert", 200),
        ("ein und zwanzig", 21),
        ("einund zwanzig", 21),
        ("hundertundeins", 101),
        ("hundert eins", 101),
        ("tausend", 1000),
        ("fuenfundzwanzig", 25),
        ("dreissig", 30),
        ("ZWÖLF", 12),
        ("zwo\u0308lf", 12),
    ],
)
def test_a_count_may_be_cut_or_spelt_as_recognisers_and_keyboards_do(text: str, number: int) -> None:
    assert value(text) == number


@pytest.mark.parametrize(
    "text",
    [
        "fünf zehn",
        "zwanzig fünf",
        "drei und vier",
        "eins zwanzig",
        "hundert fünf zehn",
        "zehn hundert",
        "Komma",
        "null Komma",
        "zwei Komma fünf Komma eins",
        "zwei Komma fünf zwanzig",
        "zwei Komma hundert",
        "halb zwei",
    ],
)
def test_words_that_can_be_more_than_one_number_are_none(text: str) -> None:
    assert isinstance(read(text), RunOn)


@pytest.mark.parametrize("text", ["", "Zoll", "zwei Zoll", "und", "Hundertstel"])
def test_other_words_are_no_number(text: str) -> None:
    assert read(text) is None


@pytest.mark.parametrize(
    ("text", "number", "places"),
    [
        ("null Komma acht", "0.8", 1),
        ("null Komma null null acht", "0.008", 3),
        ("zwei Komma fünf", "2.5", 1),
        ("Komma zwei null", "0.20", 2),
        ("null Komma vierzehn", "0.14", 2),
        ("null Komma null vierzehn", "0.014", 3),
        ("einundvierzig Komma zwei acht", "41.28", 2),
        ("null Komma zwo eins", "0.21", 2),
        ("vier eins, einundvierzig Komma zwei acht".replace(",", ""), "41.28", 2),
        ("0 Komma 2 0", "0.20", 2),
    ],
)
def test_decimals_are_told_figure_by_figure_or_as_one_number_of_two_figures(text: str, number: str, places: int) -> None:
    found = read(text)
    assert isinstance(found, Number)
    assert (found.value, found.places, found.shape) == (Fraction(number), places, Shape.DECIMAL)


@given(st.integers(0, 999), st.text("0123456789", min_size=1, max_size=5))
def test_every_decimal_that_is_spelt_is_read_with_all_its_figures(whole: int, decimals: str) -> None:
    found = read(f"{count_words(whole)} {digit_words(f'.{decimals}')}")
    assert isinstance(found, Number)
    assert (found.value, found.places) == (Fraction(f"{whole}.{decimals}"), len(decimals))


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("sechseinhalb", "6.5"),
        ("sechs einhalb", "6.5"),
        ("sechs und ein halb", "6.5"),
        ("sechs ein halb", "6.5"),
        ("anderthalb", "1.5"),
        ("eineinhalb", "1.5"),
        ("dreieinviertel", "3.25"),
        ("sechs drei viertel", "6.75"),
        ("einundzwanzigeinhalb", "21.5"),
        ("6 und ein halb", "6.5"),
    ],
)
def test_halves_and_quarters_are_mixed_numbers(text: str, number: str) -> None:
    found = read(text)
    assert isinstance(found, Number)
    assert (found.value, found.shape) == (Fraction(number), Shape.MIXED)


@pytest.mark.parametrize("text", ["halb", "ein halbes", "eine halbe", "einhalb"])
def test_a_half_alone_is_a_part(text: str) -> None:
    assert read(text) == Number(Fraction(1, 2), Shape.PART)


@given(st.integers(0, 300))
def test_a_half_is_read_as_it_is_said(whole: int) -> None:
    number, unit = with_half(whole, "notch")
    assert unit in ("Raste", "Rasten")
    assert value(number) == whole + Fraction(1, 2)


def test_spelt_figures_keep_their_count_and_a_leading_zero() -> None:
    found = read("null fünf")
    assert isinstance(found, Number)
    assert (found.value, found.shape, found.digits, found.leading_zero) == (5, Shape.DIGITS, 2, True)


def test_figures_and_the_same_count_behind_them_are_one_number_and_others_none() -> None:
    assert value("drei fünf fünfunddreißig") == 35
    assert isinstance(read("drei fünf dreiundfünfzig"), RunOn)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("0,20", "0.20"),
        ("0.20", "0.20"),
        ("12.5", "12.5"),
        ("12,5", "12.5"),
        ("0.125", "0.125"),
        ("1,234", "1.234"),
        (",5", ".5"),
        ("18.", "18."),
        ("66.6825", "66.6825"),
        ("1234.567", "1234.567"),
    ],
)
def test_a_comma_is_the_decimal_mark_and_a_point_where_it_can_be_no_thousands(typed: str, meant: str) -> None:
    assert plain_figures(typed) == meant


@pytest.mark.parametrize("typed", ["1.234", "12.500", "250.000", "1.234,5", "1,234.5", "1.234.567", "1,2,3"])
def test_figures_that_can_be_read_in_two_ways_are_no_number(typed: str) -> None:
    assert "," in plain_figures(typed)
    assert not is_number_word(plain_figures(typed))


@given(st.integers(1, 999), st.integers(0, 999))
def test_no_thousands_are_ever_read_as_decimals(thousands: int, rest: int) -> None:
    assert not is_number_word(plain_figures(f"{thousands}.{rest:03d}"))


@pytest.mark.parametrize(
    ("number", "unit", "said"), [("eins", "Zollpfund", "ein Zollpfund"), ("eins", "Raste", "eine Raste"), ("zwei", "Rasten", "zwei Rasten")]
)
def test_one_has_its_gender_before_a_unit(number: str, unit: str, said: str) -> None:
    assert with_unit(number, unit) == said


def test_counts_whose_figures_are_said_the_other_way_round_carry_them() -> None:
    assert [number for number in range(113) if sounds_like_another(number)] == list(range(13, 100))
    assert sounds_like_another(113)
    assert not sounds_like_another(210)
