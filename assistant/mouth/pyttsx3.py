"""The mouth that speaks: through pyttsx3 where the system's own voice can be interrupted, else with the bundled one.

Windows and macOS have a voice of their own, which pyttsx3 drives. On Linux pyttsx3 would drive an espeak that has to be installed, cannot
stop it once it speaks (it runs a player to the end), and prints on standard output, which belongs to the machine interface: there the same
espeak, bundled, is driven directly.
"""

import re
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from assistant.core.errors import BadInputError, BenchError
from assistant.mouth import NoVoiceError, Tone
from assistant.mouth.bundled import SLOWER_WORDS_A_MINUTE, WORDS_A_MINUTE, BundledVoice
from assistant.mouth.loudspeaker import Loudspeaker, notes

DRIVERS = {"win32": "sapi5", "darwin": "nsss"}
"""The drivers of pyttsx3 that can be interrupted, by system."""
LEAST_SECONDS, MOST_SECONDS_A_WORD = 3.0, 1.5
"""A driver that has not told the end of a sentence by then will not tell it."""
PUMP_EVERY_SECONDS = 0.02
TONE_RATE = 22_050


class Voice(Protocol):
    """What says one sentence. Made and used in the mouth's own thread: some systems tie a voice to its thread."""

    name: str

    def speak(self, text: str, slower: bool, is_hushed: Callable[[], bool]) -> None:
        """Say `text`; come back at its end, or within 60 ms of `is_hushed`."""
        ...

    def tone(self, tone: Tone, is_hushed: Callable[[], bool]) -> None:
        """Sound `tone`; come back as `speak` does."""
        ...

    def close(self) -> None:
        """Give back what it holds."""
        ...


class DriverVoice:
    """The system's own voice, through pyttsx3."""

    def __init__(self, driver: str, loudspeaker: Loudspeaker | None = None, language: str = "en") -> None:
        """Start `driver` of pyttsx3 with a voice of `language`. loudspeaker: for tones; opened when first needed.

        Raises NoVoiceError when it does not start here, or has no voice of another language than English.
        """
        import pyttsx3

        self._loudspeaker = loudspeaker

        try:
            self._engine: Any = pyttsx3.init(driver)
            self._engine.startLoop(False)
        # The drivers raise what their system's bindings raise, down to ImportError and COM errors of a type that only exists there.
        except Exception as error:
            raise NoVoiceError(f"pyttsx3 finds no voice with its driver {driver}: {error or type(error).__name__}") from error
        self.name = f"pyttsx3, {driver}"
        # English is spoken by the system's own choice, as before; an English voice would read German out as no one could follow.
        if language != "en":
            try:
                self._engine.setProperty("voice", voice_of(language, self._engine.getProperty("voices"), driver))
            except NoVoiceError:
                self._engine.endLoop()
                raise
        self._ended = False
        self._engine.connect("finished-utterance", self._end)

    def _end(self, **_told: object) -> None:
        self._ended = True

    def speak(self, text: str, slower: bool, is_hushed: Callable[[], bool]) -> None:
        """Say `text`, pumping the driver's loop until it tells the end."""
        self._ended = False
        self._engine.setProperty("rate", SLOWER_WORDS_A_MINUTE if slower else WORDS_A_MINUTE)
        self._engine.say(text)
        give_up_at = time.monotonic() + LEAST_SECONDS + MOST_SECONDS_A_WORD * len(text.split())
        while not self._ended and time.monotonic() < give_up_at:
            self._engine.iterate()
            if is_hushed():
                self._engine.stop()
                return
            if not self._ended:
                time.sleep(PUMP_EVERY_SECONDS)

    def tone(self, tone: Tone, is_hushed: Callable[[], bool]) -> None:
        """Sound `tone` on a loudspeaker of our own: the drivers only speak. Raises NoDeviceError."""
        self._loudspeaker = self._loudspeaker or Loudspeaker(TONE_RATE)
        self._loudspeaker.play(notes(tone, TONE_RATE))
        while not self._loudspeaker.wait(PUMP_EVERY_SECONDS) and not self._loudspeaker.is_lost:
            if is_hushed():
                self._loudspeaker.stop()

    def close(self) -> None:
        """End the driver's loop and give the loudspeaker back."""
        self._engine.endLoop()
        if self._loudspeaker is not None:
            self._loudspeaker.close()


def voice_of(language: str, voices: Sequence[Any], driver: str) -> str:
    """The id of the first voice of a language, as the drivers tell it: a code such as "de", "de_DE", b"\\x05de", or in the id or name.

    Raises NoVoiceError when there is none.
    """
    for voice in voices:
        told = [one.decode("latin-1") if isinstance(one, bytes) else str(one) for one in getattr(voice, "languages", None) or ()]
        if any(re.match(rf"[^a-z]*{language}(?![a-z])", one.lower()) for one in told):
            return str(voice.id)
    for voice in voices:
        # sapi5 tells no languages; its ids hold a locale ("…_DE-DE_HEDDA_…"), and nsss has it too ("….de-DE.anna").
        if re.search(rf"(?<![a-z]){language}[-_][a-z]{{2}}(?![a-z])", str(voice.id).lower()):
            return str(voice.id)
    raise NoVoiceError(f"pyttsx3 with its driver {driver} has no voice for the language {language!r}: add one in the system's settings")


def open_voice(language: str = "en") -> Voice:
    """The voice of this system: its own if it has one that can be interrupted, else the bundled one. Raises BadInputError or NoVoiceError."""
    driver = DRIVERS.get(sys.platform)
    if driver is not None:
        try:
            return DriverVoice(driver, language=language)
        except NoVoiceError:
            # Not a fall-back to something worse: the bundled voice says the same words.
            return BundledVoice(language=language)
    return BundledVoice(language=language)


@dataclass(frozen=True)
class _Saying:
    text: str | Tone
    slower: bool
    hushes: int  # how often the mouth had been hushed when it was asked to say this


class Pyttsx3Mouth:
    """Says sentences in their order, in a thread of its own."""

    def __init__(self, voice: Callable[[], Voice] = open_voice) -> None:
        """Start the thread and its voice. Raises NoVoiceError or BadInputError when there is none."""
        self._make_voice = voice
        self._changed = threading.Condition()
        self._waiting: deque[_Saying] = deque()
        self._current: _Saying | None = None
        self._hushes = 0
        self._closed = False
        self._failure: BenchError | None = None
        self.name = ""
        self.trouble = ""
        started = threading.Event()
        self._thread = threading.Thread(target=self._run, args=(started,), name="mouth", daemon=True)
        self._thread.start()
        started.wait()
        if self._failure is not None:
            raise self._failure

    @property
    def is_speaking(self) -> bool:
        """Whether something is being said or waits to be."""
        with self._changed:
            return self._current is not None or bool(self._waiting)

    def say(self, text: str, urgency: str = "info", slower: bool = False) -> None:
        """Say `text` after what waits; at urgency "stop" at once, in place of it."""
        with self._changed:
            if urgency == "stop":
                self._silence()
            if text.strip():
                self._append(text, slower)

    def tone(self, tone: Tone) -> None:
        """Sound `tone` after what waits."""
        with self._changed:
            self._append(tone, False)

    def hush(self) -> bool:
        """Fall silent now. Gives whether there was anything to silence."""
        with self._changed:
            was_speaking = self._current is not None or bool(self._waiting)
            self._silence()
            self._changed.notify_all()
        return was_speaking

    def wait(self, seconds: float) -> bool:
        """Wait until all is said, `seconds` at most. Gives whether it is."""
        with self._changed:
            return self._changed.wait_for(lambda: self._current is None and not self._waiting, seconds)

    def close(self) -> None:
        """Fall silent and end the thread."""
        with self._changed:
            self._silence()
            self._closed = True
            self._changed.notify_all()
        self._thread.join()

    def _append(self, text: str | Tone, slower: bool) -> None:
        """Wait in line; the lock is held."""
        if not self._closed:
            self._waiting.append(_Saying(text, slower, self._hushes))
        self._changed.notify_all()

    def _silence(self) -> None:
        """Forget what waits and cut off what is being said; the lock is held."""
        self._waiting.clear()
        self._hushes += 1

    def _run(self, started: threading.Event) -> None:
        try:
            voice: Voice | None = self._make_voice()
        except (NoVoiceError, BadInputError) as error:
            self._failure = error
            return
        finally:
            started.set()
        assert voice is not None
        self.name = voice.name
        while (saying := self._next()) is not None:
            voice = self._spoken(voice, saying)
        if voice is not None:
            voice.close()

    def _next(self) -> _Saying | None:
        """The next sentence, when there is one; None when the mouth is closed."""
        with self._changed:
            self._current = None
            self._changed.notify_all()
            self._changed.wait_for(lambda: self._closed or self._waiting)
            if self._closed:
                return None
            self._current = self._waiting.popleft()
            return self._current

    def _spoken(self, voice: Voice | None, saying: _Saying) -> Voice | None:
        """Say one sentence; gives the voice to go on with, None while there is none: each sentence looks for one again."""
        try:
            voice = voice or self._make_voice()
            if isinstance(saying.text, Tone):
                voice.tone(saying.text, lambda: self._hushes != saying.hushes)
            else:
                voice.speak(saying.text, saying.slower, lambda: self._hushes != saying.hushes)
        except (NoVoiceError, BadInputError) as error:
            self.trouble = str(error)
            if voice is not None:
                voice.close()
            return None
        self.trouble = ""
        return voice
