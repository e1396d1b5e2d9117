"""`benchhand jobs`: what the store holds, over all jobs."""

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from assistant.cli.run import Store, store_folder
from assistant.core.errors import BadInputError, BenchError

if TYPE_CHECKING:
    from assistant.history.drift import Drift, Surprise
    from assistant.report import Sheet

jobs = typer.Typer(
    no_args_is_help=True, help="The jobs of this bench: find them, compare two, watch the gauges, carry jobs to another bench."
)
Json = Annotated[bool, typer.Option("--json", help="JSON, one object a line.")]
_GROUPS = {"job": "THE JOBS", "limit": "LIMITS", "final": "FINAL NUMBERS", "fitted": "FITTED AT THE END", "effort": "WHAT IT TOOK"}
_STATES = ("in spec", "out of spec", "stopped", "open", "damaged")


def register(app: typer.Typer) -> None:
    """Mount the group."""
    app.add_typer(jobs, name="jobs")


@jobs.command("list")
def list_jobs(
    words: Annotated[
        list[str] | None, typer.Argument(metavar="[WORD…]", help="Only jobs that hold every word: title, layout, gauge, cause.")
    ] = None,
    state: Annotated[str, typer.Option("--state", help=f"One of: {', '.join(_STATES)}.")] = "",
    since: Annotated[str, typer.Option("--since", metavar="DATE", help="Begun on that day or later: 2026-01-31, 2026-01, 2026.")] = "",
    until: Annotated[str, typer.Option("--until", metavar="DATE", help="Begun on that day, month or year, or earlier.")] = "",
    most: Annotated[int, typer.Option("--most", min=1, help="How many are shown; the rest is counted.")] = 30,
    store: Store = None,
    json_: Json = False,
) -> None:
    """The jobs, the one touched last first."""
    try:
        from assistant.history.index import Wanted, newest

        if state and state not in _STATES:
            raise BadInputError(f"--state {state!r} is not known, expected one of {', '.join(_STATES)}")
        wanted = Wanted(tuple(words or ()), state, _date(since, "--since"), _date(until, "--until"))
        shown, count = newest(store_folder(store), wanted, None if json_ else most)
    except BenchError as error:
        _give_up(error)
    for job in shown:
        if json_:
            typer.echo(json.dumps(job.json(), ensure_ascii=False))
        else:
            alarms = f", {len(job.causes)} found: {', '.join(job.causes)}" if job.causes else ""
            typer.echo(f"{job.job_id:<22}{job.state:<13}{job.began[:16].replace('T', ' '):<18}{job.title}")
            if job.state != "damaged":
                typer.echo(f"{'':<22}{', '.join(job.layout)}; {_counted(job.readings, 'reading')}, {_counted(job.moves, 'change')}{alarms}")
    typer.echo(_counted(count, "job") + (f", {len(shown)} shown" if len(shown) < count else ""), err=True)


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _date(text: str, option: str) -> str:
    """A day, month or year. Raises BadInputError."""
    from datetime import date

    try:
        date.fromisoformat(text + "0000-01-01"[len(text) :] if len(text) in (4, 7) else text or "0001-01-01")
    except ValueError as error:
        raise BadInputError(f"{option} {text!r} is no date: expected 2026-01-31, 2026-01 or 2026") from error
    return text


@jobs.command()
def compare(
    one: Annotated[str, typer.Argument(metavar="JOB-ID")],
    other: Annotated[str, typer.Argument(metavar="JOB-ID")],
    store: Store = None,
    json_: Json = False,
) -> None:
    """Two builds side by side; a line that differs is marked."""
    try:
        from assistant.history.compare import compared

        folder = store_folder(store)
        lines = compared(_sheet(folder, one), _sheet(folder, other))
    except BenchError as error:
        _give_up(error)
    group = ""
    for line in lines:
        if json_:
            told = {"group": line.group, "what": line.what, "one": line.one, "other": line.other, "differs": line.differs}
            typer.echo(json.dumps(told, ensure_ascii=False))
            continue
        if line.group != group:
            group = line.group
            typer.echo(_GROUPS[group])
        typer.echo(f"{'*' if line.differs else ' '} {line.what:<26} {line.one or '-'}")
        if line.differs:
            typer.echo(f"  {'':<26} {line.other or '-'}")


def _sheet(folder: Path, job_id: str) -> "Sheet":
    from assistant.journal.lines import read_record
    from assistant.report import sheet

    record = read_record(folder, job_id)
    return sheet(record.lines, record.sha256)


@jobs.command("gauges")
def watch_gauges(
    most: Annotated[int, typer.Option("--most", min=8, help="How many of the newest jobs are looked at.")] = 200,
    store: Store = None,
    json_: Json = False,
) -> None:
    """Gauges that read otherwise from some job on; exit status 1 when there is one."""
    try:
        from assistant.history.drift import drifts
        from assistant.history.index import jobs as found_in

        folder = store_folder(store)
        told = [job for job in found_in(folder) if job.gauges][:most]
        told.sort(key=lambda job: (job.began, job.job_id))
        looked = [_surprises(folder, job.job_id) for job in told]
        found = drifts(looked)
    except BenchError as error:
        _give_up(error)
    for drift in found:
        typer.echo(json.dumps(_drift_json(drift), ensure_ascii=False) if json_ else _drift_text(drift))
    typer.echo(f"{_counted(len(told), 'job')} with gauges looked at, {len(found)} drift", err=True)
    raise typer.Exit(1 if found else 0)


def _surprises(folder: Path, job_id: str) -> "tuple[Surprise, ...]":
    from assistant.history.drift import surprises
    from assistant.journal.lines import read_record

    try:
        return surprises(read_record(folder, job_id).lines)
    except (KeyError, BadInputError):
        return ()  # of an older procedure: it cannot be replayed, and says nothing here


def _drift_json(drift: "Drift") -> dict[str, Any]:
    from assistant.core.axle import QUANTITIES
    from assistant.core.quantities import Dimension

    unit = "um" if QUANTITIES[drift.quantity] is Dimension.LENGTH else "N·m"
    value = {"value": f"{drift.by:.3f}", "unit": unit}
    return {
        "gauge": drift.gauge,
        "quantity": drift.quantity,
        "since": drift.since,
        "by": value,
        "standard_errors": f"{drift.errors:.1f}",
        "jobs": drift.jobs,
    }


def _drift_text(drift: "Drift") -> str:
    told = _drift_json(drift)
    by = f"{'+' if drift.by > 0 else ''}{told['by']['value']} {told['by']['unit']}"
    return (
        f"gauge {drift.gauge} reads {drift.quantity.replace('_', ' ')} otherwise since job {drift.since}, by {by} "
        f"({told['standard_errors']} standard errors over {drift.jobs} jobs): check it on its master before the next job"
    )


@jobs.command()
def export(
    job_ids: Annotated[list[str], typer.Argument(metavar="JOB-ID…")],
    to: Annotated[Path, typer.Option("--to", metavar="FILE", help="The file to write.")],
    store: Store = None,
) -> None:
    """Whole jobs as one file, for another bench."""
    try:
        from assistant.history.transfer import packed

        packet = packed(store_folder(store), job_ids)
        try:
            to.write_bytes(packet)
        except OSError as error:
            raise BadInputError(f"{to} cannot be written: {error.strerror or error}") from error
    except BenchError as error:
        _give_up(error)
    typer.echo(f"{_counted(len(set(job_ids)), 'job')} in {to}", err=True)


@jobs.command("import")
def import_jobs(files: Annotated[list[Path], typer.Argument(metavar="FILE…")], store: Store = None, json_: Json = False) -> None:
    """Take jobs over that another bench exported."""
    try:
        from assistant.history.transfer import unpacked

        for path in files:
            try:
                packet = path.read_bytes()
            except OSError as error:
                raise BadInputError(f"{path} cannot be read: {error.strerror or error}") from error
            for taken in unpacked(packet, store_folder(store, writes=True)):
                typer.echo(json.dumps({"job": taken.job_id, "how": taken.how}) if json_ else f"{taken.job_id} {taken.how}")
    except BenchError as error:
        _give_up(error)


@jobs.command()
def fetch(
    job_ids: Annotated[list[str] | None, typer.Argument(metavar="[JOB-ID…]", help="Which; without it, every job that is not here.")] = None,
    store: Store = None,
) -> None:
    """Bring jobs of other benches from the shop's database to this one."""
    try:
        from assistant.journal.spool import fetch as fetch_from

        url = store or os.environ.get("BENCHHAND_STORE") or ""
        for job_id in fetch_from(store_folder(url), url, job_ids):
            typer.echo(job_id)
    except BenchError as error:
        _give_up(error)


@jobs.command()
def learned(store: Store = None, json_: Json = False) -> None:
    """What the finished builds of each kind of axle have shown, as `run --learn` gives it to the next one."""
    try:
        from assistant.history.teach import all_taught
        from assistant.report.sections import builds_words, taught_words
        from assistant.report.words import Words

        words = Words()
        found = list(all_taught(store_folder(store)))
    except BenchError as error:
        _give_up(error)
    for taught in found:
        layout, teeth = taught.kind
        if json_:
            shown = [{"name": one.name, "mean": str(one.mean), "spread": str(one.spread), "builds": one.builds} for one in taught.learned]
            told = {"layout": list(layout), "teeth": list(teeth), "builds": taught.builds, "learned": shown}
            typer.echo(json.dumps(told, ensure_ascii=False))
            continue
        typer.echo(f"{', '.join(layout)}; {teeth[0]} to {teeth[1]} teeth: {_counted(taught.builds, 'build')} in spec")
        for one in taught.learned:
            typer.echo(f"  {taught_words(one, words, is_sleeve='crush-sleeve' in layout)}; from {builds_words(one, words)}")
        if not taught.learned:
            typer.echo("  nothing yet: no build changed anything twice")
    typer.echo(f"{_counted(len(found), 'kind')} of axle", err=True)


@jobs.command()
def roles(
    bench: Annotated[
        list[str] | None, typer.Option("--bench", metavar="ACCOUNT", help="An account of the server that may read and add.")
    ] = None,
    viewer: Annotated[list[str] | None, typer.Option("--viewer", metavar="ACCOUNT", help="An account that may only read.")] = None,
    store: Store = None,
) -> None:
    """Make a shop's tables and its two roles, and give them to accounts. For the owner of the database, once, and after an upgrade."""
    try:
        from assistant.journal.sql import ROLES, Shop

        shop = Shop(store or os.environ.get("BENCHHAND_STORE") or "")
        try:
            shop.grant(bench or (), viewer or ())
        finally:
            shop.close()
    except BenchError as error:
        _give_up(error)
    for role, names in (("bench", bench), ("viewer", viewer)):
        typer.echo(f"{ROLES[role]}: {', '.join(names or ()) or 'given to nobody now'}")


def _give_up(error: BenchError) -> Any:
    typer.echo(f"benchhand jobs: {error}", err=True)
    raise typer.Exit(2) from error
