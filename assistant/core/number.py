"""A number as it was said: its exact value and its shape, apart from any unit and any language.

A spoken number has a *shape* besides its value: "one eight", "eighteen" and "18" are one number in three shapes, and which shapes are
complete differs by the step. What can be read in two ways ("one eighteen") is no number here but a `RunOn`.
"""

import re
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

_TYPED = re.compile(r"\d+\.?\d*|\.\d+", re.ASCII)


class Shape(Enum):
    """How a number was said."""

    TYPED = "typed"  # 0.0065
    COUNT = "count"  # eighteen; also "one eight, eighteen", which says it twice
    DIGITS = "digits"  # one eight: two or more
    DECIMAL = "decimal"  # six point five
    MIXED = "mixed"  # six and a half
    PART = "part"  # half a, three quarters of a


@dataclass(frozen=True)
class Number:
    """A number as said, zero or more.

    places: digits after the point (0 without one). digits: how many digits the whole part was spelt with (0: said as a count, or left out).
    whole_said: something stands before the point. leading_zero: the whole part was spelt with a zero first.
    ends: the last word of a count, for "ten thousandths" and "one hundred thousandths".
    """

    value: Fraction
    shape: Shape
    places: int = 0
    digits: int = 0
    whole_said: bool = True
    leading_zero: bool = False
    ends: str = ""


@dataclass(frozen=True)
class RunOn:
    """Number words that do not make one number ("one eighteen", "six point fifty")."""


def is_typed(word: str) -> bool:
    """Whether `word` is a number in figures."""
    return _TYPED.fullmatch(word) is not None


def typed_number(figures: str) -> Number:
    """The number of figures with at most one point; 18. at the end of a sentence is 18."""
    whole, _, decimals = figures.partition(".")
    return Number(Fraction(figures.rstrip(".")), Shape.TYPED, places=len(decimals), whole_said=whole != "")
