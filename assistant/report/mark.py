"""The mark that every build sheet bears, so that it can be held against its journal: the job, the journal's hash, the maker of the sheet."""

import re
from dataclasses import dataclass

import assistant
from assistant.report import Sheet

_MARK = re.compile(rb"benchhand (\S{1,40}) job=([A-Za-z0-9._-]{1,100})\s+(?:sha256=|journal SHA-256 )([0-9a-f]{64})(?: paper=(a4|letter))?")


@dataclass(frozen=True)
class Mark:
    """What a file says of itself. version: of the program that made it; paper: of a PDF."""

    version: str
    job_id: str
    sha256: str
    paper: str = ""


def mark(sheet: Sheet, paper: str = "") -> str:
    """The mark as one line."""
    return f"benchhand {assistant.__version__} job={sheet.job_id} sha256={sheet.journal_sha256}" + (f" paper={paper}" if paper else "")


def mark_in(raw: bytes) -> Mark | None:
    """The mark in a file's bytes; None when it bears none."""
    found = _MARK.search(raw)
    if found is None:
        return None
    version, job_id, sha256, paper = (part.decode() if part else "" for part in found.groups())
    return Mark(version, job_id, sha256, paper)
