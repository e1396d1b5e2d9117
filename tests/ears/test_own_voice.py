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
from assistant.benchmarks import noises
from assistant.core.grammar import phrases
from assistant.core.words import Expectation
from assistant.ears import RATE
from assistant.ears.audio import resampled
from assistant.ears.crop import Endpointer, cropped, speech_in
from assistant.ears.microphone import Listener, Utterance
from assistant.ears.net import NetEar, NetGrammar, judged, weighed
from assistant.hearing import INTERRUPTS
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


# ---- the same through the microphone's own path, at several levels over a workshop's noise

LEVELS_DB = (-6.0, -20.0, -34.0)
"""Of full scale: a loudspeaker beside the microphone, on the bench, and across the room."""
READ_BACKS = (
    "six point five thousandths?", "one eight, eighteen inch pounds?", "zero point one four millimetres?", "one hundred eighty foot pounds?",
    "toe root?", "Stop the job?", "Again, please.", "Stop. This does not add up: backlash.", "Holding. I act on nothing but resume.",
)  # fmt: skip


def at_level(text: str, level_db: float) -> NDArray[np.int16]:
    """Our voice as the microphone has it, in a workshop's hum."""
    sound = as_recorded(text) * 10 ** (level_db / 20) / 0.9
    noise = noises.noise("fan", len(sound) + 2 * RATE, np.random.default_rng(4)) * 0.002
    noise[RATE : RATE + len(sound)] += sound
    return np.rint(np.clip(noise, -1, 1) * 32767).astype(np.int16)


def through_the_microphone(samples: NDArray[np.int16]) -> list[Utterance]:
    """What the listener hands on while the mouth says all but the first and last second and a half."""
    listener, found = Listener(), list[Utterance]()
    for at in range(0, len(samples), 512):
        part = samples[at : at + 512]
        speaks = 1.5 * RATE <= at + len(part) < len(samples) - 1.5 * RATE
        found += [event for event in listener.feed(part, (at + len(part)) / RATE, speaks) if isinstance(event, Utterance)]
    return found


@pytest.mark.parametrize("level_db", LEVELS_DB)
@pytest.mark.parametrize("text", READ_BACKS)
def test_our_own_read_back_is_marked_as_ours_and_nothing_is_taken_from_it_but_its_own_words(text: str, level_db: float) -> None:
    for utterance in through_the_microphone(at_level(text, level_db)):
        assert utterance.over_own_voice
        heard = ear().hear(utterance.sound, ear().load(phrases(Expectation(None, None, commands=INTERRUPTS))))
        # "Stop" out of our own mouth is one: the loop lets no word interrupt that we have just said ourselves (test_live_ears.py).
        assert heard.chosen is None or set(heard.chosen.words.split()) <= {word.strip(".,:?").lower() for word in text.split()}


@pytest.mark.parametrize("level_db", LEVELS_DB)
def test_no_prompt_is_taken_for_an_answer_at_any_level(level_db: float) -> None:
    # Whole ones: a sentence whose names are left out is never said.
    whole = [text for text in PHRASES["sentences"].values() if isinstance(text, str) and "{" not in text]
    texts = sorted({part.strip() for text in whole for part in re.split(r"[.?!]", text) if 1 < len(part.split()) <= MOST_WORDS})
    assert len(texts) >= 15
    taken, endpointer = [], Endpointer()
    for text in texts:
        sound = at_level(text, level_db) / 32768.0
        span = speech_in(sound, endpointer)
        if span is None:
            continue  # under the noise
        labels = ear().phones(cropped(sound, span))
        for wait, grammar in grammars().items():
            chosen, _, _ = judged(*weighed(grammar, labels, None), grammar.bars)
            taken += [(wait, text, chosen.words)] if chosen is not None else []
    assert taken == []
