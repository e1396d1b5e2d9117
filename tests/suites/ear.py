"""What every ear must do, whatever it is made of.

A subclass names its ear, how a phrase becomes a sound for it, and two sounds that hold no phrase.
"""

from collections.abc import Hashable
from fractions import Fraction
from typing import Any

import pytest

from assistant.ears import Bars, Heard, UnknownWordError, Verdict

PHRASES: list[tuple[str, Hashable]] = [
    ("six point five thou", "0.0065"),
    ("six and a half thou", "0.0065"),
    ("nine point five thou", "0.0095"),
    ("point zero zero six five", "0.0065"),
    ("sixteen thou", "0.0160"),
    ("undo", "undo"),
    ("stop", "stop"),
]


class EarSuite:
    """Subclass it as Test…; each test makes its own grammar."""

    def ear(self) -> Any:
        """The ear under test."""
        raise NotImplementedError

    def sound_of(self, words: str) -> Any:
        """`words` said clearly."""
        raise NotImplementedError

    def sounds_of_nobody(self) -> list[Any]:
        """Sounds in which nothing is said."""
        raise NotImplementedError

    def hear(self, words: str, phrases: list[tuple[str, Hashable]] = PHRASES, **more: Any) -> Heard:
        ear = self.ear()
        heard = ear.hear(self.sound_of(words), ear.load(phrases), **more)
        assert isinstance(heard, Heard)
        return heard

    def test_it_says_what_runs(self) -> None:
        assert self.ear().name

    @pytest.mark.parametrize(("words", "meaning"), PHRASES)
    def test_a_legal_phrase_is_heard_as_its_meaning(self, words: str, meaning: Hashable) -> None:
        heard = self.hear(words)
        assert heard.accepted, heard.reason
        assert heard.chosen is not None
        assert (heard.chosen.words, heard.chosen.meaning) == (words, meaning)
        assert heard.candidates[0] == heard.chosen

    @pytest.mark.parametrize("words", ["hand me the big hammer", "the parts van comes at four", "seven and a quarter turns"])
    def test_what_is_not_legal_here_is_not_accepted(self, words: str) -> None:
        heard = self.hear(words)
        assert not heard.accepted, heard.reason
        assert heard.chosen is None
        assert heard.reason

    def test_nobody_speaking_is_answered_by_silence(self) -> None:
        ear = self.ear()
        grammar = ear.load(PHRASES)
        assert [ear.hear(sound, grammar).verdict for sound in self.sounds_of_nobody()] == [Verdict.SILENT] * len(self.sounds_of_nobody())

    def test_with_nothing_to_say_nothing_is_heard(self) -> None:
        heard = self.hear("undo", [])
        assert not heard.accepted
        assert heard.candidates == ()

    def test_the_probabilities_of_the_candidates_are_probabilities(self) -> None:
        heard = self.hear("nine point five thou", prior=lambda meaning: 2.0 if meaning == "0.0095" else 1.0)
        assert 0.99 < sum(candidate.posterior for candidate in heard.candidates) <= 1.0 + 1e-9
        assert 0.99 < sum(candidate.ordered for candidate in heard.candidates) <= 1.0 + 1e-9
        assert [c.ordered for c in heard.candidates] == sorted((c.ordered for c in heard.candidates), reverse=True)

    def test_a_prior_never_makes_a_value_of_another_that_was_clearly_said(self) -> None:
        heard = self.hear("nine point five thou", prior=lambda meaning: 1.0 if meaning == "0.0065" else 1e-12)
        assert heard.chosen is None or heard.chosen.meaning == "0.0095"

    def test_the_meaning_is_that_of_the_phrase_that_was_said(self) -> None:
        # Equal meanings may carry the form they were said in, which the read-back avoids.
        heard = self.hear("six and a half thou", [("six point five thou", 13), ("six and a half thou", Fraction(26, 2))])
        assert heard.chosen is not None
        assert heard.chosen.posterior > 0.999
        assert isinstance(heard.chosen.meaning, Fraction)

    def test_bars_that_nothing_reaches_accept_nothing(self) -> None:
        ear = self.ear()
        heard = ear.hear(self.sound_of("undo"), ear.load(PHRASES, Bars(posterior=1.1)))
        assert heard.verdict is Verdict.AGAIN
        assert heard.best is not None
        assert heard.best.words == "undo"

    def test_it_tells_the_words_it_cannot_know(self) -> None:
        assert self.ear().unknown(["undo", "xyzzy", "stop", "xyzzy"]) == ["xyzzy"]

    def test_a_word_it_cannot_know_is_told_when_the_grammar_is_loaded(self) -> None:
        with pytest.raises(UnknownWordError, match=r"xyzzy|½"):
            self.ear().load([("six xyzzy", 1), ("½ thou", 2)])
