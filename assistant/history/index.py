"""The index of a store: a summary of each job, kept in one file beside the journals so that thousands are searched at once.

It is a copy of what the journals say and never more: a journal whose size or time of change differs from the index is read again, and an index
that is missing, damaged or cannot be written costs time, not truth.
"""

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from assistant.history.summary import Summary, summary

_NAME = "jobs.index"
# Raised when a summary holds something else than before: an index of another version is made anew.
_VERSION = 1


@dataclass(frozen=True)
class Wanted:
    """What a search asks for: every word somewhere in the job, its state, and when it began (from and before, as ISO dates; empty: any)."""

    words: tuple[str, ...] = ()
    state: str = ""
    since: str = ""
    until: str = ""

    def fits(self, row: "_Row") -> bool:
        """Whether a job is meant."""
        return (
            all(word.casefold() in row.words for word in self.words)
            and (not self.state or row.state == self.state)
            and (not self.since or row.began >= self.since)
            and (not self.until or row.began[: len(self.until)] <= self.until)
        )


class _Row(NamedTuple):
    """One job as the index holds it. text: its summary as JSON, taken apart only when it is wanted."""

    name: str
    changed: int
    size: int
    state: str
    began: str
    words: str
    text: str


def jobs(folder: Path, wanted: Wanted | None = None) -> list[Summary]:
    """The jobs of a store that are wanted, the one written last first."""
    return newest(folder, wanted or Wanted(), None)[0]


def newest(folder: Path, wanted: Wanted, most: int | None) -> tuple[list[Summary], int]:
    """At most so many of the jobs that are wanted, the one written last first, and how many there are in all."""
    if not folder.is_dir():
        return [], 0
    seen = sorted(_journals(folder), key=lambda one: (-one[1], one[0]))
    found = [row.text for row in _rows(folder, seen) if wanted.fits(row)]
    return [Summary.from_json(json.loads(text)) for text in found[:most]], len(found)


def _journals(folder: Path) -> Iterator[tuple[str, int, int]]:
    """(job, time of change in nanoseconds, size) of every journal."""
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.endswith(".jsonl") and entry.is_file():
                kept = entry.stat()
                yield entry.name.removesuffix(".jsonl"), kept.st_mtime_ns, kept.st_size


def _rows(folder: Path, seen: Sequence[tuple[str, int, int]]) -> list[_Row]:
    try:
        with closing(_opened(folder / _NAME)) as index:
            return _refreshed(index, folder, seen)
    except (sqlite3.Error, OSError):
        # A store that we may only read, or another process at the index: the journals themselves say it all.
        with closing(_made(sqlite3.connect(":memory:"))) as index:
            return _refreshed(index, folder, seen)


def _opened(path: Path) -> sqlite3.Connection:
    """The index, made anew when it is damaged or of another version. Raises sqlite3.Error or OSError when it cannot be written."""
    for _ in range(2):
        index = sqlite3.connect(path, timeout=5)
        try:
            if index.execute("pragma user_version").fetchone()[0] in (0, _VERSION):
                return _made(index)
        except sqlite3.DatabaseError as error:
            index.close()
            if isinstance(error, sqlite3.OperationalError):
                raise
        index.close()
        path.unlink()
    raise sqlite3.DatabaseError(f"{path.name} cannot be made anew")


def _made(index: sqlite3.Connection) -> sqlite3.Connection:
    index.execute(
        "create table if not exists job "
        "(name text primary key, changed integer, size integer, state text, began text, words text, text text) without rowid"
    )
    index.execute(f"pragma user_version = {_VERSION}")
    return index


def _refreshed(index: sqlite3.Connection, folder: Path, seen: Sequence[tuple[str, int, int]]) -> list[_Row]:
    """A row for each journal, in the order of `seen`; what the index did not know yet is in it afterwards."""
    held = {row[0]: _Row(*row) for row in index.execute("select name, changed, size, state, began, words, text from job")}
    rows: list[_Row] = []
    fresh: list[_Row] = []
    for name, changed, size in seen:
        row = held.get(name)
        if row is None or (row.changed, row.size) != (changed, size):
            row = _row(name, changed, size, summary(name, (folder / f"{name}.jsonl").read_bytes()))
            fresh.append(row)
        rows.append(row)
    _keep(index, fresh, held.keys() - {row.name for row in rows})
    return rows


def _row(name: str, changed: int, size: int, job: Summary) -> _Row:
    text = json.dumps(job.json(), ensure_ascii=False, separators=(",", ":"))
    return _Row(name, changed, size, job.state, job.began, job.words, text)


def _keep(index: sqlite3.Connection, fresh: Sequence[_Row], gone: Iterable[str]) -> None:
    if not fresh and not gone:
        return
    with index:
        index.executemany("insert or replace into job values (?, ?, ?, ?, ?, ?, ?)", fresh)
        index.executemany("delete from job where name = ?", [(name,) for name in gone])
