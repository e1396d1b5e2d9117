"""Short clips for the tests of ears, made on the spot by the bundled espeak: no recordings, no sound device."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from assistant.ears import RATE
from assistant.ears.audio import resampled
from assistant.mouth.espeak import espeak


@cache
def said(words: str, voice: str = "en-us", words_a_minute: int = 150) -> NDArray[np.float64]:
    """`words` with half a second of quiet room before and after, peak 0.5; "thou" with the sound of "thin"."""
    spoken = " ".join("[[T'aU]]" if word == "thou" else word for word in words.split())
    speech = resampled(espeak().speech(spoken, voice, words_a_minute) / 32768.0, espeak().rate, RATE)
    quiet = np.zeros(RATE // 2)
    clip = np.concatenate([quiet, speech * (0.5 / np.abs(speech).max()), quiet])
    return clip + np.random.default_rng(1).normal(0.0, 0.0005, len(clip))


def silence(seconds: float) -> NDArray[np.float64]:
    """Digital silence."""
    return np.zeros(round(seconds * RATE))


def hiss(seconds: float, level: float = 0.1) -> NDArray[np.float64]:
    """White noise."""
    return np.random.default_rng(2).normal(0.0, level, round(seconds * RATE))


def hum(seconds: float) -> NDArray[np.float64]:
    """A motor: 59 Hz and its overtones."""
    t = np.arange(round(seconds * RATE)) / RATE
    return sum((0.2 / k * np.sin(2 * np.pi * 59 * k * t + k) for k in range(1, 20)), np.zeros(len(t)))
