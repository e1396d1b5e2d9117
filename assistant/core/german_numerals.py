"""German number words to exact fractions and back, apart from any unit; and how typed text and figures are read in German.

Below a hundred the ones are said before the tens ("einundzwanzig"), which is where German numbers get swapped: what is read back carries its
digits from thirteen on. A number is one word; a recogniser may cut it, and it is put together again at "hundert", "tausend" and
"und" only: "fünf zehn" is no fifteen.

Sources: the words of num2words (tests/core/test_german_numerals.py compares every count with it), Duden for the spellings.
"""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache
from itertools import pairwise

from assistant.core import german
from assistant.core.number import Number, RunOn, Shape, is_typed, typed_number

_POINT = german.POINT.lower()
_FOLDED = (("fuenf", "fünf"), ("zwoelf", "zwölf"), ("dreissig", "dreißig"))
_DIGITS = {word: value for value, word in enumerate(german.ONES[:10])} | {german.TWO_IN_TEXT: 2}
_SEAMS = (german.HUNDRED, german.THOUSAND, german.AND)
_PART_ENDS = {"einhalb": Fraction(1, 2), "einviertel": Fraction(1, 4), "dreiviertel": Fraction(3, 4)}
_HALF_AS_WORD = {"anderthalb": Fraction(3, 2)}


def folded(text: str) -> str:
    """Text as it is looked up: small letters, each umlaut one letter, and umlauts in number words also where none could be typed."""
    text = unicodedata.normalize("NFC", text).lower()
    for written, meant in _FOLDED:
        text = text.replace(written, meant)
    return text


def plain_figures(figures: str) -> str:
    """Typed figures with a point for their decimal mark; what can be read in two ways gets a comma in it, which is no number (`words` asks).

    "0,20" is 0.20. A point is a decimal mark where it can separate no thousands: "0.20", "12.5", "0.125"; "1.234" can be either, and so can
    whatever has more than one mark.
    """
    marks = re.findall(r"[.,]", figures.rstrip("."))
    if len(marks) > 1:
        return figures.replace(".", ",")
    if marks == ["."] and re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", figures):
        return figures.replace(".", ",")
    return figures.replace(",", ".")


def is_number_word(word: str) -> bool:
    """Whether `word` can be part of a number: figures, a number word, "Komma", "halb", also "ein"; not "und"."""
    return word in _NUMBER_WORDS or is_typed(word) or _cardinals().get(word) is not None or _glued(word) is not None


def number_from(words: Sequence[str]) -> Number | RunOn | None:
    """The number that all of `words` make; a RunOn when they are number words that make none; None when a word is none."""
    if not words:
        return None
    if len(words) == 1 and is_typed(words[0]):
        return typed_number(words[0])
    part = german.FRACTIONS_OF_ONE.get(" ".join(words))
    if part is not None:
        return Number(part, Shape.PART)
    spread = _spread_out(words)
    if spread is None:
        return None
    return _decimal(spread) if _POINT in spread else _mixed(spread) or _whole(spread) or RunOn()


def count_words(number: int) -> str:
    """A whole number as it is said: 125 → "einhundertfünfundzwanzig"; zero or more, from a million on digit by digit."""
    if number >= 1_000_000:
        return digit_words(str(number))
    return _compound(number, at_end=True)


def _compound(number: int, *, at_end: bool) -> str:
    """at_end: nothing follows, so that a one is "eins"."""
    if number < 20:
        return german.ONES[number] if number != 1 or at_end else "ein"
    if number < 100:
        ones, tens = number % 10, german.TENS[number // 10]
        return f"{_compound(ones, at_end=False)}{german.AND}{tens}" if ones else tens
    base, word = (100, german.HUNDRED) if number < 1000 else (1000, german.THOUSAND)
    rest = number % base
    return f"{_compound(number // base, at_end=False)}{word}{_compound(rest, at_end=True) if rest else ''}"


def digit_words(figures: str) -> str:
    """Figures one by one: "13.9" → "eins drei Komma neun". Raises ValueError for anything but digits and a point."""
    return " ".join(german.POINT if figure == "." else german.ONES[int(figure)] for figure in figures)


def with_half(whole: int, unit: str) -> tuple[str, str]:
    """A number of units and a half, as number and unit: 2, "notch" → "zweieinhalb", "Rasten"; 0 → "eine halbe", "Raste"."""
    one, many = german.UNITS_SAID[unit]
    if whole:
        return f"{_compound(whole, at_end=False)}einhalb", many
    return ("eine halbe" if one in german.FEMININE else "ein halbes"), one


def with_unit(number: str, unit: str) -> str:
    """Number words and unit words together: "ein Zollpfund", "eine Raste"."""
    if number == german.ONES[1]:
        number = "eine" if unit.split()[0] in german.FEMININE else "ein"
    return f"{number} {unit}"


def sounds_like_another(number: int) -> bool:
    """Whether a count is told with its digits: -zehn and -zig sound alike, and the two digits are said the wrong way round."""
    return number % 100 >= 13


_NUMBER_WORDS = frozenset(_DIGITS) | {
    _POINT,
    *_HALF_AS_WORD,
    *(word for name in german.FRACTIONS_OF_ONE for word in name.split() if word[:3] != "ein"),
}
_IN_A_NUMBER = _NUMBER_WORDS | {german.AND, "ein", "eine", "einen", "einhalb", "einviertel", german.HUNDRED, german.THOUSAND}


@cache
def _cardinals() -> dict[str, int]:
    """Every count up to 9999 in each way it is written: with and without a first "ein", and with "und" after hundert."""
    found: dict[str, int] = {}
    for number in range(10_000):
        for word in _written(number):
            found.setdefault(word, number)
    return found


def _written(number: int) -> Iterator[str]:
    """ "einhunderteins", "hunderteins", "einhundertundeins", "hundertundeins", and each with "ein" at its end."""
    words = [count_words(number)]
    if 100 <= number < 200 or 1000 <= number < 2000:
        words.append(words[0].removeprefix("ein"))
    if 100 <= number < 1000 and 0 < number % 100 < 20:
        words += [word.replace(german.HUNDRED, german.HUNDRED + german.AND) for word in words]
    yield from words
    if number % 100 == 1:
        yield from (word.removesuffix("s") for word in words)
    if number == 1:
        yield "eine"
        yield "einen"


def _glued(word: str) -> Fraction | None:
    """ "sechseinhalb", "dreieinviertel", "anderthalb"; None for anything else."""
    if word in _HALF_AS_WORD:
        return _HALF_AS_WORD[word]
    for end, part in _PART_ENDS.items():
        count = _cardinals().get(word.removesuffix(end)) if word.endswith(end) and word != end else None
        if count is not None:
            return count + part
    return None


def _spread_out(words: Sequence[str]) -> list[str] | None:
    """Figures as words; None when a word belongs to no number, or figures with a mark or
    a zero first stand among words."""
    out: list[str] = []
    for word in words:
        if is_typed(word):
            if "." in word:
                return None
            small = len(word) == 1 or _POINT in out
            if word[0] == "0" and not small:  # "1 005": put together, its zeros would be lost
                return None
            out += [german.ONES[int(figure)] for figure in word] if small else [count_words(int(word))]
        elif word in _IN_A_NUMBER or word in _cardinals() or _glued(word) is not None or _is_piece(word):
            out.append(word)
        else:
            return None
    return out if any(is_number_word(word) or word in _SEAMS[:2] for word in out) else None


def _is_piece(word: str) -> bool:
    """What a recogniser may have cut off a number: "einund", "undzwanzig", "einhundert"."""
    return bool(word) and any(word.removesuffix(seam) in _cardinals() or word.removeprefix(seam) in _cardinals() for seam in _SEAMS)


def _decimal(words: list[str]) -> Number | RunOn:
    """ "sechs Komma fünf", "null Komma null null sechs fünf"; also "null Komma vierzehn": two digits said as one number, zeros before it."""
    at = words.index(_POINT)
    figures = _decimals(words[at + 1 :])
    if at == 1 and words[0] in _DIGITS:
        whole: Number | None = Number(Fraction(_DIGITS[words[0]]), Shape.COUNT)
    else:
        whole = _whole(words[:at]) if at else Number(Fraction(0), Shape.COUNT, whole_said=False)
    if whole is None or not figures:
        return RunOn()
    part = Fraction(int(figures), 10 ** len(figures))
    return Number(whole.value + part, Shape.DECIMAL, len(figures), whole.digits, whole.whole_said, whole.leading_zero)


def _decimals(words: list[str]) -> str:
    """The figures after the comma; empty when the words make none."""
    if words and all(word in _DIGITS for word in words):
        return "".join(str(_DIGITS[word]) for word in words)
    zeros = next((at for at, word in enumerate(words) if word != german.ONES[0]), len(words))
    count = _count(words[zeros:])
    return "0" * zeros + str(count) if count is not None and 10 <= count <= 99 else ""


def _mixed(words: list[str]) -> Number | None:
    """ "sechseinhalb", "sechs einhalb", "sechs und ein halb", "sechs dreiviertel", "anderthalb"."""
    if len(words) == 1:
        value = _glued(words[0])
        return None if value is None else _with_part(value)
    parts = {**german.FRACTIONS, **_PART_ENDS}
    for name, part in parts.items():
        for tail in ([german.AND, *name.split()], name.split()):
            if len(words) > len(tail) and words[-len(tail) :] == tail:
                whole = _whole(words[: -len(tail)])
                if whole is not None and whole.shape is Shape.COUNT:
                    return _with_part(whole.value + part)
    return None


def _with_part(value: Fraction) -> Number:
    return Number(value, Shape.MIXED, places=2 if value.denominator == 4 else 1)


def _whole(words: list[str]) -> Number | None:
    """ "achtzehn", "eins acht", or both one after the other with the same value."""
    digits = [_DIGITS[word] for word in words if word in _DIGITS]
    if len(words) > 1 and len(digits) == len(words):
        return Number(_number_of(digits), Shape.DIGITS, digits=len(digits), leading_zero=digits[0] == 0)
    count = _count(words)
    if count is not None:
        return Number(Fraction(count), Shape.COUNT, ends=_end_of(count))
    for split in range(2, len(words)):
        if all(word in _DIGITS for word in words[:split]):
            count = _count(words[split:])
            if count is not None and _number_of(digits[:split]) == count:
                return Number(Fraction(count), Shape.COUNT)
    return None


def _number_of(digits: Sequence[int]) -> Fraction:
    return Fraction(int("".join(str(digit) for digit in digits)))


def _end_of(count: int) -> str:
    """What the word for a count ends in, where "Tausendstel" after it could be swallowed: 10 and 14 in "zehn", 200 in "hundert"."""
    if count % 100 == 10 or 13 <= count % 100 <= 19:
        return "zehn"
    if count and count % 1000 == 0:
        return german.THOUSAND
    return german.HUNDRED if count and count % 100 == 0 else ""


def _count(words: Sequence[str]) -> int | None:
    """A count in one word, or cut at "hundert", "tausend" or "und"; None when the words make none."""
    if len(words) == 1:
        return None if words[0] == german.TWO_IN_TEXT else _cardinals().get(words[0])
    if any(not (_ends_in_seam(first) or second.startswith(_SEAMS)) for first, second in pairwise(words)):
        return None
    return _cardinals().get("".join(words))


def _ends_in_seam(word: str) -> bool:
    return word.endswith(_SEAMS)
