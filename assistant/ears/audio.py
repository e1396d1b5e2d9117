"""Sound files: read at any rate, width and number of channels, brought to what an ear takes."""

import wave
from dataclasses import dataclass
from math import gcd
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.core.errors import BadInputError
from assistant.ears import RATE

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

LOWEST_RATE, HIGHEST_RATE = 8_000, 384_000
FULL_BAND_RATE = 16_000
LONGEST_SECONDS = 60.0
_UNKNOWN_SIZES = (0, 0xFFFFFFFF, 0x7FFFFFFF)  # written by programs that could not go back to the header


class BadSoundError(BadInputError):
    """A sound file cannot be used. Scenes: a text file named .wav; a recording cut off in the middle of a number."""


@dataclass(frozen=True)
class Clip:
    """A recording as an ear takes it.

    samples: [samples] at 16 kHz, −1 to 1, channels averaged. recorded_rate: samples a second in the file.
    """

    samples: "NDArray[numpy.float64]"
    recorded_rate: int

    @property
    def warning(self) -> str:
        """What the technician should know about the recording; empty when it is good."""
        if self.recorded_rate >= FULL_BAND_RATE:
            return ""
        return f"recorded at {self.recorded_rate} Hz, which cuts off hissed sounds: digits are misheard far more often than at 16000 Hz"


def read(path: Path) -> Clip:
    """Read one WAV file: 8, 16, 24 or 32 bits or floats, any channels, 8 to 384 kHz, up to 60 s. Raises BadSoundError, naming the fault."""
    import miniaudio
    import numpy as np

    try:
        data = path.read_bytes()
    except OSError as error:
        raise BadSoundError(f"{path} cannot be read: {error.strerror or error}") from error
    _refuse_cut_off(path, data)
    try:
        decoded = miniaudio.wav_read_f32(data)
    except miniaudio.DecodeError as error:
        raise BadSoundError(f"{path} is not a WAV file that can be read: expected PCM or float samples") from error
    if not LOWEST_RATE <= decoded.sample_rate <= HIGHEST_RATE:
        raise BadSoundError(f"{path} is at {decoded.sample_rate} Hz: expected {LOWEST_RATE} to {HIGHEST_RATE}")
    if decoded.num_frames > LONGEST_SECONDS * decoded.sample_rate:
        seconds = decoded.num_frames / decoded.sample_rate
        raise BadSoundError(f"{path} lasts {seconds:.0f} s: one clip is one utterance, of {LONGEST_SECONDS:.0f} s at most")
    samples = np.frombuffer(decoded.samples, np.float32).reshape(-1, decoded.nchannels).mean(axis=1, dtype=np.float64)
    if not np.isfinite(samples).all():
        raise BadSoundError(f"{path} holds samples that are no numbers")
    return Clip(resampled(samples, decoded.sample_rate, RATE), decoded.sample_rate)


def write(path: Path, samples: "NDArray[numpy.float64]") -> None:
    """Write 16 kHz samples of −1 to 1 (more is clipped) as a WAV of one channel and 16 bits."""
    import numpy as np

    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(np.rint(np.clip(samples, -1.0, 1.0) * 32767).astype("<i2").tobytes())


def resampled(samples: "NDArray[numpy.float64]", from_rate: int, to_rate: int) -> "NDArray[numpy.float64]":
    """The same sound at another rate, filtered so that nothing above half of either rate folds down."""
    if from_rate == to_rate or len(samples) == 0:
        return samples
    # A second to import, and needed for foreign rates only.
    from scipy.signal import resample_poly

    common = gcd(from_rate, to_rate)
    result: NDArray[numpy.float64] = resample_poly(samples, to_rate // common, from_rate // common)
    return result


def _refuse_cut_off(path: Path, data: bytes) -> None:
    """Refuse a RIFF file whose samples end before its header says so: the lost part may have held a digit."""
    if data[:4] != b"RIFF":
        return
    at = 12
    while at + 8 <= len(data):
        size = int.from_bytes(data[at + 4 : at + 8], "little")
        if data[at : at + 4] == b"data":
            there = len(data) - at - 8
            if size > there and size not in _UNKNOWN_SIZES:
                raise BadSoundError(f"{path} is cut off: {there} bytes of samples, its header says {size}")
            return
        at += 8 + size + size % 2
