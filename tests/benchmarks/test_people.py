"""People's words joined to readings; two synthetic voices stand for people here."""

from pathlib import Path

import numpy as np
import pytest

from assistant.benchmarks import voices
from assistant.benchmarks.people import STEPS, Speaker, speakers_in, strings
from assistant.core.english import ONES
from assistant.core.errors import BadInputError
from assistant.core.quantities import Quantity
from assistant.core.words import Expectation, Value, understand
from assistant.ears.audio import write


def a_folder(folder: Path, speaker: str, voice: str, words: list[str]) -> None:
    (folder / speaker).mkdir(parents=True)
    for word in words:
        write(folder / speaker / f"{word}.wav", voices.spoken(voice, word))
        (folder / speaker / f"{word}.txt").write_text(word, encoding="utf-8")


def test_each_speaker_says_readings_of_own_words_only(tmp_path: Path) -> None:
    a_folder(tmp_path, "one", "espeak:en-us", list(ONES[:10]))
    a_folder(tmp_path, "two", "espeak:en", ["zero", "six", "eighteen"])
    speakers = speakers_in(tmp_path)
    assert [one.name for one in speakers] == ["one", "two"]
    said = list(strings(speakers, 60, 3))
    assert {item.voice for item, _ in said} == {"one", "two"}
    assert len({(item.expect, item.unit) for item, _ in said}) > 3
    for item, speech in said:
        words = item.text.split()
        assert set(words) <= set(speakers[item.number % 2].words)
        meaning = understand(item.text, Expectation(item.expect, item.unit))
        assert isinstance(meaning, Value)
        assert meaning.quantity == Quantity.of(item.value, item.unit)
        shortest = sum(len(speakers[item.number % 2].words[word][0]) for word in words)
        assert shortest <= len(speech) <= shortest + len(words) * 16_000 * 0.25 * 1.2 + 1
    again = list(strings(speakers, 60, 3))
    assert all(np.array_equal(a, b) and one == two for (one, a), (two, b) in zip(said, again, strict=True))


def test_bare_numbers_are_readings_at_these_steps() -> None:
    assert ("backlash", "in") in STEPS
    assert ("pinion_drag", "lb-in") in STEPS


def test_words_that_make_no_reading_are_told() -> None:
    with pytest.raises(BadInputError, match="the words of somebody make no reading: stop"):
        list(strings([Speaker("somebody", {"stop": [np.zeros(1600)]})], 1, 1))


def test_a_folder_without_single_words_is_told(tmp_path: Path) -> None:
    a_folder(tmp_path, "one", "espeak:en-us", ["six six"])
    with pytest.raises(BadInputError, match="holds no recordings of single words"):
        speakers_in(tmp_path)
    with pytest.raises(BadInputError, match="holds no WAV files"):
        speakers_in(tmp_path / "nothing")
