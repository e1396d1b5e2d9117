"""What a step can hear. The table of forms is written by hand, as a technician is taught them: value, unit, and every way of saying it."""

from collections.abc import Iterable
from decimal import Decimal

import pytest

from assistant.core import english
from assistant.core.axle import LARGE_QUANTITIES
from assistant.core.errors import BadInputError, DimensionError
from assistant.core.grammar import heard_values, phrases, spoken_forms, units_of, value_set, vocabulary
from assistant.core.quantities import Quantity
from assistant.core.words import Choice, Command, Expectation, Value, understand

READING = ("take", "zero the gauge", "change unit", "help", "why", "go back", "repeat", "undo", "stop", "hold")
CONFIRM = ("yes", "no", "repeat", "undo", "stop", "hold")
LARGE_AROUND = {"in": Quantity.of("2.6250", "in"), "mm": Quantity.of("66.68", "mm")}
SPOKEN = [(quantity, unit) for quantity in english.QUANTITY_NAMES if not quantity.startswith("pattern") for unit in units_of(quantity)]


def grammar_of(quantity: str, unit: str) -> tuple[Expectation, tuple[tuple[str, Value | Command | Choice], ...]]:
    expected = Expectation(quantity, unit, signed=quantity.startswith("etch"), commands=READING)
    around = LARGE_AROUND[unit] if quantity in LARGE_QUANTITIES else None
    return expected, phrases(expected, heard_values(quantity, unit, around))


def words_in(listed: Iterable[tuple[str, object]]) -> frozenset[str]:
    return frozenset(word for words, _ in listed for word in words.split())


@pytest.mark.parametrize(
    ("value", "unit", "spoken"),
    [
        ("0.0065", "in", ["six and a half thou", "six point five thou", "point zero zero six five", "zero zero six five"]),
        ("0.0060", "in", ["six thou", "six thousandths", "six point zero thou", "point zero zero six zero", "zero zero six zero"]),
        ("0.0005", "in", ["half a thou", "zero point five thou", "point zero zero zero five", "zero zero zero five", "five tenths"]),
        ("0.0010", "in", ["one thou", "one thousandths", "one thousandth", "one point zero thou", "point zero zero one zero"]),
        ("0.0004", "in", ["four tenths", "zero point four thou", "point zero zero zero four", "zero zero zero four"]),
        ("0.0001", "in", ["one tenth", "zero point one thou", "point zero zero zero one"]),
        ("0.0300", "in", ["thirty thou", "thirty thousandths", "thirty point zero thou", "point zero three zero zero"]),
        ("0.00625", "in", ["six and a quarter thou"]),
        ("0.00675", "in", ["six and three quarters thou"]),
        ("2.6250", "in", ["two point six two five zero", "two point six two five zero inches"]),
        ("0.14", "mm", ["zero point one four millimetres", "zero point one four", "fourteen hundredths"]),
        ("0.01", "mm", ["zero point zero one millimetres", "zero point zero one", "one hundredth"]),
        ("66.68", "mm", ["sixty six point six eight", "sixty six point six eight millimetres"]),
        ("2.1", "N·m", ["two point one newton metres", "two point one"]),
        ("18", "lb-in", ["eighteen inch pounds", "one eight inch pounds", "one eight"]),
        ("9", "lb-in", ["nine inch pounds", "zero nine inch pounds", "zero nine"]),
        (
            "125",
            "lb-ft",
            ["one hundred twenty five foot pounds", "one hundred and twenty five foot pounds", "one two five foot pounds", "one two five"],
        ),
        ("18.5", "lb-in", ["eighteen and a half inch pounds"]),
        ("0.5", "notch", ["half a notch"]),
        ("37", "1", ["thirty seven", "three seven"]),
        ("0.00075", "in", ["three quarters of a thou"]),
        ("90", "deg", ["ninety degrees", "nine zero degrees", "nine zero"]),
        ("1", "notch", ["one notch", "one"]),
        ("3", "notch", ["three notches", "three"]),
        ("2", "0.001 in", ["plus two", "plus two thou", "plus two thousandths"]),
        ("-3", "0.01 mm", ["minus three", "minus three hundredths"]),
        ("0", "0.001 in", ["zero"]),
        ("-0.0020", "in", ["minus two thou", "minus point zero zero two zero"]),
    ],
)
def test_a_value_is_heard_in_every_taught_form(value: str, unit: str, spoken: list[str]) -> None:
    assert set(spoken) <= {words for _, words in spoken_forms(Quantity.of(value, unit))}


@pytest.mark.parametrize(
    ("quantity", "unit", "count", "low", "high"),
    [
        ("backlash", "in", 60, "0.0005", "0.0300"),
        ("ring_runout", "in", 99, "0.0001", "0.0099"),
        ("backlash", "mm", 99, "0.01", "0.99"),
        ("pinion_drag", "lb-in", 59, "2", "60"),
        ("pinion_drag", "N·m", 99, "0.1", "9.9"),
        ("nut_torque", "lb-ft", 241, "10", "250"),
        ("angle", "deg", 180, "1", "180"),
        ("notches", "notch", 10, "0", "9"),
    ],
)
def test_the_values_of_a_step_are_every_one_of_its_range(quantity: str, unit: str, count: int, low: str, high: str) -> None:
    values = value_set(quantity, unit)
    assert (len(values), values[0].text, values[-1].text) == (count, low, high)
    assert list(values) == sorted(set(values))


@pytest.mark.parametrize(("quantity", "unit"), SPOKEN)
def test_every_phrase_means_to_the_parser_what_it_means_to_the_recogniser(quantity: str, unit: str) -> None:
    expected, heard = grammar_of(quantity, unit)
    assert len(heard) > 20
    for words, meaning in heard:
        understood = understand(words, expected)
        assert understood == meaning, words
        if isinstance(meaning, Value) and isinstance(understood, Value):
            assert (understood.words, understood.form) == (meaning.words, meaning.form), words


def test_all_ways_of_saying_one_size_are_one_meaning() -> None:
    heard = dict(grammar_of("backlash", "in")[1])
    assert heard["six and a half thou"] == heard["point zero zero six five"] == heard["six point five thou"]
    assert len({meaning for meaning in heard.values() if isinstance(meaning, Value)}) == 60 + 1  # and none at all
    assert {meaning.name for meaning in heard.values() if isinstance(meaning, Command)} == set(READING)


@pytest.mark.parametrize(("quantity", "unit"), SPOKEN)
def test_every_value_of_a_step_can_be_heard(quantity: str, unit: str) -> None:
    _, heard = grammar_of(quantity, unit)
    around = LARGE_AROUND[unit] if quantity in LARGE_QUANTITIES else None
    assert {meaning.quantity for _, meaning in heard if isinstance(meaning, Value)} == set(heard_values(quantity, unit, around))


@pytest.mark.parametrize(("quantity", "unit"), SPOKEN)
def test_every_word_that_can_be_heard_is_in_the_vocabulary_and_oh_is_not(quantity: str, unit: str) -> None:
    words = words_in(grammar_of(quantity, unit)[1])
    assert words <= vocabulary()
    assert words.isdisjoint(english.ZERO_IN_TEXT)


@pytest.mark.parametrize(("value", "unit"), [("2.62505", "in"), ("0.145", "mm"), ("1.18", "N·m"), ("1.5", "0.01 mm")])
def test_a_value_between_the_steps_has_no_form_that_is_listened_for(value: str, unit: str) -> None:
    assert spoken_forms(Quantity.of(value, unit)) == ()


def test_the_vocabulary_holds_plain_words_only() -> None:
    assert all(word.isalpha() and word.islower() and word.isascii() for word in vocabulary())
    assert vocabulary().isdisjoint(english.ZERO_IN_TEXT)


def test_a_confirm_hears_its_words_and_nothing_else() -> None:
    heard = {words for words, _ in phrases(Expectation("backlash", None, commands=CONFIRM))}
    assert heard == {"yes", "that is right", "no", "wrong", "measure again", "repeat", "undo", "stop", "hold"}


def test_a_reading_step_hears_no_yes_and_no_no() -> None:
    words = {words for words, _ in grammar_of("backlash", "in")[1]}
    assert words.isdisjoint({"yes", "no", "that is right", "wrong", "measure again", "correct"})
    assert {"take", "help", "why", "go back", "repeat", "undo", "stop", "hold"} <= words


def test_commands_that_name_something_are_heard_with_every_name() -> None:
    expected = Expectation("backlash", "in", commands=("go back", "correct"), steps=("measure-pinion-drag",))
    heard = dict(phrases(expected, ()))
    assert heard["correct backlash"] == Command("correct", "backlash")
    assert heard["go back to measure pinion drag"] == Command("go back", "measure-pinion-drag")
    assert "correct" not in heard
    assert all(understand(words, expected) == meaning for words, meaning in heard.items())


def test_choices_are_heard_as_they_are_spelt() -> None:
    choices = tuple(f"{length} {depth}" for length in english.PATTERN_LENGTHWISE for depth in english.PATTERN_DEPTHWISE)
    expected = Expectation("pattern_drive", None, choices=(*choices, english.PATTERN_UNCLEAR), commands=("stop",))
    heard = dict(phrases(expected))
    assert heard == {choice: Choice(choice) for choice in expected.choices} | {"stop": Command("stop")}
    assert words_in(heard.items()) <= vocabulary()


def test_an_alarm_hears_measure_again_as_its_choice() -> None:
    heard = dict(phrases(Expectation(None, None, choices=english.ALARM_CHOICES, commands=("stop",))))
    assert heard["measure again"] == Choice("measure again")


def test_values_given_by_the_caller_are_the_only_ones_heard() -> None:
    only = (Quantity.of("0.0065", "in"),)
    heard = phrases(Expectation("backlash", "in"), only)
    assert {meaning.quantity for _, meaning in heard if isinstance(meaning, Value)} == set(only)


def test_a_large_size_is_heard_around_what_is_expected() -> None:
    assert value_set("pinion_depth", "in") == ()
    near = value_set("pinion_depth", "in", Quantity.of("2.6250", "in"), Quantity.of("0.0020", "in"))
    assert (near[0].text, near[-1].text, len(near)) == ("2.6130", "2.6370", 241)  # six spreads of twenty steps, both sides
    assert [value.unit for value in value_set("pinion_depth", "mm", Quantity.of("2.6250", "in"))][:1] == ["mm"]


def test_an_expected_value_outside_the_usual_range_brings_its_surroundings() -> None:
    values = value_set("nut_torque", "lb-ft", Quantity.of("400", "lb-ft"))
    assert {Decimal(10), Decimal(250), Decimal(300), Decimal(400), Decimal(500)} <= {value.value for value in values}
    assert value_set("nut_torque", "lb-ft", Quantity.of("180", "lb-ft")) == value_set("nut_torque", "lb-ft")


def test_a_quantity_or_unit_that_is_not_spoken_is_named() -> None:
    with pytest.raises(BadInputError, match="'weather' is no spoken reading"):
        value_set("weather", "in")
    with pytest.raises(BadInputError, match="backlash is not spoken in lb-in: expected one of in, mm"):
        value_set("backlash", "lb-in")
    with pytest.raises(DimensionError):
        value_set("pinion_depth", "in", Quantity.of("18", "lb-in"))
