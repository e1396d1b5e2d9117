"""Whole jobs carried to another bench in one file: a zip of their journals, with the hash of each.

A journal is taken over as it is, byte for byte, or not at all. One that the other bench holds already and that only went on since is brought
up to date; two that went on apart are never mixed.
"""

import hashlib
import io
import json
import os
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from assistant.core.errors import BadInputError, JournalError
from assistant.journal.lines import LinesJournal, is_job_id, raw_journal, record_of
from assistant.report import sheet

_LIST = "jobs.json"
_KIND = "benchhand jobs"
# A job of 5,000 events is about one megabyte; what claims to be far more is no journal.
_LARGEST = 256 * 1024 * 1024


@dataclass(frozen=True)
class Taken:
    """What became of one job. how: `new`, `brought up to date` or `there already`."""

    job_id: str
    how: str


def packed(folder: Path, job_ids: Sequence[str]) -> bytes:
    """The file of these jobs. The same jobs give the same bytes. Raises JournalError for one that is not there or is damaged."""
    listed = []
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as box:
        for job_id in dict.fromkeys(job_ids):
            raw = _whole(folder, job_id)
            listed.append({"job": job_id, "sha256": hashlib.sha256(raw).hexdigest(), "bytes": len(raw)})
            _put(box, f"{job_id}.jsonl", raw)
        _put(box, _LIST, json.dumps({"kind": _KIND, "version": 1, "jobs": listed}, indent=1).encode())
    return out.getvalue()


def _whole(folder: Path, job_id: str) -> bytes:
    """A journal's whole batches. What a crash left of an unfinished one was never acknowledged, and stays behind."""
    raw = raw_journal(folder, job_id)
    count = len(record_of(raw, job_id).lines)
    return b"".join(raw.splitlines(keepends=True)[:count])


def _put(box: zipfile.ZipFile, name: str, raw: bytes) -> None:
    box.writestr(zipfile.ZipInfo(name), raw, zipfile.ZIP_DEFLATED)  # a ZipInfo of its own has a fixed date


def unpacked(packet: bytes, folder: Path) -> list[Taken]:
    """Take every job of a file over into a store. Nothing is written unless all of them can be.

    Raises BadInputError for a file that is none of ours or was damaged, and for a job that went on here as well as there; JournalError when the
    store cannot be written, or the job is open.
    """
    jobs = _jobs_of(packet)
    plan = [(job_id, raw, _how(folder, job_id, raw)) for job_id, raw in jobs]
    for job_id, raw, how in plan:
        if how == "new":
            _write_new(folder, job_id, raw)
        elif how == "brought up to date":
            _bring_up(folder, job_id, raw)
    return [Taken(job_id, how) for job_id, _, how in plan]


def _jobs_of(packet: bytes) -> list[tuple[str, bytes]]:
    try:
        with zipfile.ZipFile(io.BytesIO(packet)) as box:
            listed = json.loads(_read(box, _LIST))
            if listed.get("kind") != _KIND or listed.get("version") != 1:
                raise BadInputError(f"the file is {listed.get('kind')!r} version {listed.get('version')!r}, expected {_KIND!r} version 1")
            return [(_checked_id(one["job"]), _checked(box, one)) for one in listed["jobs"]]
    except (zipfile.BadZipFile, KeyError, ValueError, TypeError, AttributeError) as error:
        if isinstance(error, BadInputError):
            raise
        raise BadInputError(f"the file is no export of jobs, or it was damaged on the way: {error}") from error


def _read(box: zipfile.ZipFile, name: str) -> bytes:
    if box.getinfo(name).file_size > _LARGEST:
        raise BadInputError(f"{name} would take {box.getinfo(name).file_size} bytes, expected at most {_LARGEST}")
    return box.read(name)


def _checked_id(job_id: str) -> str:
    if not is_job_id(job_id):
        raise BadInputError(f"{job_id!r} is no name of a job: expected letters, figures, dots and dashes")
    return job_id


def _checked(box: zipfile.ZipFile, listed: dict[str, str]) -> bytes:
    """A journal as the list says it is, and one that this program can replay to its end."""
    job_id = listed["job"]
    raw = _read(box, f"{job_id}.jsonl")
    if hashlib.sha256(raw).hexdigest() != listed["sha256"]:
        raise BadInputError(f"the journal of job {job_id} was damaged on the way: its hash is not the one in the file's list")
    try:
        record = record_of(raw, job_id)
        if sheet(record.lines, record.sha256).job_id != job_id or record.sha256 != listed["sha256"]:
            raise BadInputError(f"the journal under the name {job_id} is another job's, or ends within an entry")
    except JournalError as error:
        raise BadInputError(f"the journal of job {job_id} cannot be read here: {error}") from error
    return raw


def _how(folder: Path, job_id: str, raw: bytes) -> str:
    if not (folder / f"{job_id}.jsonl").exists():
        return "new"
    here = _whole(folder, job_id)
    if here.startswith(raw):
        return "there already"
    if raw.startswith(here):
        return "brought up to date"
    raise BadInputError(f"job {job_id} went on here as well as there: the two cannot be made one")


def _write_new(folder: Path, job_id: str, raw: bytes) -> None:
    """Under another name first, so that a crash leaves no half of a job."""
    path = folder / f"{job_id}.jsonl"
    beside = path.with_suffix(".taking")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with beside.open("wb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise JournalError(f"job {job_id} cannot be written: {error.strerror or error}") from error


def _bring_up(folder: Path, job_id: str, raw: bytes) -> None:
    # The lock tells a bench that has the job open; what it wrote meanwhile must not be lost.
    journal = LinesJournal(folder, job_id, new=False)
    try:
        if not raw.startswith(_whole(folder, job_id)):
            raise BadInputError(f"job {job_id} went on here meanwhile: import once more")
        _write_new(folder, job_id, raw)
    finally:
        journal.close()
