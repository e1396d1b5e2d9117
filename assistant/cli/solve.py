"""`benchhand solve KIND key=value…`: one sum of the trade, by hand, with its working."""

import json
from typing import Annotated

import typer

from assistant.core.errors import BadInputError
from assistant.core.quantities import Quantity
from assistant.core.worked import KINDS, Answer, Key, Kind, kind_named, solve


def register(app: typer.Typer) -> None:
    """Mount `solve` on the program; its own --help explains one kind when one is named."""
    # An option that is not known comes in as a pair, and is answered like any other key that is not known: in one line.
    app.command("solve", add_help_option=False, context_settings={"ignore_unknown_options": True})(solve_command)


def solve_command(
    kind: Annotated[str | None, typer.Argument(metavar="[KIND]", help="The kind of sum; without one, the kinds are listed.")] = None,
    pairs: Annotated[list[str] | None, typer.Argument(metavar="[key=value]...", help="What is known, units in the values.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
    explain: Annotated[bool, typer.Option("--help", help="Explain the kind, or list the kinds.")] = False,
) -> None:
    """One sum of the trade, by hand; alone it lists the kinds.

    Exit status 1 when a check did not pass (verdict fail or disagree), 2 for bad input, with one line on standard error.
    """
    try:
        if kind is None:
            _print_kinds(as_json)
        elif explain:
            _print_help(kind_named(kind), as_json)
        else:
            answer = solve(kind, pairs or [])
            _print_answer(answer, as_json)
            if not answer.passed:
                raise typer.Exit(1)
    except BadInputError as error:
        typer.echo(f"solve{f' {kind}' if kind in KINDS else ''}: {error}", err=True)
        raise typer.Exit(2) from error


def _print_answer(answer: Answer, as_json: bool) -> None:
    for doubt in answer.doubts:
        typer.echo(f"solve {answer.kind}: doubtful: {doubt}", err=True)
    if as_json:
        typer.echo(json.dumps(answer.json()))
        return
    width = max(len(name) for name in answer.result)
    for name, value in answer.result.items():
        typer.echo(f"{name.ljust(width)}  {', '.join(map(_shown, value)) if isinstance(value, tuple) else _shown(value)}")
    for line in answer.working:
        typer.echo(f"  {line}")


def _shown(value: Quantity | str) -> str:
    """A quantity or a word; the unit of a plain number is not shown."""
    return value.text if isinstance(value, Quantity) and value.unit == "1" else str(value)


def _print_kinds(as_json: bool) -> None:
    if as_json:
        for kind in KINDS.values():
            typer.echo(json.dumps(_told(kind)))
        return
    typer.echo("benchhand solve KIND key=value… [--json]        benchhand solve KIND --help explains one\n")
    width = max(map(len, KINDS))
    for kind in KINDS.values():
        typer.echo(f"  {kind.name.ljust(width)}  {kind.summary}")
    typer.echo(
        "\nA length, torque or force carries its unit in the value: shim=0.030in drag=18lb-in force=12.7N. Lists are commas without blanks."
    )


def _told(kind: Kind) -> dict[str, object]:
    return {"kind": kind.name, "summary": kind.summary, "keys": _line(kind)}


def _print_help(kind: Kind, as_json: bool) -> None:
    if as_json:
        keys = {key.name: key.about for key in kind.keys}
        typer.echo(json.dumps({**_told(kind), "about": keys, "results": kind.results, "example": kind.example}))
        return
    typer.echo(f"benchhand solve {kind.name} {_line(kind)}\n\n{kind.summary[0].upper()}{kind.summary[1:]}.\n\nKeys:")
    width = max(len(key.name) for key in kind.keys)
    for key in kind.keys:
        typer.echo(f"  {key.name.ljust(width)}  {key.about}")
    typer.echo("\nResult:")
    width = max(map(len, kind.results))
    for name, about in kind.results.items():
        typer.echo(f"  {name.ljust(width)}  {about}")
    typer.echo(f"\nExample:\n  benchhand solve {kind.name} {kind.example}")


def _line(kind: Kind) -> str:
    """The keys in one line: [may be left out], (one | or the other)."""
    grouped = {name for choice in kind.choices for alternative in choice for name in alternative}
    parts = [f"({' | '.join(' '.join(alternative) for alternative in choice)})" for choice in kind.choices]
    parts += [f"[{' '.join(group)}]" for group in kind.together]
    grouped |= {name for group in kind.together for name in group}
    return " ".join([_single(key) for key in kind.keys if key.name not in grouped] + parts)


def _single(key: Key) -> str:
    return f"[{key.name}]" if key.optional else key.name
