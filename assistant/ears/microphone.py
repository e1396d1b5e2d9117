"""Live listening: from the microphone's stream to utterances, and what is wrong with the microphone.

Rules:
- The assistant hears its own voice. An utterance that began while it spoke, or within a quarter of a second after, is marked: no value
  and no "yes" may be taken from it, it is only good for interrupting.
- A device that goes is told within about a second, and the same one is looked for again; another never takes its place unasked.
- Nothing is kept beyond ten seconds, and nothing goes to disk.
"""

import queue
import threading
import time
from collections.abc import Callable, Generator
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Any

from assistant.core.errors import BadInputError
from assistant.ears import RATE
from assistant.ears.crop import BLOCK, LEVEL, MARGIN_SECONDS, NOISE_SECONDS, Endpointer, Span
from assistant.ears.devices import NoDeviceError, device_id, quietly

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

RING_SECONDS = 10.0
BEFORE_SECONDS = MARGIN_SECONDS + NOISE_SECONDS
"""Kept from before the speech: the margin, and a stretch to measure the noise in."""
OWN_VOICE_SECONDS = 0.25
"""After the mouth has ended, its sound is still in the air and in the buffers."""
LOST_SECONDS = 1.0
FLAT_SECONDS = 1.0
CLIPPED_SHARE = 0.001
LONGEST_SECONDS = 8.0
"""An utterance is handed over by then, ended or not: a room that talks without a pause must not fill the memory."""
INTERRUPTS_AT, INTERRUPTS_AFTER_SECONDS, INTERRUPTS_OVER = 0.8, 0.2, 2.0
"""Speech this likely, for this long, at twice the level (6 dB) of our own voice in the microphone: the technician talks over us."""
OWN_LEVEL_SECONDS = 2.0
"""Of our own voice must have been heard before its level is known; until then nobody can talk over us."""
OWN_LEVEL_QUANTILE = 0.95
"""Of the blocks heard while we speak: our loud syllables, but not the first blocks of somebody talking over them."""
QUIETEST_LEVEL = 0.01
"""The detector's gain grows no further for a quieter room: six times."""


@dataclass(frozen=True)
class Utterance:
    """Somebody said something.

    sound: 16 kHz, from half a second before the speech to a quarter after it. began, ended: the caller's clock in seconds.
    over_own_voice: it began while the mouth spoke. is_clipped: it is overdriven (too close).
    """

    sound: "NDArray[numpy.int16]"
    began: float
    ended: float
    over_own_voice: bool
    is_clipped: bool


@dataclass(frozen=True)
class TalkedOver:
    """The technician speaks while the mouth does: silence it. at: the caller's clock."""

    at: float


class Fault(Enum):
    """What can be wrong with a microphone."""

    LOST = "lost"
    FLAT = "flat"


@dataclass(frozen=True)
class MicrophoneTrouble:
    """A fault has begun, or, with is_over, ended. text: one line for the technician."""

    fault: Fault
    text: str
    is_over: bool = False


MicrophoneEvent = Utterance | TalkedOver | MicrophoneTrouble


class Listener:
    """The stream's ear: blocks in, events out. It has no clock, device or thread of its own."""

    def __init__(self) -> None:
        import numpy as np

        self._endpointer = Endpointer()
        self._ring = np.zeros(round(RING_SECONDS * RATE), np.int16)
        self._heard = 0  # samples since the start of the stream
        self._rest = np.zeros(0, np.int16)
        self._zeros = 0
        self._is_flat = False
        self._own_until = float("-inf")
        self._own_levels: list[float] = []
        self._over = 0  # samples that the technician has talked over us, less those of the gaps between
        self._is_over_told = False
        self._level_square = LEVEL**2
        self._at = 0.0
        self._foreseen = -1  # the end of the utterance that was last given by `foreseen`

    def feed(self, samples: "NDArray[numpy.int16]", at: float, mouth_speaks: bool = False) -> list[MicrophoneEvent]:
        """Take the next samples of the stream. at: when the last of them was captured. mouth_speaks: whether our own voice is in them."""
        import numpy as np

        pending = np.concatenate([self._rest, samples])
        blocks = pending[: len(pending) // BLOCK * BLOCK].reshape(-1, BLOCK)
        self._rest = pending[blocks.size :]
        events: list[MicrophoneEvent] = []
        for number, block in enumerate(blocks):
            events += self._block(block, at - (len(pending) - (number + 1) * BLOCK) / RATE, mouth_speaks)
        return events

    @property
    def is_hearing(self) -> bool:
        """Whether somebody is speaking just now."""
        return self._endpointer.start is not None

    def foreseen(self) -> Utterance | None:
        """The utterance as it will be handed over if nobody speaks on, once for each pause: its sound is whole, the pause is not over.

        The margin behind the speech is shorter than the silence that ends an utterance: in the time between it can be decoded.
        """
        span = self._endpointer.running
        if span is None or span.end == self._foreseen or self._heard - span.end < MARGIN_SECONDS * RATE:
            return None
        self._foreseen = span.end
        return self._utterance(span, self._at)

    def restart(self) -> None:
        """Forget the stream: the device has been away."""
        self._endpointer.restart()
        self._ring[:] = 0
        self._heard = self._zeros = self._over = 0
        self._foreseen = -1
        self._rest = self._rest[:0]

    def _block(self, block: "NDArray[numpy.int16]", at: float, mouth_speaks: bool) -> list[MicrophoneEvent]:
        """One block, the last sample of which was captured `at`."""
        import numpy as np

        places = np.arange(self._heard, self._heard + BLOCK) % len(self._ring)
        self._ring[places] = block
        self._heard += BLOCK
        self._at = at
        if mouth_speaks:
            self._own_until = at + OWN_VOICE_SECONDS
        level = float(np.sqrt(np.mean((block / 32768.0) ** 2)))
        # Three seconds' mean: slow against words, quick against a microphone that is turned up.
        self._level_square += (level**2 - self._level_square) * BLOCK / (3 * RATE)
        gain = LEVEL / max(self._level_square**0.5, QUIETEST_LEVEL)
        ended = self._endpointer.feed(np.clip(block * gain, -32768, 32767).astype(np.int16))
        start = self._endpointer.start
        if ended is None and start is not None and self._endpointer_seconds(start) > LONGEST_SECONDS:
            ended = self._endpointer.finish()
        events = self._flatness(block)
        if self._is_talked_over(level, mouth_speaks):
            events.append(TalkedOver(at))
        if ended is not None:
            events.append(self._utterance(ended, at))
        return events

    def _endpointer_seconds(self, start: int) -> float:
        return (self._heard - start) / RATE

    def _utterance(self, span: Span, at: float) -> Utterance:
        import numpy as np

        first = max(0, span.start - round(BEFORE_SECONDS * RATE), self._heard - len(self._ring))
        last = min(self._heard, span.end + round(MARGIN_SECONDS * RATE))
        sound = self._ring[np.arange(first, last) % len(self._ring)]
        began, ended = (at - (self._heard - sample) / RATE for sample in (span.start, span.end))
        clipped = float(np.mean(np.abs(sound.astype(np.int32)) >= 32767)) > CLIPPED_SHARE
        return Utterance(sound, began, ended, began < self._own_until, clipped)

    def _flatness(self, block: "NDArray[numpy.int16]") -> list[MicrophoneEvent]:
        """Whether digital silence has begun or ended: a muted or half unplugged microphone still sends."""
        self._zeros = 0 if block.any() else self._zeros + len(block)
        if self._is_flat and self._zeros == 0:
            self._is_flat = False
            return [MicrophoneTrouble(Fault.FLAT, "the microphone is back", is_over=True)]
        if not self._is_flat and self._zeros >= FLAT_SECONDS * RATE:
            self._is_flat = True
            return [MicrophoneTrouble(Fault.FLAT, "the microphone sends nothing: is it muted?")]
        return []

    def _is_talked_over(self, level: float, mouth_speaks: bool) -> bool:
        """Whether the technician's speech over ours has just lasted long enough. A closed consonant is a gap, not an end."""
        import numpy as np

        if not mouth_speaks:
            self._over, self._is_over_told = 0, False
            return False
        needed = round(OWN_LEVEL_SECONDS * RATE / BLOCK)
        own = float(np.quantile(self._own_levels, OWN_LEVEL_QUANTILE)) if len(self._own_levels) >= needed else float("inf")
        if self._endpointer.probability >= INTERRUPTS_AT and level >= INTERRUPTS_OVER * own:
            self._over += BLOCK
            is_new = self._over >= INTERRUPTS_AFTER_SECONDS * RATE and not self._is_over_told
            self._is_over_told = self._is_over_told or is_new
            return is_new
        if self._over == 0:
            self._is_over_told = False
            self._own_levels = [*self._own_levels, level][-4 * needed :]
        self._over = max(0, self._over - BLOCK)
        return False


class Microphone:
    """One capture device and the thread that listens to it."""

    def __init__(
        self,
        take: Callable[[MicrophoneEvent], None],
        name: str | None = None,
        mouth_speaks: Callable[[], bool] = lambda: False,
        clock: Callable[[], float] = time.monotonic,
        silent: bool = False,
        ahead: Callable[[Utterance], None] = lambda _: None,
    ) -> None:
        """Open the device called `name`, or the system's own choice. Raises NoDeviceError.

        take: gets every event, in the listening thread. mouth_speaks: whether our own voice sounds now. silent: time passes as on a real
        device, and only digital silence comes (for tests). ahead: gets an utterance before its closing pause is over, if nobody speaks on it
        will be the one that `take` gets.
        """
        self._ahead = ahead
        self._take, self._mouth_speaks, self._clock, self._silent = take, mouth_speaks, clock, silent
        self._blocks: queue.SimpleQueue[tuple[bytes, float] | None] = queue.SimpleQueue()
        self._listener = Listener()
        self.name = name or "the system's microphone"
        self._wanted = name
        self._device: Any = self._opened()
        self._thread = threading.Thread(target=self._run, name="microphone", daemon=True)
        self._thread.start()

    @property
    def is_hearing(self) -> bool:
        """Whether somebody is speaking just now."""
        return self._listener.is_hearing

    def close(self) -> None:
        """Stop listening and give the device back."""
        self._blocks.put(None)
        self._thread.join()

    def _opened(self) -> Any:
        import miniaudio

        chosen = device_id("microphone", self._wanted)
        backends = [miniaudio.Backend.NULL] if self._silent else None
        with quietly():
            try:
                device = miniaudio.CaptureDevice(
                    miniaudio.SampleFormat.SIGNED16, 1, RATE, 1000 * BLOCK // RATE, chosen, backends=backends, app_name="benchhand"
                )
            except miniaudio.MiniaudioError as error:
                raise NoDeviceError("no microphone: the sound system opens none; plug one in, or use --ears typed") from error
        if device.backend == "Null" and not self._silent:
            device.close()
            raise NoDeviceError("no microphone: this computer has no sound system; use --ears typed")
        feed = self._feed()
        next(feed)
        device.start(feed)
        return device

    def _feed(self) -> Generator[None, bytes, None]:
        """What the device calls: its thread only hands on."""
        while True:
            block = yield
            self._blocks.put((bytes(block), self._clock()))

    def _run(self) -> None:
        import numpy as np

        is_lost = False
        while True:
            try:
                got = self._blocks.get(timeout=LOST_SECONDS)
            except queue.Empty:
                if not is_lost:
                    is_lost = True
                    self._take(MicrophoneTrouble(Fault.LOST, f"{self.name} is gone: plug it in again, or type the reading"))
                self._look_again()
                continue
            if got is None:
                self._device.close()
                return
            if is_lost:
                is_lost = False
                self._listener.restart()
                self._take(MicrophoneTrouble(Fault.LOST, f"{self.name} is back", is_over=True))
            block, at = got
            for event in self._listener.feed(np.frombuffer(block, "<i2"), at, self._mouth_speaks()):
                self._take(event)
            foreseen = self._listener.foreseen()
            if foreseen is not None:
                self._ahead(foreseen)

    def _look_again(self) -> None:
        """Open the same device once more; it may not be there yet."""
        self._device.close()
        try:
            self._device = self._opened()
        except BadInputError:
            # Looked for again when the next second has passed without a sound.
            return
