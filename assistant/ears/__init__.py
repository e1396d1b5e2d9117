"""What every ear obeys: it is told what can be said now, and answers with ranked candidates and how sure it is, never with one string.

Rules: only a phrase of the grammar can be heard. A prior orders the candidates; it never lifts one over a bar, because a measuring
tool must not hear what it expects. Nothing raised for an unclear word: that is news, told in `Heard`.
"""

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from enum import Enum
from typing import TYPE_CHECKING, Protocol, TypeVar

from assistant.core.errors import BadInputError

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Samples = NDArray[numpy.int16] | NDArray[numpy.float32] | NDArray[numpy.float64]
    """16 kHz, one channel: whole numbers of 16 bit, or floats of -1 to 1."""

RATE = 16_000
"""Samples a second of everything an ear is given."""

Phrases = Iterable[tuple[str, Hashable]]
"""(words, meaning) of everything that can be said now; several phrases may share a meaning."""

Prior = Callable[[Hashable], float]
"""How likely a meaning is before it is heard, up to a common factor; zero or more."""


class Verdict(Enum):
    """What to do with what was heard."""

    ACCEPT = "accept"
    """Go on with `Heard.chosen` (read it back)."""
    AGAIN = "again"
    """Something was said for us, but not surely enough: a short tone and "again"."""
    SILENT = "silent"
    """Not for us (noise, talk, nothing at all): stay quiet."""


@dataclass(frozen=True)
class Bars:
    """How sure an ear must be.

    posterior: the least probability of the chosen meaning among all that is legal, without any prior.
    fit: the least mean log probability a frame of anything legal; it says how far the sound is from every phrase we know.
    heed: a fit under this is not for us, and nothing is said.
    """

    posterior: float = 0.999
    fit: float = -0.10
    heed: float = -0.15


READ_BACK = Bars()
"""What is accepted will be read back and confirmed. Set on synthetic voices and few people (docs/benchmarks.md has what each posterior lets through);
move it only by such figures, or on a log of confirmed readings."""

UNCONFIRMED = Bars(posterior=0.999, fit=-0.04)
"""What is accepted is acted on at once: a yes always, a reading when the technician switched the confirming off. On a yes it costs nothing down
to 15 dB and one in twenty at 10 dB, and halves the words that only rhyme with yes and pass for it."""


@dataclass(frozen=True)
class Candidate:
    """One meaning that the sound may have.

    words: its likeliest phrase. meaning: that of this very phrase. posterior: the probability among all that is legal, by the sound
    alone. ordered: the same with the prior.
    """

    words: str
    meaning: Hashable
    posterior: float
    ordered: float


@dataclass(frozen=True)
class Heard:
    """The answer to one utterance.

    verdict: what to do. reason: why, in a few words for the log and the screen.
    chosen: the accepted candidate: the likeliest by the sound alone. None unless accepted.
    candidates: best first, the prior included; empty when nothing legal is possible.
    fit: mean log probability a frame of anything legal (minus infinity: none). seconds: from the end of the speech handed over to this answer.
    speech_seconds: length of the speech found. snr_db: speech over the noise before it; None when there is too little before it to tell.
    """

    verdict: Verdict
    reason: str
    chosen: Candidate | None = None
    candidates: tuple[Candidate, ...] = field(default=())
    fit: float = float("-inf")
    seconds: float = 0.0
    speech_seconds: float = 0.0
    snr_db: float | None = None

    @property
    def accepted(self) -> bool:
        """Whether to go on with `chosen`."""
        return self.verdict is Verdict.ACCEPT

    @property
    def is_surprise(self) -> bool:
        """Whether the prior would have chosen another meaning than the sound: read it back as a question, and log both."""
        return self.chosen is not None and self.candidates[0].meaning != self.chosen.meaning

    @property
    def best(self) -> Candidate | None:
        """The likeliest candidate by the sound alone, accepted or not."""
        return max(self.candidates, key=lambda candidate: candidate.posterior, default=None)


class UnknownWordError(BadInputError):
    """A phrase holds a word that the ear cannot know. Scenes: a new cause in the list of mistakes without its phones; "1/2" in a phrase."""


class Grammar(Protocol):
    """What can be said now, made ready by an ear; only that ear can use it."""

    @property
    def bars(self) -> Bars:
        """How sure the ear must be here."""
        ...


Sound = TypeVar("Sound", contravariant=True)  # Samples for every ear but the typed one, whose sound is a line of text
Ready = TypeVar("Ready", bound=Grammar)  # an ear's own kind of grammar


class Ear(Protocol[Sound, Ready]):
    """Anything that turns an utterance into candidates."""

    @property
    def name(self) -> str:
        """What runs, and its version or folder; it goes into the log beside each reading."""
        ...

    @property
    def is_calibrated(self) -> bool:
        """Whether its posteriors were measured to mean what they say. Where not, confirming cannot be switched off."""
        ...

    def unknown(self, words: Iterable[str]) -> list[str]:
        """Which of these words the ear cannot know, each once, sorted."""
        ...

    def load(self, phrases: Phrases, bars: Bars = READ_BACK) -> Ready:
        """Make ready to hear `phrases`. Raises UnknownWordError, naming every word that this ear cannot know."""
        ...

    def hear(self, sound: Sound, grammar: Ready, prior: Prior | None = None) -> Heard:
        """Hear one utterance: `sound` holds the speech, with the 0.3 s before it where there is any."""
        ...
