"""What a worked sum is made of: its keys, what was given for them, and the answer with its working.

Every problem of a line is reported at once, each with its key, what was seen and what was expected. No default changes a number.
"""

import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypeVar

from assistant.core.axle import KitShim
from assistant.core.errors import BadInputError
from assistant.core.quantities import Dimension, Force, Length, Quantity, Torque, quantity_from, unit_named
from assistant.core.stacks import Shim

Value = Quantity | tuple[Quantity, ...] | tuple[KitShim, ...] | Fraction | str
Finding = Length | Torque | Fraction | Quantity | str | tuple[Length, ...]
Reader = Callable[[str], Value]
Kept = TypeVar("Kept")

# Results are given in the units of the public interface; the finer ones of a gauge or a mark are carried over to these.
_PUBLIC = {
    "um": "mm",
    "0.001 in": "in",
    "0.01 mm": "mm",
    "0.001 mm": "mm",
    "cN·m": "N·m",
    "kgf·cm": "N·m",
    "ozf·in": "lb-in",
    "kgf": "N",
}


@dataclass(frozen=True)
class Key:
    """One key of a kind. reads: its text → its value, raising BadInputError; about: what it is, in the words of a help page."""

    name: str
    reads: Reader
    about: str
    optional: bool = False


@dataclass(frozen=True)
class Kind:
    """One kind of sum.

    choices: for each, alternatives of which exactly one is given, whole. together: keys that are given all or not at all. Keys named in
    either are not asked for singly. results: name → what it is. example: a line that works, for the help page.
    """

    name: str
    summary: str
    keys: tuple[Key, ...]
    results: dict[str, str]
    example: str
    solve: Callable[["Given"], "Answer"]
    choices: tuple[tuple[tuple[str, ...], ...], ...] = ()
    together: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Answer:
    """What a sum gives. result: name → quantity, list of quantities, or word; working: sentences; doubts: those of them that warn."""

    kind: str
    result: dict[str, Quantity | tuple[Quantity, ...] | str]
    working: tuple[str, ...]
    doubts: tuple[str, ...] = ()

    @property
    def passed(self) -> bool:
        """Whether the check that was asked for, if any, passed."""
        return self.result.get("verdict") not in ("fail", "disagree")

    def json(self) -> dict[str, object]:
        """{"kind", "result": {name: quantity, list or word}, "working": [lines]}."""
        return {"kind": self.kind, "result": {name: _json(value) for name, value in self.result.items()}, "working": list(self.working)}


@dataclass
class Given:
    """What was given for one kind, already read, in the order of the line; and the answer as it grows."""

    kind: str
    values: dict[str, Value]
    _working: list[str] = field(default_factory=list)
    _doubts: list[str] = field(default_factory=list)

    def __contains__(self, name: str) -> bool:
        return name in self.values

    def quantity(self, name: str) -> Quantity:
        """A value with its unit, digit for digit."""
        return _as(Quantity, self.values[name])

    def limit(self, name: str) -> Quantity | None:
        """A value that may be left out."""
        return self.quantity(name) if name in self else None

    def length(self, name: str) -> Length:
        """A length; nothing when the key was left out."""
        return Length.of(self.quantity(name)) if name in self else Length(0)

    def torque(self, name: str) -> Torque:
        """A torque; nothing when the key was left out."""
        return Torque.of(self.quantity(name)) if name in self else Torque(0)

    def force(self, name: str) -> Force:
        """A force."""
        return Force.of(self.quantity(name))

    def quantities(self, name: str) -> tuple[Quantity, ...]:
        """A list of values with their units."""
        return tuple(_as(Quantity, value) for value in _as(tuple, self.values[name]))

    def lengths(self, name: str) -> tuple[Length, ...]:
        """A list of lengths."""
        return tuple(Length.of(value) for value in self.quantities(name))

    def shims(self, name: str) -> tuple[Shim, ...]:
        """A kit."""
        kit = (_as(KitShim, value) for value in _as(tuple, self.values[name]))
        return tuple(Shim(Length.of(shim.thickness), shim.count) for shim in kit)

    def number(self, name: str) -> Fraction:
        """A plain number."""
        return _as(Fraction, self.values[name])

    def word(self, name: str) -> str:
        """A word out of a list."""
        return _as(str, self.values[name])

    @property
    def unit(self) -> str:
        """The unit of the answer's lengths: that of the first length given, else that of the etch."""
        for value in self.values.values():
            first = value[0] if isinstance(value, tuple) else value
            size = first.thickness if isinstance(first, KitShim) else first
            if isinstance(size, Quantity) and size.dimension is Dimension.LENGTH:
                return public_unit(size.unit)
        return public_unit(self.word("etch_unit")) if "etch_unit" in self else "mm"

    @property
    def torque_unit(self) -> str:
        """The unit of the answer's torques: that of the first torque given, else lb-in beside inches and N·m beside millimetres."""
        for value in self.values.values():
            if isinstance(value, Quantity) and value.dimension is Dimension.TORQUE:
                return public_unit(value.unit)
        return "lb-in" if self.unit == "in" else "N·m"

    def text(self, size: Length | Torque) -> str:
        """A size in the unit of the answer, for a sentence."""
        return str(size.quantity(self.unit if isinstance(size, Length) else self.torque_unit))

    def signed(self, size: Length) -> str:
        """A change in the unit of the answer, with its plus or minus."""
        return ("+" if size > Length(0) else "") + self.text(size)

    def say(self, sentence: str) -> None:
        """Add a line to the working."""
        self._working.append(sentence)

    def doubt(self, sentence: str) -> None:
        """Add a line that warns: the sum stands, but a number in it is unusual."""
        self._working.append(f"Doubtful: {sentence}")
        self._doubts.append(sentence)

    def answer(self, **result: Finding) -> Answer:
        """The answer, every length and torque in its unit."""
        return Answer(self.kind, {name: self._public(value) for name, value in result.items()}, tuple(self._working), tuple(self._doubts))

    def _public(self, value: Finding) -> Quantity | tuple[Quantity, ...] | str:
        if isinstance(value, Length):
            return value.quantity(self.unit)
        if isinstance(value, Torque):
            return value.quantity(self.torque_unit)
        if isinstance(value, Fraction):
            return quantity_from(value, "1")
        if isinstance(value, tuple):
            return tuple(length.quantity(self.unit) for length in value)
        return value


def read(kind: Kind, pairs: Sequence[str]) -> Given:
    """Read `key=value` texts for a kind. Raises BadInputError that names every problem at once."""
    known = {key.name: key for key in kind.keys}
    values: dict[str, Value] = {}
    problems: list[str] = []
    seen: set[str] = set()
    for pair in pairs:
        name, equals, text = pair.partition("=")
        if not equals:
            problems.append(f"{pair!a} is not key=value")
        elif name not in known:
            near = difflib.get_close_matches(name, known, 1)
            problems.append(f"unknown key {name!a}: " + (f"did you mean {near[0]}?" if near else f"expected {', '.join(known)}"))
        elif name in seen:
            problems.append(f"{name} is given twice")
        else:
            seen.add(name)
            try:
                values[name] = known[name].reads(text)
            except BadInputError as error:
                problems.append(f"{name}={text if text.isprintable() else ascii(text)}: {error}")
    problems += _missing(kind, seen)
    if problems:
        raise BadInputError("; ".join(problems))
    return Given(kind.name, values)


def _missing(kind: Kind, given: set[str]) -> list[str]:
    grouped = {name for choice in kind.choices for alternative in choice for name in alternative}
    grouped |= {name for group in kind.together for name in group}
    problems = [
        f"{key.name} is missing: expected {key.about}"
        for key in kind.keys
        if not key.optional and key.name not in grouped and key.name not in given
    ]
    for choice in kind.choices:
        chosen = {name for alternative in choice for name in alternative} & given
        if not any(chosen == set(alternative) for alternative in choice):
            wanted = ", or ".join(" and ".join(alternative) for alternative in choice)
            problems.append(f"expected {wanted}" + (f"; got {' and '.join(sorted(chosen))}" if chosen else ""))
    for group in kind.together:
        lacking = [name for name in group if name not in given]
        if lacking and len(lacking) < len(group):
            problems.append(f"{' and '.join(lacking)} missing: {', '.join(group)} go together")
    return problems


def public_unit(symbol: str) -> str:
    """The unit of the public interface in which a value of this unit is answered."""
    known = unit_named(symbol).symbol
    return _PUBLIC.get(known, known)


def _as(kind: type[Kept], value: object) -> Kept:
    if not isinstance(value, kind):  # a kind asks for another type than its key reads: our fault
        raise TypeError(f"{value!r} is not a {kind.__name__}")
    return value


def _json(value: Quantity | tuple[Quantity, ...] | str) -> object:
    if isinstance(value, str):
        return value
    return value.json() if isinstance(value, Quantity) else [one.json() for one in value]
