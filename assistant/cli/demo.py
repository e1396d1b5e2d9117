"""`benchhand demo`: the whole job on a recorded bench."""

from typing import Annotated

import typer

from assistant.core.errors import BenchError


def register(app: typer.Typer) -> None:
    """Mount the command."""
    app.command("demo")(demo)


def demo(
    quick: Annotated[bool, typer.Option("--quick", help="Without the pauses: under ten seconds.")] = False,
    aloud: Annotated[bool, typer.Option("--aloud", help="Speak too, through the loudspeaker; takes as long as the words do.")] = False,
) -> None:
    """A whole job on a recorded bench, narrated; nothing to install or plug in."""
    try:
        from assistant.demo import run

        status = run(quick=quick, aloud=aloud, write=typer.echo)
    except BenchError as error:
        typer.echo(f"benchhand demo: {error}", err=True)
        raise typer.Exit(2) from error
    raise typer.Exit(status)
