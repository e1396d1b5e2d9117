"""All ways to say a value in English that are listened for, usual speech first; each means to `words` what it means here.

"oh" is in none of them: as one vowel it drowns in hum.
"""

from collections.abc import Iterator
from fractions import Fraction

from assistant.core import english
from assistant.core.axle import TIGHTENED
from assistant.core.english import AND, MINUS, ONES, PLUS, POINT, UNITS_SAID
from assistant.core.numerals import count_words, digit_words
from assistant.core.quantities import Quantity

_SPOKEN_UNITS = ("in", "thou", "tenth", "mm", "0.01 mm", "lb-in", "lb-ft", "N·m", "deg", "notch")
# How the parts that an etch counts are named, one and many.
_ETCH_PARTS = {
    "0.001 in": (("thou", "thou"), ("thousandth", "thousandths")),
    "0.01 mm": (("hundredth", "hundredths"), ("hundredth of a millimetre", "hundredths of a millimetre")),
    "0.001 mm": (("micron", "microns"), ("thousandth of a millimetre", "thousandths of a millimetre")),
}
_QUARTERS = {Fraction(1, 2): ("half", "a half"), Fraction(1, 4): ("quarter", "a quarter"), Fraction(3, 4): ("quarter", "three quarters")}


def spoken_forms(value: Quantity, quantity: str | None) -> Iterator[tuple[str, str]]:
    """All ways to say `value`, as (form, words). quantity: as `grammar.spoken_forms` has it."""
    size = abs(Fraction(value.value))
    if value.unit in _ETCH_PARTS:
        yield from _etch_forms(value, size)
        return
    if value.unit == "in":
        forms = _inch_forms(size)
    elif value.unit == "mm":
        forms = _millimetre_forms(size)
    elif value.unit == "N·m":
        forms = _newton_metre_forms(size, spelt=quantity in TIGHTENED)
    else:
        forms = _plain_forms(size, value.unit)
    for form, words in forms:
        yield form, f"{MINUS} {words}" if value.value < 0 else words


_TAUGHT = frozenset(("thou", "half", "point_thou", "digits", "point_mm", "point_nm", "count"))


def is_taught(form: str, words: str) -> bool:
    """Whether a form is among those that are listened for where there are too many values for all."""
    return form in _TAUGHT and "thousandth" not in words


def reading_words() -> list[str]:
    """What numbers, units and the program's own choices are said with."""
    spoken = [*ONES, *english.TENS, english.HUNDRED, POINT, AND, PLUS, MINUS, english.PATTERN_UNCLEAR]
    spoken += [*english.FRACTIONS, *english.PATTERN_LENGTHWISE, *english.PATTERN_DEPTHWISE, *english.ALARM_CHOICES, *english.ONE_OF_TWO]
    spoken += [words for unit in _SPOKEN_UNITS for words in UNITS_SAID[unit]]
    return [*spoken, "thou", "of a thousandth", *(unit for parts in _ETCH_PARTS.values() for pair in parts for unit in pair)]


def _inch_forms(size: Fraction) -> Iterator[tuple[str, str]]:
    """Thousandths and four digits below an inch; digits alone from there on."""
    thousandths, tenths = size * 1000, size * 10_000
    four = tenths.denominator == 1
    if size >= 1:
        if four:
            digits = f"{count_words(int(size))} {POINT} {digit_words(f'{int(tenths) % 10_000:04d}')}"
            yield "digits", digits
            yield "digits", f"{digits} inches"
        return
    whole, part = int(thousandths), thousandths % 1
    if part == 0:
        yield "thou", f"{count_words(whole)} thou"
        if whole < 100:  # "one hundred thousandths" could be counting something else
            yield "thou", f"{count_words(whole)} thousandths"
        if whole == 1:
            yield "thou", "one thousandth"
    if part in _QUARTERS:
        yield from _with_part(whole, *_QUARTERS[part])
    if four:
        if whole < 100:
            last = ONES[int(tenths) % 10]
            yield "point_thou", f"{count_words(whole)} {POINT} {last} thou"
            yield "point_thou", f"{count_words(whole)} {POINT} {last} thousandths"
        digits = digit_words(f"{int(tenths):04d}")
        yield "digits", f"{POINT} {digits}"
        if whole < 100:
            yield "digits_bare", digits
        if 0 < tenths < 10:
            named = f"{count_words(int(tenths))} {'tenth' if tenths == 1 else 'tenths'}"
            yield "tenths", named
            yield "tenths", f"{named} of a thousandth"


def _with_part(whole: int, form: str, part: str) -> Iterator[tuple[str, str]]:
    """ "six and a half thou"; below one "half a thou", "three quarters of a thou"."""
    if whole:
        yield form, f"{count_words(whole)} {AND} {part} thou"
        yield form, f"{count_words(whole)} {AND} {part} thousandths"
    elif form == "half":
        yield form, "half a thou"
        yield form, "half a thousandth"
    else:
        yield form, f"{part} of a thou"


def _millimetre_forms(size: Fraction) -> Iterator[tuple[str, str]]:
    """Two digits after the point; hundredths below one."""
    hundredths = size * 100
    if hundredths.denominator != 1:
        return
    whole, rest = divmod(int(hundredths), 100)
    digits = f"{count_words(whole)} {POINT} {digit_words(f'{rest:02d}')}"
    yield "point_mm", f"{digits} millimetres"
    yield "digits", digits
    if whole == 0 and rest:
        yield "hundredths", f"{count_words(rest)} {'hundredth' if rest == 1 else 'hundredths'}"


def _newton_metre_forms(size: Fraction, *, spelt: bool) -> Iterator[tuple[str, str]]:
    """One digit after the point; whole ones from ten on as a count too, and digit by digit where `spelt`."""
    tenths = size * 10
    if tenths.denominator != 1:
        return
    if spelt and size.denominator == 1 and size >= 10:
        yield from _counts(int(size), "newton metre", "newton metres")
        yield "digits", f"{digit_words(str(int(size)))} newton metres"
        return
    digits = f"{count_words(int(size))} {POINT} {ONES[int(tenths) % 10]}"
    yield "point_nm", f"{digits} newton metres"
    yield "digits", digits


def _plain_forms(size: Fraction, unit: str) -> Iterator[tuple[str, str]]:
    """Counts and digits of torques in pounds, angles, notches and plain numbers."""
    one, many = UNITS_SAID[unit]
    if size.denominator == 1:
        number = int(size)
        yield from _counts(number, one, many)
        if unit in ("notch", "1"):
            if number < 10 or unit == "1":
                yield ("digits_bare" if number >= 10 else "count"), digit_words(str(number))
            return
        digits = digit_words(f"{number:02d}" if unit == "lb-in" else str(number))
        if number < 10 and unit != "lb-in":  # one digit is a count; a torque that short is never said without its unit
            yield "count", f"{digits} {many}"
            if unit == "deg":
                yield "count", digits
            return
        yield "digits", f"{digits} {many}"
        yield "digits_bare", digits
    elif size.denominator == 2:
        yield "half", (f"{count_words(int(size))} {AND} a half {many}" if size > 1 else f"half a {one}")


def _counts(number: int, one: str, many: str) -> Iterator[tuple[str, str]]:
    unit = one if number == 1 else many
    yield "count", f"{count_words(number)} {unit}".rstrip()
    if number > 100 and number % 100:
        yield "count", f"{count_words(number, AND)} {unit}".rstrip()


def _etch_forms(value: Quantity, size: Fraction) -> Iterator[tuple[str, str]]:
    """ "plus two", "minus three thou"; zero has no sign."""
    if size.denominator != 1:
        return
    if size == 0:
        yield "count", count_words(0)
        return
    said = f"{MINUS if value.value < 0 else PLUS} {count_words(int(size))}"
    yield "count", said
    for one, many in _ETCH_PARTS[value.unit]:
        yield ("thou" if value.unit == "0.001 in" else "hundredths"), f"{said} {one if size == 1 else many}"
