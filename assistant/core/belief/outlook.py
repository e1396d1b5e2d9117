"""A prediction that is no single normal law: lopsided, or with more than one summit."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any

from assistant.core.belief.normal import Normal, standard_quantile

if TYPE_CHECKING:
    import numpy


@dataclass(frozen=True, eq=False)
class Outlook:
    """What reading to expect: a mixture of normal laws (weights add up to one), newton-metres or micrometres."""

    weights: "numpy.ndarray[Any, Any]"
    means: "numpy.ndarray[Any, Any]"
    spreads: "numpy.ndarray[Any, Any]"

    @classmethod
    def of(cls, laws: Sequence[Normal]) -> "Outlook":
        """One of these laws, each as likely as the others."""
        import numpy as np

        means, spreads = np.array([law.mean for law in laws]), np.array([law.spread for law in laws])
        return cls(np.full(len(laws), 1.0 / len(laws)), means, spreads)

    @cached_property
    def normal(self) -> Normal:
        """The single normal law with the same mean and spread."""
        mean = float(self.weights @ self.means)
        return Normal(mean, math.sqrt(float(self.weights @ (self.spreads**2 + (self.means - mean) ** 2))))

    def parts(self, many: int = 8) -> tuple[Normal, ...]:
        """About the same mixture in `many` equally likely normal laws at most, from the smallest up."""
        return _parts(self, many)

    @property
    def mean(self) -> float:
        """The expected reading."""
        return self.normal.mean

    @property
    def spread(self) -> float:
        """One standard deviation of it."""
        return self.normal.spread

    def below(self, number: float) -> float:
        """The chance of less than `number`."""
        from scipy.special import ndtr

        return float(self.weights @ ndtr((number - self.means) / self.spreads))

    def chance(self, low: float, high: float) -> float:
        """The chance of landing between `low` and `high`."""
        return max(0.0, self.below(high) - self.below(low))

    def quantile(self, share: float) -> float:
        """The number that `share` (strictly between 0 and 1) lies below, to a thousandth of the spread."""
        return _quantile(self, share)

    @cached_property
    def _ends(self) -> tuple[float, float]:
        """Next to nothing lies outside of them."""
        return float((self.means - 8.0 * self.spreads).min()), float((self.means + 8.0 * self.spreads).max())

    def interval(self, share: float = 0.9) -> tuple[float, float]:
        """The middle `share` of it: low and high."""
        return self.quantile(0.5 - share / 2.0), self.quantile(0.5 + share / 2.0)

    def scaled(self, factor: float) -> "Outlook":
        """The outlook on `factor` (above zero) times the reading: a ratio, a change of unit."""
        return Outlook(self.weights, self.means * factor, self.spreads * factor)

    def plus_number(self, more: float) -> "Outlook":
        """The outlook on the sum with a number that is known."""
        return Outlook(self.weights, self.means + more, self.spreads)

    def plus(self, other: Normal) -> "Outlook":
        """The outlook on the sum with a value that knows nothing of this one."""
        import numpy as np

        return Outlook(self.weights, self.means + other.mean, np.hypot(self.spreads, other.spread))


# An outlook is asked the same a few times: what is said of a reading, what is weighed, what is shown.
@lru_cache(maxsize=128)
def _parts(whole: Outlook, many: int) -> tuple[Normal, ...]:
    import numpy as np

    order = np.argsort(whole.means, kind="stable")
    share = np.minimum((np.cumsum(whole.weights[order]) - 0.5 * whole.weights[order]) * many, many - 0.5).astype(int)
    laws = []
    for part in range(many):
        at = order[share == part]
        if len(at):
            weights = whole.weights[at] / whole.weights[at].sum()
            mean = float(weights @ whole.means[at])
            laws.append(Normal(mean, math.sqrt(float(weights @ (whole.spreads[at] ** 2 + (whole.means[at] - mean) ** 2)))))
    return tuple(laws)


@lru_cache(maxsize=128)
def _quantile(whole: Outlook, share: float) -> float:
    import numpy as np
    from scipy.special import ndtr

    low, high = whole._ends
    heights = whole.weights / whole.spreads
    enough = 5e-4 * whole.spread
    here = whole.normal.mean + standard_quantile(share) * whole.spread
    while high - low > 2.0 * enough:
        # Newton's step from here, or the middle where that would leave what is known to hold the quantile.
        z = (here - whole.means) / whole.spreads
        over = float(whole.weights @ ndtr(z)) - share
        low, high = (low, here) if over > 0.0 else (here, high)
        z *= z
        z *= -0.5
        density = float(heights @ np.exp(z, out=z)) / math.sqrt(2.0 * math.pi)
        step = over / density if density > 0.0 else math.inf
        if abs(step) < enough:
            return here - step
        here = here - step if low < here - step < high else (low + high) / 2.0
    return (low + high) / 2.0
