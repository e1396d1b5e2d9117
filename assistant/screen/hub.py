"""Hands the newest state of the job to every page that looks: the job's thread puts it in and goes on, each page takes the newest it has not seen.

A page that is slow, or comes late, misses a view and never the job: a view is always whole. What was said is kept for a few batches, so that
a missed view loses no words. A view that cannot be made is our fault and must not end the job: the page is told that it cannot show it.
"""

import json
import secrets
import sys
import threading
import traceback
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from assistant.core.effects import Effect
from assistant.core.state import State
from assistant.screen.view import view
from assistant.screen.words import Words

_SAID_KEPT = 12


@dataclass(frozen=True)
class Line:
    """Something that was said while the state named `at` was the newest."""

    at: str
    text: str
    urgency: str


@dataclass(frozen=True)
class Shown:
    """One state of the job as it was put in.

    at: its name, which a page sends along with what it asks for; number: grows with every state and every line said.
    """

    at: str
    number: int
    state: State
    said: tuple[Line, ...]


class Hub:
    """Between the job's thread and the server's. All methods may be called from any thread."""

    def __init__(self, words: Words) -> None:
        """words: the screen's language."""
        self._words = words
        # A page of an earlier run must never be taken for one that has seen this job's state.
        self._run = secrets.token_hex(4)
        self._lock = threading.Lock()
        self._making = threading.Lock()
        self._said: deque[Line] = deque(maxlen=_SAID_KEPT)
        self._newest: Shown | None = None
        self._made: tuple[int, str] | None = None
        self._wakers: set[Callable[[], None]] = set()
        self._is_finished = False

    @property
    def at(self) -> str:
        """The name of the newest state; empty before the first."""
        with self._lock:
            return self._newest.at if self._newest is not None else ""

    @property
    def is_finished(self) -> bool:
        """Whether nothing more will come."""
        with self._lock:
            return self._is_finished

    def watch(self, state: State, effects: Sequence[Effect]) -> None:
        """A new state, on disk, and the batch that brought it."""
        with self._lock:
            number = self._newest.number + 1 if self._newest is not None else 1
            at = f"{self._run}-{number}"
            self._said += [Line(at, str(effect.body), effect.urgency or "info") for effect in effects if effect.kind == "speak"]
            self._newest = Shown(at, number, state, tuple(self._said))
        self._wake()

    def note(self, text: str, urgency: str) -> None:
        """Something said that changes nothing: a disk that refuses, a gauge that is gone. It counts as news, not as a new state."""
        with self._lock:
            newest = self._newest
            self._said.append(Line(newest.at if newest is not None else "", text, urgency))
            if newest is not None:
                self._newest = Shown(newest.at, newest.number + 1, newest.state, tuple(self._said))
        self._wake()

    def made(self) -> tuple[int, str] | None:
        """The newest view as JSON text with its number, made once however many pages look; None before the first state.

        A view that cannot be made comes as {"failed": true}: the page then shows no number at all.
        """
        with self._making:
            with self._lock:
                newest = self._newest
            if newest is None:
                return None
            if self._made is not None and self._made[0] == newest.number:
                return self._made
            shown: dict[str, object]
            said = [{"text": line.text, "urgency": line.urgency, "fresh": line.at == newest.at} for line in newest.said]
            try:
                shown = {"at": newest.at, "said": said, "view": view(newest.state, self._words)}
            except Exception:  # the edge of this feed: the job goes on by ear and terminal, and the fault is told there
                traceback.print_exc(file=sys.stderr)
                shown = {"at": newest.at, "said": said, "failed": True}
            text = json.dumps(shown, ensure_ascii=False, separators=(",", ":"))
            self._made = (newest.number, text)
            return self._made

    def finish(self) -> None:
        """Nothing more will come: the pages get the last view, and that it was the last."""
        with self._lock:
            self._is_finished = True
        self._wake()

    def attend(self, waker: Callable[[], None]) -> None:
        """Call `waker` (quick, from any thread) whenever there is news, until `leave`."""
        with self._lock:
            self._wakers.add(waker)

    def leave(self, waker: Callable[[], None]) -> None:
        """Call it no more."""
        with self._lock:
            self._wakers.discard(waker)

    def _wake(self) -> None:
        with self._lock:
            wakers = tuple(self._wakers)
        for waker in wakers:
            waker()
