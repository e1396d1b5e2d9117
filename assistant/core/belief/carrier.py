"""The carrier's two sides: their difference moves the ring gear, their sum squeezes the side bearings, and the pinion feels the squeeze.

ring away from the pinion = per · (opposite − ring side) / 2,   tightness = ring side + opposite
total drag at the pinion = pinion drag + carrier drag / ratio + seal

Sides count in what they are set by: micrometres of shim (per = 1: a swap of s moves the ring by s) or notches, positive tightens (per = the
ring's movement per notch when the other side is backed off as much). One side alone therefore moves the ring half as far and changes the preload.
Drag in newton-metres; carrier drag is about the carrier's own axis, a ratio is ring teeth over pinion teeth.
Sources: GM M1009 (TM 9-2320-289-34): .250/.265 in, .010 away and .004 of preload a side make .244/.279; equal power on both sides of the mesh.
"""

from dataclasses import dataclass, replace

from assistant.core.belief.drag import DragBelief
from assistant.core.belief.normal import Normal
from assistant.core.belief.outlook import Outlook


def ring_move(ring_side: float, opposite: float, per: float = 1.0) -> float:
    """How far the ring gear goes away from the pinion when the two sides change by this much; in the unit of `per`."""
    return per * (opposite - ring_side) / 2.0


def tightness(ring_side: float, opposite: float) -> float:
    """What squeezes the side bearings: both sides together."""
    return ring_side + opposite


@dataclass(frozen=True)
class LearnedCarrier:
    """What the side bearings have shown, for a sentence: contact and slope along the sum of both sides; the slope is carrier drag per unit."""

    contact: Normal
    slope: Normal
    slope_at_pinion: Normal
    readings: int


@dataclass(frozen=True)
class CarrierBelief:
    """What is known of the side bearings. Immutable: the observers give a new one.

    seal: drag of a seal that the total has and the pinion's own figure has not; None when both were taken in the same state.
    """

    ratio: float
    drag: DragBelief
    seal: Normal | None = None

    def __post_init__(self) -> None:
        if self.ratio <= 0.0:
            raise ValueError(f"a ratio is above zero, not {self.ratio}")

    @classmethod
    def adjusters(cls, ratio: float, seal: Normal | None = None, contact: Normal | None = None) -> "CarrierBelief":
        """Threaded adjusters: sides in notches from just no play. contact: where the count of both sides meets it, if that is known worse."""
        return cls(ratio, DragBelief.adjusters() if contact is None else DragBelief.adjusters(contact), seal)

    @classmethod
    def side_shims(cls, ratio: float, total_um: float, seal: Normal | None = None) -> "CarrierBelief":
        """Shims beside or inside the side bearings: sides in micrometres. total_um: both packs together, as first chosen."""
        return cls(ratio, DragBelief.side_shims(total_um), seal)

    def observe_carrier(self, ring_side: float, opposite: float, drag: float, noise: float, assembly: int = 0) -> "CarrierBelief":
        """After the carrier's own drag was read (pinion out, or held clear); noise: its spread."""
        return replace(self, drag=self.drag.observe(tightness(ring_side, opposite), drag, noise, assembly))

    def observe_total(
        self, ring_side: float, opposite: float, total: float, noise: float, pinion: Normal, assembly: int = 0
    ) -> "CarrierBelief":
        """After the total drag was read at the pinion; pinion: its own drag in the same state and how far that is known."""
        rest = Normal(total, noise).plus(pinion.scaled(-1.0))
        if self.seal is not None:
            rest = rest.plus(self.seal.scaled(-1.0))
        share = rest.scaled(self.ratio)
        return self.observe_carrier(ring_side, opposite, share.mean, share.spread, assembly)

    def predict_carrier(self, ring_side: float, opposite: float, noise: float) -> Outlook:
        """The carrier's own drag to be read next; noise: that reading's spread."""
        return self.drag.predict(tightness(ring_side, opposite), noise)

    def predict_total(self, ring_side: float, opposite: float, pinion: Normal, noise: float) -> Outlook:
        """The total drag to be read next at the pinion; noise: that reading's spread."""
        # The reading's error comes in at the pinion: the carrier's share is asked for with next to none.
        share = self.drag.predict(tightness(ring_side, opposite), 1e-6).scaled(1.0 / self.ratio)
        added = pinion if self.seal is None else pinion.plus(self.seal)
        return share.plus(added.plus(Normal(0.0, noise)))

    def explain(self) -> LearnedCarrier:
        """The numbers behind "what have you learned"."""
        learned = self.drag.explain()
        return LearnedCarrier(learned.contact, learned.slope, learned.slope.scaled(1.0 / self.ratio), learned.readings)
