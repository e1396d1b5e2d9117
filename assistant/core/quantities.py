"""Exact quantities: what is spoken, stored and compared with a spec is never a float.

Two layers, two rules:
- `Quantity` is a decimal with its unit, digit for digit as it was said or sent (trailing zeros kept). It is what is journalled, read
  back and compared with a limit; comparing is exact, across units too.
- `Length` (whole nanometres), `Torque` (whole micronewton-metres) and `Force` (whole micronewtons) are for sums: a `Length` cannot be
  added to a `Torque`. Every inch reading down to 0.00001 in (254 nm) is whole; a pound-inch is not, so it is rounded once, on entry.

1 in = 25.4 mm and 1 lbf = 4.4482216152605 N exactly (NIST SP 811, appendix B; the pound-force by its definition from the pound and
standard gravity), so 1 lb-in = 0.1129848290276167 N·m exactly.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cached_property, total_ordering

from assistant.core.errors import BadInputError, DimensionError, ImpossibleValueError, UnknownUnitError


class Dimension(Enum):
    """What kind of thing a unit measures."""

    LENGTH = "length"
    TORQUE = "torque"
    FORCE = "force"
    ANGLE = "angle"
    NOTCHES = "notches"
    COUNT = "count"

    @property
    def noun(self) -> str:
        """With its article, for a sentence."""
        return {"angle": "an angle", "notches": "a count of notches"}.get(self.value, f"a {self.value}")


@dataclass(frozen=True)
class Unit:
    """A unit of the public interface.

    symbol: as printed; factor: how many base units it is (nanometres, micronewton-metres, micronewtons, degrees, notches, ones).
    places: decimals shown at least; finest: decimals kept at most when a sum does not end.
    """

    symbol: str
    dimension: Dimension
    factor: Fraction
    places: int
    finest: int


_POUND_FORCE = Fraction(44482216152605, 10**13) * 10**6
_POUND_INCH = _POUND_FORCE * Fraction(254, 10**4)
_KILOGRAM_FORCE = Fraction(980665, 10**5) * 10**6

_ALL = (
    Unit("in", Dimension.LENGTH, Fraction(25_400_000), 4, 5),
    Unit("mm", Dimension.LENGTH, Fraction(1_000_000), 2, 4),
    Unit("um", Dimension.LENGTH, Fraction(1_000), 0, 1),
    Unit("0.001 in", Dimension.LENGTH, Fraction(25_400), 0, 2),
    Unit("0.01 mm", Dimension.LENGTH, Fraction(10_000), 0, 2),
    Unit("0.001 mm", Dimension.LENGTH, Fraction(1_000), 0, 1),
    Unit("lb-in", Dimension.TORQUE, _POUND_INCH, 0, 2),
    Unit("lb-ft", Dimension.TORQUE, _POUND_INCH * 12, 0, 2),
    Unit("N·m", Dimension.TORQUE, Fraction(10**6), 1, 3),
    Unit("cN·m", Dimension.TORQUE, Fraction(10**4), 0, 1),
    Unit("kgf·cm", Dimension.TORQUE, _KILOGRAM_FORCE / 100, 1, 3),
    Unit("ozf·in", Dimension.TORQUE, _POUND_INCH / 16, 1, 2),
    Unit("N", Dimension.FORCE, Fraction(10**6), 0, 2),
    Unit("lbf", Dimension.FORCE, _POUND_FORCE, 1, 2),
    Unit("kgf", Dimension.FORCE, _KILOGRAM_FORCE, 1, 3),
    Unit("deg", Dimension.ANGLE, Fraction(1), 0, 1),
    Unit("notch", Dimension.NOTCHES, Fraction(1), 0, 2),
    Unit("1", Dimension.COUNT, Fraction(1), 0, 4),
)
UNITS: dict[str, Unit] = {unit.symbol: unit for unit in _ALL}
# Accepted on input. A pull indicator that says "kg" or "lb" means the force; a torque that says "lb" alone is not in this list on purpose.
ALIASES: dict[str, str] = {
    "N.m": "N·m", "Nm": "N·m", "N-m": "N·m", "cN.m": "cN·m", "cNm": "cN·m", "lbf.in": "lb-in", "lb.in": "lb-in", "lb·in": "lb-in",
    "lbf·in": "lb-in", "in-lb": "lb-in", "in·lb": "lb-in", "lbf.ft": "lb-ft", "lb.ft": "lb-ft", "lb·ft": "lb-ft", "lbf·ft": "lb-ft",
    "ft-lb": "lb-ft", "kgf.cm": "kgf·cm", "ozf.in": "ozf·in", "kg": "kgf", "lb": "lbf", "inch": "in", "degrees": "deg", "°": "deg",
    "notches": "notch", "0.001in": "0.001 in", "0.01mm": "0.01 mm", "0.001mm": "0.001 mm", "µm": "um",
}  # fmt: skip


def unit_named(text: str) -> Unit:
    """The unit that `text` names (a symbol of the interface or one of its accepted spellings). Raises UnknownUnitError."""
    symbol = text.strip()
    found = UNITS.get(ALIASES.get(symbol, symbol))
    if found is None:
        raise UnknownUnitError(f"unit {text!r} is not known: expected one of {', '.join(UNITS)}")
    return found


# No gauge, manual or mouth has more figures; a longer one is noise.
_LONGEST_NUMBER = 40
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)", re.ASCII)


def decimal_from(text: str) -> Decimal:
    """A plain decimal number ("0.0065", "+2", ".006"); no exponent, comma or blank inside. Raises BadInputError."""
    if len(text) > _LONGEST_NUMBER:
        raise BadInputError(f"a number of {len(text)} characters, expected at most {_LONGEST_NUMBER}")
    if not _NUMBER.fullmatch(text.strip()):
        raise BadInputError(f"{text!r} is not a plain decimal number such as 0.0065")
    return Decimal(text.strip())


@total_ordering
@dataclass(frozen=True, eq=False)
class Quantity:
    """A decimal with its unit, as said or sent.

    Comparing is by size and exact, across units of one dimension (25.4 mm equals 1 in); across dimensions `==` is False and an
    order raises DimensionError.
    """

    value: Decimal
    unit: str

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            object.__setattr__(self, "unit", unit_named(self.unit).symbol)
        if not self.value.is_finite():
            raise ImpossibleValueError(f"{self.value} is not a number")

    @classmethod
    def of(cls, value: str | int | Decimal, unit: str) -> "Quantity":
        """From a decimal text (or whole number) and a unit's name. Raises BadInputError."""
        if isinstance(value, Decimal):
            return cls(value, unit)
        return cls(decimal_from(str(value)), unit)

    @classmethod
    def parse(cls, text: str) -> "Quantity":
        """From text that carries its unit: "0.030in", "18 lb-in", "0.48N.m". Raises BadInputError."""
        number = _NUMBER.match(text.strip())
        if number is None or not text.strip()[number.end() :].strip():
            raise BadInputError(f"{text!r} is not a number with its unit, such as 0.030in or 18lb-in")
        return cls(decimal_from(number.group()), text.strip()[number.end() :])

    @property
    def dimension(self) -> Dimension:
        """Length, torque, force, angle, notches or count."""
        return UNITS[self.unit].dimension

    @cached_property
    def base(self) -> Fraction:
        """The size in base units of its dimension (nanometres, micronewton-metres, …), exact."""
        whole, parts = self.value.as_integer_ratio()
        factor = UNITS[self.unit].factor
        return Fraction(whole * factor.numerator, parts * factor.denominator)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Quantity):
            return NotImplemented
        if self.unit == other.unit:
            return self.value == other.value
        return self.dimension is other.dimension and self.base == other.base

    def __hash__(self) -> int:
        return hash((self.dimension, self.base))

    def __lt__(self, other: "Quantity") -> bool:
        if self.unit == other.unit:
            return self.value < other.value
        if self.dimension is not other.dimension:
            raise DimensionError(f"{self} and {other} cannot be compared")
        return self.base < other.base

    def __str__(self) -> str:
        return f"{self.text} {self.unit}"

    @property
    def text(self) -> str:
        """The decimal alone, never with an exponent."""
        return format(self.value, "f")

    def json(self) -> dict[str, str]:
        """{"value": "0.0065", "unit": "in"}."""
        return {"value": self.text, "unit": self.unit}

    def number_in(self, unit: str) -> Fraction:
        """The exact number of `unit`s. Raises DimensionError."""
        wanted = unit_named(unit)
        if wanted.dimension is not self.dimension:
            raise DimensionError(f"{self} has no size in {wanted.symbol}: that is {wanted.dimension.noun}")
        return self.base / wanted.factor

    def to(self, unit: str) -> "Quantity":
        """The same in `unit`, to the finest decimals of that unit when the sum does not end. Raises DimensionError."""
        wanted = unit_named(unit)
        return self if wanted.symbol == self.unit else quantity_from(self.number_in(unit), wanted.symbol)


def rounded(number: Fraction, places: int) -> Decimal:
    """`number` to `places` decimals, halves to even."""
    whole = _whole(number, places)
    return Decimal(whole).scaleb(-places) if places else Decimal(whole)


def _whole(number: Fraction, places: int) -> int:
    """How many of the last decimal of `places` a number is, halves to even: what `round` gives, without the fractions on the way."""
    power: int = 10**places
    whole, rest = divmod(number.numerator * power, number.denominator)
    is_above = 2 * rest > number.denominator or (2 * rest == number.denominator and whole % 2 == 1)
    return whole + 1 if is_above else whole


def quantity_from(number: Fraction, unit: str) -> Quantity:
    """`number` of `unit`: all its decimals if it ends within the unit's finest, else rounded there; at least the unit's usual places."""
    known = unit_named(unit)
    places = known.finest
    whole = _whole(number, places)
    while places > known.places and whole % 10 == 0:
        whole, places = whole // 10, places - 1
    return Quantity(Decimal(whole).scaleb(-places) + 0, known.symbol)  # + 0: no minus zero


@total_ordering
@dataclass(frozen=True)
class Length:
    """A length in whole nanometres; positive, negative or zero."""

    nanometres: int

    @classmethod
    def of(cls, quantity: Quantity) -> "Length":
        """From a quantity of length, halves of a nanometre to even. Raises DimensionError."""
        if quantity.dimension is not Dimension.LENGTH:
            raise DimensionError(f"{quantity} is not a length")
        return cls(round(quantity.base))

    @classmethod
    def rounded(cls, nanometres: Fraction) -> "Length":
        """To whole nanometres, halves to even."""
        return cls(round(nanometres))

    def quantity(self, unit: str) -> Quantity:
        """In `unit` (a unit of length)."""
        return quantity_from(Fraction(self.nanometres) / unit_named(unit).factor, unit)

    def times(self, factor: Fraction | int) -> "Length":
        """Scaled by an exact number."""
        return Length.rounded(self.nanometres * Fraction(factor))

    def __add__(self, other: "Length") -> "Length":
        return Length(self.nanometres + other.nanometres)

    def __sub__(self, other: "Length") -> "Length":
        return Length(self.nanometres - other.nanometres)

    def __neg__(self) -> "Length":
        return Length(-self.nanometres)

    def __abs__(self) -> "Length":
        return Length(abs(self.nanometres))

    def __lt__(self, other: "Length") -> bool:
        return self.nanometres < other.nanometres


@total_ordering
@dataclass(frozen=True)
class Torque:
    """A torque in whole micronewton-metres."""

    micronewton_metres: int

    @classmethod
    def of(cls, quantity: Quantity) -> "Torque":
        """From a quantity of torque, rounded once. Raises DimensionError."""
        if quantity.dimension is not Dimension.TORQUE:
            raise DimensionError(f"{quantity} is not a torque")
        return cls(round(quantity.base))

    @classmethod
    def rounded(cls, micronewton_metres: Fraction) -> "Torque":
        """To whole micronewton-metres, halves to even."""
        return cls(round(micronewton_metres))

    def quantity(self, unit: str) -> Quantity:
        """In `unit` (a unit of torque)."""
        return quantity_from(Fraction(self.micronewton_metres) / unit_named(unit).factor, unit)

    def __add__(self, other: "Torque") -> "Torque":
        return Torque(self.micronewton_metres + other.micronewton_metres)

    def __sub__(self, other: "Torque") -> "Torque":
        return Torque(self.micronewton_metres - other.micronewton_metres)

    def __lt__(self, other: "Torque") -> bool:
        return self.micronewton_metres < other.micronewton_metres


@dataclass(frozen=True)
class Force:
    """A force in whole micronewtons."""

    micronewtons: int

    @classmethod
    def of(cls, quantity: Quantity) -> "Force":
        """From a quantity of force, rounded once. Raises DimensionError."""
        if quantity.dimension is not Dimension.FORCE:
            raise DimensionError(f"{quantity} is not a force")
        return cls(round(quantity.base))
