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

SettingsOption = Annotated[
    Path | None, typer.Option("--settings", metavar="FILE", help="The settings file with the gauges that were met; default: the user's.")
]

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


@app.command("list")
def list_ports(json_only: JsonOption = False) -> None:
    """List the serial ports: what each is known by, and what it says of itself."""
    from gauges.ports import ports

    found = ports()
    for info in found:
        identity = info.identity
        line = {"port": info.device, "description": info.description}
        if identity is not None:
            line |= {"vendor": f"{identity.vendor:04x}", "product": f"{identity.product:04x}"}
            line |= {"serial_number": identity.serial_number or "", "location": identity.location or ""}
        sys.stdout.write(f"{json.dumps(line, ensure_ascii=False)}\n")
        if identity is not None and not identity.is_certain and not json_only:
            typer.echo(f"{info.device} has no serial number: it is known by its socket only, so leave its plug where it is", err=True)
    if not found and not json_only:
        typer.echo("no serial port here: is the cable in? Some cables are no serial port at all and never appear", err=True)


@app.command()
def watch(
    gauges_on_ports: Annotated[
        list[str],
        typer.Argument(
            metavar="GAUGE...",
            help="The NAME of a gauge that was met, or NAME=PORT,KEY[,UNIT] such as dial=/dev/ttyUSB0,ascii-signed-cr,mm",
        ),
    ],
    settings: SettingsOption = None,
    seconds: Annotated[float | None, typer.Option(min=0, help="End after so many seconds; left out: until interrupted.")] = None,
    json_only: JsonOption = False,
) -> None:
    """Show the settled readings of gauges as they come; a fault is told once, and counted."""
    import time

    from gauges.errors import SettingError
    from gauges.known import known_gauges, settings_file
    from gauges.live import Live, Value
    from gauges.reading import to_json
    from gauges.settings import bench_part_from

    try:
        known = known_gauges(settings_file(settings))
        live = Live([bench_part_from(text, known) for text in gauges_on_ports])
    except SettingError as error:
        _refuse(error)
    until = None if seconds is None else time.monotonic() + seconds
    live.start()
    try:
        while until is None or time.monotonic() < until:
            for news in live.next_news(0.1):
                if isinstance(news, Value):
                    sys.stdout.write(f"{json.dumps({'gauge': news.gauge, **to_json(news.reading)}, ensure_ascii=False)}\n")
                    sys.stdout.flush()
                elif not json_only:
                    typer.echo(f"{news.gauge}: {getattr(news, 'text', 'pedal')}", err=True)
    except KeyboardInterrupt:
        pass
    finally:
        live.stop()
    if not json_only:
        for name, gauge in live.gauges.items():
            for code, count in gauge.faults.items():
                typer.echo(f"{name}: {code} ×{count}", err=True)


@app.command()
def probe(
    port: Annotated[str, typer.Argument(metavar="PORT", help="The device, such as /dev/ttyUSB0.")],
    seconds: Annotated[float, typer.Option(min=0.1, help="How long to listen at each line setting.")] = 2.0,
    json_only: JsonOption = False,
) -> None:
    """Find out which family a gauge sends: only listens, at every known line setting; nothing is sent to it.

    Exit status 0 when one family explains what was heard, 1 when none or several do, 2 when the port can't be used.
    """
    from gauges.errors import PortError
    from gauges.ports import probe as probe_port

    found = []
    try:
        for probed in probe_port(port, seconds=seconds):
            if not json_only:
                typer.echo(f"{probed.line}: {probed.count} bytes{f', {probed.hint}' if probed.hint else ''}", err=True)
            for match in probed.matches:
                line = {"format": match.key, "line": str(probed.line), "parity": match.parity, "frames": match.frames}
                shown = {"unit": match.unit, "step": None if match.step is None else format(match.step, "f")}
                sys.stdout.write(f"{json.dumps({**line, 'share': f'{match.share:.3f}', **shown, 'found': match.is_found})}\n")
            found += [match for match in probed.matches if match.is_found]
            # Heard exactly at one setting, it is not heard at another.
            if found:
                break
    except PortError as error:
        _refuse(error)
    if len(found) != 1:
        if not json_only:
            keys = " or ".join(match.key for match in found) or "none; does the gauge send by itself, or only when a button is pressed?"
            typer.echo(f"families that explain it: {keys}", err=True)
        raise typer.Exit(1)


if __name__ == "__main__":
    app()
