"""Spoken words → quantities. The spoken forms are written down by hand, as a technician says them; their values follow from the units:
a thou is 0.001 in, a tenth of it 0.0001 in (common practice, no source), 1 mm holds a hundred hundredths and a thousand microns (SI)."""

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core import english
from assistant.core.grammar import phrases, value_set
from assistant.core.quantities import UNITS, Quantity
from assistant.core.saying import Style, read_back, say
from assistant.core.words import Choice, Command, Expectation, Unclear, Value, understand

AT_CONFIRM = Expectation(None, None, commands=("yes", "no", "repeat", "undo", "hold", "stop"))
AT_DONE = Expectation(None, None, commands=("done", "repeat", "why", "help", "undo", "go back", "correct", "hold", "stop"))
AT_CAUTION = Expectation(None, None, commands=("understood", "repeat", "why", "help", "hold", "stop"))
AT_ALARM = Expectation(None, None, choices=("nut not torqued", "nothing found", "measure again"), commands=("repeat", "why", "stop"))
AT_PATTERN = Expectation("pattern_drive", None, choices=("toe root", "centre middle", "heel tip", "unclear"), commands=("repeat", "stop"))
READING_COMMANDS = ("take", "repeat", "why", "what do you have", "help", "undo", "go back", "correct", "hold", "stop")
QUANTITY_AT = {
    "in": "backlash", "mm": "backlash", "lb-in": "pinion_drag", "N·m": "pinion_drag", "lb-ft": "nut_torque", "deg": "angle",
    "notch": "notches", "1": None, "N": None, "lbf": None,
}  # fmt: skip


def reading_of(unit: str, *, quantity: str | None = None, signed: bool = False, bare_numbers: bool = False) -> Expectation:
    return Expectation(quantity or QUANTITY_AT.get(unit, "etch_new"), unit, signed, commands=READING_COMMANDS, bare_numbers=bare_numbers)


def value_of(text: str, expected: Expectation) -> Quantity:
    heard = understand(text, expected)
    assert isinstance(heard, Value), heard
    assert heard.quantity.unit == expected.unit
    return heard.quantity


def refusal_of(text: str, expected: Expectation) -> Unclear:
    heard = understand(text, expected)
    assert isinstance(heard, Unclear), heard
    return heard


# ---- what is understood


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("six point five thou", "0.0065"), ("six and a half thou", "0.0065"), ("six thou", "0.006"), ("six thousandths", "0.006"),
        ("six thousandths of an inch", "0.006"), ("half a thou", "0.0005"), ("one thou", "0.001"), ("ten point five thou", "0.0105"),
        ("point zero zero six five", "0.0065"), ("zero point zero zero six five", "0.0065"), ("zero zero six five", "0.0065"),
        ("three point seven thou", "0.0037"), ("point zero zero three seven", "0.0037"), ("four tenths", "0.0004"),
        ("two and a half tenths", "0.00025"), ("six and a half tenths", "0.00065"), ("four tenths of a thousandth", "0.0004"),
        ("half a tenth", "0.00005"), ("six point two five thou", "0.00625"), ("six and a quarter thou", "0.00625"),
        ("three quarters of a thou", "0.00075"), ("six and three quarters thou", "0.00675"), ("three thou and a half", "0.0035"),
        ("six thou and four tenths", "0.0064"), ("six thou four tenths", "0.0064"), ("ten thousandths", "0.010"),
        ("one hundred and twenty five thou", "0.125"), ("two point six two five zero", "2.625"),
        ("two point six two five zero inches", "2.625"), ("thirteen point nine two five zero", "13.925"),
        ("point zero zero zero zero five inches", "0.00005"), ("minus two thou", "-0.002"), ("six though", "0.006"),
        ("six thousand", "0.006"), ("one eight, eighteen thousandths", "0.018"), ("double zero six five", "0.0065"), ("zero thou", "0"),
        ("one hundred thou", "0.1"),
    ],
)  # fmt: skip
def test_inches_are_understood_in_every_form(text: str, inches: str) -> None:
    assert value_of(text, reading_of("in")) == Quantity.of(inches, "in")


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("0.0065", "0.0065"), (".0065", "0.0065"), (".0065 in", "0.0065"), ("0.0065in", "0.0065"), ('0.0065"', "0.0065"),
        ("0.0065 inch", "0.0065"), ("6.5 thou", "0.0065"), ("6.5thou", "0.0065"), ("6½ thou", "0.0065"), ("6 1/2 thou", "0.0065"),
        ("½ thou", "0.0005"), ("6 and a half thou", "0.0065"), ("6 point 5 thou", "0.0065"), ("point 0065", "0.0065"), (".006", "0.006"),
        ("2.625", "2.625"), ("0.03", "0.03"), ("6 thou", "0.006"), ("3 tenths", "0.0003"), ("−0.002 in", "-0.002"), ("Six thou.", "0.006"),
        ("um, six thou please", "0.006"),
    ],
)  # fmt: skip
def test_typed_figures_are_exact(text: str, inches: str) -> None:
    assert value_of(text, reading_of("in")) == Quantity.of(inches, "in")


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("zero point one four", "mm", "0.14"), ("zero point one four millimetres", "mm", "0.14"), ("zero point one four millimeters", "mm", "0.14"),
        ("fourteen hundredths", "mm", "0.14"), ("one hundredth", "mm", "0.01"), ("fourteen hundredths of a millimetre", "mm", "0.14"),
        ("zero point one four five millimetres", "mm", "0.145"), ("0.14", "mm", "0.14"),
        ("0.14 mm", "mm", "0.14"), ("140 µm", "mm", "0.14"), ("five thousandths of a millimetre", "mm", "0.005"),
        ("one eight inch pounds", "lb-in", "18"), ("eighteen inch pounds", "lb-in", "18"), ("zero nine", "lb-in", "9"),
        ("nine inch pounds", "lb-in", "9"), ("one eight", "lb-in", "18"), ("eighteen", "lb-in", "18"), ("18", "lb-in", "18"),
        ("18 lb-in", "lb-in", "18"), ("18lbf.in", "lb-in", "18"), ("18 in-lb", "lb-in", "18"), ("one one eight inch pounds", "lb-in", "118"),
        ("one eight, eighteen inch pounds", "lb-in", "18"), ("eighteen and a half inch pounds", "lb-in", "18.5"),
        ("two point one newton metres", "N·m", "2.1"), ("two point one", "N·m", "2.1"), ("2.1 N·m", "N·m", "2.1"), ("2.1 N.m", "N·m", "2.1"),
        ("2.1Nm", "N·m", "2.1"), ("one point one eight newton metres", "N·m", "1.18"), ("one point one eight newton meters", "N·m", "1.18"),
        ("one two five foot pounds", "lb-ft", "125"), ("one hundred twenty five foot pounds", "lb-ft", "125"),
        ("one hundred and twenty five foot pounds", "lb-ft", "125"), ("one eight zero", "lb-ft", "180"), ("one hundred eighty", "lb-ft", "180"),
        ("one oh five", "lb-ft", "105"), ("125 ft-lb", "lb-ft", "125"), ("seven five", "lb-ft", "75"),
        ("nine zero degrees", "deg", "90"), ("ninety degrees", "deg", "90"), ("ninety", "deg", "90"), ("90°", "deg", "90"), ("five", "deg", "5"),
        ("three notches", "notch", "3"), ("three", "notch", "3"), ("no notches", "notch", "0"), ("zero notches", "notch", "0"),
        ("one notch", "notch", "1"), ("3", "notch", "3"), ("half a notch", "notch", "0.5"), ("two clicks", "notch", "2"),
        ("three seven", "1", "37"), ("thirty seven", "1", "37"), ("nine", "1", "9"), ("12.7N", "N", "12.7"), ("two point five pounds", "lbf", "2.5"),
    ],
)  # fmt: skip
def test_each_unit_has_its_forms(text: str, unit: str, value: str) -> None:
    assert value_of(text, reading_of(unit)) == Quantity.of(value, unit)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("plus two", "0.001 in", "2"), ("minus three", "0.001 in", "-3"), ("+2", "0.001 in", "2"), ("-3", "0.001 in", "-3"),
        ("plus 2 thou", "0.001 in", "2"), ("minus two thousandths", "0.001 in", "-2"), ("+0.002 in", "0.001 in", "2"),
        ("zero", "0.001 in", "0"), ("0", "0.001 in", "0"), ("plus one and a half", "0.001 in", "1.5"), ("plus half a thou", "0.001 in", "0.5"),
        ("plus five", "0.01 mm", "5"), ("minus five hundredths", "0.01 mm", "-5"), ("+0.05 mm", "0.01 mm", "5"),
        ("minus twelve", "0.01 mm", "-12"), ("plus thirty microns", "0.001 mm", "30"), ("negative four", "0.01 mm", "-4"),
    ],
)  # fmt: skip
def test_an_etch_is_a_count_of_its_unit_with_a_sign(text: str, unit: str, value: str) -> None:
    assert value_of(text, reading_of(unit, signed=True)) == Quantity.of(value, unit)


@pytest.mark.parametrize("blank", ["\u00a0", "\u202f", "\u2009", "\t"])
def test_a_blank_that_keeps_figure_and_unit_on_one_line_is_a_blank(blank: str) -> None:
    assert value_of(f"0.0065{blank}in", reading_of("in")) == Quantity.of("0.0065", "in")
    assert understand(f"go{blank}back", AT_DONE) == understand("go back", AT_DONE)


@pytest.mark.parametrize("text", ["--2 thou", "-- 2 thou", "+-2 thou", "−−2 thou"])
def test_two_signs_are_no_sign_and_never_dropped(text: str) -> None:
    refusal_of(text, reading_of("in"))
    refusal_of(text.removesuffix(" thou"), reading_of("0.001 in", signed=True))


def test_a_value_keeps_the_digits_that_were_said_and_no_more() -> None:
    texts = {"six thou": "0.006", "point zero zero six zero": "0.0060", "six point five thou": "0.0065", "zero zero six five": "0.0065"}
    assert {text: value_of(text, reading_of("in")).text for text in texts} == texts
    assert value_of("zero point one zero", reading_of("mm")).text == "0.10"
    assert value_of("zero nine", reading_of("lb-in")).text == "9"


def test_the_form_is_told_so_that_the_read_back_can_use_another() -> None:
    forms = {
        "six thou": "thou", "six point five thou": "point_thou", "six and a half thou": "half", "six and a quarter thou": "quarter",
        "four tenths": "tenths", "point zero zero six five": "digits", "zero zero six five": "digits_bare", "0.0065": "typed",
    }  # fmt: skip
    heard = {text: understand(text, reading_of("in")) for text in forms}
    assert {text: value.form for text, value in heard.items() if isinstance(value, Value)} == forms


# ---- the thirteen rules


@pytest.mark.parametrize(
    "text", ["point zero zero six", "point zero zero six five zero", "zero zero six", "point zero zero six inches", "six point five inches"]
)
def test_1_a_digit_missing_or_added_is_asked_about_with_the_length_that_is_wanted(text: str) -> None:
    refusal = refusal_of(text, reading_of("in"))
    assert refusal.reason == "fixed length"
    assert "four digits" in refusal.question


@pytest.mark.parametrize(
    ("text", "unit"),
    [("zero point one", "mm"), ("zero point one four five", "mm"), ("one four", "mm"), ("point one four", "mm"), ("point one four millimetres", "mm"),
     ("point five thou", "in"), ("point five newton metres", "N·m"), ("nine", "lb-in"),
     ("zero one eight", "lb-in"), ("one point one eight", "N·m"), ("two one newton metres", "N·m"), ("two", "N·m"), ("zero seven five", "lb-ft")],
)  # fmt: skip
def test_1_the_length_is_fixed_at_the_other_steps_too(text: str, unit: str) -> None:
    assert refusal_of(text, reading_of(unit)).reason == "fixed length"


def test_1_four_digits_that_may_have_lost_their_point_are_not_taken() -> None:
    assert refusal_of("two six two five", reading_of("in", quantity="pinion_depth")).reason == "fixed length"


def test_1_a_size_of_inches_wants_its_inches() -> None:
    depth = reading_of("in", quantity="pinion_depth")
    assert value_of("two point six two five zero", depth) == Quantity.of("2.625", "in")
    assert refusal_of("point six two five zero", depth).reason == "fixed length"


@pytest.mark.parametrize(
    ("quantity", "unit"), [("backlash", "in"), ("ring_runout", "in"), ("backlash", "mm"), ("pinion_drag", "N·m"), ("etch_new", "0.001 in")]
)
def test_1_a_point_or_a_digit_that_is_lost_never_leaves_another_value(quantity: str, unit: str) -> None:
    """Counts ("twenty five thou" without its "five") have no length to miss: there the read-back is the guard."""
    expected = reading_of(unit, quantity=quantity, signed=quantity.startswith("etch"))
    tens = set(english.TENS[2:])
    for words, meaning in phrases(expected, value_set(quantity, unit)):
        spelt = words.split()
        for place, word in enumerate(spelt):
            if isinstance(meaning, Value) and (word == "point" or word in english.ONES[:10]) and tens.isdisjoint(spelt):
                heard = understand(" ".join(spelt[:place] + spelt[place + 1 :]), expected)
                assert isinstance(heard, Unclear) or (isinstance(heard, Value) and heard.quantity == meaning.quantity), (words, word)


@pytest.mark.parametrize(
    ("text", "unit", "unit_said"),
    [("four hundredths", "in", "hundredths"), ("four hundredths of an inch", "in", "hundredths of an inch"), ("four tenths", "mm", "tenths"),
     ("four tenths of an inch", "in", "tenths of an inch"), ("plus two tenths", "0.01 mm", "tenths")],
)  # fmt: skip
def test_2_a_part_that_is_off_by_ten_is_refused_with_its_unit_said_back(text: str, unit: str, unit_said: str) -> None:
    refusal = refusal_of(text, reading_of(unit))
    assert refusal.reason == "off by ten"
    assert unit_said in refusal.question


@pytest.mark.parametrize(
    ("text", "unit", "heard", "step"),
    [
        ("point one four millimetres", "in", "millimetres", "inches"), ("0.14 mm", "in", "millimetres", "inches"),
        ("six thou", "mm", "thousandths of an inch", "millimetres"), ("0.0065 in", "mm", "inches", "millimetres"),
        ("eighteen foot pounds", "lb-in", "foot pounds", "inch pounds"), ("two point one newton metres", "lb-in", "newton metres", "inch pounds"),
        ("eighteen pounds", "lb-in", "pounds", "inch pounds"), ("plus two thou", "0.01 mm", "thousandths of an inch", "hundredths of a millimetre"),
        ("three degrees", "notch", "degrees", "notches"), ("six thou", "lb-in", "thousandths of an inch", "inch pounds"),
    ],
)  # fmt: skip
def test_3_a_word_of_another_unit_never_converts(text: str, unit: str, heard: str, step: str) -> None:
    refusal = refusal_of(text, reading_of(unit))
    assert refusal.reason == "other unit"
    assert refusal.candidates == ()
    assert f"I heard {heard}, but this step is in {step}" in refusal.question


def test_4_oh_is_a_zero_in_text_if_the_length_is_right() -> None:
    assert value_of("point oh oh six five", reading_of("in")) == Quantity.of("0.0065", "in")
    assert value_of("oh point one four", reading_of("mm")) == Quantity.of("0.14", "mm")
    assert refusal_of("point oh oh seven", reading_of("in")).reason == "fixed length"
    assert refusal_of("oh", reading_of("in")).reason == "run-on"


@pytest.mark.parametrize("text", ["five", "5", "fourteen", "six point five", "6.5", "six and a half", "0.5"])
def test_5_a_bare_small_number_at_an_inch_step_is_asked_about(text: str) -> None:
    refusal = refusal_of(text, reading_of("in"))
    assert refusal.reason == "bare number"
    assert len(refusal.candidates) == 1


def test_5_a_bare_small_number_is_thou_where_the_user_turned_that_on() -> None:
    told = reading_of("in", bare_numbers=True)
    assert value_of("five", told) == Quantity.of("0.005", "in")
    assert value_of("6.5", told) == Quantity.of("0.0065", "in")
    assert value_of("six and a half", told) == Quantity.of("0.0065", "in")
    assert refusal_of("one hundred", told).reason == "bare number"
    assert refusal_of("five", reading_of("in", quantity="pinion_depth", bare_numbers=True)).reason == "bare number"


@pytest.mark.parametrize("text", ["fourteen", "14"])
def test_5_a_bare_whole_number_at_a_millimetre_step_is_always_asked_about(text: str) -> None:
    refusal = refusal_of(text, reading_of("mm", bare_numbers=True))
    assert refusal.candidates == (Quantity.of("0.14", "mm"), Quantity.of("14", "mm"))


def test_6_a_half_alone_is_refused_and_binds_to_the_unit_behind_it() -> None:
    assert refusal_of("a half", reading_of("in")).reason == "half alone"
    assert refusal_of("half", reading_of("lb-in")).reason == "half alone"
    assert value_of("half a thou", reading_of("in")) == Quantity.of("0.0005", "in")
    assert value_of("six and a half tenths", reading_of("in")) == Quantity.of("0.00065", "in")


@pytest.mark.parametrize(
    ("text", "unit"),
    [("one eighteen", "lb-in"), ("six fifty", "lb-in"), ("one eighteen inch pounds", "lb-in"), ("six fifty", "in"), ("one twenty five", "lb-ft"),
     ("six point fifty thou", "in"), ("twenty eighteen", "deg"), ("one hundred eight zero", "lb-ft"), ("six ten thousandths", "in")],
)  # fmt: skip
def test_7_run_on_pairs_are_refused(text: str, unit: str) -> None:
    assert refusal_of(text, reading_of(unit)).reason == "run-on"


def test_8_one_eighty_is_refused_at_a_torque_step() -> None:
    assert refusal_of("one eighty", reading_of("lb-ft")).reason == "run-on"
    assert refusal_of("one eighty foot pounds", reading_of("lb-ft")).reason == "run-on"
    assert value_of("one eight zero", reading_of("lb-ft")) == Quantity.of("180", "lb-ft")


@pytest.mark.parametrize(
    ("text", "unit", "reason"),
    [("twelve tenths", "in", "tenths"), ("zero tenths", "in", "tenths"), ("one four hundredths", "mm", "run-on"),
     ("fourteen point two five hundredths", "mm", "fixed length"), ("half a millimetre", "mm", "half alone"), ("plus one two", "0.01 mm", "run-on"),
     ("six thou and twelve tenths", "in", "two numbers"), ("three thou and", "in", "not understood")],
)  # fmt: skip
def test_7_parts_that_are_no_whole_part_are_asked_about(text: str, unit: str, reason: str) -> None:
    assert refusal_of(text, reading_of(unit)).reason == reason


@pytest.mark.parametrize(
    "text",
    ["six, no, seven thou", "sixteen, sorry, seventeen thou", "six thou no seven thou", "six thou make that seven thou", "no six thou",
     "six thou I mean seven", "not six thou", "scratch that six thou", "six wait seven thou"],
)  # fmt: skip
def test_9_a_correction_in_one_breath_is_refused_as_a_whole(text: str) -> None:
    refusal = refusal_of(text, reading_of("in"))
    assert refusal.reason == "correction"
    assert refusal.candidates == ()


def test_10_values_off_the_resolution_of_a_step_are_not_rounded() -> None:
    assert value_of("six point three thou", reading_of("in")) == Quantity.of("0.0063", "in")
    assert value_of("18.25", reading_of("lb-in")) == Quantity.of("18.25", "lb-in")


def test_10_what_no_gauge_can_show_is_asked_about_not_rounded() -> None:
    assert refusal_of("0.0065 thou", reading_of("in")).reason == "too fine"
    assert refusal_of("0.00655555 in", reading_of("in")).reason == "too fine"
    assert refusal_of("12345678901234567890123456789.123456789 in", reading_of("in")).reason == "too fine"


def test_11_a_lost_point_is_refused_and_the_reply_gives_the_coached_form() -> None:
    assert refusal_of("nineteen thou five", reading_of("in")).candidates == (Quantity.of("0.0195", "in"),)
    assert "nineteen point five thousandths" in refusal_of("nineteen thou five", reading_of("in")).question
    assert "six point five thousandths" in refusal_of("six five", reading_of("in")).question
    assert refusal_of("six five thou", reading_of("in")).reason == "run-on"


def test_12_same_again_is_a_command_only_where_it_is_offered() -> None:
    assert understand("same again", Expectation("backlash", "in", commands=("same",))) == Command("same")
    assert refusal_of("same again", reading_of("in")).reason == "not now"


def test_13_double_and_triple_are_understood_in_text() -> None:
    assert value_of("point double oh six five", reading_of("in")) == Quantity.of("0.0065", "in")
    assert refusal_of("zero zero six double", reading_of("in")).reason == "not understood"


# ---- more that could be two things


def test_ten_thousandths_with_a_number_before_are_not_guessed() -> None:
    for text in ("four ten-thousandths", "one hundred thousandths", "one hundred ten thousandths", "a ten-thousandth"):
        assert isinstance(understand(text, reading_of("in")), Unclear), text


def test_a_mil_is_asked_about() -> None:
    assert refusal_of("six mils", reading_of("in")).reason == "two meanings"
    assert refusal_of("six mil", reading_of("mm")).reason == "two meanings"


def test_a_decimal_comma_is_asked_about() -> None:
    assert refusal_of("0,14", reading_of("mm")).reason == "decimal comma"
    assert refusal_of("6,5 thou", reading_of("in")).reason == "decimal comma"


@pytest.mark.parametrize("text", ["two", "2", "two thou", "0.002 in"])
def test_a_missing_sign_is_asked_for(text: str) -> None:
    refusal = refusal_of(text, reading_of("0.001 in", signed=True))
    assert refusal.reason == "no sign"
    assert "plus or minus" in refusal.question


def test_a_signed_step_in_inches_wants_its_sign_too() -> None:
    signed = reading_of("in", quantity="pinion_depth", signed=True)
    assert value_of("minus two thou", signed) == Quantity.of("-0.002", "in")
    assert refusal_of("two thou", signed).reason == "no sign"


def test_an_etch_below_one_may_be_a_length_in_full_and_is_asked_about() -> None:
    for text in ("+0.002", "plus point zero zero two", "plus point five", "plus a half"):
        assert isinstance(understand(text, reading_of("0.001 in", signed=True)), Unclear), text


def test_more_than_one_number_is_refused() -> None:
    assert refusal_of("six thou seven thou", reading_of("in")).reason == "two numbers"
    assert refusal_of("six and a half thou seven", reading_of("in")).reason == "two numbers"


def test_newton_metres_of_a_nut_may_be_spelt_but_those_of_a_drag_may_have_lost_their_point() -> None:
    assert value_of("two five zero newton metres", reading_of("N·m", quantity="nut_torque")) == Quantity.of("250", "N·m")
    assert refusal_of("two five newton metres", reading_of("N·m")).candidates == (Quantity.of("2.5", "N·m"),)


CHATTER = (
    "hand me the big hammer would you", "did you see the game last night", "the parts van comes at four", "who left the door open",
    "that radio is too loud", "it was eleven hundred dollars with the tax", "turn left at the second light", "my truck needs two new tires",
    "he said about half past six maybe", "no i do not think so", "you can stop by after lunch", "give it another quarter turn then wait",
    "", "  ", "...", "%", "6.5.5 thou", "1e3", "six furlongs", "٣", "inf", "nan", "thou", "inches", "plus", "minus minus two thou", "-", "point",
)  # fmt: skip


@pytest.mark.parametrize("text", CHATTER)
@pytest.mark.parametrize("unit", ["in", "mm", "lb-in", "lb-ft", "N·m", "deg", "notch", "1", "0.001 in"])
def test_talk_that_is_no_reading_becomes_none(text: str, unit: str) -> None:
    assert isinstance(understand(text, reading_of(unit, bare_numbers=True)), Unclear)


# ---- commands and choices


@pytest.mark.parametrize("name", [name for name in english.COMMANDS if name not in ("correct", "change unit")])
def test_every_word_of_a_command_gives_its_name_where_it_is_offered_and_nowhere_else(name: str) -> None:
    for spoken in english.COMMANDS[name]:
        assert understand(spoken, Expectation(None, None, commands=(name,))) == Command(name)
        assert refusal_of(spoken, Expectation("backlash", "in")).reason == "not now"


def test_a_confirm_takes_its_words_and_no_reading() -> None:
    said = {"yes": "yes", "that is right": "yes", "That's right.": "yes", "no": "no", "wrong": "no", "measure again": "no", "undo": "undo"}
    assert {text: understand(text, AT_CONFIRM) for text in said} == {text: Command(name) for text, name in said.items()}
    assert refusal_of("six point five thou", AT_CONFIRM).reason == "not a yes"
    assert refusal_of("no, six thou", AT_CONFIRM).reason == "not a yes"


def test_a_bare_correct_at_a_confirm_is_asked_again() -> None:
    assert refusal_of("correct", AT_CONFIRM).reason == "not now"
    assert "that is right" in refusal_of("correct", AT_CONFIRM).question


def test_only_understood_accepts_a_caution() -> None:
    assert understand("understood", AT_CAUTION) == Command("understood")
    for text in ("yes", "done", "ready", "okay", "six thou"):
        assert "understood" in refusal_of(text, AT_CAUTION).question


def test_stop_shouted_twice_is_stop() -> None:
    assert understand("Stop! Stop!", AT_DONE) == Command("stop")


@pytest.mark.parametrize(
    ("text", "quantity"),
    [("correct backlash", "backlash"), ("correct pinion drag", "pinion_drag"), ("correct the ring runout", "ring_runout"),
     ("correct ring run out", "ring_runout"), ("correct new etch", "etch_new"), ("correct etch new", "etch_new"),
     ("correct plane to bore", "plane_to_bore")],
)  # fmt: skip
def test_a_correction_names_its_quantity(text: str, quantity: str) -> None:
    assert understand(text, AT_DONE) == Command("correct", quantity)


def test_a_correction_of_nothing_known_asks_which() -> None:
    assert refusal_of("correct", AT_DONE).reason == "which quantity"
    assert refusal_of("correct the weather", AT_DONE).reason == "which quantity"
    assert refusal_of("correct backlash", AT_CONFIRM).reason == "not now"


def test_every_quantity_can_be_named_as_we_say_it() -> None:
    for quantity, names in english.QUANTITY_NAMES.items():
        for name in names:
            assert understand(f"correct {name}", AT_DONE) == Command("correct", quantity)


def test_going_back_names_a_step_that_is_done() -> None:
    expected = Expectation("backlash", "in", commands=("go back",), steps=("measure-pinion-drag", "torque-the-nut", "Measure the backlash"))
    assert understand("go back", expected) == Command("go back")
    assert understand("back", expected) == Command("go back")
    assert understand("go back to measure pinion drag", expected) == Command("go back", "measure-pinion-drag")
    assert understand("go back to the nut", expected) == Command("go back", "torque-the-nut")
    assert understand("go back to the backlash", expected) == Command("go back", "Measure the backlash")
    assert refusal_of("go back to measure", expected).reason == "which step"
    assert refusal_of("go back to lunch", expected).reason == "which step"
    assert refusal_of("go back to", expected).reason == "which step"


def test_a_choice_is_taken_to_the_word() -> None:
    assert understand("toe root", AT_PATTERN) == Choice("toe root")
    assert understand("center middle", AT_PATTERN) == Choice("centre middle")
    assert understand("unclear", AT_PATTERN) == Choice("unclear")
    assert isinstance(understand("toe", AT_PATTERN), Unclear)
    assert isinstance(understand("toe root heel tip", AT_PATTERN), Unclear)


def test_measure_again_is_a_choice_at_an_alarm() -> None:
    assert understand("measure again", AT_ALARM) == Choice("measure again")
    assert understand("nothing found", AT_ALARM) == Choice("nothing found")
    assert understand("nut not torqued", AT_ALARM) == Choice("nut not torqued")


# ---- laws


SHOWN = {
    "in": 5,
    "mm": 3,
    "lb-in": 2,
    "lb-ft": 2,
    "N·m": 3,
    "deg": 1,
    "notch": 2,
    "1": 4,
    "N": 2,
    "lbf": 2,
    "0.001 in": 1,
    "0.01 mm": 1,
    "0.001 mm": 1,
}
STYLES: tuple[Style, ...] = ("long", "digits")
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


def readings(unit: str) -> st.SearchStrategy[Quantity]:
    """What a gauge can show: small ones more often, at every number of decimals down to the finest."""
    sizes = [st.decimals(-limit, limit, places=places) for places in range(SHOWN[unit] + 1) for limit in (Decimal("0.1"), 1, 30, 999)]
    return st.one_of(sizes).map(lambda value: Quantity(value, unit))


@pytest.mark.parametrize("unit", SHOWN)
@given(st.data())
def test_every_value_a_gauge_can_show_is_said_and_understood_as_itself(unit: str, data: st.DataObject) -> None:
    reading = data.draw(readings(unit))
    expected = reading_of(unit, signed=unit in ("0.001 in", "0.01 mm", "0.001 mm"))
    for spoken in {say(reading, style) for style in STYLES} | {read_back(reading, form) for form in FORMS}:
        assert value_of(spoken, expected) == reading, spoken


@pytest.mark.parametrize("unit", SHOWN)
@given(st.data())
def test_every_value_typed_with_its_unit_is_itself_digit_for_digit(unit: str, data: st.DataObject) -> None:
    reading = data.draw(readings(unit))
    if unit in ("1", "0.001 in", "0.01 mm", "0.001 mm"):  # units that are not typed: the etch is a bare count
        reading = Quantity(reading.value.to_integral_value(), unit)
        typed = f"{reading.value:+f}" if unit != "1" else reading.text
    else:
        typed = f"{reading.text} {unit}"
    taken = value_of(typed, reading_of(unit, signed=unit in ("0.001 in", "0.01 mm", "0.001 mm")))
    assert (taken.text.removeprefix("-"), taken) == (reading.text.removeprefix("-"), reading)


SPOKEN = [*english.ONES, *english.TENS[2:], "hundred", "point", "and", "a", "half", "quarter", "oh", "double", "plus", "minus", "no", "thou",
          "tenths", "hundredths", "thousandths", "of", "an", "inch", "pounds", "inches", "millimetres", "newton", "metres", "stop", "yes", "correct",
          "go", "back", "to", "0.0065", "18", "6,5", "in", "mm", "lb-in", "½", "-", '"', "9" * 200]  # fmt: skip
SAYABLE_QUESTION = re.compile(r"[A-Za-z ,;:.?-]+")
EXPECTATIONS = [reading_of(unit, signed=unit.startswith("0")) for unit in (*SHOWN, "um", "cN·m")] + [
    AT_CONFIRM, AT_DONE, AT_CAUTION, AT_ALARM, AT_PATTERN, Expectation(None, None), reading_of("in", bare_numbers=True),
    reading_of("in", quantity="pinion_depth"), reading_of("mm", quantity="bore_diameter")]  # fmt: skip


@given(st.text(max_size=60) | st.lists(st.sampled_from(SPOKEN), max_size=9).map(" ".join), st.sampled_from(EXPECTATIONS))
def test_any_text_is_answered_exactly_or_with_a_question_that_can_be_said(text: str, expected: Expectation) -> None:
    heard = understand(text, expected)
    if isinstance(heard, Unclear):
        assert SAYABLE_QUESTION.fullmatch(heard.question), heard.question
        assert heard.reason in english.QUESTIONS
    elif isinstance(heard, Value):
        assert heard.quantity.unit == expected.unit
        # Exact, and nothing that only a rounding could have made.
        assert (Fraction(heard.quantity.value) * 10 ** UNITS[heard.quantity.unit].finest).denominator == 1
    elif isinstance(heard, Command):
        assert heard.name in expected.commands
    else:
        assert heard.text in expected.choices


@given(st.text(min_size=301))
def test_a_speech_is_no_reading(text: str) -> None:
    assert isinstance(understand(text, reading_of("in")), Unclear)


# ---- a gauge that was switched


@pytest.mark.parametrize(
    ("words", "unit", "gauge"),
    [
        ("change unit to millimetres", "mm", None),
        ("change the unit to inches", "in", None),
        ("change unit to mm", "mm", None),
        ("change unit to lb-in", "lb-in", None),
        ("change units of the torque gauge to newton metres", "N·m", "torque"),
        ("change the unit of the dial to millimeters", "mm", "dial"),
        ("change unit of depth gauge to in", "in", "depth"),
        ("change unit of lever two to mm", "mm", "lever two"),
    ],
)
def test_a_change_of_unit_is_heard_with_its_unit_and_its_gauge(words: str, unit: str, gauge: str | None) -> None:
    expected = Expectation("backlash", "in", commands=("take", "change unit"))
    assert understand(words, expected) == Command("change unit", unit, gauge)


@pytest.mark.parametrize("words", ["change unit", "change unit to thou", "change unit to cubits", "change unit of the dial to degrees"])
def test_a_change_to_no_unit_of_a_gauge_asks_which(words: str) -> None:
    unclear = understand(words, Expectation("backlash", "in", commands=("take", "change unit")))
    assert isinstance(unclear, Unclear)
    assert unclear.reason == "which unit"
    assert isinstance(understand("change unit to millimetres", Expectation(None, None, commands=("done",))), Unclear)


def test_a_step_is_gone_back_to_by_its_spoken_title_or_by_its_id() -> None:
    steps, titles = (
        ("preload.nut", "carrier.caps", "inspect.seats"),
        ("Torque the pinion nut", "Torque the bearing caps", "Are the seats clean?"),
    )
    expected = Expectation(None, None, commands=("go back",), steps=steps, step_words=titles)
    for words, step in (
        ("go back to torque the pinion nut", "preload.nut"),
        ("go back to the pinion nut", "preload.nut"),
        ("go back to are the seats clean", "inspect.seats"),
        ("go back to carrier caps", "carrier.caps"),
        ("go back to the bearing caps", "carrier.caps"),
    ):
        assert understand(words, expected) == Command("go back", step), words
    unclear = understand("go back to torque", expected)
    assert isinstance(unclear, Unclear)
    assert "torque the pinion nut, torque the bearing caps" in unclear.question


@pytest.mark.parametrize("quantity", ["backlash", "baseline_backlash"])
@pytest.mark.parametrize("unit", ["in", "mm"])
@pytest.mark.parametrize("text", ["zero", "0", "zero thou"])
def test_no_play_at_all_needs_no_unit_and_nothing_else_does_without(quantity: str, unit: str, text: str) -> None:
    if (unit, text) == ("mm", "zero thou"):
        text = "0 mm"
    assert value_of(text, reading_of(unit, quantity=quantity)) == Quantity.of("0", unit)
    assert refusal_of(text.split()[0], reading_of(unit, quantity="ring_runout")).reason == "bare number"
    assert refusal_of("zero zero", reading_of(unit, quantity=quantity)).candidates == ()
