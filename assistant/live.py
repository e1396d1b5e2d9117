"""The job, live: a keyboard, a microphone and gauges hand their inputs to one queue; captions and the mouth answer.

A slow recogniser never delays a gauge or a typed line: each source has its own thread and only puts finished things into the queue.
"""

import queue
import sys
import time
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, TextIO

import typer

from assistant.bench import Bench
from assistant.core.effects import Effect
from assistant.core.errors import BadInputError, BenchError, JournalError
from assistant.core.inputs import Input, Pedal, Quit, Said, Taken, Unheard
from assistant.core.quantities import Quantity
from assistant.ears.typed import TypedLines
from assistant.live_gauges import FromStation, JobGauges, Late, News, Part, Pressed, Sent
from assistant.mouth import Mouth, Tone
from assistant.mouth.captions import Captions

if TYPE_CHECKING:
    from assistant.ears.microphone import MicrophoneEvent, Utterance
    from assistant.hearing import Hearing

EARS = ("typed", "net")
MOUTHS = ("captions", "pyttsx3")


class LiveGauges(Protocol):
    """Gauges on their ports, as far as the loop needs them (`assistant.live_gauges`)."""

    def gauge_for(self, quantity: str | None) -> str | None:
        """The gauge that measures this quantity; None when none does."""
        ...

    def taken(self, quantity: str, onset: float, place: Hashable) -> Taken | str | None:
        """What "take" means here: the reading; or, in one line, what to tell; or None: a `Late` will come."""
        ...

    def completed(self, late: Late, place: Hashable) -> Taken | str | None:
        """What a late answer amounts to; None when something else is waited for by now."""
        ...

    def sent(self, sent: Sent, quantity: str | None) -> Taken | str:
        """What a value that a gauge's own button sent means here."""
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
    waiting: "queue.Queue[tuple[float, Input | Utterance | FromStation | Late | str | None]]" = field(default_factory=queue.Queue)

    def put(self, item: "Input | Utterance | FromStation | Late | str | None") -> None:
        """Hand one thing in: an input, an utterance, what a gauge has, a source's trouble in one line, or None when the keyboard has ended."""
        self.waiting.put((time.monotonic(), item))

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
            at, item = self.waiting.get()
            try:
                ended = self._take(item, at)
            except JournalError as error:
                # Nothing of the input counts; the job stands where it was, and goes on when there is room.
                self._say(str(error), "stop")
        return 1 if ended == "out of spec" else 0

    def _take(self, item: "Input | Utterance | FromStation | Late | str | None", at: float) -> str | None:
        if item is None:
            return self.show(self.bench.give(Quit()))
        if isinstance(item, str):
            self._say(item, "warn")
            return None
        if isinstance(item, News):
            self._tell(item)
            return None
        if isinstance(item, Pressed):
            at, item = item.at, Pedal()
        elif not isinstance(item, Late | Sent) and hasattr(item, "began"):
            at = item.began
        given = self._late_or_sent(item) if isinstance(item, Late | Sent) else self._input(item)
        if given is None:
            return None
        if isinstance(given, Said) and given.words.strip().lower() == "stop" and self._hush():
            return None
        if isinstance(given, Pedal) or (isinstance(given, Said) and given.words.strip().lower() == "take"):
            given = self._gauge_reading(given, at)
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

    def _gauge_reading(self, given: Input, onset: float) -> Input | None:
        """The live gauge's reading where one is wanted; otherwise the input itself."""
        quantity = self._wanted()
        if self.gauges is None or quantity is None or self.gauges.gauge_for(quantity) is None:
            return given
        return self._found(self.gauges.taken(quantity, onset, self._place()))

    def _late_or_sent(self, item: Late | Sent) -> Input | None:
        """A value that was waited for, or that a gauge sent by itself."""
        assert self.gauges is not None
        if isinstance(item, Late):
            return self._found(self.gauges.completed(item, self._place()))
        return self._found(self.gauges.sent(item, self._wanted()))

    def _found(self, found: Taken | str | None) -> Input | None:
        if isinstance(found, str):
            self._say(found, "ask")
            return None
        return found

    def _wanted(self) -> str | None:
        """The quantity of the reading that is waited for; None when no reading is."""
        from assistant.core.decide import waiting_for

        state = self.bench.state
        now, step = waiting_for(state), state.step()
        is_limit = step is not None and step.ask == "specs" and state.correcting is None
        return now.quantity if now is not None and now.kind == "reading" and not (state.held or is_limit) else None

    def _place(self) -> Hashable:
        """What is waited for: a value that was begun at one place is no value at another."""
        from assistant.core.decide import waiting_for

        now, state = waiting_for(self.bench.state), self.bench.state
        return None if now is None else (state.reading_count, state.open_step, now.quantity, now.part, now.spot)

    def _tell(self, news: News) -> None:
        text = f"{news.text[:1].upper()}{news.text[1:]}"
        if news.is_loss:
            self._tone(Tone.LOST)
        if not news.is_damage:
            self._say(text, "warn")
            return
        # A damaged frame was refused and needs no hand: it is shown, once, and not said.
        for mouth in self.mouths:
            if mouth.name == Captions.name:
                mouth.say(text)

    def _say(self, text: str, urgency: str) -> None:
        for mouth in self.mouths:
            mouth.say(text, urgency)

    def _tone(self, tone: Tone) -> None:
        for mouth in self.mouths:
            mouth.tone(tone)

    def _hush(self) -> bool:
        silenced = [mouth.hush() for mouth in self.mouths]
        return any(silenced)


def run(
    bench: Bench, first: Iterable[Effect], *, ears: str, mouth: str, stream: TextIO | None = None, gauges: Sequence[Part] = ()
) -> int:  # fmt: skip
    """Go through a job at a terminal. Gives the exit status.

    gauges: on their ports, pedals too. Raises BadInputError for an ear or a mouth that does not exist, and for a gauge that measures nothing.
    """
    for name, value, known in (("--ears", ears, EARS), ("--mouth", mouth, MOUTHS)):
        if value not in known:
            raise BadInputError(f"{name} {value!r} is not known, expected {' or '.join(known)}")
    mouths: list[Mouth] = [Captions(_caption)]
    if mouth == "pyttsx3":
        from assistant.mouth.pyttsx3 import Pyttsx3Mouth

        mouths.append(Pyttsx3Mouth())
    loop = Loop(bench, tuple(mouths), _on_screen)
    at_ports = JobGauges(gauges, loop.put) if gauges else None
    loop.gauges = at_ports
    typed = TypedLines(stream or sys.stdin, lambda line: loop.put(typed_input(line)), lambda: loop.put(None))
    microphone = None
    try:
        if ears == "net":
            from assistant.ears.microphone import Microphone
            from assistant.hearing import Hearing

            loop.hearing = Hearing()
            microphone = Microphone(lambda event: _microphone(loop, event), mouth_speaks=lambda: any(one.is_speaking for one in mouths))
        if at_ports is not None:
            at_ports.start()
        typed.start()
        return loop.run(first)
    finally:
        typed.close()
        if at_ports is not None:
            at_ports.close()
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
