"""What is said: the texts of one language, read from its phrases file and checked against the procedures on load."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from string import Formatter

from assistant.core import saying
from assistant.core.mistakes import Look, Mistake
from assistant.core.quantities import Quantity
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH

_FIGURES = re.compile(r"[-+]?\d+\.\d+( \S+)?")


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
    ones, with what to check first. tongue: how numbers, units and commands are said and heard; choices: how the choices of the interface are
    said, where that is otherwise than they are written; causes: what the interface calls those that are sentences here;
    reasons: what a gauge's trouble is in English, and how it is told; looks: what is looked at before a change."""

    language: str
    steps: Mapping[str, StepText]
    sentences: Mapping[str, str]
    names: Mapping[str, str]
    mistakes: tuple[Mistake, ...] = ()
    tongue: Tongue = ENGLISH
    choices: Mapping[str, str] = field(default_factory=dict)
    causes: Mapping[str, str] = field(default_factory=dict)
    reasons: tuple[tuple[re.Pattern[str], str], ...] = ()
    looks: tuple[Look, ...] = ()

    def sentence(self, key: str, **values: str) -> str:
        """A sentence with its names filled in. Raises KeyError: we asked for one that the phrases do not have."""
        return self.sentences[key].format(**values)

    def name(self, key: str) -> str:
        """A quantity, part or choice as it is said."""
        return self.names.get(key, key.replace("_", " "))

    def choice(self, key: str) -> str:
        """A choice of the interface ("toe root", "nothing found", a cause) as it is said."""
        return self.choices.get(key, key)

    def reason(self, text: str) -> str:
        """Why a gauge gave no value, what befell the microphone, or what the doctor found, as it is told: `gauges`, the ear and what programs read
        know English only. What has no translation stays as it is."""
        for known, said in self.reasons:
            found = known.fullmatch(text)
            if found is not None:
                return said.format(*map(self._filled_in, found.groups()))
        return text

    def _filled_in(self, text: str) -> str:
        """What stands in a trouble: a quantity or part by its name, figures with the language's mark; a path or a device as it is."""
        return self.names.get(text.replace(" ", "_")) or (self.figures(text) if _FIGURES.fullmatch(text) else text)

    def cause(self, key: str) -> str:
        """A cause of an alarm that is no known mistake's, as the interface names it: a choice like any other."""
        return self.causes.get(key) or self.sentences[f"cause.{key}"]

    def command(self, name: str) -> str:
        """A command of the interface as it is said."""
        return self.tongue.commands[name][0]

    def figures(self, text: str) -> str:
        """A decimal number as it is written."""
        return text.replace(".", self.tongue.decimal_mark)

    # ---- quantities: see `saying`

    def say(self, quantity: Quantity, style: saying.Style = "long") -> str:
        """A quantity in words."""
        return saying.say(quantity, style, self.tongue)

    def read_back(self, quantity: Quantity, heard_form: str) -> str:
        """A quantity in another form than it was heard in."""
        return saying.read_back(quantity, heard_form, self.tongue)

    def say_range(self, low: Quantity, high: Quantity) -> str:
        """From one quantity to another."""
        return saying.say_range(low, high, self.tongue)

    def say_change(self, quantity: Quantity) -> str:
        """The size of a change without its sign."""
        return saying.say_change(quantity, self.tongue)

    def say_count(self, number: int) -> str:
        """A whole number."""
        return saying.say_count(number, self.tongue)

    def say_unit(self, unit: str) -> str:
        """A unit, as what a step is in."""
        return saying.say_unit(unit, self.tongue)


def fields_of(sentence: str) -> frozenset[str]:
    """The names that a sentence asks for."""
    return frozenset(name for _, name, _, _ in Formatter().parse(sentence) if name)
