"""Synthetic voices for the benchmarks: text in, 16 kHz speech out.

`espeak:NAME` is the bundled espeak-ng in this process, `flite:NAME` the program flite where it is installed (Debian package flite).
Synthetic voices are clearer than people, and stranger: figures on them rank settings, and promise nothing about a workshop.
"""

import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.core.errors import BadInputError
from assistant.ears import RATE
from assistant.ears.audio import read, resampled
from assistant.mouth.espeak import espeak

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

HEARD_IN_TRAINING = (
    "espeak:en-us", "espeak:en-us+f2", "espeak:en-us+m3", "espeak:en", "espeak:en-gb-scotland", "espeak:en-us+f4", "espeak:en-us+m7",
    "flite:kal16", "flite:rms", "flite:slt",
)  # fmt: skip
NEVER_HEARD = (
    "espeak:en-gb-x-rp", "espeak:en-029", "espeak:en-us-nyc", "espeak:en-us+Andy", "espeak:en-us+steph", "espeak:en-gb-x-rp+Alicia",
    "flite:awb",
)  # fmt: skip
"""Kept out of the recogniser's training for good: only these measure it honestly."""

WORDS_A_MINUTE = 160
PEAK = 0.5
# "thou" begins as "thin" does; both engines would say the old pronoun. flite would spell out "thousandth" letter by letter.
_ESPEAK = {"thou": "[[T'aU]]"}
_FLITE = {"thou": "thow", "thousandth": "thowzenth"}


def is_here(voice: str) -> bool:
    """Whether `voice` can speak on this computer."""
    return voice.startswith("espeak:") or (voice.startswith("flite:") and shutil.which("flite") is not None)


def spoken(voice: str, text: str, speed: float = 1.0, pitch: int = 50) -> "NDArray[numpy.float64]":
    """`text` in plain words, said by `voice`, without the silence round it, peak 0.5.

    speed: 1 is the voice's usual. pitch: 0 to 99, 50 is usual. Raises BadInputError for a voice that is not here or says nothing.
    """
    import numpy as np

    engine, _, name = voice.partition(":")
    if engine == "espeak":
        sound = _by_espeak(name, text, speed, pitch)
    elif engine == "flite":
        sound = _by_flite(name, text, speed, pitch)
    else:
        raise BadInputError(f"voice {voice!r}: expected espeak:NAME or flite:NAME")
    loudest = float(np.abs(sound).max()) if len(sound) else 0.0
    if loudest < 1e-4:
        raise BadInputError(f"voice {voice} says nothing for {text!r}")
    loud = np.flatnonzero(np.abs(sound) > 0.01 * loudest)
    return sound[max(0, loud[0] - RATE // 100) : loud[-1] + 3 * RATE // 100] * (PEAK / loudest)


def _by_espeak(name: str, text: str, speed: float, pitch: int) -> "NDArray[numpy.float64]":
    said = " ".join(_ESPEAK.get(word, word) for word in text.split())
    try:
        samples = espeak().speech(said, name, round(WORDS_A_MINUTE * speed), pitch)
    except ValueError as error:
        raise BadInputError(str(error)) from error
    return resampled(samples / 32768.0, espeak().rate, RATE)


def _by_flite(name: str, text: str, speed: float, pitch: int) -> "NDArray[numpy.float64]":
    program = shutil.which("flite")
    if program is None:
        raise BadInputError(f"voice flite:{name}: flite is not installed (Debian package flite)")
    said = " ".join(_FLITE.get(word, word) for word in text.split())
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "said.wav"
        command = [program, "-voice", name, "--setf", f"duration_stretch={1 / speed:.3f}", "-t", said, "-o", str(wav)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode != 0 or not wav.is_file():
            raise BadInputError(f"voice flite:{name}: {done.stderr.strip() or 'it wrote nothing'}")
        sound = read(wav).samples
    # flite has no pitch for all its voices: played a little faster or slower, it changes with the speed.
    return resampled(sound, round(RATE * (1 + (pitch - 50) / 400)), RATE)
