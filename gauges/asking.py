"""When to ask a gauge that answers: one question in flight, a time-out, and a rest after it."""

ANSWER_SECONDS = 0.5
# After so many unanswered questions the gauge is said to be silent.
PATIENCE = 2


class Asking:
    """Paces the questions to one gauge.

    poll_seconds: how often it is asked by itself; None: only when told to. Times are monotonic seconds, given by the caller.
    """

    def __init__(self, poll_seconds: float | None = None) -> None:
        self._poll_seconds = poll_seconds
        self._next_at = 0.0
        self._asked_at: float | None = None
        self._slowest_answer = 0.0
        self._unanswered = 0
        self._is_wanted = False

    @property
    def timeout_seconds(self) -> float:
        """Three times the slowest answer seen, at least half a second."""
        return max(ANSWER_SECONDS, 3 * self._slowest_answer)

    def want(self) -> None:
        """A value is wanted as soon as no question is in flight."""
        self._is_wanted = True

    def is_due(self, now: float) -> bool:
        """Whether a question should be sent now; if so it counts as sent."""
        if self._asked_at is not None:
            return False
        is_polled = self._poll_seconds is not None and now >= self._next_at
        if not (self._is_wanted or is_polled):
            return False
        self._is_wanted = False
        self._asked_at = now
        if self._poll_seconds is not None:
            self._next_at = now + self._poll_seconds
        return True

    def answered(self, now: float) -> None:
        """Any frame came that is not our own question's echo."""
        if self._asked_at is not None:
            self._slowest_answer = max(self._slowest_answer, now - self._asked_at)
        self._asked_at = None
        self._unanswered = 0

    def has_gone_silent(self, now: float) -> bool:
        """Whether the question in flight has just run out of time as the second one in a row; true once."""
        if self._asked_at is None or now - self._asked_at <= self.timeout_seconds:
            return False
        self._asked_at = None
        # A late answer would look like the answer to the next question: rest for a while first.
        self._next_at = max(self._next_at, now + (self._poll_seconds or 0.0))
        self._unanswered += 1
        return self._unanswered == PATIENCE
