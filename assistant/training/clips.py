"""Clips to learn from: synthetic voices made on the spot, and people's recordings from folders that the user names.

A folder holds WAV files at any depth, each with its words: in `NAME.txt` beside `NAME.wav`, or in a `phrases.jsonl` as `benchhand doctor
--record` writes it. The folder that a file lies in is its speaker. Recordings of single words are also joined to strings of one speaker, for
fluent ones are rare. Kept out for good, so that the benchmarks stay honest: the voices of `assistant.benchmarks.voices.NEVER_HEARD`.
"""

import json
import random
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.benchmarks.voices import NEVER_HEARD, is_here, spoken
from assistant.core.errors import BadInputError
from assistant.ears import RATE
from assistant.ears.audio import read, resampled
from assistant.mouth.espeak import espeak
from assistant.training.texts import has_phones

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

SOURCES = ("espeak", "flite", "people", "joined")
SHORTEST_SECONDS, LONGEST_SECONDS = 0.15, 5.6
PEAK = 0.5
_ACCENTS = ("en-us",) * 4 + ("en",) * 2 + ("en-gb-scotland", "en-gb-x-gbclan", "en-gb-x-gbcwmd")
_TIMBRES = ("", "", "", "f1", "f2", "f3", "f4", "f5", "m1", "m2", "m3", "m4", "m5", "m6", "m7", "m8")
_FLITE = ("rms", "slt", "kal16", "kal")
_ACCENTED_SHARE, _SWAPPED_SHARE = 0.3, 0.28
# A foreign or regional accent, roughly: some sounds of espeak's English put for others; the labels stay as they are.
_SWAPS = (
    ("T", "t s f s"), ("D", "d z d"), (r"(?<![aeO@0])I(?![23@])", "i:"), ("V", "a 0"), (r"v(?=$| )", "f"), (r"z(?=$| )", "s"), ("w", "v"),
    ("o@", "O:"), ("oU", "O:"), ("eI", "E e:"), ("3:", "E"), ("u:", "U"), ("i:", "I"), (r"r(?!-)", "*"), ("a#", "@"), ("aI", "a"), ("E", "e a"),
    (r"@r?(?=$| )", "a 3:"), ("0", "O:"),
)  # fmt: skip


@dataclass(frozen=True)
class Clip:
    """One recording. text: its words, each with phones; source: one of SOURCES; samples: 16 kHz, 16 bit, without silence round them."""

    text: str
    source: str
    samples: "NDArray[numpy.int16]"


def by_espeak(listed: Sequence[str], seed: int) -> Iterator[Clip]:
    """Each text by espeak, in an accent, timbre, speed, pitch and gap of its own."""
    dice = random.Random(seed)
    for text in listed:
        voice = dice.choice(_ACCENTS)
        timbre = dice.choice(_TIMBRES)
        said = " ".join("[[T'aU]]" if word == "thou" else word for word in text.split())
        if dice.random() < _ACCENTED_SHARE:
            said = accented(text, voice, dice)
        speech = espeak().speech(
            said, f"{voice}+{timbre}" if timbre else voice, round(dice.uniform(115, 225)), dice.randint(22, 78), dice.randint(15, 90),
            dice.choice((0, 0, 0, 1, 3, 6, 12)),
        )  # fmt: skip
        yield from _clip(text, "espeak", resampled(speech / 32768.0, espeak().rate, RATE))


def accented(text: str, voice: str, dice: random.Random) -> str:
    """A text as espeak's phonemes with some sounds swapped."""
    said = " ".join("T'aU" if word == "thou" else espeak().phonemes(word, voice) for word in text.split())
    for sound, others in _SWAPS:
        if dice.random() < _SWAPPED_SHARE:
            said = re.sub(sound, dice.choice(others.split()), said)
    return f"[[{said}]]"


def by_flite(listed: Sequence[str], seed: int) -> Iterator[Clip]:
    """Each text by flite; nothing where flite is not installed."""
    dice = random.Random(seed)
    voices = [voice for name in _FLITE if is_here(voice := f"flite:{name}") and voice not in NEVER_HEARD]
    for text in listed if voices else ():
        yield from _clip(text, "flite", spoken(dice.choice(voices), text, dice.uniform(0.77, 1.39), dice.randint(20, 80)))


def people_in(folder: Path) -> Iterator[tuple[str, Clip]]:
    """(speaker, clip) of every recording in a folder. Raises BadInputError: no recordings, one without words, or one that cannot be read."""
    wavs = sorted(folder.rglob("*.wav"))
    if not wavs:
        raise BadInputError(f"{folder} holds no WAV files: expected NAME.wav with NAME.txt, or what `doctor --record` writes")
    for wav in wavs:
        text = _words_of(wav)
        if has_phones(text.split()):
            for clip in _clip(text, "people", read(wav).samples):
                yield str(wav.parent), clip


def joined(singles: Sequence[tuple[str, Clip]], count: int, seed: int) -> Iterator[Clip]:
    """`count` strings of one to five single words of one speaker, with gaps between; none where no single words are."""
    import numpy as np

    dice, rng = random.Random(seed), np.random.default_rng(seed)
    by_speaker: dict[str, list[Clip]] = {}
    for speaker, clip in singles:
        if " " not in clip.text:
            by_speaker.setdefault(speaker, []).append(clip)
    for _ in range(count if by_speaker else 0):
        words = by_speaker[dice.choice(sorted(by_speaker))]
        said = [dice.choice(words) for _ in range(dice.choice((1, 2, 2, 3, 3, 4, 4, 4, 5)))]
        gap = dice.choice((0.0, 0.04, 0.1, 0.2))
        parts = []
        for clip in said:
            quiet = rng.standard_normal(int(RATE * gap * dice.uniform(0.5, 1.3))) * 1e-4
            parts += [clip.samples / 32768.0 * dice.uniform(0.7, 1.2), quiet]
        yield from _clip(" ".join(clip.text for clip in said), "joined", np.concatenate(parts))


def _words_of(wav: Path) -> str:
    """The words of a recording. Raises BadInputError when there are none."""
    beside, listed = wav.with_suffix(".txt"), wav.parent / "phrases.jsonl"
    if beside.is_file():
        return " ".join(beside.read_text(encoding="utf-8").lower().split())
    if listed.is_file():
        for line in listed.read_text(encoding="utf-8").splitlines():
            try:
                phrase = json.loads(line)
                if f"{phrase['number']:03d}.wav" == wav.name:
                    return str(phrase["text"])
            except (ValueError, KeyError, TypeError) as error:
                raise BadInputError(f"{listed}: expected what `doctor --record` writes, not {line[:60]!r}") from error
    raise BadInputError(f"{wav} has no words: expected {beside.name} beside it, or its line in phrases.jsonl")


def _clip(text: str, source: str, wave: "NDArray[numpy.float64]") -> Iterator[Clip]:
    """The clip without the silence round it, its peak at 0.5; nothing when it is silent, a knock, or too long for the net."""
    import numpy as np

    loudest = float(np.abs(wave).max()) if len(wave) else 0.0
    if loudest < 1e-4:
        return
    loud = np.flatnonzero(np.abs(wave) > 0.012 * loudest)
    cut = wave[max(0, loud[0] - RATE // 100) : loud[-1] + 3 * RATE // 100] * (PEAK / loudest)
    if SHORTEST_SECONDS * RATE < len(cut) < LONGEST_SECONDS * RATE:
        yield Clip(text, source, np.rint(cut * 32767).astype(np.int16))
