"""Where a job is kept: every event on disk before it is acknowledged.

A batch is what one input brought. It is written whole or, after a crash, taken as not written: nothing of it had been acknowledged.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from assistant.core.events import Event


@dataclass(frozen=True)
class Loaded:
    """What a journal held. events: of every whole batch, in order; torn: how many lines were set aside, and where (empty for none)."""

    events: tuple[Event, ...]
    torn: int = 0
    torn_path: str = ""


class Journal(Protocol):
    """One job's journal, open for writing by this process alone."""

    @property
    def job_id(self) -> str:
        """The job it belongs to."""

    def load(self) -> Loaded:
        """Everything that was acknowledged. Raises JournalError when the journal cannot be read."""

    def append(self, events: Sequence[Event], at: str) -> None:
        """Write one batch; on return it is on disk. at: the time, as text. Raises JournalError, and then nothing of it counts."""

    def close(self) -> None:
        """Let go of it: another process may open it now."""
