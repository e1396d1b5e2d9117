"""What may go out. The shell prints, says and shows these; each is one line of the machine interface."""

import re
from dataclasses import dataclass
from typing import Any

Line = dict[str, Any]

_BEGINNING = re.compile(r"(?:^|(?<=[.?!] ))[^\W\d_]")


@dataclass(frozen=True)
class Effect:
    """One line out. kind: step, speak, caution, recorded, move, alarm, wait, end or error; body: its value, JSON values only.

    urgency: for what is spoken only (info, ask, warn, stop).
    """

    kind: str
    body: Any
    urgency: str | None = None

    def json(self) -> Line:
        """The line as the machine interface prints it."""
        line: Line = {self.kind: self.body}
        return line if self.urgency is None else {**line, "urgency": self.urgency}


def as_sentences(text: str) -> str:
    """Whole sentences: each begins with a capital letter or a figure, also where a name or a value is filled in first, and the last ends."""
    whole = _BEGINNING.sub(lambda letter: letter[0].upper(), text.strip())
    return whole if whole[-1:] in ".?!:" else f"{whole}."


def speak(text: str, urgency: str = "info") -> Effect:
    """Said aloud."""
    return Effect("speak", as_sentences(text), urgency)
