"""The journal of one bench: a folder of files, one a job, one JSON line an event, synced before anything is acknowledged.

A line is {"batch", "last", "at", "event", "v", …}; `last` closes a batch. After a crash a batch that is not whole is moved to a file beside
the journal and reported: it was never acknowledged. The file is unbuffered, so a batch that the disk refused cannot be written later. The
lock is the operating system's, on the file itself, so a process that dies lets go of it.
"""

import hashlib
import json
import os
import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from assistant.core.errors import BadInputError, JournalError
from assistant.core.events import Event, JobStarted, from_json, to_json
from assistant.journal import Loaded


class LinesJournal:
    """A job's journal as JSON lines in `folder`/`job_id`.jsonl."""

    def __init__(self, folder: Path, job_id: str, *, new: bool) -> None:
        """Open and lock it. new: it must not exist yet. Raises JournalError (it exists, is missing, or another process holds it)."""
        self._path = folder / f"{job_id}.jsonl"
        self._job_id = job_id
        self._batch = self._end = 0
        try:
            if new:
                folder.mkdir(parents=True, exist_ok=True)
            if new and self._path.exists():
                raise JournalError(f"job {job_id} exists already: go on with it by `benchhand resume {job_id}`")
            self._file: IO[bytes] = self._path.open("xb+" if new else "rb+", buffering=0)
            if new:
                _sync_folder(folder)
        except OSError as error:
            raise JournalError(f"journal {self._path} cannot be opened: {error.strerror or error}") from error
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
        raw = self._path.read_bytes()
        events, self._end, self._batch = _whole_batches(raw, self._path.name)
        torn = raw[self._end :]
        if not torn:
            return Loaded(events)
        aside = self._path.with_suffix(f".torn-{self._batch + 1}")
        try:
            with aside.open("ab") as beside:
                beside.write(torn)
                beside.flush()
                os.fsync(beside.fileno())
            self._cut()
        except OSError as error:
            raise JournalError(
                f"the torn end of {self._path.name} cannot be set aside: {error.strerror or error}; make room first"
            ) from error
        return Loaded(events, torn.count(b"\n") + (not torn.endswith(b"\n")), aside.name)

    def append(self, events: Sequence[Event], at: str) -> None:
        """Write one batch in one piece and sync it. Raises JournalError; a half-written batch is cut off again."""
        if not events:
            return
        lines = []
        for index, event in enumerate(events):
            line: dict[str, Any] = {"batch": self._batch + 1, "last": index == len(events) - 1, "at": at, **to_json(event)}
            lines.append(json.dumps(line, ensure_ascii=False, separators=(",", ":")))
        batch = ("\n".join(lines) + "\n").encode()
        try:
            self._cut()  # of a batch that was refused before, should the disk not even have let it be cut off then
            self._write(batch)
        except OSError as error:
            with suppress(OSError):
                self._cut()
            raise JournalError(
                f"the journal cannot be written: {error.strerror or error}. Nothing was accepted; make room and say it again"
            ) from error
        self._batch += 1
        self._end += len(batch)

    def close(self) -> None:
        """Close and unlock."""
        self._file.close()

    def _write(self, batch: bytes) -> None:
        """All of it at the end, and synced. Raises OSError; some of it may be there then."""
        self._file.seek(self._end)
        written = 0
        while written < len(batch):
            written += self._file.write(batch[written:])
        os.fsync(self._file.fileno())

    def _cut(self) -> None:
        """Nothing after the last whole batch. Raises OSError."""
        if os.fstat(self._file.fileno()).st_size > self._end:
            os.ftruncate(self._file.fileno(), self._end)
            os.fsync(self._file.fileno())


def _whole_batches(raw: bytes, name: str) -> tuple[tuple[Event, ...], int, int]:
    """The events of all whole batches, the length they take, and the last batch's number.

    A batch is synced before the next is begun, so only the last one can be torn: damage in an earlier one raises JournalError.
    """
    events: list[Event] = []
    pending: list[Event] = []
    whole = batch = at = 0
    for line in raw.splitlines(keepends=True):
        at += len(line)
        try:
            data = _line(line)
            pending.append(from_json(data))
        except ValueError as error:
            if any(_batch_of(later) > batch + 1 for later in raw[at:].splitlines(keepends=True)):
                raise JournalError(f"journal {name} is damaged before its end: {error}") from error
            break
        if data.get("last"):
            events += pending
            pending = []
            whole, batch = at, int(data["batch"])
    return tuple(events), whole, batch


def _line(line: bytes) -> dict[str, Any]:
    """One line of the file. Raises ValueError for one that is torn or no journal line."""
    data = json.loads(line)
    if not line.endswith(b"\n") or not isinstance(data, dict) or not isinstance(data.get("batch"), int):
        raise ValueError(f"{line[:60]!r} is not a whole line of a journal")
    return data


def _batch_of(line: bytes) -> int:
    try:
        return int(_line(line)["batch"])
    except ValueError:
        return 0


_JOB_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")


def is_job_id(text: str) -> bool:
    """Whether a name that came from outside may become a job's file: nothing that could leave the folder."""
    return _JOB_ID.fullmatch(text) is not None


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
    return record_of(raw_journal(folder, job_id), job_id)


def raw_journal(folder: Path, job_id: str) -> bytes:
    """The bytes of a job's file, a torn end with them. Raises JournalError when there is no such job."""
    path = folder / f"{job_id}.jsonl"
    try:
        return path.read_bytes()
    except FileNotFoundError as error:
        raise JournalError(f"job {job_id} is not in this store: `benchhand jobs list` shows those that are") from error
    except OSError as error:
        raise JournalError(f"job {job_id} cannot be read: {error.strerror or error}") from error


def record_of(raw: bytes, job_id: str) -> Record:
    """The record that a journal's bytes hold. Raises JournalError when they are damaged before their last batch."""
    events, whole, _ = _whole_batches(raw, f"{job_id}.jsonl")
    times = [str(json.loads(line)["at"]) for line in raw[:whole].split(b"\n")[:-1]]
    return Record(tuple(zip(times, events, strict=True)), hashlib.sha256(raw[:whole]).hexdigest())


def as_it_was(raw: bytes, sha256: str) -> bytes | None:
    """The journal as it stood when its hash was `sha256`: its bytes up to the end of a batch, or None when it never had that hash."""
    hashed = hashlib.sha256()
    length = 0
    for line in raw.splitlines(keepends=True):
        hashed.update(line)
        length += len(line)
        if b'"last":true' in line and hashed.hexdigest() == sha256:
            return raw[:length]
    return None


def _lock(file: IO[bytes]) -> None:
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
