"""What the live side hands over, and the queue it hands it over in.

House rules: the worker of a gauge only reads, decodes and puts; nothing here blocks a worker; when nobody takes, the newest stay and the
drops are counted; times are monotonic seconds.
"""

import threading
from collections import deque
from dataclasses import dataclass

from gauges.reading import Event


@dataclass(frozen=True, slots=True)
class Received:
    """An event of a gauge; `at` is when its first byte came, as well as that can be told."""

    gauge: str
    event: Event
    at: float


@dataclass(frozen=True, slots=True)
class Lost:
    """The port of a gauge is gone: all its values are stale at once."""

    gauge: str
    at: float
    reason: str


@dataclass(frozen=True, slots=True)
class Back:
    """A lost gauge is there again.

    needs_zero_check: its counts may have restarted from another zero. is_certain: it is known by its number, or by the path it was given;
    else by its socket only, where a twin may hang now.
    """

    gauge: str
    at: float
    needs_zero_check: bool
    is_certain: bool = True


@dataclass(frozen=True, slots=True)
class Stale:
    """A gauge that streams has been silent for too long, or one that is asked has not answered twice."""

    gauge: str
    at: float
    reason: str


@dataclass(frozen=True, slots=True)
class Hint:
    """What is likely wrong with the line of a gauge, for a person."""

    gauge: str
    at: float
    text: str


@dataclass(frozen=True, slots=True)
class Pressed:
    """A pedal was pressed: "take", and nothing else."""

    gauge: str
    at: float


Notice = Received | Lost | Back | Stale | Hint | Pressed


class Feed:
    """A queue from many workers to one reader. Holds so many notices at most; then the oldest reading goes first, the rest stay."""

    def __init__(self, limit: int = 10_000) -> None:
        self._limit = limit
        self._notices: deque[Notice] = deque()
        self._changed = threading.Condition()
        self.dropped = 0

    def put(self, notice: Notice) -> None:
        """Add a notice; never waits."""
        with self._changed:
            if len(self._notices) >= self._limit:
                oldest = next((index for index, kept in enumerate(self._notices) if isinstance(kept, Received)), 0)
                del self._notices[oldest]
                self.dropped += 1
            self._notices.append(notice)
            self._changed.notify()

    def get(self, timeout_seconds: float | None = None) -> Notice | None:
        """The next notice, or None when none comes in time."""
        with self._changed:
            self._changed.wait_for(lambda: bool(self._notices), timeout_seconds)
            return self._notices.popleft() if self._notices else None
