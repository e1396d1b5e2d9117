"""Backlash: linear in the movement of ring and pinion, with one wave per turn of the ring.

b(θ) = base + k_ring · ring + k_pinion · pinion + a · cos θ + c · sin θ + (shift of this assembly) + (error of this reading)

All lengths in micrometres; a movement is positive away from the other gear (backlash grows); θ in degrees from the first spot.
`ring` and `pinion` count from where the parts stood when the belief began.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from assistant.core.belief import priors
from assistant.core.belief.normal import Normal
from assistant.core.belief.outlook import Outlook
from assistant.core.belief.regression import Moments, Regression

if TYPE_CHECKING:
    import numpy

Judge = Literal["all", "minimum", "mean"]

# How many evenly laid cases stand for the scatter of the spots among themselves (tests/core/belief/test_backlash.py compares with many random
# draws).
_CASES = 1_024


@dataclass(frozen=True)
class LearnedBacklash:
    """What the axle has shown, for a sentence. Lengths in micrometres, the high spot in degrees from the first one."""

    k_ring: Normal
    k_ring_before: Normal
    k_pinion: Normal
    swing: float
    high_spot: float
    scatter: float
    readings: int


@dataclass(frozen=True)
class BacklashBelief:
    """What is known of this axle's backlash. Immutable: `observe` gives a new one."""

    regression: Regression
    k_ring_before: Normal

    @classmethod
    def start(
        cls,
        *,
        ratio: float,
        noise_um: float,
        k_ring: Normal = priors.K_RING,
        base: Normal = priors.FIRST_BACKLASH,
        runout_um: float | None = None,
        lead_spread: float = 0.0,
        seating_um: float = priors.SEATING_UM,
    ) -> "BacklashBelief":
        """Before the first reading.

        ratio: ring teeth over pinion teeth; noise_um: one standard deviation of a single reading (`priors.length_spread`).
        k_ring: from the manual or the teeth (`priors.k_ring_from_teeth`) if known; base: backlash to expect as things stand.
        runout_um: whole swing of the dial at the ring's back face, if measured: k times as much turns up round the ring (trade rule from geometry).
        lead_spread: relative, when the ring is moved by notches whose lead is not known (`priors.NOTCH_LEAD_RELATIVE_SPREAD`); `ring` is then
        notches times `priors.NOTCH_LEAD_UM`, and k_ring the backlash per such micrometre, the lead's own error included.
        """
        if ratio <= 0.0:
            raise ValueError(f"a ratio is above zero, not {ratio}")
        k_pinion = k_ring.mean / ratio
        harmonic = priors.HARMONIC_UM
        if runout_um is not None:
            # An amplitude A in an unknown direction has A/√2 as the spread of each of its two parts.
            harmonic = math.hypot(k_ring.mean * runout_um / 2.0 / math.sqrt(2.0), priors.HARMONIC_FLOOR_UM)
        lead = k_ring.mean * lead_spread
        covariance = (
            (base.spread**2, 0.0, 0.0, 0.0, 0.0),
            (0.0, k_ring.spread**2 + lead**2, k_ring.spread**2 / ratio, 0.0, 0.0),
            (0.0, k_ring.spread**2 / ratio, (k_ring.spread / ratio) ** 2 + (k_pinion * priors.K_PINION_RELATIVE_SPREAD) ** 2, 0.0, 0.0),
            (0.0, 0.0, 0.0, harmonic**2, 0.0),
            (0.0, 0.0, 0.0, 0.0, harmonic**2),
        )
        regression = Regression((base.mean, k_ring.mean, k_pinion, 0.0, 0.0), covariance, noise_um, seating_um)
        return cls(regression, regression.coefficient(1))

    def observe(
        self, ring_um: float, pinion_um: float, degrees: float, value_um: float, noise_um: float | None = None, assembly: int = 0
    ) -> "BacklashBelief":
        """After one more reading.

        noise_um: this reading's own spread, if not the usual one. assembly: a number that changes each time the parts were moved or taken
        apart; readings of one assembly share its shift.
        """
        return replace(self, regression=self.regression.observe(_row(ring_um, pinion_um, degrees), value_um, noise_um, assembly))

    def predict(self, ring_um: float, pinion_um: float, degrees: float, assembly: int | None = None) -> Normal:
        """The next reading at this place. assembly: as in `observe`; None for one still to be made."""
        return self.regression.predict(_row(ring_um, pinion_um, degrees), assembly)

    def predict_mean(self, ring_um: float, pinion_um: float, spots: Sequence[float], assembly: int | None = None) -> Normal:
        """The mean of one reading at each of `spots` (degrees)."""
        rows = [_row(ring_um, pinion_um, spot) for spot in spots]
        row = tuple(math.fsum(column) / len(spots) for column in zip(*rows, strict=True))
        return self.regression.predict(row, assembly, self.regression.noise / math.sqrt(len(spots)))

    def predict_any(self, ring_um: float, pinion_um: float, spots: Sequence[float], assembly: int | None = None) -> Outlook:
        """One reading at any of `spots` (degrees), whichever: the wave round the ring is part of it."""
        return Outlook.of([self.predict(ring_um, pinion_um, spot, assembly) for spot in spots])

    def chance(
        self,
        ring_um: float,
        pinion_um: float,
        spots: Sequence[float],
        low_um: float,
        high_um: float,
        variation_um: float | None = None,
        judge: Judge = "all",
        assembly: int | None = None,
    ) -> float:
        """The chance that one reading at each of `spots` (degrees) passes.

        judge: what must lie between low and high: every reading, the smallest, or their mean. variation_um: most that largest minus
        smallest may be. Limits count as they are; a gauge that rounds passes up to half a step more, which the caller may add.
        Level and wave are taken together: a level that is likely too low where the wave is large is not counted twice.
        """
        import numpy as np
        from scipy.special import ndtr

        law = self.regression.moments(assembly)
        level = np.array((*_row(ring_um, pinion_um, None), 1.0))
        with_all = level @ law.covariance
        first, second, lower = _harmonic_root(law)
        # The level's lean on the wave: its covariance with the two unit numbers that the wave is made from.
        lean_a = float(with_all[3]) / first if first else 0.0
        lean_c = (float(with_all[4]) - lower * lean_a) / second if second else 0.0
        spread = math.sqrt(max(float(with_all @ level) - lean_a**2 - lean_c**2, 1e-12))
        noise = self.regression.reading_factor * self.regression.noise
        cases = _cases(float(law.mean[3]), float(law.mean[4]), first, lower, second, noise, tuple(spots), variation_um)
        here = float(level @ law.mean) + lean_a * cases.z_a + lean_c * cases.z_c
        highest, lowest = {"all": (cases.most, cases.least), "minimum": (cases.least, cases.least), "mean": (cases.middle, cases.middle)}[
            judge
        ]
        passed = ndtr((high_um - highest - here) / spread) - ndtr((low_um - lowest - here) / spread)
        return float(passed.clip(min=0.0).sum()) / _CASES

    @property
    def k_ring(self) -> Normal:
        """Backlash per micrometre of ring movement (with an unknown notch lead: per nominal micrometre)."""
        return self.regression.coefficient(1)

    @property
    def k_pinion(self) -> Normal:
        """Backlash per micrometre of pinion movement."""
        return self.regression.coefficient(2)

    def explain(self) -> LearnedBacklash:
        """The numbers behind "what have you learned"."""
        a, c = self.regression.same_assembly.mean[3:5].tolist()
        return LearnedBacklash(
            k_ring=self.k_ring,
            k_ring_before=self.k_ring_before,
            k_pinion=self.k_pinion,
            swing=2.0 * math.hypot(a, c),
            high_spot=math.degrees(math.atan2(c, a)) % 360.0,
            scatter=self.regression.reading_factor * self.regression.noise,
            readings=len(self.regression.readings),
        )


def _row(ring_um: float, pinion_um: float, degrees: float | None) -> tuple[float, float, float, float, float]:
    """The factors of the five coefficients; without the wave when `degrees` is None."""
    if degrees is None:
        return 1.0, ring_um, pinion_um, 0.0, 0.0
    angle = math.radians(degrees)
    return 1.0, ring_um, pinion_um, math.cos(angle), math.sin(angle)


def _harmonic_root(law: Moments) -> tuple[float, float, float]:
    """The Cholesky root of the covariance of the wave's two parts: its two diagonal elements, then the lower one."""
    var_a, cov, var_c = (float(law.covariance[at]) for at in ((3, 3), (3, 4), (4, 4)))
    first = math.sqrt(max(var_a, 0.0))
    lower = cov / first if first else 0.0
    return first, math.sqrt(max(var_c - lower**2, 0.0)), lower


@dataclass(frozen=True, eq=False)
class _Cases:
    """Evenly laid cases of wave and errors: the wave's two unit numbers, then least, most and mean of the spots relative to the level."""

    z_a: "numpy.ndarray[Any, Any]"
    z_c: "numpy.ndarray[Any, Any]"
    least: "numpy.ndarray[Any, Any]"
    most: "numpy.ndarray[Any, Any]"
    middle: "numpy.ndarray[Any, Any]"


@lru_cache(maxsize=32)
def _cases(
    a: float, c: float, first: float, lower: float, second: float, noise: float, spots: tuple[float, ...], variation: float | None
) -> _Cases:
    """The cases for a wave of this mean (a, c) and Cholesky root, and errors of this spread: of all `_CASES` those that vary no more than allowed."""
    import numpy as np

    z_a, z_c, *errors = _lattice(len(spots) + 2)
    angles = np.radians(spots).reshape(-1, 1)
    values = (a + first * z_a) * np.cos(angles) + (c + lower * z_a + second * z_c) * np.sin(angles) + noise * np.array(errors)
    least, most = values.min(axis=0), values.max(axis=0)
    allowed = most - least <= (math.inf if variation is None else variation)
    return _Cases(z_a[allowed], z_c[allowed], least[allowed], most[allowed], values.mean(axis=0)[allowed])


@lru_cache(maxsize=16)
def _lattice(dimensions: int) -> "numpy.ndarray[Any, Any]":
    """Standard normal points that fill `dimensions` evenly, always the same ones: one row per dimension.

    The steps are powers of 1/g, g the root of g^(d+1) = g + 1: the generalised golden ratio (M. Roberts, "The unreasonable effectiveness of
    quasirandom sequences", 2018, from memory).
    """
    import numpy as np
    from scipy.special import ndtri

    golden = 2.0
    for _ in range(60):
        golden = (1.0 + golden) ** (1.0 / (dimensions + 1))
    steps = golden ** -np.arange(1.0, dimensions + 1.0)
    return np.asarray(ndtri((0.5 + np.outer(steps, np.arange(1.0, _CASES + 1.0))) % 1.0))
