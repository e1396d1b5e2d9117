"""People's single words, joined to readings that are legal at a step: the nearest to fluent numbers by real voices that single words allow.

A folder as the training takes it (`assistant.training.clips`): NAME.wav with its words in NAME.txt, a folder a speaker. What a benchmark
hears must never have been trained on.
"""

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.benchmarks.speech_kit import Item
from assistant.core.errors import BadInputError
from assistant.core.grammar import phrases, value_set
from assistant.core.words import Expectation, Value
from assistant.ears import RATE

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Sound = NDArray[numpy.float64]

STEPS = (
    ("backlash", "in"),
    ("ring_runout", "in"),
    ("pinion_drag", "lb-in"),
    ("nut_torque", "lb-ft"),
    ("angle", "deg"),
    ("notches", "notch"),
)
"""Where bare numbers are readings: quantity and unit."""
GAPS = (0.0, 0.05, 0.12, 0.25)
"""Seconds between the words of one string."""
_MOST_WEIGHT = 200


@dataclass(frozen=True)
class Speaker:
    """One person's words, each with its recordings (16 kHz, peak 0.5)."""

    name: str
    words: "Mapping[str, Sequence[Sound]]"


def speakers_in(folder: Path) -> list[Speaker]:
    """Everyone who speaks single words in a folder. Raises BadInputError: no recordings, none of single words, or one that cannot be read."""
    from assistant.training.clips import people_in

    found: dict[str, dict[str, list[Sound]]] = {}
    for speaker, clip in people_in(folder):
        if " " not in clip.text:
            found.setdefault(Path(speaker).name, {}).setdefault(clip.text, []).append(clip.samples / 32768.0)
    if not found:
        raise BadInputError(f"{folder} holds no recordings of single words: expected NAME.wav, and one word in NAME.txt")
    return [Speaker(name, words) for name, words in sorted(found.items())]


def strings(speakers: Sequence[Speaker], count: int, seed: int) -> Iterator[tuple[Item, "Sound"]]:
    """`count` readings, each speaker in turn, joined from that speaker's words. Raises BadInputError for one whose words make no reading."""
    import numpy as np

    dice, rng = random.Random(seed), np.random.default_rng(seed)
    sayable = {one.name: _sayable(one) for one in speakers}
    for number in range(count):
        speaker = speakers[number % len(speakers)]
        steps = sayable[speaker.name]
        # A step with many readings is drawn oftener, but those with few are heard too.
        quantity, unit = dice.choices(list(steps), [min(len(among), _MOST_WEIGHT) ** 0.5 for among in steps.values()])[0]
        text, value = dice.choice(steps[quantity, unit])
        gap = dice.choice(GAPS)
        parts = []
        for word in text.split():
            quiet = rng.standard_normal(round(RATE * gap * dice.uniform(0.5, 1.2))) * 1e-4
            parts += [dice.choice(speaker.words[word]) * dice.uniform(0.8, 1.2), quiet]
        item = Item(number, "reading", text, quantity, unit, form="joined words", value=value.quantity.text, voice=speaker.name)
        yield item, np.concatenate(parts)


def _sayable(speaker: Speaker) -> dict[tuple[str, str], list[tuple[str, Value]]]:
    """By step, the readings that a speaker's words can make."""
    found = {}
    for quantity, unit in STEPS:
        legal = phrases(Expectation(quantity, unit), value_set(quantity, unit))
        made = [(text, meaning) for text, meaning in legal if isinstance(meaning, Value) and set(text.split()) <= set(speaker.words)]
        if made:
            found[quantity, unit] = made
    if not found:
        raise BadInputError(f"the words of {speaker.name} make no reading: {', '.join(sorted(speaker.words)[:10])}")
    return found
