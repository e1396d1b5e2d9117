"""`benchhand report`: the build sheet of a job."""

import json
from typing import Annotated

import typer

from assistant.cli.run import Store, store_folder
from assistant.core.errors import BadInputError, BenchError

FORMATS = ("text", "json")


def register(app: typer.Typer) -> None:
    """Mount the command."""
    app.command("report")(report)


def report(
    job_id: Annotated[str, typer.Argument(metavar="JOB-ID", help="Which job; `latest` for the one touched last.")],
    store: Store = None,
    format_: Annotated[str, typer.Option("--format", help="text, or json with every reading and its id.")] = "text",
) -> None:
    """The build sheet: specs, every reading, every change and why, what did not add up, the verdict."""
    try:
        if format_ not in FORMATS:
            raise BadInputError(f"--format {format_!r} is not known, expected {' or '.join(FORMATS)}")
        from assistant.journal.lines import jobs_in, read_record
        from assistant.report import sheet
        from assistant.report.data import as_json
        from assistant.report.text import as_text

        folder = store_folder(store)
        if job_id == "latest":
            jobs = jobs_in(folder) if folder.is_dir() else []
            if not jobs:
                raise BadInputError(f"there is no job in {folder}")
            job_id = jobs[0][0]
        record = read_record(folder, job_id)
        whole = sheet(record.lines, record.sha256)
        typer.echo(as_text(whole) if format_ == "text" else json.dumps(as_json(whole), ensure_ascii=False, indent=1), nl=format_ != "text")
    except BenchError as error:
        typer.echo(f"benchhand report: {error}", err=True)
        raise typer.Exit(2) from error
