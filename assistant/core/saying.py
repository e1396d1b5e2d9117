"""Quantities as they are said aloud: words only, exact, never a figure or an abbreviation.

A thousandth of an inch is the bench's unit up to a tenth of an inch; beyond that, inches with four digits. A number that ends in -teen or
-ty carries its digits ("one five, fifteen"), for that pair is what ears confuse. Every phrase made here is understood again by
`assistant.core.words` as the same quantity, at a step in its unit.
"""

from decimal import Decimal
from fractions import Fraction
from typing import Literal

from assistant.core import english
from assistant.core.english import MINUS, PLUS, UNITS_SAID
from assistant.core.numerals import count_words, digit_words
from assistant.core.quantities import Quantity

Style = Literal["long", "short", "digits"]

# From here on a length in inches is said in inches, below in thousandths.
_IN_INCHES = Fraction(1, 10)
# Etches: their unit is a count of something small, and their sign is always said.
_ETCH_UNITS = frozenset(("0.001 in", "0.01 mm", "0.001 mm"))
_PLACES_SAID = {"in": 4, "mm": 2, "N·m": 1}
_SPELT_OUT = frozenset(("lb-in", "lb-ft"))


def say(quantity: Quantity, style: Style = "long") -> str:
    """`quantity` in words.

    long: as it is read back, with its unit ("six point five thousandths"). short: the number alone, in the unit that `long` would say
    ("six point five"); below a thousandth of an inch the same as long. digits: figure by figure with the unit, for a slow repeat
    ("point zero zero six five inches").
    """
    sign = _sign(quantity)
    size = Quantity(abs(quantity.value), quantity.unit)
    if style == "digits":
        return sign + _digits(size)
    number, unit = _number_and_unit(size)
    # Below a thousandth the number alone would be taken for thousandths: "two and a half" tenths.
    bare = not unit or (style == "short" and not _is_below_a_thousandth(size))
    return sign + (number if bare else f"{number} {unit}")


def read_back(quantity: Quantity, heard_form: str) -> str:
    """`quantity` in another form than it was heard in, where it has one, so that one misheard word cannot repeat itself unnoticed.

    heard_form: the `form` of a `words.Value`, or of a `grammar` phrase.
    """
    size = abs(Fraction(quantity.value))
    usual = say(quantity)
    if heard_form == "bare" and usual.endswith(UNITS_SAID["thou"]) and f"of a {UNITS_SAID['thou'][0]}" not in usual:
        return f"{usual} of an inch"  # the unit was not said: it is heard in full
    if quantity.unit == "in" and size < _IN_INCHES:
        return _inches_otherwise(quantity, heard_form, usual)
    if quantity.unit == "mm" and heard_form != "hundredths" and 0 < size < 1 and (size * 100).denominator == 1:
        return _sign(quantity) + _of_unit(size * 100, *UNITS_SAID["0.01 mm"])
    if quantity.unit in _SPELT_OUT and size.denominator == 1:
        if heard_form.startswith("digits") and size >= 100:
            return _sign(quantity) + f"{count_words(int(size))} {UNITS_SAID[quantity.unit][1]}"
        if heard_form.startswith("count") and not _sounds_like_another(int(size)):
            return say(quantity, "digits")
    return usual


def say_range(low: Quantity, high: Quantity) -> str:
    """ "three to seven thousandths"; both in full when their units are not said alike. Equal ends are said once."""
    if low == high:
        return say(high)
    _, low_unit = _number_and_unit(low)
    _, high_unit = _number_and_unit(high)
    alike = low.unit == high.unit and low.value >= 0 and low.unit not in _ETCH_UNITS and _plural(low_unit) == _plural(high_unit)
    first = say(low, "short") if alike else say(low)
    return f"{first}, to {say(high)}" if "," in first else f"{first} to {say(high)}"


def say_plus_minus(quantity: Quantity) -> str:
    """ "plus or minus half a thousandth"; the sign of `quantity` is left out."""
    return f"{PLUS} or {MINUS} {say_change(quantity)}"


def say_change(quantity: Quantity) -> str:
    """The size of a change without its sign ("two thousandths", "three notches"); the caller says "add", "take out", "plus" …"""
    number, unit = _number_and_unit(Quantity(abs(quantity.value), quantity.unit))
    return f"{number} {unit}" if unit else number


def say_count(number: int) -> str:
    """A whole number as a count: 3 → "three", 18 → "eighteen", -2 → "minus two"."""
    return count_words(number) if number >= 0 else f"{MINUS} {count_words(-number)}"


def say_unit(unit: str) -> str:
    """A unit, as in "this step is in …": "in" → "inches"."""
    return english.STEP_UNITS.get(unit) or english.KINDS_SAID.get(unit) or UNITS_SAID[unit][1]


def _is_below_a_thousandth(size: Quantity) -> bool:
    return size.unit in ("in", "0.001 in") and 0 < size.number_in("in") < Fraction(1, 1000)


def _sign(quantity: Quantity) -> str:
    if quantity.value < 0:
        return f"{MINUS} "
    return f"{PLUS} " if quantity.unit in _ETCH_UNITS and quantity.value > 0 else ""


def _number_and_unit(size: Quantity) -> tuple[str, str]:
    """The number and the unit word of a quantity, its sign left out; the unit is empty for counts and where the number holds it."""
    value = abs(Fraction(size.value))
    if size.unit == "in":
        return _inches(value)
    if size.unit == "0.001 in" and value and value < 1:
        return _inches(value / 1000)
    if size.unit == "notch" and value.denominator == 2:
        return _with_half(value, "notch")
    one, many = UNITS_SAID[size.unit]
    if value.denominator == 1 and size.unit not in _PLACES_SAID:
        return _whole(int(value), spelt=size.unit in _SPELT_OUT, spelt_ten=size.unit in _ETCH_UNITS), one if value == 1 else many
    if size.unit == "N·m" and value.denominator == 1 and value >= 100:
        # One decimal is the rule for drags; a nut's torque would only get longer by it.
        return f"{digit_words(str(value))}, {count_words(int(value))}", many
    return _decimal(_figures(value, _PLACES_SAID.get(size.unit, 1))), many


def _inches(value: Fraction) -> tuple[str, str]:
    """A length in inches: inches from a tenth of an inch on, else thousandths, or tenths of one."""
    one, many = UNITS_SAID["thou"]
    thousandths = value * 1000
    tenths = value * 10_000
    if value >= _IN_INCHES:
        return _decimal(_figures(value, _PLACES_SAID["in"])), UNITS_SAID["in"][1]
    if thousandths == Fraction(1, 2):
        return "half", f"a {one}"
    if 0 < thousandths < 1 and tenths.denominator == 1:
        return _of_unit(tenths, *UNITS_SAID["tenth"]), f"of a {one}"
    if 0 < thousandths < 1 and tenths.denominator == 2:
        return _with_half(tenths, "tenth")
    if thousandths.denominator == 1:
        return _whole(int(thousandths), spelt_ten=True), one if thousandths == 1 else many
    return _decimal(_figures(thousandths, 1)), many


def _with_half(value: Fraction, unit: str) -> tuple[str, str]:
    """ "half a tenth", "two and a half tenths"."""
    one, many = UNITS_SAID[unit]
    if value < 1:
        return "half", f"a {one}"
    return f"{count_words(int(value))} {english.AND} a half", many


def _of_unit(value: Fraction, one: str, many: str) -> str:
    return f"{_whole(int(value), spelt_ten=True)} {one if value == 1 else many}"


def _digits(size: Quantity) -> str:
    """Figure by figure, with its unit."""
    value = Fraction(size.value)
    many = UNITS_SAID[size.unit][1]
    if size.unit == "in":
        figures = _figures(value, _PLACES_SAID["in"])
        return f"{digit_words(figures.removeprefix('0') if value < 1 else figures)} {many}"
    if value.denominator == 1 and size.unit not in _PLACES_SAID:
        number = int(value)
        if size.unit in _ETCH_UNITS or (number < 10 and size.unit != "lb-in"):
            return say_change(size)
        return f"{digit_words(f'{number:02d}')} {many}".rstrip()
    return f"{digit_words(_figures(value, _PLACES_SAID.get(size.unit, 1)))} {many}".rstrip()


def _inches_otherwise(quantity: Quantity, heard_form: str, usual: str) -> str:
    """The other form of a length below a tenth of an inch."""
    thousandths = abs(Fraction(quantity.value)) * 1000
    sounds_the_same = {
        "thou": thousandths.denominator == 1 and not _sounds_like_another(int(thousandths)),
        "thousandths": thousandths.denominator == 1 and not _sounds_like_another(int(thousandths)),
        "point_thou": thousandths > 1 and thousandths.denominator > 1,
        "tenths": thousandths < 1 and thousandths != Fraction(1, 2),
        "half": thousandths < 1,
        "quarter": False,
    }
    if not sounds_the_same.get(heard_form, False):
        return usual
    if thousandths.denominator == 2 and heard_form == "point_thou":
        return _sign(quantity) + " ".join(_with_half(thousandths, "thou"))
    return say(quantity, "digits")


def _whole(number: int, *, spelt: bool = False, spelt_ten: bool = False) -> str:
    """A whole number; with its digits first where its end sounds like another's, digits alone from 100 on if `spelt`."""
    if spelt and number >= 100:
        return digit_words(str(number))
    # Before "thousandths", what ends in ten or hundred could be counting ten-thousandths.
    if _sounds_like_another(number) or (spelt_ten and number and number % 100 in (0, 10)):
        return f"{digit_words(str(number))}, {count_words(number)}"
    return count_words(number)


def _sounds_like_another(number: int) -> bool:
    """Whether a number below a hundred ends in -teen or -ty."""
    return 13 <= number <= 19 or (20 <= number < 100 and number % 10 == 0)


def _decimal(figures: str) -> str:
    """ "13.9250" → "one three, thirteen point nine two five zero"."""
    whole, _, decimals = figures.partition(".")
    return f"{_whole(int(whole))} {english.POINT} {digit_words(decimals)}"


def _figures(value: Fraction, places: int) -> str:
    """All decimals of a number that ends (as every Quantity's does), at least `places` of them."""
    while (value * 10**places).denominator != 1:
        places += 1
    return format(Decimal(f"{int(value * 10**places)}E-{places}"), "f")


def _plural(unit_words: str) -> str:
    for one, many in UNITS_SAID.values():
        if unit_words == one:
            return many
    return unit_words
