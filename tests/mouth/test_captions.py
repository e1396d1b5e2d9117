"""The mouth that shows."""

from assistant.mouth import Mouth
from assistant.mouth.captions import Captions
from tests.suites.mouth import MouthSuite


class TestCaptions(MouthSuite):
    is_heard = False

    def make(self) -> Mouth:
        self.shown: list[tuple[str, str]] = []
        return Captions(lambda text, urgency: self.shown.append((text, urgency)))

    def said(self) -> list[str]:
        return [text for text, _ in self.shown]


def test_the_urgency_is_shown_with_the_text() -> None:
    shown: list[tuple[str, str]] = []
    Captions(lambda text, urgency: shown.append((text, urgency))).say("wear gloves: the bearing is hot", "warn")
    assert shown == [("wear gloves: the bearing is hot", "warn")]
