"""How each word that may be said is spelled in phones: the table in phones.tsv, and phrases put together from it."""

from collections.abc import Iterable, Sequence
from functools import cache
from itertools import islice, product
from pathlib import Path

from assistant.ears import UnknownWordError

_IN_ORDER = "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH"
PHONES = tuple(_IN_ORDER.split())
"""In the order of the net's outputs 1 to 39; output 0 is the blank."""
TABLE = Path(__file__).with_name("phones.tsv")
MOST_SPELLINGS = 64
"""Most spellings of one phrase. Four-digit strings have at most 16; a longer phrase keeps those with the commonest words first."""

Spelling = tuple[int, ...]
"""Phones as the numbers of the net's outputs."""


@cache
def table() -> dict[str, tuple[Spelling, ...]]:
    """Every word with its spellings, the commonest first. Raises ValueError for a phone nobody knows: the file is at fault."""
    number = {phone: at for at, phone in enumerate(PHONES, start=1)}
    words: dict[str, tuple[Spelling, ...]] = {}
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        if line.startswith("#"):
            continue
        word, *spellings = line.split("\t")
        unknown = [phone for spelling in spellings for phone in spelling.split() if phone not in number]
        if unknown or not spellings or word in words:
            raise ValueError(f"{TABLE.name}, word {word!r}: expected once, with phones of {' '.join(PHONES)}; got {spellings}")
        words[word] = tuple(tuple(number[phone] for phone in spelling.split()) for spelling in spellings)
    return words


def unknown_words(phrases: Iterable[str]) -> list[str]:
    """The words of `phrases` that have no phones, each once, sorted: checked at start, never while listening."""
    return sorted({word for phrase in phrases for word in phrase.split() if not _ways(word)})


def _ways(word: str) -> tuple[Spelling, ...]:
    """The spellings of a word; a phone in capitals is its own ("OW K EY"); none for what is neither."""
    return ((PHONES.index(word) + 1,),) if word in PHONES else table().get(word, ())


def spelled(phrase: str) -> Sequence[Spelling]:
    """Every way to say `phrase`, each word in each of its spellings. Raises UnknownWordError."""
    missing = unknown_words([phrase])
    if missing:
        raise UnknownWordError(f"no phones for {', '.join(missing)} in {phrase!r}: add a line to {TABLE.name}")
    choices = product(*(_ways(word) for word in phrase.split()))
    return [tuple(phone for word in choice for phone in word) for choice in islice(choices, MOST_SPELLINGS)]
