"""What the voices are made to say, and the phones that the net should write down for it."""

import random
import re
from collections.abc import Iterator, Sequence
from functools import cache
from pydoc_data import topics

from assistant.core import english
from assistant.core.axle import PATTERN_CHOICES
from assistant.core.grammar import phrases, units_of
from assistant.core.quantities import Quantity
from assistant.core.words import Expectation
from assistant.ears.spellings import Spelling, table

READINGS = (
    ("backlash", "in", 6.0), ("ring_runout", "in", 2.5), ("backlash", "mm", 4.0), ("pinion_drag", "lb-in", 3.0), ("pinion_drag", "N·m", 2.0),
    ("nut_torque", "lb-ft", 2.5), ("angle", "deg", 1.5), ("notches", "notch", 1.0), ("etch_new", "0.001 in", 1.0), ("pinion_depth", "in", 1.0),
)  # fmt: skip
"""Quantity, unit and how often: a bench's day, roughly."""
SHARES = {"readings": 0.46, "commands": 0.14, "digits": 0.12, "numbers": 0.08, "talk": 0.12, "talk with a word of ours": 0.08}
"""Talk with and without our words in it is what makes talk refusable."""
_AROUND = {"pinion_depth": Quantity.of("2.6250", "in")}


def texts(count: int, seed: int) -> Iterator[str]:
    """`count` texts, each word of which has phones."""
    dice = random.Random(seed)
    readings = [listed(quantity, unit) for quantity, unit, _ in READINGS]
    often = [weight for _, _, weight in READINGS]
    talk = plain_english()
    for _ in range(count):
        kind = dice.choices(list(SHARES), list(SHARES.values()))[0]
        if kind == "readings":
            yield dice.choice(dice.choices(readings, often)[0])
        elif kind == "commands":
            yield dice.choice(commands())
        elif kind == "digits":
            digits = [dice.choice(english.ONES[:10]) for _ in range(dice.randint(1, 5))]
            yield " ".join([*([english.POINT] if dice.random() < 0.3 else []), *digits])
        elif kind == "numbers":
            yield " ".join(dice.choice(number_words()) for _ in range(dice.randint(1, 5)))
        elif kind == "talk":
            run = dice.choice(talk)
            at = dice.randrange(max(1, len(run) - 3))
            yield " ".join(run[at : at + dice.randint(2, 8)])
        else:
            words = [dice.choice(dice.choice(talk)) for _ in range(dice.randint(1, 3))] + [dice.choice(number_words())]
            dice.shuffle(words)
            yield " ".join(words)


@cache
def listed(quantity: str, unit: str) -> tuple[str, ...]:
    """Every phrase of a reading's grammar."""
    assert unit in units_of(quantity)
    from assistant.core.grammar import value_set

    values = value_set(quantity, unit, _AROUND.get(quantity))
    return tuple(words for words, _ in phrases(Expectation(quantity, unit, signed=values[0].value < 0), values))


@cache
def commands() -> tuple[str, ...]:
    """Commands, answers and what else is chosen by words."""
    spoken = [words for known in english.COMMANDS.values() for words in known]
    return tuple(dict.fromkeys([*spoken, *PATTERN_CHOICES, *english.ALARM_CHOICES, *english.ONE_OF_TWO, "wake up"]))


@cache
def number_words() -> tuple[str, ...]:
    """The words that readings are made of."""
    return tuple(sorted({word for quantity, unit, _ in READINGS for words in listed(quantity, unit) for word in words.split()}))


@cache
def plain_english() -> tuple[tuple[str, ...], ...]:
    """Runs of two and more words that have phones, from the interpreter's own help texts."""
    known = table()
    runs: list[tuple[str, ...]] = []
    run: list[str] = []
    for word in re.findall(r"[a-z']+|[.;:()]", " ".join(topics.topics.values()).lower()):
        if word in known and (len(word) > 1 or word in "ai"):
            run.append(word)
            continue
        if len(run) > 1:
            runs.append(tuple(run))
        run = []
    return tuple(runs)


def labels(text: str) -> Spelling:
    """The phones of a text as the net's outputs, each word as it is said most. Raises KeyError for a word without phones."""
    return tuple(phone for word in text.split() for phone in table()[word][0])


def has_phones(words: Sequence[str]) -> bool:
    """Whether every word can be written down in phones."""
    return all(word in table() for word in words)
