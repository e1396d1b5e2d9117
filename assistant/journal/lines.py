"""The journal of one bench: a folder of files, one a job, one JSON line an event, synced before anything is acknowledged.

A line is {"batch", "last", "at", "event", "v", …}; `last` closes a batch. After a crash a batch without its last line, or a torn line, is
moved to a file beside the journal and reported: it was never acknowledged. The lock is the operating system's, on the file itself, so a
process that dies lets go of it.
"""

import hashlib
import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from assistant.core.errors import BadInputError, JournalError
from assistant.core.events import Event, JobStarted, from_json, to_json
from assistant.journal import Loaded


class LinesJournal:
    """A job's journal as JSON lines in `folder`/`job_id`.jsonl."""

    def __init__(self, folder: Path, job_id: str, *, new: bool) -> None:
        """Open and lock it. new: it must not exist yet. Raises JournalError (it exists, is missing, or another process holds it)."""
        self._path = folder / f"{job_id}.jsonl"
        self._job_id = job_id
        self._batch = 0
        try:
            if new:
                folder.mkdir(parents=True, exist_ok=True)
            self._file: BinaryIO = self._path.open("xb+" if new else "rb+")
            if new:
                _sync_folder(folder)
        except FileExistsError as error:
            raise JournalError(f"job {job_id} exists already: go on with it by `benchhand resume {job_id}`") from error
        except OSError as error:
            raise JournalError(f"journal {self._path.name} cannot be opened: {error.strerror or error}") from error
        try:
            _lock(self._file)
        except OSError as error:
            self._file.close()
            raise JournalError(f"job {job_id} is open in another process: close that one first") from error

    @property
    def job_id(self) -> str:
        """The job it belongs to."""
        return self._job_id

    def load(self) -> Loaded:
        """Every whole batch. What comes after the last one is set aside in a file beside the journal."""
        self._file.seek(0)
        raw = self._file.read()
        events, whole, batch = _whole_batches(raw, self._path.name)
        self._batch = batch
        if whole == len(raw):
            return Loaded(events)
        torn = raw[whole:]
        aside = self._path.with_suffix(f".torn-{batch + 1}")
        aside.write_bytes(torn)
        self._file.truncate(whole)
        self._sync()
        return Loaded(events, torn.count(b"\n") + (not torn.endswith(b"\n")), aside.name)

    def append(self, events: Sequence[Event], at: str) -> None:
        """Write one batch in one piece and sync it. Raises JournalError; a half-written batch is cut off again."""
        if not events:
            return
        lines = []
        for index, event in enumerate(events):
            line: dict[str, Any] = {"batch": self._batch + 1, "last": index == len(events) - 1, "at": at, **to_json(event)}
            lines.append(json.dumps(line, ensure_ascii=False, separators=(",", ":")))
        end = self._file.seek(0, os.SEEK_END)
        try:
            self._file.write(("\n".join(lines) + "\n").encode())
            self._sync()
        except OSError as error:
            self._cut(end)
            raise JournalError(
                f"the journal cannot be written: {error.strerror or error}. Nothing was accepted; make room and say it again"
            ) from error
        self._batch += 1

    def close(self) -> None:
        """Close and unlock."""
        self._file.close()

    def _sync(self) -> None:
        self._file.flush()
        os.fsync(self._file.fileno())

    def _cut(self, end: int) -> None:
        """Best effort: a batch without its last line is not counted on load either."""
        try:
            os.ftruncate(self._file.fileno(), end)
            self._file.seek(end)
        except OSError:
            return


def _whole_batches(raw: bytes, name: str) -> tuple[tuple[Event, ...], int, int]:
    """The events of all whole batches, the length they take, and the last batch's number."""
    events: list[Event] = []
    pending: list[Event] = []
    whole = batch = at = 0
    for line in raw.splitlines(keepends=True):
        at += len(line)
        if not line.endswith(b"\n"):
            break
        try:
            data = json.loads(line)
            pending.append(from_json(data))
        except (ValueError, BadInputError) as error:
            if at < len(raw):
                raise JournalError(f"journal {name} is damaged before its end: {error}") from error
            break
        if data.get("last"):
            events += pending
            pending = []
            whole, batch = at, int(data["batch"])
    return tuple(events), whole, batch


def jobs_in(folder: Path) -> list[tuple[str, JobStarted | None]]:
    """The jobs kept in a folder, the one written last first, each with its start (None where it cannot be read)."""
    found: list[tuple[str, JobStarted | None]] = []
    for path in sorted(folder.glob("*.jsonl"), key=lambda path: path.stat().st_mtime_ns, reverse=True):
        with path.open("rb") as file:
            first = file.readline()
        try:
            event = from_json(json.loads(first))
        except (ValueError, BadInputError):
            event = None
        found.append((path.stem, event if isinstance(event, JobStarted) else None))
    return found


@dataclass(frozen=True)
class Record:
    """A job for reading: (time, event) of every whole batch, and the hash of their bytes."""

    lines: tuple[tuple[str, Event], ...]
    sha256: str


def read_record(folder: Path, job_id: str) -> Record:
    """A job for reading only (no lock). Raises JournalError when there is no such job or it is damaged."""
    path = folder / f"{job_id}.jsonl"
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise JournalError(f"job {job_id} is not in this store: {error.strerror or error}") from error
    events, whole, _ = _whole_batches(raw, path.name)
    times = [str(json.loads(line)["at"]) for line in raw[:whole].splitlines()]
    return Record(tuple(zip(times, events, strict=True)), hashlib.sha256(raw[:whole]).hexdigest())


def _lock(file: BinaryIO) -> None:
    if os.name == "nt":  # pragma: no cover - the other branch is the one under test
        import msvcrt

        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
    else:
        import fcntl

        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)


def _sync_folder(folder: Path) -> None:
    """A new file's name is on disk only once its folder is."""
    if os.name == "nt":  # pragma: no cover - folders cannot be opened there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
