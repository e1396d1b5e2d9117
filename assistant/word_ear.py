"""An ear for a handful of words, where no job decides what can be said: for a capture, and for meeting a gauge."""

from typing import TYPE_CHECKING

from assistant.ears import UNCONFIRMED, Verdict

if TYPE_CHECKING:
    from assistant.ears.microphone import Utterance

# What may be said over the assistant's own voice: nothing of it takes or confirms.
_OVER_OWN_VOICE = ("stop", "hold")


class WordEar:
    """Our own recogniser with one fixed list of words. What it accepts is acted on at once, so the strict bars hold."""

    def __init__(self, words: tuple[str, ...]) -> None:
        """Load the recogniser. Raises BadInputError when its weights are not the ones that were measured, or a word has no phones."""
        from assistant.ears.net import NetEar

        self._ear = NetEar()
        self._words = self._ear.load(tuple((word, word) for word in words), UNCONFIRMED)
        self._over = self._ear.load(tuple((word, word) for word in words if word in _OVER_OWN_VOICE) or (("stop", "stop"),), UNCONFIRMED)

    def hear(self, utterance: "Utterance") -> str | None:
        """The word that was said; empty where something was said for us but not surely enough; None for noise and talk."""
        heard = self._ear.hear(utterance.sound, self._over if utterance.over_own_voice else self._words)
        if heard.verdict is Verdict.ACCEPT and heard.chosen is not None:
            return heard.chosen.words
        return "" if heard.verdict is Verdict.AGAIN and not utterance.over_own_voice else None
