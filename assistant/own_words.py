"""A user's own words for a command or a choice, from the settings file: read, checked at start, and turned into the program's own words.

Rules: an own word is a whole utterance and stands for another whole one; nothing of the table is trusted before all of it was checked; an
own word is no number, no yes and no "understood", because what those let pass cannot be taken back by whoever only meant something else.
"""

import tomllib
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from assistant.core import english
from assistant.core.axle import NO_DEPTH, PATTERN_CHOICES
from assistant.core.errors import BadInputError
from assistant.core.inputs import Input, Said
from assistant.core.phrases import Phrases
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH, TONGUES
from assistant.core.waits import ALARM_ANSWERS
from assistant.core.words import Choice, Command, Expectation, Understood, plain_words, understand
from assistant.files import every_choice, phrases_for

_KEYS = ("means", "sounds_like", "language")
_NEVER = ("yes", "understood")
_FEWEST_SOUNDS = 4
_EXPECTED = '"okey-dokey" = { means = "done", sounds_like = "oh key doe key" }'


@dataclass(frozen=True)
class OwnWord:
    """said: as it is typed, in plain words. means: the program's own words. sounds: the known words or phones that it is heard by."""

    said: str
    means: str
    sounds: str


@dataclass(frozen=True)
class OwnWords:
    """All own words of a user, in the language of a job."""

    words: tuple[OwnWord, ...] = ()
    tongue: Tongue = ENGLISH

    def meant(self, text: str) -> str:
        """The program's own words where `text` is an own word or the sound of one; else `text` as it is."""
        plain = " ".join(plain_words(text, self.tongue))
        return next((word.means for word in self.words if plain == word.said or text == word.sounds), text)

    def plainly(self, given: Input) -> Input:
        """The same for an input."""
        return replace(given, words=self.meant(given.words)) if isinstance(given, Said) and self.words else given

    def heard_beside(self, phrases: Sequence[tuple[str, Hashable]]) -> list[tuple[str, Hashable]]:
        """What an ear may hear as well: the sound of each own word whose meaning is among these phrases, with that meaning.

        Nothing at a confirm: near a yes and a no stands nothing else.
        """
        meaning = dict(phrases)
        if Command("yes") in meaning.values():
            return []
        return [(word.sounds, meaning[word.means]) for word in self.words if word.means in meaning]


NO_OWN_WORDS = OwnWords()


def own_words(path: Path, language: str = "en") -> OwnWords:
    """The own words of a settings file for a job in this language; none where there is no file, or no [words] in it.

    Raises BadInputError with all that is wrong.
    """
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (FileNotFoundError, NotADirectoryError):
        return OwnWords()
    except OSError as error:
        raise BadInputError(f"{path}: {error.strerror}, expected a settings file that can be read") from error
    except ValueError as error:
        raise BadInputError(f"{path} is not TOML: {error}") from error
    return own_words_from(data.get("words", {}), str(path), language)


def own_words_from(table: Any, where: str, language: str = "en") -> OwnWords:
    """The own words of a [words] table that are of this language; `where` names its file. Raises BadInputError."""
    if not isinstance(table, dict):
        raise BadInputError(f"{where}: words is {table!r}, expected a table with rows such as {_EXPECTED}")
    found: list[OwnWord] = []
    problems: list[str] = []
    for written, row in table.items():
        try:
            _check_row(row)
            if row.get("language", "en") == language:
                found.append(_own_word(written, row, found, phrases_for(language)))
        except BadInputError as error:
            problems.append(f'words."{written}": {error}')
    if problems:
        raise BadInputError(f"{where}: {'; '.join(problems)}")
    return OwnWords(tuple(found), TONGUES[language])


def _check_row(row: Any) -> None:
    if not isinstance(row, dict) or not set(row) <= set(_KEYS) or "means" not in row or not all(isinstance(v, str) for v in row.values()):
        raise BadInputError(f"is {row!r}, expected as in {_EXPECTED}")
    if row.get("language", "en") not in TONGUES:
        raise BadInputError(f"language {row['language']!r} is not known, expected one of {', '.join(TONGUES)}")


def _own_word(written: str, row: dict[str, str], others: Iterable[OwnWord], phrases: Phrases) -> OwnWord:
    tongue = phrases.tongue
    said = plain_words(written, tongue)
    if not said:
        raise BadInputError("holds no word")
    means = " ".join(plain_words(row["means"], tongue))
    meaning = _meaning(means, phrases)
    if meaning is None:
        raise BadInputError(f"means {row['means']!r}, which is no command and no choice, expected one such as {phrases.command('done')}")
    if isinstance(meaning, Command) and meaning.name in _NEVER:
        raise BadInputError(f"means {row['means']!r}: that has no second word, so that nothing else is ever taken for it")
    # "oh" is a zero in text only; as a sound no grammar holds it.
    sounds = [word for word in row.get("sounds_like", "").split() if word not in english.ZERO_IN_TEXT]
    number = next((word for word in (*said, *sounds) if tongue.is_number_word(word)), None)
    if number is not None:
        raise BadInputError(f"holds {number!r}: a number is a reading, expected other words")
    spoken = " ".join(said)
    known = _meaning(spoken, phrases)
    if known is not None and known != meaning:
        raise BadInputError(f"means {_named(known)} already, expected a word that means nothing yet")
    if any(other.said == spoken for other in others):
        raise BadInputError("stands there twice")
    word = OwnWord(spoken, means, " ".join(row.get("sounds_like", spoken).split()))
    # Our own ear, and its phones, are English: in another language the model that listens knows the words itself.
    if tongue is ENGLISH:
        _check_sound(word, meaning, others, phrases)
    return word


def _check_sound(word: OwnWord, meaning: Understood, others: Iterable[OwnWord], phrases: Phrases) -> None:
    """Raises BadInputError for a word that has no phones, and for a sound that could be another phrase's."""
    from assistant.ears.spellings import spelled, unknown_words

    missing = unknown_words([word.sounds])
    if missing:
        raise BadInputError(
            f"no sound is known for {', '.join(missing)}: expected sounds_like with words that benchhand knows, or phones such as OW K EY"
        )
    ours = spelled(word.sounds)
    if min(map(len, ours)) < _FEWEST_SOUNDS:
        raise BadInputError(
            f"is heard by {min(map(len, ours))} sounds, expected at least {_FEWEST_SOUNDS}: a short one is found in any noise"
        )
    told = {**_every_phrase(), **{other.sounds: _meaning(other.means, phrases) for other in others}}
    for phrase, its in told.items():
        if its != meaning and any(_is_near(one, other) for one in ours for other in spelled(phrase)):
            raise BadInputError(f"sounds like {phrase!r}, which means something else: expected another sound")


def _is_near(one: Sequence[int], other: Sequence[int]) -> bool:
    """Whether two strings of phones are the same but for one phone: changed, left out or put in."""
    if abs(len(one) - len(other)) > 1:
        return False
    at = next((place for place, (left, right) in enumerate(zip(one, other, strict=False)) if left != right), min(len(one), len(other)))
    left, right = one[at:], other[at:]
    return left[1:] == right[1:] or left[1:] == right or left == right[1:]


def _choices() -> tuple[str, ...]:
    """Every choice that may be offered, as the interface names it."""
    return tuple(dict.fromkeys((*every_choice(), *PATTERN_CHOICES, *ALARM_ANSWERS, *english.ONE_OF_TWO, NO_DEPTH)))


def _meaning(words: str, phrases: Phrases) -> Understood | None:
    """What words mean wherever they may be said; None for what is no command and no choice."""
    choices, tongue = _choices(), phrases.tongue
    for expected in (
        Expectation(None, None, commands=tuple(tongue.commands), tongue=tongue),
        Expectation(None, None, choices=choices, choice_words=tuple(map(phrases.choice, choices)), tongue=tongue),
    ):
        meant = understand(words, expected)
        if isinstance(meant, Command | Choice):
            return meant
    return None


@cache
def _every_phrase() -> dict[str, Understood | None]:
    """Every command, choice and word for a number of English, with its meaning; a number's is none of theirs."""
    said = [words for names in english.COMMANDS.values() for words in names]
    said += [" ".join(plain_words(choice)) for choice in _choices()]
    known = {words: _meaning(words, phrases_for()) for words in said}
    return known | dict.fromkeys((*english.ONES, *(ten for ten in english.TENS if ten), english.HUNDRED))


def _named(meaning: Understood) -> str:
    return repr(meaning.name if isinstance(meaning, Command) else meaning.text if isinstance(meaning, Choice) else "a reading")
