"""Whether we are listening, and when to stop on our own: the rules of a bench where others talk too.

- Ten refused utterances within a minute: the room is talking, so hold.
- Four seconds of silence after a read-back: say it once more; four more: hold. Silence is never a yes.
- Ten minutes in which nobody did anything: asleep, and only "wake up", "resume", the pedal, a key or a gauge wakes.

Times come from the caller; nothing here has a clock, a device or a thread.
"""

from collections import deque
from enum import Enum


class Attention(Enum):
    """What the ear is doing."""

    ASLEEP = "asleep"
    LISTENING = "listening"
    SPEAKING = "speaking"
    HELD = "held"


class Advice(Enum):
    """What to do of our own accord."""

    NOTHING = "nothing"
    SAY_AGAIN = "say again"
    """Nobody answered the read-back: say it once more."""
    HOLD_NO_ANSWER = "no answer"
    HOLD_ROOM_TALKS = "the room talks"
    SLEEP = "sleep"


REFUSALS, REFUSED_WITHIN_SECONDS = 10, 60.0
ANSWER_WITHIN_SECONDS = 4.0
ASLEEP_AFTER_SECONDS = 600.0
LOUD_BELOW_DB = 8.0
"""Under this signal to noise a reading is not tried for long: it is said that the place is too loud."""


class Watch:
    """Follows what is heard and what is not."""

    def __init__(self, at: float) -> None:
        """at: now, on the clock of every later call, in seconds."""
        self._refused: deque[float] = deque(maxlen=REFUSALS)
        self._quiet_since = self._active_at = at
        self._asked_again = False
        self.is_asleep = False

    def state(self, *, speaks: bool, held: bool) -> Attention:
        """What the ear is doing now. speaks: the mouth does; held: the job is on hold."""
        if self.is_asleep:
            return Attention.ASLEEP
        if speaks:
            return Attention.SPEAKING
        return Attention.HELD if held else Attention.LISTENING

    def acted(self, at: float) -> None:
        """Somebody did something: a word that was understood, a key, the pedal, a gauge."""
        self._quiet_since = self._active_at = at
        self._asked_again = self.is_asleep = False

    def refused(self, at: float) -> Advice:
        """An utterance was not for us, or not clear enough."""
        self._quiet_since = at
        self._refused.append(at)
        if len(self._refused) == REFUSALS and at - self._refused[0] <= REFUSED_WITHIN_SECONDS:
            self._refused.clear()
            return Advice.HOLD_ROOM_TALKS
        return Advice.NOTHING

    def tick(self, at: float, *, busy: bool, confirms: bool, held: bool) -> Advice:
        """Time has passed. busy: the mouth speaks, or somebody is speaking now; confirms: a read-back waits for its answer."""
        if busy:
            self._quiet_since = at
            return Advice.NOTHING
        if self.is_asleep:
            return Advice.NOTHING
        if at - self._active_at >= ASLEEP_AFTER_SECONDS:
            self.is_asleep = True
            return Advice.SLEEP
        if held or not confirms or at - self._quiet_since < ANSWER_WITHIN_SECONDS:
            return Advice.NOTHING
        self._quiet_since = at
        if self._asked_again:
            self._asked_again = False
            return Advice.HOLD_NO_ANSWER
        self._asked_again = True
        return Advice.SAY_AGAIN
