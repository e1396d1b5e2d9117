"""A linear law learned reading by reading, in closed form: Bayesian regression with a Gaussian prior.

value = row · coefficients + the shift of this assembly + the error of this reading

Two scatters are only roughly known beforehand: that of a single reading (instrument and hand) and that of putting the parts together
again (every reading of one assembly shares it). A few levels of both are therefore carried side by side, each with its own posterior, and
weighted by how well it foretold the readings so far: repeats that agree narrow what is predicted, repeats that do not widen it.
Everything is exact for this prior; the order of readings within an assembly does not matter.
Source: Bishop, Pattern Recognition and Machine Learning (2006), 3.3.1 (conjugate posterior) and 3.4 (evidence), from memory; the tests
compare with numpy's solution of the normal equations.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

from assistant.core.belief.normal import Normal

if TYPE_CHECKING:
    import numpy

    Array = numpy.ndarray[Any, Any]

Row = tuple[float, ...]

# (how many times the named scatter, its weight beforehand). Assumed: the named figure is right within a factor of about two.
READING_LEVELS = ((0.5, 0.2), (0.8, 0.3), (1.25, 0.3), (2.0, 0.2))
SEATING_LEVELS = ((0.35, 0.35), (1.0, 0.4), (2.5, 0.25))


@dataclass(frozen=True)
class Reading:
    """One value with the factors of its coefficients, its spread and the assembly it belongs to."""

    row: Row
    value: float
    noise: float
    assembly: int


@dataclass(frozen=True, eq=False)
class Moments:
    """Mean (n) and covariance (n × n) of the coefficients; the last one is the assembly's shift."""

    mean: "Array"
    covariance: "Array"

    def along(self, row: Sequence[float]) -> tuple[float, float]:
        """Mean and variance of row · coefficients."""
        import numpy as np

        factors = np.array(row)
        return float(factors @ self.mean), float(factors @ self.covariance @ factors)


@dataclass(frozen=True, eq=False)
class _Levels:
    """One posterior per pair of scatters: log weights (levels), means (levels × n), covariances (levels × n × n)."""

    log_weight: "Array"
    mean: "Array"
    covariance: "Array"
    assembly: int | None


@dataclass(frozen=True)
class Regression:
    """What is known of the coefficients. Rows are given without the assembly's shift, which is added here as the last coefficient.

    mean, covariance: of the coefficients before any reading. noise: spread of one reading as its instrument is said to have; seating: spread of
    the shift that an assembly brings; same unit as the values.
    """

    mean: Row
    covariance: tuple[Row, ...]
    noise: float
    seating: float
    readings: tuple[Reading, ...] = ()

    def __post_init__(self) -> None:
        if not (self.noise > 0.0 and self.seating > 0.0):
            raise ValueError(f"noise and seating are spreads above zero, not {self.noise} and {self.seating}")

    def observe(self, row: Row, value: float, noise: float | None = None, assembly: int = 0) -> "Regression":
        """After one more reading. noise: its instrument's spread, if not the usual one; assembly: any number that changes with each assembly."""
        reading = Reading(row, value, self.noise if noise is None else noise, assembly)
        after = replace(self, readings=(*self.readings, reading))
        # What follows from the fields, handed on so that it is not worked out again from the first reading.
        after.__dict__["_levels"] = self._after(self._levels, reading)
        return after

    @cached_property
    def _levels(self) -> _Levels:
        """Folded from the prior and the readings."""
        import numpy as np

        size, many = len(self.mean) + 1, len(READING_LEVELS) * len(SEATING_LEVELS)
        covariance = np.zeros((many, size, size))
        covariance[:, :-1, :-1] = self.covariance
        levels = _Levels(
            np.log(np.outer([w for _, w in READING_LEVELS], [w for _, w in SEATING_LEVELS]).ravel()),
            np.tile((*self.mean, 0.0), (many, 1)),
            covariance,
            None,
        )
        for reading in self.readings:
            levels = self._after(levels, reading)
        return levels

    def _after(self, levels: _Levels, reading: Reading) -> _Levels:
        """The levels after one more reading."""
        import numpy as np

        if reading.assembly != levels.assembly:
            levels = self._reassembled(levels)
        row = np.array((*reading.row, 1.0))
        lean = levels.covariance @ row
        variance = lean @ row + (_reading_factors() * reading.noise) ** 2
        surprise = reading.value - levels.mean @ row
        gain = lean / variance[:, None]
        return _Levels(
            levels.log_weight - 0.5 * (surprise**2 / variance + np.log(variance)),
            levels.mean + gain * surprise[:, None],
            levels.covariance - gain[:, :, None] * lean[:, None, :],
            reading.assembly,
        )

    def _reassembled(self, levels: _Levels) -> _Levels:
        """The levels for an assembly still to be made: its shift drawn anew."""
        mean, covariance = levels.mean.copy(), levels.covariance.copy()
        mean[:, -1] = 0.0
        covariance[:, -1, :] = 0.0
        covariance[:, :, -1] = 0.0
        covariance[:, -1, -1] = (_seating_factors() * self.seating) ** 2
        return _Levels(levels.log_weight, mean, covariance, None)

    @cached_property
    def _weights(self) -> "Array":
        import numpy as np

        weights = np.exp(self._levels.log_weight - self._levels.log_weight.max())
        return np.asarray(weights / weights.sum())

    @cached_property
    def reading_factor(self) -> float:
        """The scatter of single readings as seen, in times the instrument's own (root mean square over the levels)."""
        return math.sqrt(float(self._weights @ _reading_factors() ** 2))

    @cached_property
    def same_assembly(self) -> Moments:
        """Mean and covariance of all coefficients over the levels, the last being the present assembly's shift."""
        return self._mixed(self._levels)

    @cached_property
    def next_assembly(self) -> Moments:
        """The same for an assembly that is still to be made."""
        return self._mixed(self._reassembled(self._levels))

    def _mixed(self, levels: _Levels) -> Moments:
        mean = self._weights @ levels.mean
        off = levels.mean - mean
        weighted = self._weights[:, None] * off
        return Moments(mean, (self._weights @ levels.covariance.reshape(len(off), -1)).reshape(len(mean), -1) + weighted.T @ off)

    def moments(self, assembly: int | None) -> Moments:
        """Which of the two holds for `assembly` (None: one still to be made)."""
        return self.same_assembly if assembly is not None and assembly == self._levels.assembly else self.next_assembly

    def predict(self, row: Row, assembly: int | None = None, noise: float | None = None) -> Normal:
        """The reading to expect, its own error included. noise: as in `observe`."""
        mean, variance = self.moments(assembly).along((*row, 1.0))
        return Normal(mean, math.hypot(math.sqrt(max(variance, 0.0)), self.reading_factor * (self.noise if noise is None else noise)))

    def coefficient(self, index: int) -> Normal:
        """What is known of one coefficient."""
        law = self.same_assembly
        return Normal(float(law.mean[index]), math.sqrt(max(float(law.covariance[index, index]), 1e-30)))


@cache
def _reading_factors() -> "Array":
    """For each level, the scatter of a reading in times the named one."""
    import numpy as np

    return np.repeat([factor for factor, _ in READING_LEVELS], len(SEATING_LEVELS))


@cache
def _seating_factors() -> "Array":
    """For each level, the scatter of an assembly in times the named one."""
    import numpy as np

    return np.tile([factor for factor, _ in SEATING_LEVELS], len(READING_LEVELS))
