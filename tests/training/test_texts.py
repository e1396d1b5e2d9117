"""What the voices are made to say."""

from collections import Counter

from assistant.ears.spellings import PHONES
from assistant.training.texts import commands, has_phones, labels, number_words, plain_english, texts


def test_every_word_of_every_text_has_phones() -> None:
    for text in texts(3_000, 1):
        assert has_phones(text.split()), text
        assert labels(text)


def test_the_same_seed_draws_the_same() -> None:
    assert list(texts(50, 7)) == list(texts(50, 7))
    assert list(texts(50, 7)) != list(texts(50, 8))


def test_readings_commands_and_talk_are_all_there() -> None:
    drawn = Counter(texts(4_000, 2))
    assert set(commands()) & set(drawn)
    assert any(text.endswith("thou") for text in drawn)
    assert any(text.endswith("newton metres") for text in drawn)
    assert sum(count for text, count in drawn.items() if not set(text.split()) <= {*number_words(), *" ".join(commands()).split()}) > 200


def test_talk_is_plain_english_of_some_length() -> None:
    assert len(plain_english()) > 500
    assert all(len(run) > 1 for run in plain_english())


def test_a_text_is_written_down_in_phones_as_it_is_said_most() -> None:
    assert [PHONES[number - 1] for number in labels("six thou")] == ["S", "IH", "K", "S", "TH", "AW"]
