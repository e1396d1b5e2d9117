"""What is said: the texts of one language, read from its phrases file and checked against the procedures on load."""

from collections.abc import Mapping
from dataclasses import dataclass
from string import Formatter

from assistant.core.mistakes import Mistake


@dataclass(frozen=True)
class StepText:
    """The words of one step. say: what to do, aloud; why: the reason when asked; caution: what is said before it, empty for none."""

    title: str
    say: str
    why: str
    caution: str


@dataclass(frozen=True)
class Phrases:
    """One language. steps: by step id; sentences: by key, with {names} to fill in; names: quantities and parts as they are said; mistakes: the known
    ones, with what to check first."""

    language: str
    steps: Mapping[str, StepText]
    sentences: Mapping[str, str]
    names: Mapping[str, str]
    mistakes: tuple[Mistake, ...] = ()

    def sentence(self, key: str, **values: str) -> str:
        """A sentence with its names filled in. Raises KeyError: we asked for one that the phrases do not have."""
        return self.sentences[key].format(**values)

    def name(self, key: str) -> str:
        """A quantity, part or choice as it is said."""
        return self.names.get(key, key.replace("_", " "))


def fields_of(sentence: str) -> frozenset[str]:
    """The names that a sentence asks for."""
    return frozenset(name for _, name, _, _ in Formatter().parse(sentence) if name)
