"""The words that only the screen needs: its labels, and short forms of what is said at length. One TOML file for each language."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
_DECIMAL = re.compile(r"[+-]?\d+\.\d+", re.ASCII)


@dataclass(frozen=True)
class Words:
    """One language's words for the screen.

    labels: what stands on the page itself; phases, waits, buttons, keys, units: by the interface's own names; sentences: with {names} to fill in.
    """

    labels: Mapping[str, str]
    phases: Mapping[str, str]
    buttons: Mapping[str, str]
    keys: Mapping[str, str]
    units: Mapping[str, str]
    sentences: Mapping[str, str]

    def say(self, key: str, **values: object) -> str:
        """A sentence with its names filled in, figures with the language's decimal mark. Raises KeyError: we asked for one that the file does not
        have."""
        return self.sentences[key].format(
            **{name: self.figures(value) if isinstance(value, str) else value for name, value in values.items()}
        )

    def figures(self, text: str) -> str:
        """Text as it is shown: a decimal number with the language's own mark, anything else as it is."""
        return text.replace(".", self.labels["decimal"]) if _DECIMAL.fullmatch(text) else text

    def shown(self, drawn: Any) -> Any:
        """Everything that is drawn, each number in it with the language's own mark."""
        if isinstance(drawn, str):
            return self.figures(drawn)
        if isinstance(drawn, dict):
            return {key: self.shown(value) for key, value in drawn.items()}
        return [self.shown(value) for value in drawn] if isinstance(drawn, list) else drawn

    def unit(self, unit: str) -> str:
        """A unit as it is written beside a number: its symbol, unless the file has a better one."""
        return self.units.get(unit, unit)


@cache
def words_for(language: str = "en") -> Words:
    """The screen's words in a language. Raises FileNotFoundError: we ship none of that name."""
    data = tomllib.loads((HERE / f"{language}.toml").read_text(encoding="utf-8"))
    return Words(**data)
