"""The mark that every build sheet bears, so that it can be held against its journal: the job, the journal's hash, the maker of the sheet."""

import re
from dataclasses import dataclass

import assistant
from assistant.report import Sheet

_MARK = re.compile(
    rb"benchhand (\S{1,40}) job=([A-Za-z0-9._-]{1,100})\s+(?:sha256=|journal SHA-256 )([0-9a-f]{64})(?: paper=(a4|letter))?(?: language=([a-z]{2}))?"
)


@dataclass(frozen=True)
class Mark:
    """What a file says of itself. version: of the program that made it; paper: of a PDF; language: the sheet's, English where none is told."""

    version: str
    job_id: str
    sha256: str
    paper: str = ""
    language: str = "en"


def mark(sheet: Sheet, paper: str = "") -> str:
    """The mark as one line."""
    text = f"benchhand {assistant.__version__} job={sheet.job_id} sha256={sheet.journal_sha256}" + (f" paper={paper}" if paper else "")
    return text if sheet.words.language == "en" else f"{text} language={sheet.words.language}"


def mark_in(raw: bytes) -> Mark | None:
    """The mark in a file's bytes; None when it bears none."""
    found = _MARK.search(raw)
    if found is None:
        return None
    version, job_id, sha256, paper, language = (part.decode() if part else "" for part in found.groups())
    return Mark(version, job_id, sha256, paper, language or "en")
