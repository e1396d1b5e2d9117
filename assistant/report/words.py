"""How a sheet says things: the sentences, names, figures and units of its language."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from assistant.core.phrases import Phrases
from assistant.core.quantities import Quantity
from assistant.files import phrases_for


@dataclass(frozen=True)
class Words:
    """The words of one language for a sheet, from `phrases/*.toml`: what begins with "sheet." there."""

    phrases: Phrases = field(default_factory=phrases_for)

    def __call__(self, key: str, **values: object) -> str:
        """A sentence of the sheet with its names filled in."""
        return self.phrases.sentence(f"sheet.{key}", **{name: str(value) for name, value in values.items()})

    @property
    def language(self) -> str:
        """Its code."""
        return self.phrases.language

    def name(self, key: str) -> str:
        """A quantity or a part, as the head of a line."""
        return first_upper(self.phrases.name(key))

    def choice(self, key: str) -> str:
        """A choice of the interface, a cause or a verdict."""
        return self("not_finished") if key == "not finished" else self.phrases.choice(key)

    def number(self, quantity: Quantity) -> str:
        """A quantity without its unit."""
        return self.phrases.figures(quantity.text)

    def unit(self, symbol: str) -> str:
        """A unit: its symbol, or its word where it has none; empty for a plain count."""
        if symbol == "1":
            return ""
        return self(f"unit.{symbol}") if f"sheet.unit.{symbol}" in self.phrases.sentences else symbol

    def quantity(self, quantity: Quantity) -> str:
        """A quantity with its unit."""
        return f"{self.number(quantity)} {self.unit(quantity.unit)}".strip()

    def signed(self, quantity: Quantity) -> str:
        """A mark with its sign."""
        return f"{'+' if quantity.value > 0 else ''}{self.number(quantity)}"

    def figures(self, texts: Iterable[str]) -> str:
        """Figures in a row: with a decimal comma a comma cannot part them."""
        return ("; " if self.phrases.tongue.decimal_mark == "," else ", ").join(texts)

    def pack(self, stack: Iterable[Quantity]) -> str:
        """ " = 0.010 + 0.020" after the sum of a pack; empty for one shim or none."""
        shims = [self.number(shim) for shim in stack]
        return f" = {' + '.join(shims)}" if len(shims) > 1 else ""


def first_upper(text: str) -> str:
    """As the head of a line or a cell."""
    return text[:1].upper() + text[1:]
