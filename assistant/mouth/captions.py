"""The mouth that shows what it would say: for a computer without sound, and beside the spoken one."""

from collections.abc import Callable, Mapping

from assistant.mouth import Tone


class Captions:
    """Hands each sentence on to be shown. It is never speaking: nobody hears it, so no microphone has to wait for it."""

    name = "captions"
    trouble = ""
    is_speaking = False

    def __init__(self, show: Callable[[str, str], None], tones: Mapping[Tone, str] | None = None) -> None:
        """show: takes the text and its urgency (info, ask, warn, stop). tones: what each is called; in English unless given."""
        self._show = show
        self._tones = tones or {tone: tone.value for tone in Tone}
        self._is_closed = False

    def say(self, text: str, urgency: str = "info", slower: bool = False) -> None:  # noqa: ARG002 - a reader sets the pace
        """Show `text` at once."""
        if text.strip() and not self._is_closed:
            self._show(text, urgency)

    def tone(self, tone: Tone) -> None:
        """Show the tone's name in brackets."""
        self.say(f"({self._tones[tone]})")

    def hush(self) -> bool:
        """Nothing to silence."""
        return False

    def wait(self, seconds: float) -> bool:  # noqa: ARG002 - all is shown already
        """All is shown."""
        return True

    def close(self) -> None:
        """Show nothing more."""
        self._is_closed = True
