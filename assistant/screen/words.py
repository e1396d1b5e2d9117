"""The words that only the screen needs: its labels, and short forms of what is said at length. One TOML file for each language."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent


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
        """A sentence with its names filled in. Raises KeyError: we asked for one that the file does not have."""
        return self.sentences[key].format(**values)

    def unit(self, unit: str) -> str:
        """A unit as it is written beside a number: its symbol, unless the file has a better one."""
        return self.units.get(unit, unit)


@cache
def words_for(language: str = "en") -> Words:
    """The screen's words in a language. Raises FileNotFoundError: we ship none of that name."""
    data = tomllib.loads((HERE / f"{language}.toml").read_text(encoding="utf-8"))
    return Words(**data)
