"""Spoken or typed words → a value, a command, a choice, or one question back.

A wrong value that nobody notices is the worst outcome, so whatever can be read in two ways is asked about, never guessed:
- Fixed length is part of a form: "point zero zero six" is neither .0060 nor a .006x that was cut off.
- A unit never converts: millimetres at a step in inches are answered with the step's unit, and nothing is taken.
- "hundredths" at an inch step and "tenths" at a millimetre step are off by ten, and refused.
- Run-on pairs ("one eighteen", "one eighty") and corrections in one breath ("six, no, seven thou") are refused as a whole.
- A signed step wants its plus or minus.
- Values are exact fractions until they are a `Quantity`, and are never rounded; whether one is in range is the caller's to judge.

Figures that were typed are exact: no length is asked of them, only their unit where it could be two.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from functools import cache

from assistant.core.axle import GAUGE_UNITS, LARGE_QUANTITIES, MEASURED_TO_THREE, PLAY, TIGHTENED
from assistant.core.number import Number, RunOn, Shape, is_typed
from assistant.core.quantities import UNITS, Quantity
from assistant.core.saying import say, say_unit
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH


@dataclass(frozen=True)
class Expectation:
    """What can be answered now.

    quantity: a quantity of the interface; None where no reading is due. unit: the unit of the step. signed: plus or minus must be said.
    choices: phrases that may be chosen. commands: names from the first column of the interface's table of words.
    bare_numbers: the user lets "five" mean five thousandths at an inch step. steps: what "go back to …" may name, ids or titles.
    tongue: the language it is answered in; choice_words, step_words: how the choices and steps are said in it, in their order, where that is
    otherwise than they are written.
    """

    quantity: str | None
    unit: str | None
    signed: bool = False
    choices: tuple[str, ...] = ()
    commands: tuple[str, ...] = ()
    bare_numbers: bool = False
    steps: tuple[str, ...] = ()
    tongue: Tongue = ENGLISH
    choice_words: tuple[str, ...] = ()
    step_words: tuple[str, ...] = ()

    @property
    def said_choices(self) -> tuple[tuple[str, str], ...]:
        """Each choice, and how it is said."""
        return tuple(zip(self.choices, self.choice_words or self.choices, strict=True))

    @property
    def said_steps(self) -> tuple[tuple[str, str], ...]:
        """Each step that may be gone back to, and how it is said: by its title, and, in the language of the ids, by its id as well."""
        titled = tuple(zip(self.steps, self.step_words, strict=True)) if self.step_words else ()
        return titled if titled and self.tongue.steps_by_title else (*titled, *zip(self.steps, self.steps, strict=True))


@dataclass(frozen=True)
class Value:
    """A reading in the unit of the step. words: as heard; form: how it was said ("thou", "half", "digits", "count", "typed" …).

    Two ways of saying one size are equal, so that a recogniser adds up what speaks for either.
    """

    quantity: Quantity
    words: str = field(compare=False)
    form: str = field(compare=False)


@dataclass(frozen=True)
class Command:
    """A command by its name.

    argument: a quantity's name for "correct", one of the expected steps for "go back", a unit for "change unit". gauge: which one was
    switched, by its channel or name in plain words, where it was named.
    """

    name: str
    argument: str | None = None
    gauge: str | None = None


@dataclass(frozen=True)
class Choice:
    """One of the expected choices, as the expectation spells it."""

    text: str


@dataclass(frozen=True)
class Unclear:
    """Nothing was taken. question: the sentence to say. reason: a key of the language's questions. candidates: what it may have been."""

    question: str
    reason: str
    candidates: tuple[Quantity, ...] = ()


Understood = Value | Command | Choice | Unclear
# Letters in one utterance: the longest phrase of any step has under a hundred.
_LONGEST_TEXT = 300


def understand(text: str, expected: Expectation) -> Understood:
    """What `text` (a recogniser's words, or typed) means where `expected` is due. Never raises for any text."""
    words = plain_words(text, expected.tongue)
    if not words:
        return _ask("nothing", words, expected)
    if len(text) > _LONGEST_TEXT:
        return _ask("not understood", words, expected)
    choice = _choice(words, expected)
    if choice is not None:
        return choice
    command = _command(words, expected)
    if command is not None:
        return command
    if expected.tongue is not ENGLISH:
        by_contract = _by_contract(text, expected)
        if by_contract is not None:
            return by_contract
    if expected.unit is None:
        return _ask("not a yes" if "yes" in expected.commands and _holds_number(words, expected.tongue) else "not now", words, expected)
    reading = _reading(words, expected)
    if isinstance(reading, _Refused):
        return _ask(reading.reason, words, expected, reading.candidates, said=reading.said)
    return reading


def _by_contract(text: str, expected: Expectation) -> Command | Choice | None:
    """A command or a choice in the words of the machine interface, which every language takes: a script need not know which one is spoken."""
    english = replace(expected, tongue=ENGLISH, choice_words=(), step_words=())
    words = plain_words(text)
    found = _choice(words, english) or _command(words, english)
    return None if isinstance(found, Unclear) else found


# ---- text to words


def plain_words(text: str, tongue: Tongue = ENGLISH) -> list[str]:
    """`text` as a list of words, in lower case and house spelling: figures as typed, signs and unit symbols as words; fillers dropped.

    Figures with a mark that can be read in two ways have a comma in them, in every language.
    """
    words: list[str] = []
    # A blank may be one that keeps a figure and its unit on a line.
    for found in tongue.token.finditer(re.sub(r"\s", " ", tongue.folded(text))):
        kind, piece = found.lastgroup, found.group()
        if kind == "symbol":
            words += tongue.symbols[piece].split()
        elif kind == "fraction":
            words += [tongue.and_] if words and is_typed(words[-1]) else []
            words += tongue.fraction_signs[piece].split()
        elif kind == "sign":
            words.append(tongue.plus if piece == "+" else tongue.minus)
        elif kind == "inches":
            words.append(tongue.inch_sign)
        elif kind == "number":
            words.append(tongue.plain_figures(piece))
        elif kind == "word":
            # Short symbols are units only behind figures: "in" is a word elsewhere.
            known = tongue.short_symbols if words and is_typed(words[-1]) else {}
            words += (known.get(piece) or tongue.same_word.get(piece.replace("’", "'"), piece)).split()
        elif kind != "pause":
            words.append(piece)
    return [word for word in words if word not in tongue.fillers]


def _holds_number(words: Sequence[str], tongue: Tongue) -> bool:
    return any(tongue.is_number_word(word) for word in words)


# ---- choices and commands


def _choice(words: list[str], expected: Expectation) -> Choice | None:
    """The expected choice that was said to the word."""
    for choice, said in expected.said_choices:
        if plain_words(said, expected.tongue) == words:
            return Choice(choice)
    return None


def _command(words: list[str], expected: Expectation) -> Command | Unclear | None:
    """The command that was said; an Unclear when it is none of those that may be given now; None when it is no command."""
    tongue = expected.tongue
    spoken = " ".join(words)
    if len(set(words)) == 1 and tongue.command_of.get(words[0]) == "stop":  # shouted twice it is the same
        spoken = words[0]
    name = tongue.command_of.get(spoken)
    if name == "correct" and "correct" in expected.commands:
        return _ask("which quantity", words, expected)
    if name == "change unit" and name in expected.commands:
        return _ask("which unit", words, expected)
    if name is not None:
        return Command(name) if name in expected.commands else _ask("not now", words, expected)
    for asked, openings, find in (
        ("correct", tongue.commands["correct"], _quantity_named),
        ("go back", (tongue.go_back_to,), _step_named),
    ):
        for opening in openings:
            length = len(opening.split())
            if words[:length] == tongue.folded(opening).split():
                if asked not in expected.commands:
                    return _ask("not now", words, expected)
                return find(words[length:], words, expected)
    return _unit_change(words, expected)


@cache
def _channel_of(tongue: Tongue) -> Mapping[str, str]:
    return {" ".join(plain_words(said, tongue)): channel for channel, said in tongue.gauges.items()}


def gauge_named(text: str, tongue: Tongue = ENGLISH) -> str:
    """A gauge's channel or name in plain words, whichever way it is spelt or said; a name of the bench's own is the same in every language."""
    return _channel_of(tongue).get(" ".join(plain_words(text, tongue))) or " ".join(plain_words(text))


def _unit_change(words: list[str], expected: Expectation) -> Command | Unclear | None:
    """ "change unit to millimetres", "change the unit of the dial to inches"; None for anything else."""
    tongue = expected.tongue
    found = tongue.unit_change_pattern.fullmatch(" ".join(words))
    if found is None:
        return None
    if "change unit" not in expected.commands:
        return _ask("not now", words, expected)
    unit = tongue.unit_words.get(tongue.short_symbols.get(found["unit"], found["unit"]))
    if unit not in GAUGE_UNITS:
        return _ask("which unit", words, expected)
    gauge = found["gauge"]
    return Command("change unit", unit, None if gauge is None else gauge_named(gauge, tongue))


def _quantity_named(name: list[str], words: list[str], expected: Expectation) -> Command | Unclear:
    """The quantity behind "correct"."""
    said = name[1:] if name[:1] and name[0] in expected.tongue.articles else name
    for quantity, names in expected.tongue.quantity_names.items():
        if " ".join(said) in map(expected.tongue.folded, names) or name == quantity.split("_"):
            return Command("correct", quantity)
    return _ask("which quantity", words, expected)


def _step_named(name: list[str], words: list[str], expected: Expectation) -> Command | Unclear:
    """The step behind "go back to": named to the word, or the only one whose words hold all that were said."""
    said = name[1:] if name[:1] and name[0] in expected.tongue.articles else name
    known = [(step, plain_words(words_of, expected.tongue)) for step, words_of in expected.said_steps]
    exact = dict.fromkeys(step for step, step_words in known if said == step_words)
    near = dict.fromkeys(step for step, step_words in known if said and set(said) <= set(step_words))
    found = list(exact or near)
    return Command("go back", found[0]) if len(found) == 1 else _ask("which step", words, expected)


# ---- readings


@dataclass(frozen=True)
class _Refused:
    """Why a reading was not taken. said: the unit that was heard, where it is the trouble."""

    reason: str
    candidates: tuple[Quantity, ...] = ()
    said: str = ""


@dataclass(frozen=True)
class _Said:
    """A reading taken apart.

    sign: 1, -1, or 0 when none was said. kind: a kind of unit from the language's `unit_words`, or "" when none was said; unit: its words.
    """

    sign: int
    number: Number
    kind: str
    unit: str = ""
    tenths: Fraction = Fraction(0)  # "six thou and four tenths": the four


_INCH_STEPS = frozenset(("in", "0.001 in"))
_ETCH_STEPS = frozenset(("0.001 in", "0.01 mm", "0.001 mm"))
# A kind of unit that names one size: the unit of Quantity that it is, and how many.
_SIZES = {
    "thou": ("in", Fraction(1, 1000)), "tenth": ("in", Fraction(1, 10_000)), "in": ("in", Fraction(1)), "mm": ("mm", Fraction(1)),
    "0.1 mm": ("mm", Fraction(1, 10)), "0.01 mm": ("mm", Fraction(1, 100)), "0.001 mm": ("mm", Fraction(1, 1000)),
}  # fmt: skip
_OFF_BY_TEN = frozenset(("hundredth of an inch", "tenth of an inch", "tenth of a millimetre"))


def _reading(words: list[str], expected: Expectation) -> Value | _Refused:
    """A value at a step that waits for one."""
    unit = expected.unit or ""
    said = _taken_apart(words, unit, expected.tongue)
    if isinstance(said, _Refused):
        return said
    by_step = expected.tongue.kinds_by_step.get(said.kind)
    if by_step is not None:
        said = replace(said, kind=by_step.get(_system(unit), said.kind))
    foreign = _foreign(said.kind, unit, expected.tongue)
    if foreign is not None:
        return foreign
    taken = _in_step_unit(said, expected)
    if isinstance(taken, _Refused):
        return taken
    size, form = taken
    if expected.signed and said.sign == 0 and size.value != 0:
        return _Refused("no sign", (size, Quantity(-size.value, size.unit)))
    if (Fraction(size.value) * 10 ** UNITS[size.unit].finest).denominator != 1:
        return _Refused("too fine")
    signed = Quantity(-size.value, size.unit) if said.sign < 0 and size.value else size
    return Value(signed, " ".join(words), form)


def _taken_apart(words: list[str], unit: str, tongue: Tongue) -> _Said | _Refused:
    """Sign, number and kind of unit; a refusal when the words are not one number with at most one unit."""
    if any("," in word for word in words):
        return _Refused("decimal comma")
    if unit == "notch" and " ".join(words) in tongue.no_notches:
        return _Said(0, Number(Fraction(0), Shape.COUNT), "notch")
    if not _holds_number(words, tongue):
        return _Refused("not understood")
    if not tongue.corrections.isdisjoint(words):
        return _Refused("correction")
    if not tongue.two_meanings.isdisjoint(words):
        return _Refused("two meanings")
    sign = tongue.signs.get(words[0], 0)
    body = words[1:] if sign else words
    if unit in _INCH_STEPS and body[-1:] and body[-1] in tongue.thou_misspelt:
        body = [*body[:-1], tongue.thou_misspelt[body[-1]]]
    return _with_tenths(sign, body, tongue) or _with_trailing_half(sign, body, tongue) or _number_and_kind(sign, body, tongue)


def _number_and_kind(sign: int, body: list[str], tongue: Tongue) -> _Said | _Refused:
    """The number and the unit words after it: the longest unit whose rest is a number."""
    seen_run_on = False
    for at in range(1, len(body) + 1):
        kind = tongue.unit_words.get(" ".join(body[at:])) if at < len(body) else ""
        if kind is None:
            continue
        number = tongue.number_from(body[:at])
        if isinstance(number, Number):
            return _Said(sign, number, kind, " ".join(body[at:]))
        seen_run_on = seen_run_on or isinstance(number, RunOn)
    if seen_run_on:
        return _Refused("half alone" if body[-1] in tongue.part_words else "run-on")
    return _two_numbers(body, tongue) or _Refused("not understood")


def _two_numbers(body: list[str], tongue: Tongue) -> _Refused | None:
    """ "six thou seven thou"; "nineteen thou five", which probably means nineteen point five thou."""
    at = next((place for place, word in enumerate(body) if word in tongue.unit_words), 0)
    first, second = tongue.number_from(body[:at]), tongue.number_from(body[at + 1 :])
    if not isinstance(first, Number) or not _holds_number(body[at + 1 :], tongue):
        return None
    if tongue.unit_words[body[at]] == "thou" and isinstance(second, Number) and second.shape is Shape.COUNT and second.value < 10:
        return _Refused("two numbers", (_exact((first.value + second.value / 10) / 1000, 0, "in"),))
    return _Refused("two numbers")


def _with_trailing_half(sign: int, body: list[str], tongue: Tongue) -> _Said | None:
    """ "three thou and a half" is three and a half thou."""
    for name in tongue.fractions:
        tail = [tongue.and_, *name.split()]
        if body[-len(tail) :] == tail:
            for at in range(1, len(body) - len(tail)):
                kind = tongue.unit_words.get(" ".join(body[at : -len(tail)]))
                number = tongue.number_from([*body[:at], *tail])
                if kind is not None and isinstance(number, Number):
                    return _Said(sign, number, kind)
    return None


def _with_tenths(sign: int, body: list[str], tongue: Tongue) -> _Said | None:
    """ "six thou and four tenths": whole thousandths, and one to nine tenths of one."""
    at = next((place for place, word in enumerate(body) if tongue.unit_words.get(word) == "thou"), 0)
    rest = body[at + 2 :] if body[at + 1 : at + 2] == [tongue.and_] else body[at + 1 :]
    if not 0 < at < len(body) - 2:
        return None
    whole, tenths = tongue.number_from(body[:at]), _number_and_kind(0, rest, tongue) if rest else None
    if not (isinstance(whole, Number) and isinstance(tenths, _Said) and whole.shape is Shape.COUNT and tenths.kind == "tenth"):
        return None
    if not (tenths.number.shape is Shape.COUNT and 1 <= tenths.number.value <= 9):
        return None
    return _Said(sign, whole, "thou", tenths=tenths.number.value)


def _system(unit: str) -> str:
    """What a step counts in, whatever part of it: inches, millimetres, or its unit."""
    return "in" if unit in _INCH_STEPS else "mm" if unit in ("mm", "0.01 mm", "0.001 mm") else unit


def _foreign(kind: str, unit: str, tongue: Tongue) -> _Refused | None:
    """A refusal when `kind` belongs to another unit than the step's, or is off by ten there."""
    system = _system(unit)
    if kind == "ten-thousandth":
        return _Refused("ten-thousandths") if system == "in" else _Refused("other unit", said=say_unit(kind, tongue))
    if kind in _OFF_BY_TEN or (kind == "hundredth" and system == "in") or (kind == "tenth" and system == "mm"):
        return _Refused("off by ten", said=say_unit("tenth alone" if kind == "tenth" else kind, tongue))
    if kind == "" or (kind == "hundredth" and system == "mm"):
        return None
    own = _SIZES[kind][0] if kind in _SIZES else kind
    return None if own == system else _Refused("other unit", said=say_unit(kind, tongue))


def _in_step_unit(said: _Said, expected: Expectation) -> tuple[Quantity, str] | _Refused:
    """The size in the unit of the step, with its form; a refusal where the form is not complete."""
    unit = expected.unit or ""
    if unit in _ETCH_STEPS and not said.kind:
        return _etch(said.number, unit)
    # "zero" alone is no backlash, in whatever unit.
    if expected.quantity in PLAY and not said.kind and said.number.value == 0 and said.number.shape in (Shape.COUNT, Shape.TYPED):
        return _exact(said.number.value, said.number.places, unit), "typed" if said.number.shape is Shape.TYPED else "count"
    if unit in _INCH_STEPS or unit in _ETCH_STEPS or unit == "mm":
        base = "in" if unit in _INCH_STEPS else "mm"
        taken = _inches(said, expected) if base == "in" else _millimetres(said, expected)
        if isinstance(taken, _Refused) or unit == base:
            return taken
        quantity, form = taken
        return _exact(quantity.number_in(unit), 0, unit), form
    return _plain(said, expected)


def _inches(said: _Said, expected: Expectation) -> tuple[Quantity, str] | _Refused:
    """A length at an inch step."""
    number, kind = said.number, said.kind
    if kind in ("thou", "tenth"):
        return _thousandths(said, expected.tongue) if kind == "thou" else _tenths(number)
    if number.shape is Shape.TYPED:
        return _typed_inches(number, kind, expected)
    in_full = _exact(number.value, number.places, "in")
    if number.shape is Shape.DECIMAL and not number.leading_zero:
        if not number.whole_said and expected.quantity in LARGE_QUANTITIES:  # its inches are lost
            return _Refused("fixed length")
        if number.places == 4 or (number.places == 5 and kind):
            return in_full, "digits"
        if number.places > 2 or kind:
            return _Refused("fixed length", (in_full,) if number.places > 4 else ())
    if number.shape is Shape.DIGITS:
        as_decimals = _exact(number.value / 10_000, 4, "in")
        # "two six two five" could have lost its point behind the two; only what begins with a zero is taken.
        if number.digits == 4 and number.leading_zero and not kind:
            return as_decimals, "digits_bare"
        if number.digits > 2 or number.leading_zero or kind:
            return _Refused("fixed length", (as_decimals,) if number.digits == 4 else ())
        return _Refused("run-on", (_exact(number.value / 10_000, 4, "in"), _exact(number.value / 1000, 3, "in")))
    if number.shape is Shape.PART:
        return _Refused("half alone", (_exact(number.value / 1000, 0, "in"),))
    return _Refused("fixed length") if kind else _bare_at_inches(number, expected)


def _bare_at_inches(number: Number, expected: Expectation) -> tuple[Quantity, str] | _Refused:
    """A small number without its unit: thousandths only if the user turned that on."""
    thousandths = _exact(number.value / 1000, number.places + 3, "in")
    if expected.bare_numbers and expected.quantity not in LARGE_QUANTITIES and number.value < 100 and number.whole_said:
        return thousandths, "bare"
    return _Refused("bare number", (thousandths,))


def _typed_inches(number: Number, kind: str, expected: Expectation) -> tuple[Quantity, str] | _Refused:
    """Figures: with "in" exact; without, only what can be no thousandths (".006", "2.625", "0.03")."""
    if kind or number.places >= 3 or (number.places == 2 and number.value < Fraction(1, 10)):
        return _exact(number.value, number.places, "in"), "typed"
    return _bare_at_inches(number, expected)


def _thousandths(said: _Said, tongue: Tongue) -> tuple[Quantity, str] | _Refused:
    """ "six thou", "six point five thou", "six and a half thou", "half a thou"."""
    number = said.number
    value = (number.value + said.tenths / 10) / 1000
    quantity = _exact(value, number.places + 3, "in")
    if number.shape is Shape.DIGITS:  # "six five thou": a point may be lost
        return _Refused("run-on")
    may_be_ten_thousandths = number.ends in tongue.ten_thousandth_ends and not (tongue.ten_alone_is_clear and number.value == 10)
    if said.unit.startswith(tongue.ten_thousandth_units) and may_be_ten_thousandths:
        return _Refused("ten-thousandths", (quantity,))  # "one hundred ten thousandths": 110 thousandths, or 100 ten-thousandths
    if number.shape is Shape.DECIMAL:
        # "point zero zero six five thou" mixes both ways of saying it; before "point five thou" a word may be lost.
        complete = number.places <= 2 and number.whole_said and not number.leading_zero
        return (quantity, "point_thou") if complete else _Refused("fixed length", (quantity,) if number.places == 1 else ())
    if said.tenths:
        return quantity, "thou_tenths"
    return quantity, _PART_FORMS.get(number.value.denominator, "half") if number.shape in (Shape.MIXED, Shape.PART) else _whole_form(number)


_PART_FORMS = {2: "half", 4: "quarter"}


def _whole_form(number: Number) -> str:
    return "typed" if number.shape is Shape.TYPED else "thou"


def _tenths(number: Number) -> tuple[Quantity, str] | _Refused:
    """ "four tenths", "two and a half tenths": more than none and less than ten of them."""
    decimal_ok = number.shape is not Shape.DECIMAL or (number.places == 1 and number.whole_said)
    if number.shape is Shape.DIGITS or not decimal_ok or not 0 < number.value < 10:
        return _Refused("tenths")
    quantity = _exact(number.value / 10_000, 4, "in")
    return quantity, "typed" if number.shape is Shape.TYPED else "tenths"


def _millimetres(said: _Said, expected: Expectation) -> tuple[Quantity, str] | _Refused:
    """A length at a millimetre step."""
    number, kind = said.number, said.kind
    if kind and kind != "mm":
        return _parts_of_a_millimetre(number, _SIZES[kind][1] if kind in _SIZES else Fraction(1, 100))
    quantity = _exact(number.value, number.places, "mm")
    if number.shape is Shape.TYPED:
        if kind or number.places:
            return quantity, "typed"
        return _Refused("bare number", (_exact(number.value / 100, 2, "mm"), quantity))
    if number.shape is Shape.DECIMAL and not number.leading_zero:
        # A micrometer shows thousandths of a millimetre, so a shim may be told to three places without its unit.
        most = 4 if kind else 3 if expected.quantity in MEASURED_TO_THREE else 2
        if 2 <= number.places <= most and number.whole_said:
            return quantity, "point_mm" if kind else "digits"
        return _Refused("fixed length", (quantity,) if number.places == 2 else ())
    if number.shape in (Shape.PART, Shape.MIXED):
        return _Refused("half alone")
    if kind or number.shape is not Shape.COUNT:
        return _Refused("fixed length")
    return _Refused("bare number", (_exact(number.value / 100, 2, "mm"), quantity))


def _parts_of_a_millimetre(number: Number, part: Fraction) -> tuple[Quantity, str] | _Refused:
    """ "fourteen hundredths", "fourteen and a half hundredths", "one hundred forty microns"."""
    if number.shape is Shape.DIGITS or number.leading_zero or (number.shape is Shape.DECIMAL and number.places > 1):
        return _Refused("run-on" if number.shape is Shape.DIGITS else "fixed length")
    typed = number.shape is Shape.TYPED
    return _exact(number.value * part, 3 if part == Fraction(1, 1000) else 2, "mm"), "typed" if typed else "hundredths"


def _etch(number: Number, unit: str) -> tuple[Quantity, str] | _Refused:
    """A mark on the pinion, as it is cut there: a count of the step's unit."""
    quantity = _exact(number.value, number.places, unit)
    if number.shape is Shape.DIGITS:
        return _Refused("run-on")
    # "plus point zero two" may be inches or millimetres in full.
    if number.shape is Shape.PART or (0 < number.value < 1):
        return _Refused("bare number", (quantity,))
    return quantity, "typed" if number.shape is Shape.TYPED else "count"


# Steps where one digit is a whole answer: there is nothing that could have been cut off a count of notches.
_SHORT_COUNTS = frozenset(("deg", "notch", "1"))


def _plain(said: _Said, expected: Expectation) -> tuple[Quantity, str] | _Refused:
    """Torques, forces, angles, notches and counts."""
    unit, number, kind = expected.unit or "", said.number, said.kind
    quantity = _exact(number.value, number.places, unit)
    if number.shape is Shape.TYPED:
        return quantity, "typed"
    if number.shape is Shape.PART:
        return (quantity, "half") if kind else _Refused("half alone", (quantity,))
    if number.shape is Shape.MIXED:
        return quantity, "half"
    if number.shape is Shape.DECIMAL:
        return _plain_decimal(number, quantity, kind)
    if number.shape is Shape.DIGITS:
        return _plain_digits(number, quantity, kind, expected)
    if kind or number.value >= 10 or unit in _SHORT_COUNTS:
        return quantity, "count"
    return _Refused("fixed length", (quantity,) if number.value else ())


def _plain_decimal(number: Number, quantity: Quantity, kind: str) -> tuple[Quantity, str] | _Refused:
    """ "two point one", "one point one eight newton metres"."""
    most = 1 if quantity.unit == "N·m" and not kind else 4
    if number.leading_zero or number.places > most or not number.whole_said:
        return _Refused("fixed length")
    form = "digits" if not kind else "point_nm" if quantity.unit == "N·m" else "point"
    return quantity, form


def _plain_digits(number: Number, quantity: Quantity, kind: str, expected: Expectation) -> tuple[Quantity, str] | _Refused:
    """ "one eight", "one two five foot pounds"."""
    if expected.unit == "N·m" and not (kind and expected.quantity in TIGHTENED):
        # "two one" may have lost its point.
        return _Refused("fixed length", (_exact(quantity.number_in("N·m") / 10, 1, "N·m"),) if number.digits == 2 else ())
    if number.digits > (4 if kind else 3) or (number.leading_zero and not (expected.unit == "lb-in" and number.digits == 2)):
        return _Refused("fixed length")
    return quantity, "digits" if kind else "digits_bare"


def _exact(value: Fraction, places: int, unit: str) -> Quantity:
    """`value`, which ends, with all its decimals and at least `places` of them."""
    while (value * 10**places).denominator != 1:
        places += 1
    return Quantity(Decimal(f"{int(value * 10**places)}E-{places}"), unit)


# ---- the question back

_LONGEST_ECHO = 10
# Steps that may be gone back to, as far as they are told: the last ones.
_STEPS_NAMED = 6


def _ask(reason: str, words: Sequence[str], expected: Expectation, candidates: tuple[Quantity, ...] = (), said: str = "") -> Unclear:
    """The one sentence that says what was heard and what is expected, with the coached form."""
    tongue, unit = expected.tongue, expected.unit or ""
    steps = [" ".join(plain_words(step, tongue)) for step in (expected.step_words or expected.steps)[-_STEPS_NAMED:]]
    question = tongue.questions[reason].format(
        heard=_echo(words, tongue),
        said=said,
        step=say_unit(unit, tongue) if unit else "",
        expects=_expects(expected),
        example=_example(expected, candidates, reason),
        length=tongue.length_wanted.get(unit, tongue.whole_number),
        name=tongue.quantity_names.get(expected.quantity or "", tongue.quantity_names["backlash"])[0],
        steps=_listed(steps, tongue) if steps else tongue.no_steps,
    )
    return Unclear(question[0].upper() + question[1:], reason, candidates)


def _echo(words: Sequence[str], tongue: Tongue) -> str:
    """What was heard, in words that can be said aloud; long talk is cut."""
    out = []
    for word in words[:_LONGEST_ECHO]:
        if is_typed(word):
            out.append(tongue.digit_words(word.rstrip(".")))
        elif re.fullmatch(f"[{tongue.letters}'-]*[{tongue.letters}][{tongue.letters}'-]*", word):
            out.append(word.replace("'", ""))
    return " ".join(out) or tongue.something_else


def _example(expected: Expectation, candidates: tuple[Quantity, ...] = (), reason: str = "") -> str:
    """The coached form: of what was probably meant, else of the step's unit."""
    tongue, unit = expected.tongue, expected.unit or "in"
    in_digits = reason in ("fixed length", "ten-thousandths")
    if candidates and not expected.signed:
        return f" {tongue.or_} ".join(say(candidate, "digits" if in_digits else "long", tongue) for candidate in candidates)
    if expected.quantity in LARGE_QUANTITIES and unit in tongue.examples_long:
        return tongue.examples_long[unit]
    if in_digits and unit in tongue.examples_digits:
        return tongue.examples_digits[unit]
    return tongue.examples.get(unit) or tongue.example_other.format(unit=say_unit(unit, tongue))


def _expects(expected: Expectation) -> str:
    """What can be answered now."""
    tongue = expected.tongue
    if expected.unit is not None:
        names = tongue.quantity_names.get(expected.quantity or "")
        name = tongue.the.format(name=names[0]) if names else tongue.a_reading
        return tongue.expects_reading.format(name=name, unit=say_unit(expected.unit, tongue), example=_example(expected))
    if expected.choices:
        return _listed([" ".join(plain_words(said, tongue)) for _, said in expected.said_choices], tongue)
    for name, answer in tongue.expects.items():
        if name in expected.commands:
            return answer
    return _listed([tongue.commands[name][0] for name in expected.commands], tongue) if expected.commands else tongue.nothing_now


def _listed(names: Sequence[str], tongue: Tongue) -> str:
    """ "a, b or c"."""
    return f"{', '.join(names[:-1])} {tongue.or_} {names[-1]}" if len(names) > 1 else names[0]
