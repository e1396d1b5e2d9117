"""Clips to learn from: what the voices say, and what a user's folders must hold."""

import json
import random
from pathlib import Path

import numpy as np
import pytest

from assistant.core.errors import BadInputError
from assistant.ears import RATE
from assistant.ears.audio import write
from assistant.training.clips import accented, by_espeak, joined, people_in
from tests.ears.speaking import said

TEXTS = ["six point five thou", "stop", "one eight inch pounds"]


def folder_with(tmp_path: Path, **words: str) -> Path:
    for name, text in words.items():
        speaker, _, take = name.partition("_")
        (tmp_path / speaker).mkdir(exist_ok=True)
        write(tmp_path / speaker / f"{take}.wav", said(text))
        (tmp_path / speaker / f"{take}.txt").write_text(text, encoding="utf-8")
    return tmp_path


def test_espeak_says_each_text_once_each_time_otherwise() -> None:
    clips = list(by_espeak(TEXTS * 2, 3))
    assert [clip.text for clip in clips] == TEXTS * 2
    assert len({len(clip.samples) for clip in clips}) > 3
    assert all(abs(int(np.abs(clip.samples.astype(int)).max()) - 16_384) < 2 for clip in clips)


def test_an_accent_swaps_sounds_and_keeps_thou_as_thin() -> None:
    dice = random.Random(1)
    said_ways = {accented("three thou", "en-us", dice) for _ in range(30)}
    assert len(said_ways) > 3
    assert all(way.startswith("[[") and way.endswith("]]") for way in said_ways)


def test_recordings_of_people_come_with_their_words_and_speaker(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, ann_1="six", ann_2="seven thou", bob_1="stop")
    found = list(people_in(folder))
    assert [(Path(speaker).name, clip.text) for speaker, clip in found] == [("ann", "six"), ("ann", "seven thou"), ("bob", "stop")]
    # Without the half second of quiet on either side.
    assert all(len(clip.samples) < 1.2 * RATE for _, clip in found)


def test_what_doctor_record_wrote_can_be_learnt_from(tmp_path: Path) -> None:
    write(tmp_path / "007.wav", said("six thou"))
    (tmp_path / "phrases.jsonl").write_text(json.dumps({"number": 7, "text": "six thou"}) + "\n", encoding="utf-8")
    assert [clip.text for _, clip in people_in(tmp_path)] == ["six thou"]


def test_a_word_without_phones_leaves_its_recording_out(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, ann_1="six")
    (folder / "ann" / "1.txt").write_text("xyzzy", encoding="utf-8")
    assert list(people_in(folder)) == []


def test_single_words_of_one_speaker_are_joined(tmp_path: Path) -> None:
    people = list(people_in(folder_with(tmp_path, ann_1="six", ann_2="seven", bob_1="eight", bob_2="nine thou")))
    strings = list(joined(people, 40, 1))
    assert len(strings) == 40
    for clip in strings:
        words = set(clip.text.split())
        assert words <= {"six", "seven"} or words == {"eight"}
    assert any(len(clip.text.split()) == 5 for clip in strings)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda _: None, "holds no WAV files"),
        (lambda folder: write(folder / "a.wav", said("six")), r"a\.wav has no words"),
        (lambda folder: ((folder / "a.wav").write_text("x"), (folder / "a.txt").write_text("six")), r"a\.wav is not a WAV file"),
        (lambda folder: (write(folder / "1.wav", said("six")), (folder / "phrases.jsonl").write_text("x\n")), "doctor --record"),
    ],
)  # fmt: skip
def test_a_folder_that_cannot_be_used_is_refused_with_what_was_expected(tmp_path: Path, make: object, says: str) -> None:
    make(tmp_path)  # type: ignore[operator]
    with pytest.raises(BadInputError, match=says):
        list(people_in(tmp_path))
