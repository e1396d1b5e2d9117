"""One spoken language of the bench as a value: its word tables, its number grammar, and the forms in which values are said.

`words`, `saying` and `grammar` know no language; whatever they ask of one is a field here. A language is a module of tables (`english`), a
module of number words (`numerals`), a module of spoken forms (`english_forms`), and its texts (`assistant/phrases`).
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from fractions import Fraction
from functools import cached_property
from types import ModuleType

from assistant.core.number import Number, RunOn
from assistant.core.quantities import Quantity


@dataclass(frozen=True, eq=False, repr=False)
class Tongue:
    """The words of one language. Each field is a table, or a function, of the language's own modules, where it is explained.

    Units and kinds of unit, commands, quantities and reasons are keys, the same in every language; the texts are the language's.
    """

    # Its ISO 639-1 code, and its name in English.
    code: str
    name: str
    # ---- number words
    ones: tuple[str, ...]
    point: str
    plus: str
    minus: str
    signs: Mapping[str, int]
    fractions: Mapping[str, Fraction]
    part_words: frozenset[str]
    number_from: Callable[[Sequence[str]], Number | RunOn | None]
    is_number_word: Callable[[str], bool]
    count_words: Callable[[int], str]
    digit_words: Callable[[str], str]
    with_half: Callable[[int, str], tuple[str, str]]
    with_unit: Callable[[str, str], str]
    sounds_like_another: Callable[[int], bool]
    # ---- text to words
    decimal_mark: str
    letters: str
    hyphenated: str
    figures: str
    folded: Callable[[str], str]
    plain_figures: Callable[[str], str]
    symbols: Mapping[str, str]
    short_symbols: Mapping[str, str]
    fraction_signs: Mapping[str, str]
    inch_sign: str
    and_: str
    same_word: Mapping[str, str]
    fillers: frozenset[str]
    articles: frozenset[str]
    # ---- readings
    corrections: frozenset[str]
    two_meanings: frozenset[str]
    thou_misspelt: Mapping[str, str]
    unit_words: Mapping[str, str]
    kinds_by_step: Mapping[str, Mapping[str, str]]
    ten_thousandth_ends: frozenset[str]
    ten_thousandth_units: tuple[str, ...]
    ten_alone_is_clear: bool
    no_notches: frozenset[str]
    # ---- values as they are said
    units_said: Mapping[str, tuple[str, str]]
    step_units: Mapping[str, str]
    kinds_said: Mapping[str, str]
    of_an_inch: str
    tenths_are_named: bool
    zero_before_point: bool
    to: str
    or_: str
    # ---- commands and names
    commands: Mapping[str, tuple[str, ...]]
    go_back_to: str
    steps_by_title: bool
    unit_change: str
    unit_changes_said: tuple[str, str]
    gauges: Mapping[str, str]
    waking: tuple[str, ...]
    not_heard_at_confirm: frozenset[str]
    quantity_names: Mapping[str, tuple[str, ...]]
    # ---- questions
    examples: Mapping[str, str]
    examples_digits: Mapping[str, str]
    examples_long: Mapping[str, str]
    example_other: str
    questions: Mapping[str, str]
    length_wanted: Mapping[str, str]
    whole_number: str
    expects_reading: str
    the: str
    a_reading: str
    expects: Mapping[str, str]
    nothing_now: str
    no_steps: str
    something_else: str
    # ---- what is listened for
    spoken_forms: Callable[[Quantity, str | None], Iterator[tuple[str, str]]]
    is_taught: Callable[[str, str], bool]
    reading_words: Callable[[], Sequence[str]]

    def __repr__(self) -> str:
        """Short: it stands in every expectation."""
        return f"Tongue({self.code!r})"

    @classmethod
    def of(cls, *modules: ModuleType) -> "Tongue":
        """The language that these modules make up. Raises AttributeError for what none of them has: the language is not whole."""
        found: dict[str, object] = {}
        for field in fields(cls):
            names = (field.name, field.name.rstrip("_").upper())
            having = [vars(module)[name] for module in modules for name in names if name in vars(module)]
            if not having:
                raise AttributeError(f"{modules[0].__name__} is no whole language: {names[-1]} is missing")
            found[field.name] = having[0]
        return cls(**found)  # type: ignore[arg-type]

    @cached_property
    def command_of(self) -> Mapping[str, str]:
        """Each spoken command → its name."""
        return {self.folded(spoken): name for name, phrases in self.commands.items() for spoken in phrases}

    @cached_property
    def unit_change_pattern(self) -> re.Pattern[str]:
        """ "change unit …" in words: the groups are gauge (may be None) and unit."""
        return re.compile(self.unit_change)

    @cached_property
    def token(self) -> re.Pattern[str]:
        """What typed or recognised text is cut into."""
        symbol = "|".join(sorted((re.escape(symbol) for symbol in self.symbols), key=len, reverse=True))
        return re.compile(
            rf"""(?P<symbol>(?<![^\W\d_])(?:{symbol})(?![^\W\d_]))
            |(?P<inches>(?<=\d)")
            |(?P<fraction>[½¼¾]|(?<![\d/.])(?:1/2|1/4|3/4)(?![\d/.]))
            |(?P<sign>(?<!\S)[+−–-](?=\s*[.,\d½¼¾]))
            |(?P<two_signs>(?<!\S)[+−–-]{{2,}}(?=\s*[.,\d½¼¾]))
            |(?P<number>{self.figures})
            |(?P<word>(?:{self.hyphenated})|[{self.letters}]+(?:['’][{self.letters}]+)?)
            |(?P<pause>[\s.,;:?!_"“”-]+)
            |(?P<other>.)""",
            re.VERBOSE | re.ASCII,
        )
