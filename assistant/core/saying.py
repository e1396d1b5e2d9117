"""Quantities as they are said aloud: words only, exact, never a figure or an abbreviation.

A thousandth of an inch is the bench's unit up to a tenth of an inch; beyond that, inches with four digits. A number that ends in -teen or
-ty carries its digits ("one five, fifteen"), for that pair is what ears confuse. Every phrase made here is understood again by
`assistant.core.words` as the same quantity, at a step in its unit.
"""

from decimal import Decimal
from fractions import Fraction
from typing import Literal

from assistant.core.quantities import Quantity
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH

Style = Literal["long", "short", "digits"]

# From here on a length in inches is said in inches, below in thousandths.
_IN_INCHES = Fraction(1, 10)
# Etches: their unit is a count of something small, and their sign is always said.
_ETCH_UNITS = frozenset(("0.001 in", "0.01 mm", "0.001 mm"))
_PLACES_SAID = {"in": 4, "mm": 2, "N·m": 1}
_SPELT_OUT = frozenset(("lb-in", "lb-ft"))


def say(quantity: Quantity, style: Style = "long", tongue: Tongue = ENGLISH) -> str:
    """`quantity` in words.

    long: as it is read back, with its unit ("six point five thousandths"). short: the number alone, in the unit that `long` would say
    ("six point five"); below a thousandth of an inch the same as long. digits: figure by figure with the unit, for a slow repeat
    ("point zero zero six five inches").
    """
    sign = _sign(quantity, tongue)
    size = Quantity(abs(quantity.value), quantity.unit)
    if style == "digits":
        return sign + _digits(size, tongue)
    number, unit = _number_and_unit(size, tongue)
    # Below a thousandth the number alone would be taken for thousandths: "two and a half" tenths.
    bare = not unit or (style == "short" and not _is_below_a_thousandth(size))
    return sign + (number if bare else tongue.with_unit(number, unit))


def read_back(quantity: Quantity, heard_form: str, tongue: Tongue = ENGLISH) -> str:
    """`quantity` in another form than it was heard in, where it has one, so that one misheard word cannot repeat itself unnoticed.

    heard_form: the `form` of a `words.Value`, or of a `grammar` phrase.
    """
    size = abs(Fraction(quantity.value))
    usual = say(quantity, tongue=tongue)
    thousandth, thousandths = tongue.units_said["thou"]
    if heard_form == "bare" and usual.endswith((thousandth, thousandths)) and f"of a {thousandth}" not in usual:
        return f"{usual}{tongue.of_an_inch}"  # the unit was not said: it is heard in full
    if quantity.unit == "in" and size < _IN_INCHES:
        return _inches_otherwise(quantity, heard_form, usual, tongue)
    if quantity.unit == "mm" and heard_form != "hundredths" and 0 < size < 1 and (size * 100).denominator == 1:
        return _sign(quantity, tongue) + _of_unit(size * 100, *tongue.units_said["0.01 mm"], tongue)
    if quantity.unit in _SPELT_OUT and size.denominator == 1:
        if heard_form.startswith("digits") and size >= 100:
            return _sign(quantity, tongue) + tongue.with_unit(tongue.count_words(int(size)), tongue.units_said[quantity.unit][1])
        if heard_form.startswith("count") and not tongue.sounds_like_another(int(size)):
            return say(quantity, "digits", tongue)
    return usual


def say_range(low: Quantity, high: Quantity, tongue: Tongue = ENGLISH) -> str:
    """ "three to seven thousandths"; both in full when their units are not said alike. Equal ends are said once."""
    if low == high:
        return say(high, tongue=tongue)
    _, low_unit = _number_and_unit(low, tongue)
    _, high_unit = _number_and_unit(high, tongue)
    alike = (
        low.unit == high.unit and low.value >= 0 and low.unit not in _ETCH_UNITS and _plural(low_unit, tongue) == _plural(high_unit, tongue)
    )
    first, last = say(low, "short" if alike else "long", tongue), say(high, tongue=tongue)
    return f"{first}, {tongue.to} {last}" if "," in first else f"{first} {tongue.to} {last}"


def say_change(quantity: Quantity, tongue: Tongue = ENGLISH) -> str:
    """The size of a change without its sign ("two thousandths", "three notches"); the caller says "add", "take out", "plus" …"""
    number, unit = _number_and_unit(Quantity(abs(quantity.value), quantity.unit), tongue)
    return tongue.with_unit(number, unit) if unit else number


def say_count(number: int, tongue: Tongue = ENGLISH) -> str:
    """A whole number as a count: 3 → "three", 18 → "eighteen", -2 → "minus two"."""
    return tongue.count_words(number) if number >= 0 else f"{tongue.minus} {tongue.count_words(-number)}"


def say_unit(unit: str, tongue: Tongue = ENGLISH) -> str:
    """A unit, as in "this step is in …": "in" → "inches"."""
    return tongue.step_units.get(unit) or tongue.kinds_said.get(unit) or tongue.units_said[unit][1]


def _is_below_a_thousandth(size: Quantity) -> bool:
    return size.unit in ("in", "0.001 in") and 0 < size.number_in("in") < Fraction(1, 1000)


def _sign(quantity: Quantity, tongue: Tongue) -> str:
    if quantity.value < 0:
        return f"{tongue.minus} "
    return f"{tongue.plus} " if quantity.unit in _ETCH_UNITS and quantity.value > 0 else ""


def _number_and_unit(size: Quantity, tongue: Tongue) -> tuple[str, str]:
    """The number and the unit word of a quantity, its sign left out; the unit is empty for counts and where the number holds it."""
    value = abs(Fraction(size.value))
    if size.unit == "in":
        return _inches(value, tongue)
    if size.unit == "0.001 in" and value and value < 1:
        return _inches(value / 1000, tongue)
    if size.unit == "notch" and value.denominator == 2:
        return tongue.with_half(int(value), "notch")
    one, many = tongue.units_said[size.unit]
    if value.denominator == 1 and size.unit not in _PLACES_SAID:
        whole = _whole(int(value), tongue, spelt=size.unit in _SPELT_OUT, spelt_ten=size.unit in _ETCH_UNITS)
        return whole, one if value == 1 else many
    if size.unit == "N·m" and value.denominator == 1 and value >= 100:
        # One decimal is the rule for drags; a nut's torque would only get longer by it.
        return f"{tongue.digit_words(str(value))}, {tongue.count_words(int(value))}", many
    return _decimal(_figures(value, _PLACES_SAID.get(size.unit, 1)), tongue), many


def _inches(value: Fraction, tongue: Tongue) -> tuple[str, str]:
    """A length in inches: inches from a tenth of an inch on, else thousandths, or tenths of one."""
    one, many = tongue.units_said["thou"]
    thousandths = value * 1000
    tenths = value * 10_000
    if value >= _IN_INCHES:
        return _decimal(_figures(value, _PLACES_SAID["in"]), tongue), tongue.units_said["in"][1]
    if thousandths == Fraction(1, 2):
        return tongue.with_half(0, "thou")
    if tongue.tenths_are_named and 0 < thousandths < 1 and tenths.denominator == 1:
        return _of_unit(tenths, *tongue.units_said["tenth"], tongue), f"of a {one}"
    if tongue.tenths_are_named and 0 < thousandths < 1 and tenths.denominator == 2:
        return tongue.with_half(int(tenths), "tenth")
    if thousandths.denominator == 1:
        return _whole(int(thousandths), tongue, spelt_ten=True), one if thousandths == 1 else many
    return _decimal(_figures(thousandths, 1), tongue), many


def _of_unit(value: Fraction, one: str, many: str, tongue: Tongue) -> str:
    return tongue.with_unit(_whole(int(value), tongue, spelt_ten=True), one if value == 1 else many)


def _digits(size: Quantity, tongue: Tongue) -> str:
    """Figure by figure, with its unit."""
    value = Fraction(size.value)
    many = tongue.units_said[size.unit][1]
    if size.unit == "in":
        figures = _figures(value, _PLACES_SAID["in"])
        bare = value < 1 and not tongue.zero_before_point
        return f"{tongue.digit_words(figures.removeprefix('0') if bare else figures)} {many}"
    if value.denominator == 1 and size.unit not in _PLACES_SAID:
        number = int(value)
        if size.unit in _ETCH_UNITS or (number < 10 and size.unit != "lb-in"):
            return say_change(size, tongue)
        return f"{tongue.digit_words(f'{number:02d}')} {many}".rstrip()
    return f"{tongue.digit_words(_figures(value, _PLACES_SAID.get(size.unit, 1)))} {many}".rstrip()


def _inches_otherwise(quantity: Quantity, heard_form: str, usual: str, tongue: Tongue) -> str:
    """The other form of a length below a tenth of an inch."""
    thousandths = abs(Fraction(quantity.value)) * 1000
    sounds_the_same = {
        "thou": thousandths.denominator == 1 and not tongue.sounds_like_another(int(thousandths)),
        "thousandths": thousandths.denominator == 1 and not tongue.sounds_like_another(int(thousandths)),
        "point_thou": thousandths > 1 and thousandths.denominator > 1,
        "tenths": thousandths < 1 and thousandths != Fraction(1, 2),
        "half": thousandths < 1,
        "quarter": False,
    }
    if not sounds_the_same.get(heard_form, False):
        return usual
    if thousandths.denominator == 2 and heard_form == "point_thou":
        return _sign(quantity, tongue) + tongue.with_unit(*tongue.with_half(int(thousandths), "thou"))
    return say(quantity, "digits", tongue)


def _whole(number: int, tongue: Tongue, *, spelt: bool = False, spelt_ten: bool = False) -> str:
    """A whole number; with its digits first where its end sounds like another's, digits alone from 100 on if `spelt`."""
    if spelt and number >= 100:
        return tongue.digit_words(str(number))
    # Before "thousandths", what ends in ten or hundred could be counting ten-thousandths.
    if tongue.sounds_like_another(number) or (spelt_ten and number and number % 100 in (0, 10)):
        return f"{tongue.digit_words(str(number))}, {tongue.count_words(number)}"
    return tongue.count_words(number)


def _decimal(figures: str, tongue: Tongue) -> str:
    """ "13.9250" → "one three, thirteen point nine two five zero"."""
    whole, _, decimals = figures.partition(".")
    return f"{_whole(int(whole), tongue)} {tongue.point} {tongue.digit_words(decimals)}"


def _figures(value: Fraction, places: int) -> str:
    """All decimals of a number that ends (as every Quantity's does), at least `places` of them."""
    while (value * 10**places).denominator != 1:
        places += 1
    return format(Decimal(f"{int(value * 10**places)}E-{places}"), "f")


def _plural(unit_words: str, tongue: Tongue) -> str:
    for one, many in tongue.units_said.values():
        if unit_words == one:
            return many
    return unit_words
