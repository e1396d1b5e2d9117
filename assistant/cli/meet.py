"""`benchhand gauges meet`: the ten steps of a first meeting, typed or by voice, and the gauge's entry in the settings file."""

import json
import queue
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, cast

import typer

from assistant.cli.gauges import Settings
from assistant.core.errors import BadInputError, BenchError

if TYPE_CHECKING:
    from assistant.mouth import Mouth
    from gauges.meeting import Meeting
    from gauges.settings import GaugeSettings

WORDS = ("done", "no", "repeat", "stop")
_LOOK_SECONDS = 0.05


def register(app: typer.Typer) -> None:
    """Mount the command beside those of the gauges."""
    app.command("meet")(meet)


def meet(
    port: Annotated[str, typer.Argument(metavar="PORT", help="The device, such as /dev/ttyUSB0.")],
    name: Annotated[
        str, typer.Option("--name", help="What it will be called: dial, torque, caliper, micrometer, depth, or anything.")
    ] = "dial",
    format_key: Annotated[
        str | None, typer.Option("--format", metavar="KEY", help="Its family; left out, it is found by listening.")
    ] = None,
    unit: Annotated[str | None, typer.Option(help="The unit the gauge is set to, where its frames carry none.")] = None,
    parity: Annotated[str | None, typer.Option(help="even7 or none; left out: as found, or as the gauge comes new.")] = None,
    channel: Annotated[str | None, typer.Option("--channel", help="The channel to meet, of a gauge that sends several.")] = None,
    block: Annotated[str | None, typer.Option("--block", metavar="SIZE", help="The size of your gauge block, in the gauge's unit.")] = None,
    settings: Settings = None,
    ears: Annotated[str, typer.Option("--ears", help="typed, or net: the microphone through our own recogniser.")] = "typed",
    mouth: Annotated[str, typer.Option("--mouth", help="captions, or pyttsx3: aloud as well.")] = "captions",
    as_json: Annotated[bool, typer.Option("--json", help="Standard output carries only JSON lines: each finding.")] = False,
) -> None:
    """Meet a gauge: ten steps that prove its settings, once; then run, capture and watch know it by its name.

    Nothing is sent to it. Exit status 1 when it was not met, 2 for bad input.
    """
    from gauges.errors import GaugeError

    try:
        for option, value, known in (("--ears", ears, ("typed", "net")), ("--mouth", mouth, ("captions", "pyttsx3"))):
            if value not in known:
                raise BadInputError(f"{option} {value!r} is not known, expected {' or '.join(known)}")
        size = None if block is None else _size(block)
        wanted = _settings(port, name, format_key, unit, parity, channel)
        is_met = _run(wanted, size, settings, ears, mouth, as_json)
    except (BenchError, GaugeError) as error:
        typer.echo(f"benchhand: {error}", err=True)
        raise typer.Exit(2) from error
    raise typer.Exit(0 if is_met else 1)


def _size(text: str) -> Decimal:
    from assistant.core.quantities import decimal_from

    size = decimal_from(text)
    if size <= 0:
        raise BadInputError(f"--block {text!r}, expected a size above zero such as 10.000")
    return size


def _settings(
    port: str, name: str, format_key: str | None, unit: str | None, parity: str | None, channel: str | None
) -> "GaugeSettings":  # fmt: skip
    """What is known before the first step: as told, or found by listening."""
    from gauges.ports import identity_of, probe
    from gauges.settings import GaugeSettings

    line = None
    if format_key is None:
        typer.echo("listening at every known line setting; nothing is sent", err=True)
        for probed in probe(port):
            found = [match for match in probed.matches if match.is_found]
            if found:
                break
        else:
            found = []
        if len(found) != 1:
            keys = " or ".join(match.key for match in found) or "none that was heard; a gauge with a button sends only when it is pressed"
            raise BadInputError(f"{port}: families that explain it: {keys}. Say which by --format")
        format_key, parity, line = found[0].key, parity or found[0].parity, probed.line
    made = GaugeSettings(
        name, format_key, identity_of(port) or port, unit=unit, parity=cast("Literal['even7', 'none'] | None", parity), channel=channel
    )
    if line is not None and line != made.row.lines[0]:
        made = replace(made, line=line)
    if made.parity == made.row.parity:
        made = replace(made, parity=None)
    made.decoder()
    return made


def _run(wanted: "GaugeSettings", block: Decimal | None, file: Path | None, ears: str, mouth: str, as_json: bool) -> bool:
    from assistant.ears.typed import TypedLines
    from assistant.mouth import Mouth
    from assistant.mouth.captions import Captions
    from gauges.feed import Feed
    from gauges.live import worker_for
    from gauges.meeting import Meeting

    mouths: list[Mouth] = [Captions(lambda text, _: typer.echo(text, err=as_json))]
    said: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    feed = Feed()
    worker = worker_for(wanted, feed)
    meeting = Meeting(wanted, block)
    typed = TypedLines(sys.stdin, said.put, lambda: said.put(None))
    microphone = None
    try:
        if mouth == "pyttsx3":
            from assistant.mouth.pyttsx3 import Pyttsx3Mouth

            mouths.append(Pyttsx3Mouth())
        if ears == "net":
            microphone = _microphone(said, mouths)
        worker.start()
        typed.start()
        _walk(meeting, feed, said, mouths, as_json)
        if meeting.is_met:
            _keep(meeting, file, mouths)
    finally:
        typed.close()
        if microphone is not None:
            microphone.close()
        worker.stop()
        for one in mouths:
            one.wait(5.0)
            one.close()
    return meeting.is_met


def _walk(meeting: "Meeting", feed: Any, said: "queue.SimpleQueue[str | None]", mouths: "list[Mouth]", as_json: bool) -> None:
    """Go through the steps until they are done, one fails, or the technician stops."""
    _say(mouths, _instruction(meeting))
    while meeting.step is not None:
        notice = feed.get(_LOOK_SECONDS)
        while notice is not None:
            meeting.hear(notice)
            notice = feed.get(0)
        try:
            word = said.get_nowait()
        except queue.Empty:
            continue
        if word is None or word.lower() == "stop":
            _say(mouths, "Stopped: nothing is kept.")
            return
        before = dict(meeting.findings)
        _say(mouths, _answer(meeting, word.lower()))
        if as_json and meeting.findings != before:
            step, text = next((key, found) for key, found in meeting.findings.items() if before.get(key) != found)
            sys.stdout.write(json.dumps({"step": step, "found": text}, ensure_ascii=False) + "\n")
            sys.stdout.flush()
        if meeting.step is not None and meeting.findings != before:
            _say(mouths, _instruction(meeting))
    if not meeting.is_met:
        _say(mouths, "The gauge is not met, and nothing is kept: set it right, then meet it again.")


def _instruction(meeting: "Meeting") -> str:
    from gauges.meeting import STEPS

    assert meeting.step is not None
    return f"{STEPS.index(meeting.step) + 1} of {len(STEPS)}. {meeting.step.say}"


def _answer(meeting: "Meeting", word: str) -> str:
    if word == "done":
        return meeting.done()
    if word == "no":
        return meeting.left()
    if word == "repeat":
        return _instruction(meeting)
    try:
        meeting.block = _size(word)
    except BadInputError:
        return f"{word!r} is none of {', '.join(WORDS)}, and no size of a block."
    return f"The block is {meeting.block} {meeting.settings.unit or 'of the unit shown'}."


def _keep(meeting: "Meeting", file: Path | None, mouths: "list[Mouth]") -> None:
    from gauges.known import keep, settings_file
    from gauges.meeting import modem_rule

    path = settings_file(file)
    try:
        keep(path, meeting.settings, meeting.findings)
    except OSError as error:
        raise BadInputError(f"{path} cannot be written: {error.strerror or error}; make room or name another by --settings") from error
    _say(mouths, f"The {meeting.settings.name} is known now.")
    typer.echo(f"kept in {path}", err=True)
    port = meeting.settings.port
    if not isinstance(port, str):
        typer.echo(
            f"to keep a search for modems away from it, a line for a file in /etc/udev/rules.d:\n{modem_rule(port.vendor, port.product)}",
            err=True,
        )


def _microphone(said: "queue.SimpleQueue[str | None]", mouths: "list[Mouth]") -> Any:
    from assistant.ears.microphone import Microphone, TalkedOver, Utterance
    from assistant.word_ear import WordEar

    ear = WordEar(WORDS)

    def heard(event: Any) -> None:
        if isinstance(event, TalkedOver):
            for one in mouths:
                one.hush()
        elif isinstance(event, Utterance):
            word = ear.hear(event)
            if word:
                said.put(word)
        else:
            typer.echo(event.text, err=True)

    return Microphone(heard, mouth_speaks=lambda: any(one.is_speaking for one in mouths))


def _say(mouths: "list[Mouth]", text: str) -> None:
    for mouth in mouths:
        mouth.say(text, "ask")
