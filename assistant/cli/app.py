"""`benchhand`: the commands, mounted; whatever is heavy is imported when its command runs."""

import sys
from typing import Any

import typer

import assistant
import gauges.cli
from assistant.cli import capture, demo, doctor, jobs, listen, meet, practice, report, run, solve

app = typer.Typer(
    name="benchhand",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="A hands-free bench assistant for setting up a differential ring gear and pinion. Your service manual outranks it in everything.",
)
demo.register(app)
run.register(app)
practice.register(app)
capture.register(app)
listen.register(app)
doctor.register(app)
report.register(app)
jobs.register(app)
solve.register(app)
meet.register(gauges.cli.app)
app.add_typer(gauges.cli.app, name="gauges", help="Gauges on their own: what is connected, what they send.")


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"benchhand {assistant.__version__}")
        raise typer.Exit


@app.callback()
def _options(version: bool = typer.Option(False, "--version", callback=_version, is_eager=True, help="Show the version.")) -> None:
    """Options of the program itself; without a command nothing else happens."""
    del version  # answered by its callback


# What the command line raises for an option that is not known, or an argument that is missing; typer names it by no name of its own.
_BadUsageError: type[Exception] = next(base for base in typer.BadParameter.__mro__ if base.__name__ == "ClickException")


def main() -> None:
    """The console script. What is wrong with the command line is one line on standard error, as any bad input is; exit status 2."""
    try:
        status = app(prog_name="benchhand", standalone_mode=False)
    except _BadUsageError as error:
        status = _refused(error)
    except typer.Abort:
        typer.echo("benchhand: given up", err=True)
        status = 1
    sys.exit(status if isinstance(status, int) else 0)


def _refused(error: Any) -> int:
    command = error.ctx.command_path if getattr(error, "ctx", None) is not None else "benchhand"
    if type(error).__name__ == "NoArgsIsHelpError":
        error.show()
    else:
        # Its words are wrapped for a terminal.
        typer.echo(f"{command}: {' '.join(error.format_message().split()).rstrip('.')}: see `{command} --help`", err=True)
    return int(error.exit_code)
