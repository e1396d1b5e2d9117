"""Texts of keys → values. A length, torque or force carries its unit in the value, an etch its sign; the rest are plain numbers and words.

Each reader raises BadInputError with what was expected; the caller adds the key and what was seen. The ranges only shut out what cannot be
on an axle, so that a slipped unit or decimal is noticed (common practice, no source); the manual's limits are never among them.
"""

import re
from collections.abc import Callable
from fractions import Fraction

from assistant.core.axle import KitShim
from assistant.core.errors import BadInputError, ImpossibleValueError
from assistant.core.quantities import UNITS, Dimension, Quantity, decimal_from, unit_named

_EXAMPLES = {
    Dimension.LENGTH: "a length with its unit, such as 0.030in or 0.76mm",
    Dimension.TORQUE: "a torque with its unit, such as 18lb-in or 2.1N.m",
    Dimension.FORCE: "a force with its unit, such as 5lbf or 12.7N",
}


def quantity(text: str) -> Quantity:
    """Any value with its unit. Raises BadInputError."""
    return Quantity.parse(text)


def _of(dimension: Dimension, text: str) -> Quantity:
    try:
        decimal_from(text)
    except BadInputError:
        pass
    else:
        raise BadInputError(f"no unit; expected {_EXAMPLES[dimension]}")
    try:
        found = Quantity.parse(text)
    except BadInputError as error:
        raise BadInputError(f"expected {_EXAMPLES[dimension]}") from error
    if found.dimension is not dimension:
        raise BadInputError(f"that is {found.dimension.noun}; expected {_EXAMPLES[dimension]}")
    return found


def length(low: str, high: str, *, above: bool = False) -> Callable[[str], Quantity]:
    """A reader of lengths from low to high, inclusive; above: low itself is refused."""
    least, most = Quantity.parse(low), Quantity.parse(high)

    def reads(text: str) -> Quantity:
        found = _of(Dimension.LENGTH, text)
        if found < least or found > most or (above and found == least):
            start = "above 0" if above and not least.value else f"{least.to(found.unit)}"
            raise ImpossibleValueError(f"impossible here; expected {start} to {most.to(found.unit)}")
        return found

    return reads


def backlash(text: str) -> Quantity:
    """A backlash, read or wanted; at zero the gears may be jammed (Ford 8.8 in manuals, zero backlash step). Raises BadInputError."""
    found = _of(Dimension.LENGTH, text)
    if found.value <= 0:
        raise ImpossibleValueError("zero is not a backlash, the gears may be jammed; expected more than 0: open the mesh and read again")
    return length("0in", "0.1in")(text)


def list_of(reads_one: Callable[[str], Quantity], *, at_most: int | None = None) -> Callable[[str], tuple[Quantity, ...]]:
    """A reader of lists: commas without blanks, each value with its own unit."""

    def reads(text: str) -> tuple[Quantity, ...]:
        parts = text.split(",")
        if at_most is not None and len(parts) > at_most:
            raise BadInputError(f"{len(parts)} values; expected {at_most} at most")
        found: list[Quantity] = []
        for place, part in enumerate(parts, 1):
            try:
                found.append(reads_one(part))
            except BadInputError as error:
                raise type(error)(f"value {place} ({part!r}): {error}") from error
        return tuple(found)

    return reads


def torque(text: str) -> Quantity:
    """A torque, zero or more. Raises BadInputError."""
    found = _of(Dimension.TORQUE, text)
    if found.value < 0:
        raise ImpossibleValueError("a drag is never negative")
    return found


def force(text: str) -> Quantity:
    """A force above zero. Raises BadInputError."""
    found = _of(Dimension.FORCE, text)
    if found.value <= 0:
        raise ImpossibleValueError("expected a pull above 0")
    return found


def word(*words: str) -> Callable[[str], str]:
    """A reader of one word out of a list."""

    def reads(text: str) -> str:
        if text not in words:
            raise BadInputError(f"expected {', '.join(words[:-1])} or {words[-1]}")
        return text

    return reads


def number(low: str, high: str, *, above: bool = False) -> Callable[[str], Fraction]:
    """A reader of plain numbers from low to high, inclusive; above: low itself is refused."""
    least, most = Fraction(low), Fraction(high)

    def reads(text: str) -> Fraction:
        try:
            found = Fraction(decimal_from(text))
        except BadInputError as error:
            raise BadInputError("expected a plain number, without a unit") from error
        if found < least or found > most or (above and found == least):
            raise ImpossibleValueError(f"impossible here; expected {'above ' if above else ''}{low} to {high}")
        return found

    return reads


def ratio(text: str) -> Fraction:
    """Ring teeth over pinion teeth: a decimal (3.73), or the counted teeth (41/11). Raises BadInputError."""
    ring, slash, pinion = text.partition("/")
    if slash:
        return Fraction(teeth(ring), teeth(pinion)) if teeth(ring) >= teeth(pinion) else _no_ratio()
    found = number("0", "1000")(text)
    return found if 1 <= found <= 20 else _no_ratio()


def _no_ratio() -> Fraction:
    raise ImpossibleValueError("impossible here; expected ring teeth over pinion teeth, 1 to 20, such as 3.73 or 41/11")


def teeth(text: str) -> Fraction:
    """A count of teeth. Raises BadInputError."""
    if not re.fullmatch(r"\d{1,3}", text, re.ASCII) or not 1 <= int(text) <= 200:
        raise ImpossibleValueError("expected a whole number of teeth, 1 to 200")
    return Fraction(int(text))


def angle(low: str, high: str) -> Callable[[str], Fraction]:
    """A reader of degrees from low to high, inclusive, with or without their unit."""
    least, most = Fraction(low), Fraction(high)
    expected = f"expected an angle of {low} to {high} degrees, such as 20 or 20deg"

    def reads(text: str) -> Fraction:
        try:
            found = Quantity(decimal_from(text), "deg") if text[-1:].isdigit() else Quantity.parse(text)
        except BadInputError as error:
            raise BadInputError(expected) from error
        if found.dimension is not Dimension.ANGLE or not least <= found.value <= most:
            raise ImpossibleValueError(expected)
        return Fraction(found.value)

    return reads


def etch(text: str) -> Fraction:
    """An etched figure with its sign: +2, -3, or 0. Raises BadInputError: an unsigned figure may mean either."""
    try:
        found = Fraction(decimal_from(text))
    except BadInputError as error:
        raise BadInputError("expected the figure on the pinion with its sign, such as +2, -3 or 0") from error
    if found and text.strip()[0] not in "+-":
        raise BadInputError(f"no sign; expected +{text.strip()} or -{text.strip()}, as the pinion says")
    return found


def unit(*symbols: str) -> Callable[[str], str]:
    """A reader of one unit out of a list, or of any unit when none is listed."""

    def reads(text: str) -> str:
        try:
            found = unit_named(text).symbol
        except BadInputError as error:
            raise BadInputError(f"no unit of that name; expected {', '.join(symbols or UNITS)}") from error
        if symbols and found not in symbols:
            raise BadInputError(f"expected {', '.join(symbols[:-1])} or {symbols[-1]}")
        return found

    return reads


def kit(text: str) -> tuple[KitShim, ...]:
    """Shims with their counts: 0.005inx4,0.010inx3. Raises BadInputError."""
    shims = []
    for part in text.split(","):
        found = re.fullmatch(r"(.+?)[x×*](\d{1,3})", part, re.ASCII)
        if found is None:
            raise BadInputError(f"{part!r} is not a thickness and a count; expected such as 0.005inx4,0.010inx3")
        thickness = length("0in", "2in", above=True)(found[1])
        shims.append(KitShim(thickness, int(found[2])))
    return tuple(shims)
