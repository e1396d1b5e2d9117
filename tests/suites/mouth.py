"""What every mouth must do, spoken or shown.

A subclass makes its mouth and says what it has said so far; `is_heard` is False for a mouth that only shows.
"""

from collections.abc import Iterator

import pytest

from assistant.mouth import Mouth, Tone

PATIENCE = 20.0


class MouthSuite:
    """Subclass it as Test…"""

    is_heard = True

    def make(self) -> Mouth:
        """A new mouth."""
        raise NotImplementedError

    def said(self) -> list[str]:
        """What the mouth of this test has begun to say, in order."""
        raise NotImplementedError

    @pytest.fixture
    def mouth(self) -> Iterator[Mouth]:
        made = self.make()
        yield made
        made.close()

    def test_it_says_what_speaks_and_has_no_trouble(self, mouth: Mouth) -> None:
        assert mouth.name
        assert mouth.trouble == ""

    def test_sentences_come_in_their_order(self, mouth: Mouth) -> None:
        for text in ("one", "two", "six"):
            mouth.say(text)
        assert mouth.wait(PATIENCE)
        assert self.said() == ["one", "two", "six"]
        assert not mouth.is_speaking

    def test_saying_does_not_wait(self, mouth: Mouth) -> None:
        mouth.say("turn the pinion five times before the reading")
        assert mouth.is_speaking == self.is_heard

    def test_hush_cuts_off_what_is_said_and_forgets_what_waits(self, mouth: Mouth) -> None:
        mouth.say("torque the cap bolts to the value in the service manual")
        mouth.say("two")
        assert mouth.hush() == self.is_heard
        assert mouth.wait(1.0)  # the sentence takes three seconds
        mouth.say("six")
        assert mouth.wait(PATIENCE)
        assert self.said()[-1] == "six"
        assert not self.is_heard or "two" not in self.said()

    def test_a_stop_takes_the_place_of_what_waits(self, mouth: Mouth) -> None:
        mouth.say("torque the cap bolts to the value in the service manual")
        mouth.say("two")
        mouth.say("stop", urgency="stop")
        assert mouth.wait(PATIENCE)
        assert self.said()[-1] == "stop"
        assert not self.is_heard or "two" not in self.said()

    def test_hushing_silence_is_no_fault(self, mouth: Mouth) -> None:
        assert not mouth.hush()
        mouth.say("six")
        assert mouth.wait(PATIENCE)
        assert self.said() == ["six"]

    def test_nothing_is_said_of_an_empty_sentence(self, mouth: Mouth) -> None:
        mouth.say("")
        mouth.say("  ")
        assert mouth.wait(PATIENCE)
        assert self.said() == []

    def test_a_tone_waits_its_turn(self, mouth: Mouth) -> None:
        mouth.say("six")
        mouth.tone(Tone.AGAIN)
        assert mouth.wait(PATIENCE)
        assert self.said() == ["six", "(again)"]

    def test_a_closed_mouth_says_nothing_more(self, mouth: Mouth) -> None:
        mouth.close()
        mouth.say("six")
        assert mouth.wait(PATIENCE)
        assert self.said() == []
        mouth.close()
