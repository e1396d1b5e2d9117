"""Expected and surprising values apart: the same clips, each heard once near its prediction and once far from it, for several priors.

A prior that may choose hears what it expects: it mends slips near the prediction, and makes some far from it. One that only orders cannot, but
can say which read-back to put as a question. Both are counted, so that its strength is chosen by figures.
"""

import random
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from assistant.benchmarks.peers import expectation_of, line_of
from assistant.benchmarks.speech_kit import Clip, Item, outcome
from assistant.core.grammar import phrases, value_set
from assistant.core.quantities import Quantity
from assistant.ears import Candidate, Heard
from assistant.ears.net import NetEar
from assistant.ears.prior import around

SPREADS = {
    ("backlash", "in"): "0.0015", ("ring_runout", "in"): "0.001", ("backlash", "mm"): "0.04", ("pinion_drag", "lb-in"): "3",
    ("pinion_drag", "N·m"): "0.4", ("nut_torque", "lb-ft"): "15",
}  # fmt: skip
"""One standard deviation of a prediction, in the step's unit: assumed, about a quarter of a usual tolerance and more."""
NEAR, FAR = 2.0, 4.0
"""Deviations: an expected value lies within the first of its prediction, a surprising one beyond the second."""
FLOORS = (1.0, 0.2, 0.05, 0.02, 0.001, 0.0001)
"""Of the most likely value's chance, for any value: 1 is no prior at all; the lower, the stronger."""
KINDS = ("expected", "surprising")


@dataclass(frozen=True)
class Heeded:
    """A reading that was said and what was heard: candidates by the sound alone, and the accepted one, if any."""

    item: Item
    candidates: tuple[Candidate, ...]
    chosen: Candidate | None


@dataclass(frozen=True)
class Tally:
    """Counts over readings that were said.

    misheard: with the prior choosing, whatever the bars, another meaning than the said one comes first (nothing at all counts too).
    right, wrong: accepted by the shipped rules, which no prior changes; questioned_right, questioned_wrong: those of them that the prior
    would put as a question, because it would have chosen another.
    """

    said: int
    misheard: int
    right: int
    wrong: int
    questioned_right: int
    questioned_wrong: int


def heeded(clips: Iterable[Clip], ear: NetEar) -> Iterator[Heeded]:
    """What the ear hears of every reading among `clips`, without a prior."""
    for clip in clips:
        if clip.item.kind == "reading":
            legal = phrases(expectation_of(clip.item), value_set(clip.item.expect, clip.item.unit))
            heard: Heard = ear.hear(clip.samples, ear.load(legal))
            yield Heeded(clip.item, heard.candidates, heard.chosen)


def prediction(item: Item, kind: str, seed: int) -> Quantity | None:
    """A prediction for what is said, drawn anew for each item: near it or far from it; None where no value of the step is far enough."""
    dice = random.Random(f"{seed} {item.number} {kind}")
    said, spread = Quantity.of(item.value, item.unit), Quantity.of(SPREADS[item.expect, item.unit], item.unit)
    among = []
    for value in value_set(item.expect, item.unit):
        away = abs(float((value.base - said.base) / spread.base))
        if (away <= NEAR) if kind == "expected" else (away >= FAR):
            among.append(value)
    return dice.choice(among) if among else None


def tallied(found: Sequence[Heeded], seed: int, floors: Sequence[float] = FLOORS) -> dict[tuple[float, str], Tally]:
    """The tally of each floor and kind. A reading that cannot be a surprise at its step counts in neither."""
    predicted = [(one, {kind: prediction(one.item, kind, seed) for kind in KINDS}) for one in found]
    both = [(one, centres) for one, centres in predicted if None not in centres.values()]
    return {(floor, kind): _tally([(one, centres[kind]) for one, centres in both], floor) for floor in floors for kind in KINDS}


def _tally(pairs: Sequence[tuple[Heeded, Quantity | None]], floor: float) -> Tally:
    counts = dict.fromkeys(("misheard", "right", "wrong", "questioned_right", "questioned_wrong"), 0)
    for one, centre in pairs:
        assert centre is not None
        prior = around(centre, Quantity.of(SPREADS[one.item.expect, one.item.unit], one.item.unit), floor)
        first = max(one.candidates, key=lambda candidate: candidate.posterior * prior(candidate.meaning), default=None)
        counts["misheard"] += first is None or not is_said(one.item, first.meaning)
        if one.chosen is not None:
            assert first is not None
            verdict = "right" if is_said(one.item, one.chosen.meaning) else "wrong"
            counts[verdict] += 1
            counts[f"questioned_{verdict}"] += first.meaning != one.chosen.meaning
    return Tally(len(pairs), **counts)


def is_said(item: Item, meaning: Hashable) -> bool:
    """Whether a meaning is what was said."""
    return outcome(item, line_of(meaning, "", 0.0)) == "right"
