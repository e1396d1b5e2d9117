"""What may come in. The shell around the core turns microphones, keys, ports and pedals into these; the core sees nothing else."""

from dataclasses import dataclass, field

from assistant.core.quantities import Quantity


@dataclass(frozen=True)
class Start:
    """The job begins; given once, when the journal is empty."""


@dataclass(frozen=True)
class Said:
    """Words, as a recogniser or a keyboard hands them over.

    source: `spoken` or `typed`. posterior and fit: the recogniser's own figures, None for typed words.
    doubted: the expected value changed which candidate won, so the read-back has to be a question (speech policy, docs/speech.md);
    instead: what it would have chosen. ear: which recogniser, by name and version.
    """

    words: str
    source: str = "typed"
    posterior: float | None = None
    fit: float | None = None
    doubted: bool = False
    instead: str = ""
    ear: str = ""


@dataclass(frozen=True)
class Unheard:
    """Sound that passed no bar: asked for again, never guessed.

    candidates: the best phrases, best first, with the first one's posterior and the sound's fit. for_us: whether it was close enough to
    what can be said here to have been meant for us. ear: which recogniser.
    """

    candidates: tuple[str, ...] = ()
    reason: str = ""
    posterior: float | None = None
    fit: float | None = None
    for_us: bool = True
    ear: str = ""


@dataclass(frozen=True)
class Taken:
    """A settled reading that was taken: by "take", the pedal or the gauge's own button.

    gauge: which instrument (identity, resolution); raw: the frame's bytes in hex, empty where the caller has none. unmoved: it has not
    moved by one count since its last reading, for half a minute and more.
    """

    channel: str
    value: Quantity
    gauge: str = ""
    raw: str = ""
    unmoved: bool = False


@dataclass(frozen=True)
class Zeroed:
    """A gauge was zeroed by word: what it showed then comes off its later readings, as long as it is not lost, switched or zeroed again."""

    channel: str
    at: Quantity


@dataclass(frozen=True)
class Pedal:
    """The foot pedal was pressed and no live gauge had a reading for this wait."""


@dataclass(frozen=True)
class Quit:
    """Stop now; the job can be resumed."""


@dataclass(frozen=True)
class Bad:
    """A line that was no input at all; text: what was expected instead."""

    text: str
    channel: str = field(default="")


Input = Start | Said | Unheard | Taken | Zeroed | Pedal | Quit | Bad
