"""The forms that a build sheet comes in, each as bytes."""

import json
from collections.abc import Callable

from assistant.core.events import language_of
from assistant.journal.lines import Record
from assistant.report import Sheet, sheet
from assistant.report.data import as_csv, as_json
from assistant.report.text import as_text

FORMS = ("text", "html", "pdf", "json", "csv")
# By the ending of a file's name.
ENDINGS = {".txt": "text", ".html": "html", ".htm": "html", ".pdf": "pdf", ".json": "json", ".csv": "csv"}
PAPERS = ("a4", "letter")


# What programs read is in the words of the interface, whatever a job was spoken in.
FOR_PROGRAMS = ("json", "csv")


def made(record: Record, name: str, paper: str = "", language: str = "") -> bytes:
    """The sheet of a job's record in a form. language: of what the sheet says; empty for the one that the job was worked in.

    Raises JournalError as `sheet` does.
    """
    spoken = "en" if name in FOR_PROGRAMS else language or language_of(event for _, event in record.lines)
    return form(name, paper)(sheet(record.lines, record.sha256, spoken))


def form(name: str, paper: str = "") -> Callable[[Sheet], bytes]:
    """How to make a form. name: one of FORMS; paper: one of PAPERS, of a PDF only; empty for the one usual where the job's unit is."""
    if name == "html":
        return _html
    if name == "pdf":
        return lambda sheet: _pdf(sheet, paper)
    return {"text": _text, "json": _json, "csv": _csv}[name]


def form_of(made: bytes) -> str:
    """Which form a sheet's bytes are of, by how they begin."""
    beginnings = {b"<!DOCTYPE html>": "html", b"%PDF-": "pdf", b"{": "json", b"job,": "csv"}
    return next((name for beginning, name in beginnings.items() if made.startswith(beginning)), "text")


def _text(sheet: Sheet) -> bytes:
    return as_text(sheet).encode()


def _json(sheet: Sheet) -> bytes:
    return (json.dumps(as_json(sheet), ensure_ascii=False, indent=1) + "\n").encode()


def _csv(sheet: Sheet) -> bytes:
    return as_csv(sheet).encode()


def _html(sheet: Sheet) -> bytes:
    from assistant.report.page import as_html

    return as_html(sheet).encode()


def _pdf(sheet: Sheet, paper: str) -> bytes:
    from assistant.report.pdf import as_pdf

    return as_pdf(sheet, paper or ("letter" if sheet.job.units == "in" else "a4"))
