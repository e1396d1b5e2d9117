"""The command group `gauges`: what is on the ports, what it sends, and what captured bytes say.

Standard output carries results only, one JSON object per line where they are events; everything meant for people goes to standard error.
Heavy imports happen inside the commands: the group must mount in no time.
"""

import json
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn, cast

import typer

if TYPE_CHECKING:
    from collections.abc import Iterable
    from io import BufferedReader

    from gauges.reading import Event

app = typer.Typer(no_args_is_help=True)

FormatOption = Annotated[str, typer.Option("--format", metavar="KEY", help="The family of the gauge's output, such as ascii-signed-cr.")]
UnitOption = Annotated[str | None, typer.Option(help="The unit the gauge is set to, where its frames carry none: mm, in, N.m …")]
ParityOption = Annotated[str | None, typer.Option(help="even7 (7 data bits and even parity) or none; left out: as the gauge comes new.")]
AddressOption = Annotated[int | None, typer.Option(min=1, max=247, help="The address of a polled instrument.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Nothing but JSON lines: no summary on standard error.")]

_CHUNK = 65536


@app.callback()
def gauges() -> None:
    """Read measuring gauges: live, or from captured bytes."""


def _refuse(message: object) -> NoReturn:
    """One clear line on standard error, exit status 2."""
    typer.echo(str(message), err=True)
    raise typer.Exit(2)


def _print_events(events: "Iterable[Event]") -> None:
    from gauges.reading import to_json

    sys.stdout.write("".join(f"{json.dumps(to_json(event), ensure_ascii=False)}\n" for event in events))


@app.command()
def decode(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The captured bytes; - reads standard input.")],
    format_key: FormatOption,
    unit: UnitOption = None,
    parity: ParityOption = None,
    address: AddressOption = None,
    json_only: JsonOption = False,
) -> None:
    """Decode captured bytes: one line per event, a value with its unit, a fault with its code, or a status."""
    from gauges.errors import SettingError
    from gauges.formats import decode as decoder_for
    from gauges.formats import format_named
    from gauges.reading import Fault, Reading

    try:
        row = format_named(format_key)
        decoder = decoder_for(format_key, unit=unit, parity=parity, address=address if row.takes_address else None)
    except SettingError as error:
        _refuse(error)
    try:
        stream = cast("BufferedReader", sys.stdin.buffer) if str(file) == "-" else file.open("rb")
    except OSError as error:
        _refuse(f"{file}: {error.strerror}, expected a file of captured bytes")
    if not json_only:
        if unit is not None and not row.needs_unit:
            typer.echo(f"--unit {unit} is not used: the frames of {format_key} carry their own unit", err=True)
        if address is not None and not row.takes_address:
            typer.echo(f"--address {address} is not used: {format_key} has no addresses", err=True)
    counts: Counter[str] = Counter()
    details: dict[str, str] = {}
    with stream:
        is_open = True
        while is_open:
            chunk = stream.read1(_CHUNK)
            is_open = bool(chunk)
            events = decoder.feed(chunk) if chunk else decoder.finish()
            _print_events(events)
            for event in events:
                if isinstance(event, Fault):
                    counts[event.code] += 1
                    details.setdefault(event.code, f"byte {event.offset}: {event.detail}")
                else:
                    counts["readings" if isinstance(event, Reading) else "statuses"] += 1
    sys.stdout.flush()
    if not json_only:
        typer.echo(f"{counts.pop('readings', 0)} readings, {counts.pop('statuses', 0)} statuses, {counts.total()} faults", err=True)
        for code, detail in details.items():
            typer.echo(f"  {code} ×{counts[code]}, first at {detail}", err=True)


if __name__ == "__main__":
    app()
