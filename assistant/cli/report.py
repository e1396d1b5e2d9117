"""`benchhand report`: the build sheet of a job."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from assistant.cli.run import Store, store_folder
from assistant.core.errors import BadInputError, BenchError

_LONGEST_SHEET = 64 * 1024 * 1024


def register(app: typer.Typer) -> None:
    """Mount the command."""
    app.command("report")(report)


def report(
    job_id: Annotated[str | None, typer.Argument(metavar="[JOB-ID]", help="Which job; `latest` for the one touched last.")] = None,
    store: Store = None,
    format_: Annotated[str | None, typer.Option("--format", help="text, html, pdf, json or csv; else by the ending of --to.")] = None,
    to: Annotated[Path | None, typer.Option("--to", metavar="FILE", help="Write it there instead of to standard output.")] = None,
    json_: Annotated[
        bool, typer.Option("--json", help="JSON on one line for a program; of --verify, what was found. A sheet to keep: --format json.")
    ] = False,
    language: Annotated[
        str, typer.Option("--language", metavar="en|de", help="Of what the sheet says; else the one that the job was worked in.")
    ] = "",
    paper: Annotated[str, typer.Option("--paper", help="Of a PDF: a4 or letter; else letter for a job in inches.")] = "",
    verify: Annotated[
        Path | None,
        typer.Option("--verify", metavar="FILE", help="Show that a sheet belongs to its job's journal; exit status 1: it does not."),
    ] = None,
) -> None:
    """The build sheet: specs, every reading, every change and why, what did not add up, the verdict."""
    try:
        folder = store_folder(store)
        if verify is not None:
            belongs, text = _verified(verify, job_id, folder)
            told = {"file": str(verify), "belongs": belongs, "text": text}
            typer.echo(json.dumps(told, ensure_ascii=False) if json_ else f"{verify.name} {text}")
            raise typer.Exit(0 if belongs else 1)
        if job_id is None:
            raise BadInputError("which job? Give its JOB-ID, or `latest`")
        if json_:
            if format_ not in (None, "json") or to is not None:
                raise BadInputError("--json prints one line, and goes with no --to and no other --format: leave one of them out")
            sheet = json.loads(_made(_named(job_id, folder), folder, "json", "", ""))
            typer.echo(json.dumps(sheet, ensure_ascii=False))
            return
        _write(_made(_named(job_id, folder), folder, _form_wanted(format_, to), _paper(paper), _language(language)), to)
    except BenchError as error:
        typer.echo(f"benchhand report: {error}", err=True)
        raise typer.Exit(2) from error


def _named(job_id: str, folder: Path) -> str:
    """The job itself, where `latest` was said."""
    from assistant.journal.lines import jobs_in

    if job_id != "latest":
        return job_id
    jobs = jobs_in(folder) if folder.is_dir() else []
    if not jobs:
        raise BadInputError(f"there is no job in {folder}")
    return jobs[0][0]


def _form_wanted(format_: str | None, to: Path | None) -> str:
    from assistant.report.forms import ENDINGS, FORMS

    wanted = format_ or (ENDINGS.get(to.suffix.lower()) if to is not None else "text")
    if wanted is None:
        raise BadInputError(f"--to {to}: its ending tells no form, expected one of {' '.join(ENDINGS)}, or --format")
    if wanted not in FORMS:
        raise BadInputError(f"--format {wanted!r} is not known, expected one of {', '.join(FORMS)}")
    if wanted == "pdf" and to is None and sys.stdout.isatty():
        raise BadInputError("a PDF is not for a terminal: say --to FILE.pdf, or send standard output into a file")
    return wanted


def _paper(paper: str) -> str:
    from assistant.report.forms import PAPERS

    if paper and paper not in PAPERS:
        raise BadInputError(f"--paper {paper!r} is not known, expected {' or '.join(PAPERS)}")
    return paper


def _language(language: str) -> str:
    from assistant.files import language_named

    return language and language_named(language)


def _made(job_id: str, folder: Path, form_name: str, paper: str, language: str) -> bytes:
    from assistant.journal.lines import read_record
    from assistant.report.forms import made

    return made(read_record(folder, job_id), form_name, paper, language)


def _write(made: bytes, to: Path | None) -> None:
    if to is None:
        typer.get_binary_stream("stdout").write(made)
        return
    try:
        to.write_bytes(made)
    except OSError as error:
        raise BadInputError(f"{to} cannot be written: {error.strerror or error}") from error


def _verified(path: Path, job_id: str | None, folder: Path) -> tuple[bool, str]:
    """Whether the file belongs to its job, in words. Raises BadInputError when it is no build sheet, or one of another job than `job_id`."""
    from assistant.journal.lines import raw_journal
    from assistant.report.mark import mark_in
    from assistant.report.verify import verify

    try:
        with path.open("rb") as file:
            raw = file.read(_LONGEST_SHEET)
    except OSError as error:
        raise BadInputError(f"{path} cannot be read: {error.strerror or error}") from error
    mark = mark_in(raw)
    if mark is None:
        raise BadInputError(f"{path.name} bears no mark of a build sheet")
    if job_id is not None and _named(job_id, folder) != mark.job_id:
        raise BadInputError(f"{path.name} says that it is of job {mark.job_id}, not of {job_id}")
    found = verify(raw, mark, raw_journal(folder, mark.job_id))
    return found.belongs, found.text
