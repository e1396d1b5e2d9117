"""A voice that needs nothing installed: the bundled espeak-ng, through miniaudio, shaped to carry over a workshop's hum."""

import re
from collections.abc import Callable
from functools import lru_cache
from typing import TYPE_CHECKING

from assistant.ears.devices import NoDeviceError
from assistant.mouth import Tone
from assistant.mouth.espeak import espeak
from assistant.mouth.loudspeaker import Loudspeaker, notes

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

VOICES = {"en": "en-us", "de": "de"}
"""The voice of the library for each language."""
WORDS_A_MINUTE, SLOWER_WORDS_A_MINUTE = 155, 130
SHELF_HZ, SHELF_GAIN = 1_200.0, 2.0
"""Twice the amplitude above 1.2 kHz: consonants lie there, motors below. Common practice of announcements, not measured here."""
PEAK = 0.9
STOP_IS_SEEN_EVERY_SECONDS = 0.01


class BundledVoice:
    """Renders a sentence, keeps it, and plays it until it ends or is hushed."""

    def __init__(self, loudspeaker: Loudspeaker | None = None, volume: float = 1.0, language: str = "en") -> None:
        """Open the loudspeaker, if none is given. volume: 0 to 1. language: one of VOICES. Raises NoDeviceError."""
        self._loudspeaker = loudspeaker or Loudspeaker(espeak().rate)
        self._volume, self._voice = volume, VOICES[language]
        self.name = f"bundled espeak-ng, {self._voice}"

    def speak(self, text: str, slower: bool, is_hushed: Callable[[], bool]) -> None:
        """Say `text` to its end or until `is_hushed`. Raises NoDeviceError when the loudspeaker has gone."""
        # A sentence at a time: the first sound does not wait for the last word, and each next one is made while the one before it plays.
        parts = sentences(text)
        for at, part in enumerate(parts):
            self._begin(rendered(part, slower, self._voice))
            if at + 1 < len(parts):
                rendered(parts[at + 1], slower, self._voice)
            if not self._ends(is_hushed):
                return

    def tone(self, tone: Tone, is_hushed: Callable[[], bool]) -> None:
        """Sound `tone`; errors as `speak`."""
        self._begin(notes(tone, espeak().rate))
        self._ends(is_hushed)

    def _begin(self, samples: "NDArray[numpy.int16]") -> None:
        self._loudspeaker.play((samples * self._volume).astype("int16"))

    def _ends(self, is_hushed: Callable[[], bool]) -> bool:
        """Wait until all is played. Gives whether it was, and not hushed."""
        while not self._loudspeaker.wait(STOP_IS_SEEN_EVERY_SECONDS):
            if is_hushed():
                self._loudspeaker.stop()
                return False
            if self._loudspeaker.is_lost:
                raise NoDeviceError("the loudspeaker has gone: plug it in again; captions go on")
        return not is_hushed()

    def close(self) -> None:
        """Give the loudspeaker back."""
        self._loudspeaker.close()


def sentences(text: str) -> list[str]:
    """`text` cut after full stops, question marks and exclamation marks."""
    return [part for part in re.split(r"(?<=[.?!])\s+", text.strip()) if part]


@lru_cache(maxsize=512)
def rendered(text: str, slower: bool = False, voice: str = VOICES["en"]) -> "NDArray[numpy.int16]":
    """`text` as samples at the library's rate, highs lifted, peak 0.9. Kept: prompts repeat."""
    import numpy as np

    speech = espeak().speech(text, voice, SLOWER_WORDS_A_MINUTE if slower else WORDS_A_MINUTE)
    if not len(speech):
        return speech
    spectrum = np.fft.rfft(speech)
    hertz = np.fft.rfftfreq(len(speech), 1 / espeak().rate)
    share = (hertz / SHELF_HZ) ** 4 / (1 + (hertz / SHELF_HZ) ** 4)
    shaped = np.fft.irfft(spectrum * (1 + (SHELF_GAIN - 1) * share), len(speech))
    loudest = float(np.abs(shaped).max())
    return np.rint(shaped * (PEAK * 32767 / loudest)).astype(np.int16) if loudest > 0.0 else speech
