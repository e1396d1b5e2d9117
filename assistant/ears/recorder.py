"""So many seconds from a microphone, for looking at them: level, noise, and what is wrong with the sound."""

import queue
import time
from collections.abc import Generator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from assistant.ears import RATE
from assistant.ears.crop import BLOCK, Endpointer, signal_to_noise_db, speech_in
from assistant.ears.devices import NoDeviceError, device_id, quietly

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

LATE_SECONDS = 2.0
"""A device that has not sent what it owes by then sends nothing."""
CLIPPED_SHARE = 0.001
QUIET_DB = -45.0
"""A voice whose loud parts stay below this is lost in the converter's own noise on many devices. Common practice, no source."""
NARROW_SHARE = 1e-4
"""Of the power of speech, what lies above 4.2 kHz: a telephone band leaves less. Headsets do that in their call mode."""


def recorded(seconds: float, name: str | None = None, *, silent: bool = False) -> "NDArray[numpy.int16]":
    """What the microphone called `name` (or the system's own choice) hears in the next `seconds`: 16 kHz, one channel.

    silent: time passes as on a real device, and only digital silence comes (for tests). Raises NoDeviceError: there is none, or it sends nothing.
    """
    import miniaudio
    import numpy as np

    chosen = device_id("microphone", name)
    blocks: queue.SimpleQueue[bytes] = queue.SimpleQueue()

    def feed() -> Generator[None, bytes, None]:
        while True:
            block = yield
            blocks.put(bytes(block))

    with quietly():
        try:
            device = miniaudio.CaptureDevice(
                miniaudio.SampleFormat.SIGNED16, 1, RATE, 1000 * BLOCK // RATE, chosen, app_name="benchhand",
                backends=[miniaudio.Backend.NULL] if silent else None,
            )  # fmt: skip
        except miniaudio.MiniaudioError as error:
            raise NoDeviceError("no microphone: the sound system opens none; plug one in") from error
    try:
        if device.backend == "Null" and not silent:
            raise NoDeviceError("no microphone: this computer has no sound system")
        taking = feed()
        next(taking)
        device.start(taking)
        found, wanted, give_up_at = b"", round(2 * seconds * RATE), time.monotonic() + seconds + LATE_SECONDS
        while len(found) < wanted:
            try:
                found += blocks.get(timeout=max(0.0, give_up_at - time.monotonic()))
            except queue.Empty:
                raise NoDeviceError("the microphone is there but sends nothing: is another program holding it?") from None
        return np.frombuffer(found[:wanted], "<i2").astype(np.int16)
    finally:
        device.close()


@dataclass(frozen=True)
class SoundLook:
    """What a recording is like.

    peak_db, noise_db: of full scale; the noise is what is there without speech. speech_seconds: 0 where nobody spoke. snr_db: None where
    there is too little before the speech to tell. wrong: what to change, the worst first; empty when all is well.
    """

    peak_db: float
    noise_db: float
    speech_seconds: float
    snr_db: float | None
    wrong: tuple[str, ...]


def looked_at(samples: "NDArray[numpy.int16]", endpointer: Endpointer) -> SoundLook:
    """Look at a recording in which somebody should have spoken after half a second."""
    import numpy as np

    wave = samples / 32768.0
    if not len(wave) or not samples.any():
        return SoundLook(
            -np.inf, -np.inf, 0.0, None, ("it sends nothing at all: unmute it, or allow the microphone in the system's settings",)
        )
    span = speech_in(wave, endpointer)
    rest = wave if span is None else np.concatenate([wave[: span.start], wave[span.end :]])
    peak, noise = _db(float(np.abs(wave).max())), _db(float(np.sqrt(np.mean(rest**2))) if len(rest) else 0.0)
    if span is None:
        return SoundLook(peak, noise, 0.0, None, ("no speech in it: speak while it records, nearer to the microphone, or turn it up",))
    snr = signal_to_noise_db(wave, span)
    wrong = []
    if float(np.mean(np.abs(samples.astype(np.int32)) >= 32767)) > CLIPPED_SHARE:
        wrong.append("it clips: turn it down, or move it from the mouth to the side of it")
    elif peak < QUIET_DB:
        wrong.append("it is very quiet: turn it up, or come nearer")
    if snr is not None and snr < 8.0:
        wrong.append(
            f"speech only {snr:.0f} dB over the noise: a headset or lapel microphone, or the noise off; readings are missed below 8 dB"
        )
    elif snr is not None and snr < 15.0:
        wrong.append(f"speech {snr:.0f} dB over the noise: come nearer, 20 dB is what a headset gives")
    if _share_above(wave[span.start : span.end], 4200.0) < NARROW_SHARE:
        wrong.append("it cuts off what hisses (a telephone band): take the headset out of its call mode, or another microphone")
    return SoundLook(peak, noise, span.seconds, snr, tuple(wrong))


def _db(level: float) -> float:
    import numpy as np

    return 20.0 * float(np.log10(level)) if level > 0.0 else -np.inf


def _share_above(speech: "NDArray[numpy.float64]", hertz: float) -> float:
    import numpy as np

    power = np.abs(np.fft.rfft(speech)) ** 2
    total = float(power.sum())
    return float(power[np.fft.rfftfreq(len(speech), 1 / RATE) > hertz].sum()) / total if total > 0.0 else 0.0
