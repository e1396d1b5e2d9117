"""`benchhand doctor`: what works here, what to do about what does not, and how well this bench is heard."""

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.cli.run import Language
from assistant.core.errors import BadInputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from assistant.doctor import Finding

    Told = Callable[[str], str]
    """What was found in English, to what is told."""


def register(app: typer.Typer) -> None:
    """Mount the command."""
    app.command("doctor")(doctor)


def doctor(
    store: Annotated[str | None, typer.Option("--store", metavar="DIR", help="Where jobs are kept.")] = None,
    microphone: Annotated[str | None, typer.Option("--microphone", metavar="NAME", help="Which one, or a part of its name.")] = None,
    loudspeaker: Annotated[str | None, typer.Option("--loudspeaker", metavar="NAME", help="Which one, or a part of its name.")] = None,
    vosk_model: Annotated[Path | None, typer.Option("--vosk-model", metavar="FOLDER", help="Look at this model as well.")] = None,
    record: Annotated[
        Path | None, typer.Option("--record", metavar="DIR", help="Read 120 phrases aloud, keep them in DIR, and see how they are heard.")
    ] = None,
    refit: Annotated[
        bool, typer.Option("--refit", help="Fit the bars of the recogniser to the readings confirmed and refused in this store.")
    ] = False,
    keep: Annotated[bool, typer.Option("--keep", help="With --refit: use the fitted bars from now on.")] = False,
    language: Language = "en",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a finding on standard output, always in English.")] = False,
) -> None:
    """Look at recogniser, microphone, loudspeaker, gauges and store.

    Exit status 0 when everything works, 1 when something does not, 2 for bad input.
    """
    from assistant.cli.run import store_folder
    from assistant.files import language_named, phrases_for

    try:
        told = phrases_for(language_named(language)).reason
        if keep and not refit:
            raise BadInputError("--keep belongs to --refit")
        if record is not None:
            status = _record(record, microphone, told, as_json=as_json)
        elif refit:
            status = _refit(store_folder(store), told, keep=keep, as_json=as_json)
        else:
            status = _look(store_folder(store), microphone, loudspeaker, vosk_model, told, as_json=as_json)
    except BadInputError as error:
        typer.echo(f"doctor: {error}", err=True)
        raise typer.Exit(2) from error
    raise typer.Exit(status)


def _look(folder: Path, microphone: str | None, loudspeaker: str | None, vosk_model: Path | None, told: "Told", *, as_json: bool) -> int:
    from assistant import doctor as checks
    from assistant.ears.recorder import recorded

    parts: list[Iterator[Finding]] = [
        checks.recogniser(vosk_model),
        checks.microphone(recorded, microphone, lambda text: typer.echo(told(text), err=True)),
        checks.loudspeaker(loudspeaker),
        checks.gauges_here(),
        checks.store(folder),
    ]
    all_work = True
    for part in parts:
        for finding in part:
            all_work = all_work and finding.works
            if as_json:
                typer.echo(json.dumps(asdict(finding), ensure_ascii=False))
            else:
                typer.echo(f"{'ok ' if finding.works else '!! '} {told(finding.part)}: {told(finding.text)}")
                if finding.remedy:
                    typer.echo(f"     -> {'; '.join(map(told, finding.remedies))}")
    return 0 if all_work else 1


def _record(folder: Path, microphone: str | None, told: "Told", *, as_json: bool) -> int:
    from assistant.ears.net import NetEar
    from assistant.ears.own_recordings import COUNT, figures, record_all
    from assistant.ears.recorder import recorded

    for _ in record_all(folder, lambda seconds: recorded(seconds, microphone), lambda text: typer.echo(text, err=True), _agreed):
        pass  # each phrase is kept as it comes; an interrupted session goes on with the next
    found = figures(folder, NetEar())
    if as_json:
        line = {"phrases": found.count, "right": found.right, "wrong": len(found.wrong), "again": found.again, "snr_db": found.snr_db}
        typer.echo(json.dumps(line))
    else:
        figures_told = f"{found.right} of {found.count} heard right, {found.again} asked again, {len(found.wrong)} taken for something else"
        noise = "" if found.snr_db is None else f"; {told(f'speech {found.snr_db:.0f} dB over the noise')}"
        typer.echo(f"{told(figures_told)}{noise}")
    for phrase, heard in found.wrong:
        typer.echo(f"{phrase.wav}: read {phrase.text!r}, heard {heard!r}", err=True)
    # Of so few phrases: what the measures of docs/speech.md ask for in quiet.
    return 0 if found.count == COUNT and not found.wrong and found.right >= 0.92 * found.count else 1


def _agreed(question: str) -> bool:
    typer.echo(f"{question} (yes or no)", err=True)
    return sys.stdin.readline().strip().lower() in ("y", "yes")


def _refit(folder: Path, told: "Told", *, keep: bool, as_json: bool) -> int:
    from assistant import doctor as checks
    from assistant.ears.refit import bars_in, written

    ear, fitted = checks.refit(folder)
    now, bars = bars_in(folder, ear), fitted.bars
    kept = written(bars, ear, fitted.cases, folder) if keep else None
    if as_json:
        line = {
            "ear": ear, "cases": fitted.cases, "wrong": fitted.wrong, "again": fitted.again, "posterior": bars.posterior, "fit": bars.fit,
            "kept": kept is not None,
        }  # fmt: skip
        typer.echo(json.dumps(line))
    else:
        typer.echo(told(f"{ear}: {fitted.cases} spoken readings whose truth is known"))
        typer.echo(told(f"bars now: posterior {now.posterior:g}, fit {now.fit:g}; fitted: posterior {bars.posterior:g}, fit {bars.fit:g}"))
        typer.echo(told(f"with the fitted ones {fitted.wrong} would have been read back wrong, {fitted.again} right ones asked again"))
        typer.echo(told(f"kept in {kept}" if kept else "not kept: add --keep to use them"))
    return 0
