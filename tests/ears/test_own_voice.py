"""What the assistant says itself is not taken for an answer, should its voice come back through the microphone.

The rule on sample times (microphone.py) already keeps values and a yes out of such sound; this is what stands behind it.
"""

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

import assistant
from assistant.core.grammar import phrases
from assistant.core.words import Expectation
from assistant.ears import RATE
from assistant.ears.audio import resampled
from assistant.ears.crop import Endpointer, cropped, speech_in
from assistant.ears.net import NetEar, NetGrammar, judged, weighed
from assistant.mouth.bundled import rendered
from assistant.mouth.espeak import espeak

PHRASES = tomllib.loads((Path(assistant.__file__).parent / "phrases" / "en.toml").read_text("utf-8"))
ANYWHERE = ("repeat", "undo", "stop", "hold")
MOST_WORDS = 4
"""No longer sentence came near any phrase when all of them were tried."""
WAITS = {
    "a confirm": Expectation(None, None, commands=("yes", "no", *ANYWHERE)),
    "a done wait": Expectation(None, None, commands=("done", "understood", "why", "what do you have", "help", "go back", *ANYWHERE)),
    "backlash": Expectation("backlash", "in", commands=("take", "help", "why", "go back", *ANYWHERE)),
    "a drag": Expectation("pinion_drag", "lb-in", commands=("take", "help", "why", "go back", *ANYWHERE)),
}


@cache
def ear() -> NetEar:
    return NetEar()


@cache
def grammars() -> dict[str, NetGrammar]:
    return {name: ear().load(phrases(expected)) for name, expected in WAITS.items()}


def prompts(section: str) -> Iterator[str]:
    """Every sentence of a section of the phrases, without what the program fills in; one word alone is no sentence."""

    def texts(entry: object) -> Iterator[str]:
        if isinstance(entry, str):
            yield entry
        elif isinstance(entry, dict):
            for below in entry.values():
                yield from texts(below)

    for text in texts(PHRASES[section]):
        for sentence in re.split(r"[.?!]", re.sub(r"\{[^}]*\}", "", text)):
            if 1 < len(sentence.split()) <= MOST_WORDS:
                yield sentence.strip()


def as_recorded(text: str) -> NDArray[np.float64]:
    speech = resampled(rendered(text) / 32768.0, espeak().rate, RATE)
    return np.concatenate([np.zeros(RATE // 2), speech, np.zeros(RATE // 2)])


@pytest.mark.parametrize("section", [name for name, entry in PHRASES.items() if isinstance(entry, dict) and name != "names"])
def test_no_prompt_is_taken_for_an_answer(section: str) -> None:
    sentences = sorted(set(prompts(section)))
    assert sentences
    taken, endpointer = [], Endpointer()
    for sentence in sentences:
        sound = as_recorded(sentence)
        span = speech_in(sound, endpointer)
        assert span is not None, sentence
        labels = ear().phones(cropped(sound, span))
        for wait, grammar in grammars().items():
            chosen, _, _ = judged(*weighed(grammar, labels, None), grammar.bars)
            taken += [(wait, sentence, chosen.words)] if chosen is not None else []
    assert taken == []
