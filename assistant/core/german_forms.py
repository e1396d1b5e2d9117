"""All ways to say a value in German that are listened for, usual speech first; each means to `words` what it means here.

"zwo" is in none of them, nor a count after the comma ("null Komma vierzehn"): a digit that is lost or added could not be seen in it.
"""

from collections.abc import Iterator
from fractions import Fraction

from assistant.core import german
from assistant.core.axle import TIGHTENED
from assistant.core.german import MINUS, PLUS, UNITS_SAID
from assistant.core.german_numerals import count_words, digit_words, with_half, with_unit
from assistant.core.quantities import Quantity

# What an etch counts, as it may be said.
_ETCH_PARTS = {
    "0.001 in": ("Tausendstel", "Tausendstel Zoll"),
    "0.01 mm": ("Hundertstel", "Hundertstel Millimeter"),
    "0.001 mm": ("Mikrometer", "Tausendstel Millimeter"),
}
_TAUGHT = frozenset(("thou", "half", "point_thou", "digits", "point_mm", "point_nm", "count"))
# The largest counts of a grammar: a torque in newton metres.
_MOST = 400


def spoken_forms(value: Quantity, quantity: str | None) -> Iterator[tuple[str, str]]:
    """All ways to say `value`, as (form, words in small letters). quantity: as `grammar.spoken_forms` has it."""
    size = abs(Fraction(value.value))
    if value.unit in _ETCH_PARTS:
        forms = _etch_forms(value, size)
    elif value.unit == "in":
        forms = _inch_forms(size)
    elif value.unit == "mm":
        forms = _millimetre_forms(size)
    elif value.unit == "N·m":
        forms = _newton_metre_forms(size, spelt=quantity in TIGHTENED)
    else:
        forms = _plain_forms(size, value.unit)
    for form, words in forms:
        signed = value.value < 0 and value.unit not in _ETCH_PARTS
        yield form, (f"{MINUS} {words}" if signed else words).lower()


def is_taught(form: str, words: str) -> bool:
    """Whether a form is among those that are listened for where there are too many values for all."""
    return form in _TAUGHT and not words.endswith("tausendstel")


def reading_words() -> list[str]:
    """What numbers and units are said with."""
    counts = [count_words(number) for number in range(_MOST + 1)]
    halves = [with_half(number, "thou")[0] for number in range(200)]
    units = [unit for said in UNITS_SAID.values() for unit in said]
    return [*counts, *halves, german.POINT, PLUS, MINUS, "ein", "eine", *units]


def _inch_forms(size: Fraction) -> Iterator[tuple[str, str]]:
    """Thousandths and four digits below an inch; digits alone from there on."""
    thousandths, tenths = size * 1000, size * 10_000
    digits = f"{count_words(int(size))} {german.POINT} {digit_words(f'{int(tenths) % 10_000:04d}')}"
    if size >= 1:
        if tenths.denominator == 1:
            yield "digits", digits
            yield "digits", f"{digits} Zoll"
        return
    whole, part = int(thousandths), thousandths % 1
    if part == 0 and not _may_be_ten_thousandths(whole):
        yield from (("thou", with_unit(count_words(whole), unit)) for unit in ("Tausendstel Zoll", "Tausendstel"))
    if part == Fraction(1, 2):
        yield from (("half", f"{with_half(whole, 'thou')[0]} {unit}") for unit in ("Tausendstel Zoll", "Tausendstel"))
    if whole < 100 and (tenths * 10).denominator == 1:
        places = f"{int(part * 10)}" if tenths.denominator == 1 else f"{int(part * 100):02d}"
        said = f"{count_words(whole)} {german.POINT} {digit_words(places)}"
        yield from (("point_thou", f"{said} {unit}") for unit in ("Tausendstel Zoll", "Tausendstel"))
    if tenths.denominator == 1:
        yield "digits", f"{digits} Zoll"
        yield "digits", digits


def _may_be_ten_thousandths(count: int) -> bool:
    """Ends in "zehn", "hundert" or "tausend": with "Tausendstel" after it, it is asked about."""
    return count % 100 in (0, 10, *range(13, 20)) and count > 0


def _millimetre_forms(size: Fraction) -> Iterator[tuple[str, str]]:
    """Two digits after the comma; hundredths below one."""
    hundredths = size * 100
    if hundredths.denominator != 1:
        return
    whole, rest = divmod(int(hundredths), 100)
    digits = f"{count_words(whole)} {german.POINT} {digit_words(f'{rest:02d}')}"
    yield "point_mm", f"{digits} Millimeter"
    yield "digits", digits
    if whole == 0 and rest:
        yield "hundredths", with_unit(count_words(rest), "Hundertstel")
        yield "hundredths", with_unit(count_words(rest), "Hundertstel Millimeter")


def _newton_metre_forms(size: Fraction, *, spelt: bool) -> Iterator[tuple[str, str]]:
    """One digit after the comma; whole ones from ten on as a count too, and digit by digit where `spelt`."""
    tenths = size * 10
    if tenths.denominator != 1:
        return
    if spelt and size.denominator == 1 and size >= 10:
        yield "count", f"{count_words(int(size))} Newtonmeter"
        yield "digits", f"{digit_words(str(int(size)))} Newtonmeter"
        return
    digits = f"{count_words(int(size))} {german.POINT} {digit_words(str(int(tenths) % 10))}"
    yield "point_nm", f"{digits} Newtonmeter"
    yield "digits", digits


def _plain_forms(size: Fraction, unit: str) -> Iterator[tuple[str, str]]:
    """Counts and digits of torques in pounds, angles, notches and plain numbers."""
    one, many = UNITS_SAID[unit]
    if size.denominator == 1:
        number = int(size)
        yield "count", with_unit(count_words(number), one if number == 1 else many) if many else count_words(number)
        if unit in ("notch", "1"):
            if number < 10 or unit == "1":
                yield ("digits_bare" if number >= 10 else "count"), digit_words(str(number))
            return
        digits = digit_words(f"{number:02d}" if unit == "lb-in" else str(number))
        if number < 10 and unit != "lb-in":  # one digit is a count; a torque that short is never said without its unit
            if unit == "deg":
                yield "count", digits
            return
        yield "digits", f"{digits} {many}"
        yield "digits_bare", digits
    elif size.denominator == 2 and unit == "notch":
        yield "half", " ".join(with_half(int(size), unit))


def _etch_forms(value: Quantity, size: Fraction) -> Iterator[tuple[str, str]]:
    """ "plus zwei", "minus drei Tausendstel Zoll"; zero has no sign."""
    if size.denominator != 1:
        return
    number = int(size)
    if number == 0:
        yield "count", count_words(0)
        return
    sign = MINUS if value.value < 0 else PLUS
    yield "count", f"{sign} {count_words(number)}"
    if value.unit == "0.001 in" and _may_be_ten_thousandths(number):
        return
    for unit in _ETCH_PARTS[value.unit]:
        yield ("thou" if value.unit == "0.001 in" else "hundredths"), f"{sign} {with_unit(count_words(number), unit)}"
