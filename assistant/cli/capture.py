"""`benchhand capture`: readings without an axle, kept and sent on."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from assistant.cli.gauges import Gauges, Settings, parts_from
from assistant.cli.run import Language, store_folder
from assistant.core.errors import BadInputError, BenchError

if TYPE_CHECKING:
    from collections.abc import Callable

    from assistant.core.inspection import Plan
    from assistant.core.phrases import Phrases
    from assistant.live_gauges import Part
    from assistant.onward import Spool, Target

_CLOSING_SECONDS = 5.0


def register(app: typer.Typer) -> None:
    """Mount the command."""
    app.command("capture")(capture)


def capture(
    plan: Annotated[
        Path | None,
        typer.Option("--plan", metavar="PLAN.toml", help="What is measured on each part, with its limits; without it, anything."),
    ] = None,
    gauge: Gauges = None,
    settings: Settings = None,
    to: Annotated[
        str | None, typer.Option("--to", metavar="FILE.csv|FILE.jsonl|mqtt://…", help="Where the readings go on to, each once.")
    ] = None,
    store: Annotated[
        str | None, typer.Option("--store", metavar="DIR", help="Where captures are kept; default: a folder of your user account.")
    ] = None,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with the capture that was worked on last.")] = False,
    ears: Annotated[str, typer.Option("--ears", help="typed, or net: the microphone through our own recogniser.")] = "typed",
    mouth: Annotated[str, typer.Option("--mouth", help="captions, or pyttsx3: aloud as well.")] = "captions",
    language: Language = "en",
    as_json: Annotated[bool, typer.Option("--json", help="Standard output carries only JSON lines: records and summaries.")] = False,
) -> None:
    """Take readings without an axle, by button, pedal, voice or keyboard; say at once whether each is in, and keep them.

    Exit status 1 when a reading that stands is out of its limits, 2 for bad input.
    """
    try:
        status = _run(plan, gauge, settings, to, store, resume, ears, mouth, language, as_json)
    except BenchError as error:
        typer.echo(f"benchhand: {error}", err=True)
        raise typer.Exit(2) from error
    raise typer.Exit(status)


def _run(
    plan: Path | None, gauge: list[str] | None, settings: Path | None, to: str | None, store: str | None, resume: bool, ears: str,
    mouth: str, language: str, as_json: bool,
) -> int:  # fmt: skip
    from assistant.capture import WORDS, Capture, Typed
    from assistant.clock import now
    from assistant.core import inspection as ins
    from assistant.ears.typed import TypedLines
    from assistant.files import language_named, phrases_for
    from assistant.live_gauges import Station, Takes
    from assistant.mouth import Mouth
    from assistant.mouth.captions import Captions

    for name, value, known in (("--ears", ears, ("typed", "net")), ("--mouth", mouth, ("captions", "pyttsx3"))):
        if value not in known:
            raise BadInputError(f"{name} {value!r} is not known, expected {' or '.join(known)}")
    phrases = phrases_for(language_named(language))
    if ears == "net" and phrases.language != "en":
        raise BadInputError(f"our own ear (net) hears English only: for {phrases.tongue.name} type, or press the gauge's own button")
    if resume and to is not None:
        raise BadInputError("--resume goes on to where the capture went before: leave --to out")
    wanted, text = _plan(plan)
    parts = _parts(wanted, gauge, settings)
    folder = store_folder(store) / "captures"
    targets: list[Target] = []
    put: list[Callable[[Any], None]] = []
    # Before anything is on disk: what is wrong with the gauges leaves no capture behind.
    station = Station(parts, lambda item: put[0](item), phrases=phrases)
    spool = _resumed(folder, text) if resume else _new(folder, text, to)
    mouths: list[Mouth] = [Captions(lambda words, urgency: _caption(words, urgency, as_json))]
    microphone = None
    older = _older(folder, spool.path)
    try:
        if spool.heading.target:
            targets.append(_first_target(spool, to))
        targets += [_target(one, None) for one in older]
        if mouth == "pyttsx3":
            from assistant.mouth.pyttsx3 import Pyttsx3Mouth, open_voice

            mouths.append(Pyttsx3Mouth(lambda: open_voice(phrases.language)))
        work = Capture(
            ins.State(wanted, tuple(spool.records)), spool, Takes(station, lambda late: put[0](late)), tuple(mouths),
            lambda kind, value: _show(kind, value, phrases, as_json), now, tuple(targets),
        )  # fmt: skip
        put.append(work.put)
        if ears == "net":
            from assistant.ears.microphone import Microphone, TalkedOver, Utterance
            from assistant.word_ear import WordEar

            work.ear = WordEar(WORDS)

            def heard(event: Any) -> None:
                if isinstance(event, TalkedOver):
                    for one in mouths:
                        one.hush()
                else:
                    work.put(event if isinstance(event, Utterance) else event.text)

            microphone = Microphone(heard, mouth_speaks=lambda: any(one.is_speaking for one in mouths))
        station.start()
        typed = TypedLines(sys.stdin, lambda line: work.put(Typed(line)), lambda: work.put(None))
        typed.start()
        try:
            return work.run()
        finally:
            typed.close()
    finally:
        if microphone is not None:
            microphone.close()
        station.close()
        for target in targets:
            target.close(_CLOSING_SECONDS)
            if target.waiting:
                typer.echo(f"note: {target.waiting} records wait in {folder}: {target.trouble}; the next capture sends them on", err=True)
        for one in (spool, *older):
            one.close()
        for each in mouths:
            each.wait(5.0)
            each.close()


def _plan(path: Path | None) -> "tuple[Plan, str]":
    """The plan and the text of its file, by which a capture that is gone on with is known to be of the same plan."""
    from assistant.core.inspection import Plan
    from assistant.plans import read_plan

    if path is None:
        return Plan(), ""
    read = read_plan(path)
    return read, path.read_text(encoding="utf-8")


def _parts(plan: "Plan", gauge: list[str] | None, settings: Path | None) -> "tuple[Part, ...]":
    """The gauges of the command line, and those of the plan that were met."""
    from gauges.errors import SettingError
    from gauges.known import known_gauges, settings_file

    parts = parts_from(gauge, settings)
    there = {part.name for part in parts}
    named = list(dict.fromkeys(one.gauge for one in plan.characteristics if one.gauge is not None and one.gauge not in there))
    if not named:
        return parts
    try:
        known = known_gauges(settings_file(settings))
    except SettingError as error:
        raise BadInputError(str(error)) from error
    for name in named:
        if name not in known:
            typer.echo(f"note: {name} is on no port: type its values, or give it by --gauge", err=True)
    return (*parts, *(known[name] for name in named if name in known))


def _new(folder: Path, plan: str, to: str | None) -> "Spool":
    from assistant.clock import new_job_id, now
    from assistant.mqtt import without_password
    from assistant.onward import Heading, Spool

    target = "" if to is None else without_password(to) if "://" in to else str(Path(to).expanduser().absolute())
    name = new_job_id()
    return Spool(folder / f"{name}.jsonl", Heading(name, now(), plan, target))


def _resumed(folder: Path, plan: str) -> "Spool":
    from assistant.onward import Spool, spools_in

    found = spools_in(folder) if folder.is_dir() else []
    if not found:
        raise BadInputError(f"there is no capture to go on with in {folder}")
    spool = Spool(found[0])
    if spool.heading.plan != plan:
        spool.close()
        raise BadInputError(f"capture {spool.heading.capture} was made by another plan: give that one by --plan, or begin a new capture")
    return spool


def _older(folder: Path, current: Path) -> "list[Spool]":
    """Earlier captures with something to send on; one that another process holds, or that is damaged, is left alone."""
    from assistant.core.errors import JournalError
    from assistant.onward import Spool, unsent_in

    found = []
    for path in unsent_in(folder):
        if path == current:
            continue
        try:
            spool = Spool(path)
        except JournalError as error:
            typer.echo(f"note: {error}", err=True)
            continue
        if spool.heading.target:
            found.append(spool)
        else:
            spool.close()
    return found


def _target(spool: "Spool", told: str | None) -> "Target":
    """Where a spool goes on to: as told now (the spool keeps no password), else as it was told then."""
    from assistant.onward import target_for

    return target_for(told if told is not None and "://" in told else spool.heading.target, spool)


def _first_target(spool: "Spool", told: str | None) -> "Target":
    """As `_target`; where nothing was taken yet, a target that is none leaves no capture behind."""
    try:
        return _target(spool, told)
    except BadInputError:
        if not spool.records:
            spool.path.unlink()
        raise


_COLOURS = {"ask": typer.colors.CYAN, "warn": typer.colors.YELLOW, "stop": typer.colors.RED}
_MARKS = {"ask": "?", "warn": "!", "stop": "!!"}


def _caption(text: str, urgency: str, as_json: bool) -> None:
    typer.secho(f"{_MARKS.get(urgency, ' '):>3} {text}", fg=_COLOURS.get(urgency), bold=urgency in ("warn", "stop"), err=as_json)


def _show(kind: str, value: Any, phrases: "Phrases", as_json: bool) -> None:
    from assistant.core import inspection as ins

    if as_json:
        if kind == "record":
            _write({"record": value})
        elif kind == "summary":
            for one, unit, found in ins.summaries(value):
                _write({"summary": ins.summary_json(one, unit, found, value)})
    elif kind == "chart":
        for line in value:
            typer.echo(f"    {line}")
    elif kind == "summary":
        for line in ins.summary_lines(value, phrases):
            typer.echo(line)


def _write(line: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(line, ensure_ascii=False) + "\n")
    sys.stdout.flush()
