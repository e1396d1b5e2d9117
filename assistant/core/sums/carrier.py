"""The carrier between its two side bearings: side shims, their sum, and how far the caps spread."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from assistant.core.errors import ImpossibleValueError
from assistant.core.quantities import Length

NOTHING = Length(0)


@dataclass(frozen=True)
class SideShims:
    """The packs at both ends. ring_side: behind the ring gear's back face, thicker moves the ring gear toward the pinion."""

    ring_side: Length
    opposite: Length

    @property
    def total(self) -> Length:
        """What the bearings feel: a backlash move keeps it, a preload adds to it."""
        return self.ring_side + self.opposite


def zero_play_total(trial: Sequence[Length], play: Length) -> Length:
    """The side shims at which the case has neither play nor preload: what is fitted plus the play that is left.

    trial: the packs as they stand, pinion out. Source: Dodge Durango 2000 p. 3-52 (.118 + .118 + .042 = .278); Porsche 996 sheet 39-228.
    """
    return sum(trial, play)


def side_shims_after(shims: SideShims, ring_move: Length, *, preload: Length = NOTHING, step: Length | None = None) -> SideShims:
    """The packs after the ring gear moved and preload was added.

    ring_move: positive away from the pinion. preload: total to add, half on each side. step: the ring side goes to the nearest multiple of
    it and the opposite side takes the rest, so that the sum stays (Porsche 996 sheet 39-228: nearest 0.05 mm, total kept).
    Source: TM 9-2320-289-34 p. 6-19 (.250/.265, move .010, .004 each: .244/.279). Raises ImpossibleValueError for a pack below nothing.
    """
    total = shims.total + preload
    ring_side = shims.ring_side - ring_move + preload.times(Fraction(1, 2))
    if step is not None:
        if step <= NOTHING:
            raise ImpossibleValueError("a step of shims is more than nothing")
        ring_side = step.times(round(Fraction(ring_side.nanometres, step.nanometres)))
    moved = SideShims(ring_side, total - ring_side)
    if min(moved.ring_side, moved.opposite) < NOTHING:
        raise ImpossibleValueError(
            f"the packs would be {moved.ring_side.quantity('mm')} on the ring side and {moved.opposite.quantity('mm')} opposite: "
            "no pack is thinner than nothing"
        )
    return moved


def cap_spread(before: Length, after: Length) -> Length:
    """How far the caps opened. Raises ImpossibleValueError when nothing changed (an echo, not a measurement) or the caps closed.

    Source: Meritor MM-15103 p. 43 (13.927 before, 13.932 after: .005 in).
    """
    if before == after:
        raise ImpossibleValueError("before and after are the same to the last digit: measure again after the adjusters were tightened")
    if after < before:
        raise ImpossibleValueError("after is less than before: caps open when preload is added; were the two swapped?")
    return after - before
