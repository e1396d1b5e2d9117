"""The job, live: a keyboard, a microphone and gauges hand their inputs to one queue; captions and the mouth answer.

A slow recogniser never delays a gauge or a typed line: each source has its own thread and only puts finished things into the queue.
"""

import queue
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, TextIO

import typer

from assistant.bench import Bench
from assistant.core.effects import Effect
from assistant.core.errors import BadInputError, BenchError, JournalError
from assistant.core.inputs import Input, Pedal, Quit, Said, Taken, Unheard
from assistant.core.quantities import Quantity
from assistant.ears.typed import TypedLines
from assistant.mouth import Mouth, Tone
from assistant.mouth.captions import Captions

if TYPE_CHECKING:
    from assistant.ears.microphone import MicrophoneEvent, Utterance
    from assistant.hearing import Hearing

EARS = ("typed", "net")
MOUTHS = ("captions", "pyttsx3")


class LiveGauges(Protocol):
    """Gauges on their ports, as far as the loop needs them."""

    def taken(self, quantity: str | None) -> Taken | str:
        """The settled reading of the gauge that measures this quantity; or, in one line, why there is none."""
        ...

    def close(self) -> None:
        """Let go of the ports."""
        ...


@dataclass
class Loop:
    """One live job. Sources call `put`; `run` takes, in order."""

    bench: Bench
    mouths: tuple[Mouth, ...]
    screen: Callable[[Effect], None]
    hearing: "Hearing | None" = None
    gauges: LiveGauges | None = None
    waiting: "queue.Queue[Input | Utterance | str | None]" = field(default_factory=queue.Queue)

    def put(self, item: "Input | Utterance | str | None") -> None:
        """Hand one thing in: an input, an utterance, a source's trouble in one line, or None when the keyboard has ended."""
        self.waiting.put(item)

    def show(self, effects: Iterable[Effect]) -> str | None:
        """Say and show a batch; gives the verdict when it ended the job."""
        ended = None
        for effect in effects:
            if effect.kind == "speak":
                for mouth in self.mouths:
                    mouth.say(str(effect.body), effect.urgency or "info")
            else:
                self.screen(effect)
            if effect.kind == "end":
                ended = str(effect.body["verdict"])
        return ended

    def run(self, first: Iterable[Effect]) -> int:
        """Go on until the job ends or rests. Gives the exit status: 1 when it ended out of spec."""
        ended = self.show(first)
        while ended is None:
            item = self.waiting.get()
            try:
                ended = self._take(item)
            except JournalError as error:
                # Nothing of the input counts; the job stands where it was, and goes on when there is room.
                self._say(str(error), "stop")
        return 1 if ended == "out of spec" else 0

    def _take(self, item: "Input | Utterance | str | None") -> str | None:
        if item is None:
            return self.show(self.bench.give(Quit()))
        if isinstance(item, str):
            self._say(item, "warn")
            return None
        given = self._input(item)
        if given is None:
            return None
        if isinstance(given, Said) and given.words.strip().lower() == "stop" and self._hush():
            return None
        if isinstance(given, Pedal) or (isinstance(given, Said) and given.words.strip().lower() == "take"):
            given = self._gauge_reading(given)
        if given is None:
            return None
        self._hush()
        if isinstance(given, Unheard):
            self._tone(Tone.AGAIN)
        return self.show(self.bench.give(given))

    def _input(self, item: "Input | Utterance") -> Input | None:
        """What a source handed in, as an input; an utterance goes through the recogniser, and noise becomes nothing."""
        from assistant.ears import Verdict
        from assistant.ears.microphone import Utterance

        if not isinstance(item, Utterance):
            return item
        assert self.hearing is not None
        meant = self.hearing.hear(item.sound, self.bench.state, only_interrupts=item.over_own_voice)
        if self.hearing.last is not None and self.hearing.last.verdict is Verdict.SILENT:
            return None
        return meant if not (item.over_own_voice and isinstance(meant, Unheard)) else None

    def _gauge_reading(self, given: Input) -> Input | None:
        """The live gauge's settled reading where one is wanted; otherwise the input itself."""
        from assistant.core.decide import waiting_for

        now = waiting_for(self.bench.state)
        if self.gauges is None or now is None or now.kind != "reading":
            return given
        found = self.gauges.taken(now.quantity)
        if isinstance(found, str):
            self._say(found, "ask")
            return None
        return found

    def _say(self, text: str, urgency: str) -> None:
        for mouth in self.mouths:
            mouth.say(text, urgency)

    def _tone(self, tone: Tone) -> None:
        for mouth in self.mouths:
            mouth.tone(tone)

    def _hush(self) -> bool:
        silenced = [mouth.hush() for mouth in self.mouths]
        return any(silenced)


def run(bench: Bench, first: Iterable[Effect], *, ears: str, mouth: str, stream: TextIO | None = None) -> int:
    """Go through a job at a terminal. Gives the exit status. Raises BadInputError for an ear or a mouth that does not exist."""
    for name, value, known in (("--ears", ears, EARS), ("--mouth", mouth, MOUTHS)):
        if value not in known:
            raise BadInputError(f"{name} {value!r} is not known, expected {' or '.join(known)}")
    mouths: list[Mouth] = [Captions(_caption)]
    if mouth == "pyttsx3":
        from assistant.mouth.pyttsx3 import Pyttsx3Mouth

        mouths.append(Pyttsx3Mouth())
    loop = Loop(bench, tuple(mouths), _on_screen)
    typed = TypedLines(stream or sys.stdin, lambda line: loop.put(typed_input(line)), lambda: loop.put(None))
    microphone = None
    try:
        if ears == "net":
            from assistant.ears.microphone import Microphone
            from assistant.hearing import Hearing

            loop.hearing = Hearing()
            microphone = Microphone(lambda event: _microphone(loop, event), mouth_speaks=lambda: any(one.is_speaking for one in mouths))
        typed.start()
        return loop.run(first)
    finally:
        typed.close()
        if microphone is not None:
            microphone.close()
        for one in mouths:
            one.wait(5.0)
            one.close()


def typed_input(line: str) -> Input:
    """A typed line: words, or `dial 0.0065 in` for a gauge that is read by eye and typed with its channel."""
    from assistant.headless import CHANNELS

    parts = line.split()
    if len(parts) == 3 and parts[0] in CHANNELS:
        try:
            return Taken(parts[0], Quantity.of(parts[1], parts[2]))
        except BenchError:
            return Said(line)
    return Pedal() if line == "pedal" else Said(line)


def _microphone(loop: Loop, event: "MicrophoneEvent") -> None:
    """What the microphone's thread does with what it has: hand it on; only talking over the mouth is acted on at once."""
    from assistant.ears.microphone import TalkedOver, Utterance

    if isinstance(event, TalkedOver):
        for mouth in loop.mouths:
            mouth.hush()
    elif isinstance(event, Utterance):
        loop.put(event)
    else:
        loop.put(event.text)


# ---- the terminal

_COLOURS = {"ask": typer.colors.CYAN, "warn": typer.colors.YELLOW, "stop": typer.colors.RED}
_MARKS = {"ask": "?", "warn": "!", "stop": "!!"}


def _caption(text: str, urgency: str) -> None:
    typer.secho(f"{_MARKS.get(urgency, ' '):>3} {text}", fg=_COLOURS.get(urgency), bold=urgency in ("warn", "stop"))


def _on_screen(effect: Effect) -> None:
    """Titles, readings and changes as figures; what is spoken is captioned already."""
    body = effect.body
    if effect.kind == "step":
        typer.secho(f"\n== {body['title']}", bold=True)
    elif effect.kind == "recorded":
        spot = f" at place {body['spot']}" if body["spot"] else ""
        unit = f" {body['unit']}" if body["unit"] else ""
        typer.echo(f"    [{body['id']}] {body['quantity'].replace('_', ' ')}{spot}: {body['value']}{unit}")
    elif effect.kind == "move":
        stack = " + ".join(shim["value"] for shim in body["stack"])
        change = f"{body['from']['value']} -> {body['to']['value']} {body['to']['unit']}"
        typer.echo(f"    {body['part'].replace('_', ' ')}: {change}{f'  ({stack})' if stack else ''}")
    elif effect.kind == "wait":
        typer.echo(f"  > {_waiting(body)}")
    elif effect.kind == "end":
        typer.secho(f"\n== {body['verdict']}  (job {body['job']})", bold=True)


def _waiting(body: dict[str, object]) -> str:
    if body["for"] == "reading":
        return f"a reading in {body.get('unit')}"
    if body["for"] == "confirm":
        return "yes or no"
    if body["for"] == "caution":
        return "understood"
    choices = body.get("choices")
    return " / ".join(map(str, choices)) if isinstance(choices, list) else "done"
