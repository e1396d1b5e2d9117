"""A value and how far it may be off: the one form in which every belief says what it expects."""

import math
from dataclasses import dataclass
from statistics import NormalDist

_STANDARD = NormalDist()
_ROOT_TWO = math.sqrt(2.0)
_LOG_ROOT_TWO_PI = 0.5 * math.log(2.0 * math.pi)


def standard_below(z: float) -> float:
    """The share of the standard normal law below `z`; exact in the far tails too."""
    return 0.5 * math.erfc(-z / _ROOT_TWO)


def standard_quantile(share: float) -> float:
    """The z below which `share` (strictly between 0 and 1) of the standard normal law lies."""
    return _STANDARD.inv_cdf(share)


@dataclass(frozen=True)
class Normal:
    """A normal law; both figures in the unit its maker names. spread: one standard deviation, above zero."""

    mean: float
    spread: float

    def __post_init__(self) -> None:
        if not (self.spread > 0.0 and math.isfinite(self.spread) and math.isfinite(self.mean)):
            raise ValueError(f"a normal law needs a finite mean and a spread above zero, not {self.mean} and {self.spread}")

    def z(self, value: float) -> float:
        """How many spreads `value` lies above the mean."""
        return (value - self.mean) / self.spread

    def below(self, value: float) -> float:
        """The chance of less than `value`."""
        return standard_below(self.z(value))

    def chance(self, low: float, high: float) -> float:
        """The chance of landing between `low` and `high`; zero when they are the wrong way round."""
        if high <= low:
            return 0.0
        # Of the two tails the smaller numbers are subtracted: far out, 1 - 1 would leave nothing.
        if self.z(low) > 0.0:
            return standard_below(-self.z(low)) - standard_below(-self.z(high))
        return self.below(high) - self.below(low)

    def log_density(self, value: float) -> float:
        """Natural logarithm of the density at `value`, per unit of it."""
        return -0.5 * self.z(value) ** 2 - math.log(self.spread) - _LOG_ROOT_TWO_PI

    def quantile(self, share: float) -> float:
        """The value that `share` (strictly between 0 and 1) lies below."""
        return self.mean + self.spread * standard_quantile(share)

    def interval(self, share: float = 0.9) -> tuple[float, float]:
        """The middle `share` of it: low and high."""
        return self.quantile(0.5 - share / 2.0), self.quantile(0.5 + share / 2.0)

    def scaled(self, factor: float) -> "Normal":
        """The law of `factor` (not zero) times the value: a change of unit, a ratio."""
        return Normal(self.mean * factor, self.spread * abs(factor))

    def plus(self, other: "Normal") -> "Normal":
        """The law of the sum of two values that know nothing of each other."""
        return Normal(self.mean + other.mean, math.hypot(self.spread, other.spread))
