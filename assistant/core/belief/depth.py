"""Pinion depth: one to one with the depth shim, in the direction that the layout gives, from an unknown base.

mounting distance = base + lay · response · (stack − reference stack) + (shift of this assembly) + (error of this reading)

All lengths in micrometres; a mounting distance grows away from the ring-gear centre line. lay: +1 where a thicker shim moves the pinion away
(under a cartridge flange), −1 where it moves it towards (under the head cone, behind the head cup).
"""

from dataclasses import dataclass, replace
from typing import Literal

from assistant.core.belief import priors
from assistant.core.belief.normal import Normal
from assistant.core.belief.regression import Regression


@dataclass(frozen=True)
class LearnedDepth:
    """What the axle has shown, for a sentence. response: depth per shim as believed; seen: as the readings alone say, if they can."""

    response: Normal
    seen: Normal | None
    scatter: float
    readings: int


@dataclass(frozen=True)
class DepthBelief:
    """What is known of this axle's pinion depth. Immutable: `observe` gives a new one."""

    regression: Regression
    lay: Literal[1, -1]
    reference_um: float
    seen: tuple[tuple[int, float, float], ...] = ()
    """(assembly, stack, reading) of every reading: for the response without the prior."""

    @classmethod
    def start(
        cls,
        *,
        lay: Literal[1, -1],
        stack_um: float,
        guess: Normal,
        noise_um: float,
        response: Normal = priors.DEPTH_RESPONSE,
        seating_um: float = priors.SEATING_UM,
    ) -> "DepthBelief":
        """Before the first reading.

        stack_um: the depth pack as it stands; guess: the mounting distance to expect with it (`priors.FIRST_DEPTH_SPREAD_UM` wide when it
        comes from the old shim and the etches); noise_um: one standard deviation of a single reading.
        """
        covariance = ((guess.spread**2, 0.0), (0.0, response.spread**2))
        return cls(Regression((guess.mean, response.mean), covariance, noise_um, seating_um), lay, stack_um)

    def observe(self, stack_um: float, value_um: float, noise_um: float | None = None, assembly: int = 0) -> "DepthBelief":
        """After one more reading of the mounting distance with this pack. assembly: a number that changes each time it was taken apart."""
        regression = self.regression.observe(self._row(stack_um), value_um, noise_um, assembly)
        return replace(self, regression=regression, seen=(*self.seen, (assembly, stack_um, value_um)))

    def predict(self, stack_um: float, assembly: int | None = None) -> Normal:
        """The next reading with this pack. assembly: as in `observe`; None for one still to be made."""
        return self.regression.predict(self._row(stack_um), assembly)

    def chance(self, stack_um: float, low_um: float, high_um: float, assembly: int | None = None) -> float:
        """The chance that the next reading lies between the limits."""
        return self.predict(stack_um, assembly).chance(low_um, high_um)

    @property
    def response(self) -> Normal:
        """Depth gained per shim, 1 when all is well, in the layout's own direction."""
        return self.regression.coefficient(1)

    @property
    def response_seen(self) -> Normal | None:
        """The same from the last two different packs alone: far from 1 it is a finding (burr, seat, wrong shim). None before there are two."""
        if not self.seen:
            return None
        last_assembly, last_stack, _ = self.seen[-1]
        earlier = [entry for entry in self.seen if entry[1] != last_stack]
        if not earlier:
            return None
        before_assembly, before_stack, _ = earlier[-1]
        after = [value for assembly, stack, value in self.seen if (assembly, stack) == (last_assembly, last_stack)]
        before = [value for assembly, stack, value in self.seen if (assembly, stack) == (before_assembly, before_stack)]
        change = self.lay * (last_stack - before_stack)
        error = self.regression.reading_factor * self.regression.noise
        variance = error**2 * (1 / len(after) + 1 / len(before)) + 2 * self.regression.seating**2
        return Normal((sum(after) / len(after) - sum(before) / len(before)) / change, variance**0.5 / abs(change))

    def explain(self) -> LearnedDepth:
        """The numbers behind "what have you learned"."""
        scatter = self.regression.reading_factor * self.regression.noise
        return LearnedDepth(self.response, self.response_seen, scatter, len(self.regression.readings))

    def _row(self, stack_um: float) -> tuple[float, float]:
        return 1.0, self.lay * (stack_um - self.reference_um)
