"""What every mouth obeys: it speaks one sentence after another, and can be silenced at any moment.

Rules: `say` never waits and never fails the job: a mouth that loses its loudspeaker says so in `trouble`, and the text is on the screen
anyway. Nothing that may be said is decided here.
"""

from enum import Enum
from typing import Protocol

from assistant.core.errors import BenchError

# By the names of --mouth; captions are there with either.
MOUTHS = ("captions", "pyttsx3")


class NoVoiceError(BenchError):
    """No way to speak was found. Scenes: a computer without a sound device; a half-copied installation."""


class Tone(Enum):
    """A short sound that says more than a word, and sooner."""

    LISTENING = "listening"
    """One step up: speak now."""
    HELD = "held"
    """One step down: nothing is heard until "resume"."""
    AGAIN = "again"
    """Two of one height: that was not understood, say it again."""
    LOST = "lost"
    """Three steps down: a gauge, the microphone or the store is gone."""


class Mouth(Protocol):
    """Anything that says sentences aloud, or shows them as if it did."""

    @property
    def name(self) -> str:
        """What speaks, for the doctor and the log."""
        ...

    @property
    def trouble(self) -> str:
        """Why nothing can be heard at present, in one line; empty when all is well."""
        ...

    @property
    def is_speaking(self) -> bool:
        """Whether something is being said or waits to be: the microphone hears it too."""
        ...

    def say(self, text: str, urgency: str = "info", slower: bool = False) -> None:
        """Say `text` after what is still waiting; at urgency "stop" at once, in place of all that.

        urgency: info, ask, warn or stop. slower: for a repeat.
        """
        ...

    def tone(self, tone: Tone) -> None:
        """Sound `tone` after what is still waiting."""
        ...

    def hush(self) -> bool:
        """Fall silent now and forget what waits. Gives whether there was anything to silence."""
        ...

    def wait(self, seconds: float) -> bool:
        """Wait until all is said, `seconds` at most. Gives whether it is."""
        ...

    def close(self) -> None:
        """Fall silent for good and give the device back."""
        ...
