"""English number words to exact fractions and back, apart from any unit; and how typed text and figures are read in English."""

from collections.abc import Sequence
from fractions import Fraction

from assistant.core import english
from assistant.core.number import Number, RunOn, Shape, is_typed, typed_number


def is_number_word(word: str) -> bool:
    """Whether `word` can be part of a number: figures, a number word, "point", "half" …; not "a", "and", "of"."""
    return word in _NUMBER_WORDS or is_typed(word)


def number_from(words: Sequence[str]) -> Number | RunOn | None:
    """The number that all of `words` make; a RunOn when they are number words that make none; None when a word is none."""
    if not words:
        return None
    if len(words) == 1 and is_typed(words[0]):
        return typed_number(words[0])
    part = english.FRACTIONS_OF_ONE.get(" ".join(words))
    if part is not None:
        return Number(part, Shape.PART)
    spread = _spread_out(words)
    if spread is None:
        return None
    return _decimal(spread) if english.POINT in spread else _mixed(spread) or _whole(spread) or RunOn()


def count_words(number: int, joint: str = "") -> str:
    """A whole number as it is said: 180 → "one hundred eighty"; with `joint` "and" → "one hundred and eighty".

    number: zero or more; from a million on it is spelt digit by digit.
    """
    if number >= 1_000_000:
        return digit_words(str(number))
    if number < 20:
        return english.ONES[number]
    if number < 100:
        head, rest, link = english.TENS[number // 10], number % 10, ""
    elif number < 1000:
        head, rest, link = f"{english.ONES[number // 100]} {english.HUNDRED}", number % 100, joint
    else:
        head, rest, link = f"{count_words(number // 1000, joint)} {english.THOUSAND}", number % 1000, ""
    return " ".join(part for part in (head, link, count_words(rest, joint)) if part) if rest else head


def digit_words(figures: str) -> str:
    """Figures one by one: "13.9" → "one three point nine". Raises ValueError for anything but digits and a point."""
    return " ".join(english.POINT if figure == "." else english.ONES[int(figure)] for figure in figures)


def with_half(whole: int, unit: str) -> tuple[str, str]:
    """A number of units and a half, as number and unit: 2, "tenth" → "two and a half", "tenths"; 0 → "half", "a tenth"."""
    one, many = english.UNITS_SAID[unit]
    return (f"{count_words(whole)} {english.AND} a half", many) if whole else ("half", f"a {one}")


def with_unit(number: str, unit: str) -> str:
    """Number words and unit words together."""
    return f"{number} {unit}"


def sounds_like_another(number: int) -> bool:
    """Whether a number below a hundred ends in -teen or -ty, which is what ears confuse."""
    return 13 <= number <= 19 or (20 <= number < 100 and number % 10 == 0)


def folded(text: str) -> str:
    """Text as it is looked up."""
    return text.lower()


def plain_figures(figures: str) -> str:
    """Typed figures as they are; with a comma they are no number yet (`words` asks)."""
    return figures


_DIGITS = {word: value for value, word in enumerate(english.ONES[:10])} | dict.fromkeys(english.ZERO_IN_TEXT, 0)
_TEENS = {word: value for value, word in enumerate(english.ONES) if value >= 10}
_TENS = {word: 10 * value for value, word in enumerate(english.TENS) if word}
_NUMBER_WORDS = (
    frozenset(_DIGITS) | frozenset(_TEENS) | frozenset(_TENS) | frozenset(english.TWICE)
    | {english.HUNDRED, english.POINT, "half", "quarter", "quarters"}
)  # fmt: skip
_IN_A_NUMBER = _NUMBER_WORDS | {english.AND, "a", "of"}


def _spread_out(words: Sequence[str]) -> list[str] | None:
    """Figures and "double zero" as single words; None when a word belongs to no number, or figures with a
    point or a zero first stand among words."""
    out: list[str] = []
    times = 1
    for word in words:
        if word in english.TWICE:
            times = english.TWICE[word]
            continue
        if is_typed(word):
            if "." in word:
                return None
            small = len(word) == 1 or english.POINT in out
            if word[0] == "0" and not small:  # "1 005": put together, its zeros would be lost
                return None
            out += [english.ONES[int(figure)] for figure in word] if small else count_words(int(word)).split()
        elif word in _IN_A_NUMBER:
            out += [word] * times
        else:
            return None
        times = 1
    return out if times == 1 and any(word in _NUMBER_WORDS for word in out) else None


def _decimal(words: list[str]) -> Number | RunOn:
    """ "six point five", "point zero zero six five": digits alone after the one point."""
    at = words.index(english.POINT)
    after = [_DIGITS.get(word) for word in words[at + 1 :]]
    if at == 1 and words[0] in _DIGITS:
        whole: Number | None = Number(Fraction(_DIGITS[words[0]]), Shape.COUNT)
    else:
        whole = _whole(words[:at]) if at else Number(Fraction(0), Shape.COUNT, whole_said=False)
    if whole is None or not after or None in after:
        return RunOn()
    part = Fraction(int("".join(str(digit) for digit in after)), 10 ** len(after))
    return Number(whole.value + part, Shape.DECIMAL, len(after), whole.digits, whole.whole_said, whole.leading_zero)


def _mixed(words: list[str]) -> Number | None:
    """ "six and a half": a count, "and", a part."""
    for name, part in english.FRACTIONS.items():
        tail = [english.AND, *name.split()]
        if words[-len(tail) :] == tail:
            whole = _whole(words[: -len(tail)])
            if whole is not None and whole.shape is Shape.COUNT:
                return Number(whole.value + part, Shape.MIXED, places=2 if part.denominator == 4 else 1)
    return None


def _whole(words: list[str]) -> Number | None:
    """ "eighteen", "one eight", or both one after the other with the same value."""
    digits = [_DIGITS[word] for word in words if word in _DIGITS]
    if len(words) > 1 and len(digits) == len(words):
        return Number(_number_of(digits), Shape.DIGITS, digits=len(digits), leading_zero=digits[0] == 0)
    count = _count(words)
    if count is None:
        for split in range(2, len(words)):
            count = _count(words[split:])
            if count is not None and all(word in _DIGITS for word in words[:split]) and _number_of(digits[:split]) == count:
                return Number(Fraction(count), Shape.COUNT)
        return None
    return Number(Fraction(count), Shape.COUNT, ends=words[-1])


def _number_of(digits: Sequence[int]) -> Fraction:
    return Fraction(int("".join(str(digit) for digit in digits)))


def _count(words: list[str]) -> int | None:
    """A cardinal from zero to 999; None when the words make none."""
    if english.HUNDRED in words:
        at = words.index(english.HUNDRED)
        hundreds = 1 if words[:at] == ["a"] else _DIGITS.get(words[0], 0) if at == 1 else 0
        rest = words[at + 1 :]
        if rest[:1] == [english.AND]:
            rest = rest[1:] or [english.AND]
        below = _below_hundred(rest) if rest else 0
        return None if hundreds == 0 or below is None or (rest and below == 0) else 100 * hundreds + below
    return _below_hundred(words)


def _below_hundred(words: list[str]) -> int | None:
    if len(words) == 1:
        word = words[0]
        return None if word in english.ZERO_IN_TEXT else _DIGITS.get(word, _TEENS.get(word, _TENS.get(word)))
    if len(words) == 2 and words[0] in _TENS and _DIGITS.get(words[1], 0) > 0:
        return _TENS[words[0]] + _DIGITS[words[1]]
    return None
