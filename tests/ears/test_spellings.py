"""The table of phones, and phrases spelled from it; spellings checked against the CMU Pronouncing Dictionary from memory where named."""

import tomllib
from pathlib import Path

import pytest

import assistant
from assistant.core.grammar import vocabulary
from assistant.core.words import plain_words
from assistant.ears import UnknownWordError
from assistant.ears.spellings import MOST_SPELLINGS, PHONES, spelled, table, unknown_words
from assistant.files import phrases_for

ROOT = Path(assistant.__file__).parent
NUMBERS = """zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen
twenty thirty forty fifty sixty seventy eighty ninety hundred half quarter"""


def phones(*spelling: int) -> str:
    return " ".join(PHONES[number - 1] for number in spelling)


@pytest.mark.parametrize(
    ("word", "spellings"),
    [
        ("six", ["S IH K S"]),  # CMU dictionary
        ("zero", ["Z IH R OW", "Z IY R OW"]),  # CMU dictionary, both
        ("thou", ["TH AW"]),  # a thousandth of an inch, as in "thousand"; the dictionary has the pronoun
        ("notch", ["N AA CH"]),  # CMU dictionary
    ],
)
def test_words_are_spelled_as_the_dictionary_spells_them(word: str, spellings: list[str]) -> None:
    assert [phones(*spelling) for spelling in table()[word]] == spellings


def test_there_are_thirty_nine_phones() -> None:
    assert len(PHONES) == len(set(PHONES)) == 39  # the CMU dictionary's set without stress


def test_every_word_has_one_to_four_spellings_and_none_twice() -> None:
    wrong = {word: s for word, s in table().items() if not 1 <= len(s) <= 4 or len(set(s)) != len(s) or not all(s)}
    assert wrong == {}


def test_a_phrase_is_spelled_in_every_way_its_words_are() -> None:
    assert [phones(*way) for way in spelled("zero six")] == ["Z IH R OW S IH K S", "Z IY R OW S IH K S"]


def test_a_very_long_phrase_keeps_a_bounded_number_of_spellings() -> None:
    assert len(spelled(" ".join(["zero"] * 12))) == MOST_SPELLINGS


def test_words_without_phones_are_all_named() -> None:
    assert unknown_words(["six xyzzy", "plugh thou", "xyzzy"]) == ["plugh", "xyzzy"]
    with pytest.raises(UnknownWordError, match="no phones for xyzzy"):
        spelled("six xyzzy")


def test_no_two_words_for_numbers_sound_alike() -> None:
    ways = [way for word in NUMBERS.split() for way in table()[word]]
    assert len(ways) == len(set(ways))


def test_everything_that_can_be_said_at_a_step_has_phones() -> None:
    assert unknown_words(vocabulary()) == []


def in_data(file: Path) -> list[str]:
    """The names of steps, the choices and the causes of one of our data files, as the words they are said in."""
    data = tomllib.loads(file.read_text("utf-8"))
    said = [row["cause"] for row in data.get("mistake", [])]
    for step in data.get("step", []):
        said += [step["id"], *step.get("choices", [])]
    return [" ".join(plain_words(words)) for words in said]


@pytest.mark.parametrize("file", [*ROOT.glob("*.toml"), *sorted((ROOT / "procedures").glob("*.toml"))], ids=lambda file: file.name)
def test_every_cause_choice_and_step_that_can_be_named_has_phones(file: Path) -> None:
    assert unknown_words(in_data(file)) == []


def test_every_title_of_a_step_that_may_be_gone_back_to_has_phones() -> None:
    assert unknown_words(" ".join(plain_words(text.title)) for text in phrases_for().steps.values()) == []
