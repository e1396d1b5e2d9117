"""Playing samples so that they can be cut off at once, through miniaudio.

The device runs as long as this is open and plays silence in between: starting one takes longer than a word may wait.
"""

import threading
import time
from collections.abc import Generator
from typing import TYPE_CHECKING, Any

from assistant.ears.devices import NoDeviceError, device_id, quietly
from assistant.mouth import Tone

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

PERIOD_MILLISECONDS = 20
"""Handed to the device at a time; a cut is heard after two or three of them."""
LOST_AFTER_SECONDS = 1.0
"""Without the device asking for samples, it is gone."""

NOTE_SECONDS, NOTE_PEAK = 0.09, 0.5
NOTES_HZ = {Tone.LISTENING: (660, 880), Tone.HELD: (660, 440), Tone.AGAIN: (550, 550), Tone.LOST: (660, 550, 440)}
"""All below 1 kHz, where no consonant lies, and above the hum of motors."""


def notes(tone: Tone, rate: int) -> "NDArray[numpy.int16]":
    """A tone as samples: its notes one after another, each fading in and out so that it does not click."""
    import numpy as np

    t = np.arange(round(NOTE_SECONDS * rate)) / rate
    fade = np.sin(np.pi * t / NOTE_SECONDS)
    parts = [np.rint(NOTE_PEAK * 32767 * fade * np.sin(2 * np.pi * hertz * t)) for hertz in NOTES_HZ[tone]]
    return np.concatenate(parts).astype(np.int16)


class Loudspeaker:
    """One playback device of one channel. `play` and `stop` from any thread."""

    def __init__(self, rate: int, name: str | None = None, silent: bool = False) -> None:
        """Open the device called `name`, or the system's own choice. Raises NoDeviceError.

        rate: samples a second of what will be played. silent: time passes as on a real device, and nothing sounds (for tests).
        """
        import miniaudio

        self.rate = rate
        chosen = device_id("loudspeaker", name)
        with quietly():
            try:
                self._device: Any = miniaudio.PlaybackDevice(
                    miniaudio.SampleFormat.SIGNED16,
                    1,
                    rate,
                    PERIOD_MILLISECONDS,
                    chosen,
                    backends=[miniaudio.Backend.NULL] if silent else None,
                    app_name="benchhand",
                )
            except miniaudio.MiniaudioError as error:
                raise NoDeviceError("no loudspeaker: the sound system opens none; plug one in, or use --mouth captions") from error
        if self._device.backend == "Null" and not silent:
            self._device.close()
            raise NoDeviceError("no loudspeaker: this computer has no sound system; use --mouth captions")
        self._lock = threading.Lock()
        self._playing = b""
        self._ended = threading.Event()
        self._ended.set()
        self._asked_at = time.monotonic()
        feed = self._feed()
        next(feed)
        self._device.start(feed)

    @property
    def is_lost(self) -> bool:
        """Whether the device no longer asks for samples: it was unplugged, or another program took it."""
        return time.monotonic() - self._asked_at > LOST_AFTER_SECONDS

    def play(self, samples: "NDArray[numpy.int16]") -> None:
        """Play `samples` now, in place of anything that is playing; does not wait."""
        with self._lock:
            self._playing = samples.astype("<i2").tobytes()
            self._ended.clear()

    def wait(self, seconds: float) -> bool:
        """Wait until all is played, `seconds` at most. Gives whether it is."""
        return self._ended.wait(seconds)

    def stop(self) -> None:
        """Play silence from the next period on."""
        with self._lock:
            self._playing = b""
            self._ended.set()

    def close(self) -> None:
        """Give the device back."""
        self._device.close()
        self._ended.set()

    def _feed(self) -> Generator[bytes, int, None]:
        """What the device asks for: its thread sends the number of frames it wants."""
        samples = b""
        while True:
            wanted = 2 * (yield samples)
            self._asked_at = time.monotonic()
            with self._lock:
                samples, self._playing = self._playing[:wanted], self._playing[wanted:]
                if not samples:
                    self._ended.set()
            samples = samples.ljust(wanted, b"\0")
