"""A foot pedal or hand switch on a control line of a port: level samples in, presses out.

House rules: only a press acts, never a release; a pedal only ever means "take"; the clock is an input (monotonic seconds).
"""

DEBOUNCE_SECONDS = 0.030
POLL_SECONDS = 0.010
# Lines jump while a port opens.
DEAF_SECONDS = 0.5


class Pedal:
    """Turns the sampled level of CTS or DSR into presses.

    Some cables tie the line to their own supply, so it is always on: a pedal is believed only after it was seen off, on and off again.
    That first push acts on nothing.
    """

    def __init__(self, opened_at: float) -> None:
        self._hears_from = opened_at + DEAF_SECONDS
        self._level: bool | None = None
        self._candidate: tuple[bool, float] | None = None
        # How far the proof has come: 0 nothing, 1 seen off, 2 then on, 3 then off: proved.
        self._proof = 0

    @property
    def is_proved(self) -> bool:
        """Whether the pedal was seen off, on and off again."""
        return self._proof == 3

    def sample(self, is_on: bool, at: float) -> bool:
        """Take in one sample; True when it completes a press that counts."""
        if at < self._hears_from or is_on == self._level:
            self._candidate = None
            return False
        if self._candidate is None or self._candidate[0] != is_on:
            self._candidate = (is_on, at)
        # A microsecond must not decide: the times are sums of fractions of a second.
        if at - self._candidate[1] < DEBOUNCE_SECONDS - 1e-6:
            return False
        self._level, self._candidate = is_on, None
        if self.is_proved:
            return is_on
        if is_on == (self._proof == 1):
            self._proof += 1
        return False
