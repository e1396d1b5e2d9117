"""`benchhand`: the commands, mounted; whatever is heavy is imported when its command runs."""

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


def main() -> None:
    """The console script."""
    app()
