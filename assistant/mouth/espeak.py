"""The espeak-ng that comes bundled with the package espeakng-loader, in this process: text in, samples out, no sound device.

It is a program of its own licence (GPL-3) that we load, unchanged, as the package brings it; its speech carries no licence.
The library holds one state for the whole process, so there is one `Espeak`, and one sentence at a time.
"""

import ctypes
import threading
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

# Numbers of the library's C interface (speak_lib.h of espeak-ng 1.52).
_SYNCHRONOUS = 2
_RATE, _PITCH, _RANGE, _GAP = 1, 3, 4, 7
_UTF8, _PHONEMES = 1, 0x100
_MONO_16 = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)


class Espeak:
    """The running library. Take it from `espeak()`: it can be started once in a process."""

    def __init__(self) -> None:
        """Start the library. Raises OSError when it does not load or finds no data."""
        import espeakng_loader

        self._library = ctypes.CDLL(espeakng_loader.get_library_path())
        data = espeakng_loader.get_data_path()
        self.rate = int(self._library.espeak_Initialize(_SYNCHRONOUS, 0, data.encode(), 0))
        if self.rate <= 0:
            raise OSError(f"espeak-ng did not start with its data in {data}")
        # Else its breath noise begins with the time of day, and no clip of the benchmarks could be made again.
        self._library.espeak_ng_SetRandSeed(ctypes.c_long(1))
        self._parts: list[bytes] = []
        self._callback = _MONO_16(self._take)  # kept: the library holds only its address
        self._library.espeak_SetSynthCallback(self._callback)
        self._one_at_a_time = threading.Lock()

    def _take(self, samples: "ctypes._Pointer[ctypes.c_short]", count: int, _events: int | None) -> int:
        if samples and count > 0:
            self._parts.append(ctypes.string_at(samples, 2 * count))
        return 0

    def speech(
        self, text: str, voice: str = "en-us", words_a_minute: int = 160, pitch: int = 50, melody: int = 50, gap: int = 0
    ) -> "NDArray[numpy.int16]":
        """`text` as one channel of 16-bit samples, `rate` of them a second; none for a text without words.

        text: words, or phonemes of the library between double brackets. voice: "en-us", "en-us+f2", "en-gb-x-rp" …
        words_a_minute: 80 to 450. pitch: 0 to 99; melody: how far it moves, 0 to 99.
        gap: more silence between words, in 10 ms. Raises ValueError for a voice it does not have.
        """
        import numpy as np

        with self._one_at_a_time:
            if self._library.espeak_SetVoiceByName(voice.encode()) != 0:
                raise ValueError(f"espeak-ng has no voice {voice!r}")
            for number, value in ((_RATE, words_a_minute), (_PITCH, pitch), (_RANGE, melody), (_GAP, gap)):
                self._library.espeak_SetParameter(number, value, 0)
            self._parts = []
            raw = text.encode()
            self._library.espeak_Synth(raw, ctypes.c_size_t(len(raw) + 1), 0, 1, 0, _UTF8 | _PHONEMES, None, None)
            self._library.espeak_Synchronize()
            return np.frombuffer(b"".join(self._parts), dtype="<i2").astype(np.int16)

    def phonemes(self, text: str, voice: str = "en-us") -> str:
        """`text` in the library's own phonemes, as `speech` takes them between double brackets. Raises ValueError as `speech` does."""
        with self._one_at_a_time:
            if self._library.espeak_SetVoiceByName(voice.encode()) != 0:
                raise ValueError(f"espeak-ng has no voice {voice!r}")
            said = ctypes.c_char_p(text.encode())
            self._library.espeak_TextToPhonemes.restype = ctypes.c_char_p
            found: list[str] = []
            # One clause a call; the library moves the pointer on, and clears it at the end.
            while said.value is not None:
                clause = self._library.espeak_TextToPhonemes(ctypes.byref(said), _UTF8, 0)
                found.append((clause or b"").decode().strip())
            return " ".join(filter(None, found))


_STARTING = threading.Lock()


@cache
def _started() -> Espeak:
    return Espeak()


def espeak() -> Espeak:
    """The one library of this process, started at the first call; two threads that call first get the same."""
    with _STARTING:
        return _started()
