"""A thread that serves one device: opens it, reads it, says once that it is lost, and comes back to it.

House rules: an unplugged cable is news, never a crash; retries wait longer and longer; a stop is obeyed at once.
"""

import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence

from gauges.feed import Back, Feed, Lost
from gauges.formats.base import Decoder

RETRY_SECONDS = (0.5, 1.0, 2.0, 4.0, 10.0)
STOP_SECONDS = 0.5

Clock = Callable[[], float]


class Worker(ABC):
    """Serves one device under one name until it is stopped.

    feed: where notices go. clock: monotonic seconds. retry_seconds: waits between attempts to open; the last one repeats.
    """

    def __init__(self, name: str, feed: Feed, *, clock: Clock = time.monotonic, retry_seconds: Sequence[float] = RETRY_SECONDS) -> None:
        self.name = name
        self.feed = feed
        self.clock = clock
        self.stopping = threading.Event()
        # Set while the device is open and listened to.
        self.opened = threading.Event()
        self._retry_seconds = retry_seconds
        self._attempts = 0
        self._is_lost = False
        self._wanted_unit: str | None = None
        self._thread = threading.Thread(target=self._run, name=f"gauge {name}", daemon=True)

    def start(self) -> None:
        """Begin to serve; call it once."""
        self._thread.start()

    def stop(self) -> None:
        """End within half a second; the port is closed then. A worker that was never started, or has ended, is left alone."""
        self.stopping.set()
        self._wake()
        if self._thread.is_alive():
            self._thread.join(STOP_SECONDS)

    def change_unit(self, unit: str) -> None:
        """The technician switched the gauge, and said so: its lock is released before the next bytes, and holds `unit` from then on."""
        self._wanted_unit = unit

    def _release(self, decoder: Decoder) -> None:
        """Let go of the lock where that was asked for. The thread that decodes calls it, so that no frame is read half by each unit."""
        unit, self._wanted_unit = self._wanted_unit, None
        if unit is not None:
            decoder.change_unit(unit)

    @property
    def is_alive(self) -> bool:
        """Whether the thread still runs."""
        return self._thread.is_alive()

    @abstractmethod
    def _serve(self) -> None:
        """Open the device, call `_has_opened`, and read until stopped; close it on the way out. Raises OSError when it can't or is lost."""

    @abstractmethod
    def _wake(self) -> None:
        """Interrupt a read that blocks."""

    def _needs_zero_check(self) -> bool:
        """Whether the device may have begun from another zero after a loss of power."""
        return False

    def _is_certain(self) -> bool:
        """Whether what is there again can be no other device of the same kind."""
        return True

    def _has_opened(self) -> None:
        """The device is there: after a loss, say so."""
        self._attempts = 0
        if self._is_lost:
            self._is_lost = False
            self.feed.put(Back(self.name, self.clock(), self._needs_zero_check(), self._is_certain()))
        self.opened.set()

    def _run(self) -> None:
        while not self.stopping.is_set():
            try:
                self._serve()
            except OSError as error:
                self.opened.clear()
                if self.stopping.is_set():
                    return
                if not self._is_lost:
                    self._is_lost = True
                    self.feed.put(Lost(self.name, self.clock(), error.strerror or str(error)))
                self.stopping.wait(self._retry_seconds[min(self._attempts, len(self._retry_seconds) - 1)])
                self._attempts += 1
