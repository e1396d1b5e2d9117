"""The job, live: a keyboard, a microphone and gauges hand their inputs to one queue; captions and the mouth answer.

A slow recogniser never delays a gauge or a typed line: each source has its own thread and only puts finished things into the queue.
"""

import queue
import sys
import time
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol, TextIO

import typer

from assistant.bench import Bench, Watcher
from assistant.core.effects import Effect, Line, as_sentences
from assistant.core.english import GAUGES, UNIT_CHANGES_SAID
from assistant.core.errors import BenchError, JournalError
from assistant.core.inputs import Input, Pedal, Quit, Said, Taken, Unheard, Zeroed
from assistant.core.phrases import Phrases
from assistant.core.quantities import Quantity, unit_named
from assistant.core.saying import say_unit
from assistant.core.state import State, unit_held
from assistant.core.tongues import ENGLISH
from assistant.core.waits import expectation
from assistant.core.words import Command, gauge_named, plain_words, understand
from assistant.ears.attention import LOUD_BELOW_DB, Advice, Watch
from assistant.ears.microphone import Microphone, MicrophoneEvent, MicrophoneTrouble, TalkedOver, Utterance
from assistant.ears.typed import TypedLines
from assistant.live_gauges import FromStation, JobGauges, Late, News, Part, Pressed, Sent
from assistant.mouth import Mouth, Tone
from assistant.mouth.captions import Captions

if TYPE_CHECKING:
    from assistant.hearing import Hearing
    from assistant.screen.address import Place
    from assistant.screen.server import Screen

LOOK_EVERY_SECONDS = 0.25
"""How often, with a microphone, it is looked whether the silence has lasted long enough."""


class LiveGauges(Protocol):
    """Gauges on their ports, as far as the loop needs them (`assistant.live_gauges`)."""

    def gauge_for(self, quantity: str | None) -> str | None:
        """The gauge that measures this quantity; None when none does."""
        ...

    def taken(self, quantity: str, onset: float, place: Hashable) -> Taken | str | None:
        """What "take" means here: the reading; or, in one line, what to tell; or None: a `Late` will come."""
        ...

    def zeroed(self, quantity: str, onset: float, place: Hashable) -> Zeroed | str | None:
        """What "zero the gauge" means here: the offset; or what to tell; or None: a `Late` will come."""
        ...

    def set_zero(self, gauge: str) -> None:
        """The zero that was given last for this gauge was confirmed."""
        ...

    def zero_is_gone(self, gauge: str) -> None:
        """It was zeroed by word in an earlier run: it is asked about before its next value."""
        ...

    def completed(self, late: Late, place: Hashable) -> Taken | Zeroed | str | None:
        """What a late answer amounts to; None when something else is waited for by now."""
        ...

    def switched(self, command: Command, quantity: str | None) -> str | None:
        """The gauge of this bench that "change unit" means, in plain words; None where that cannot be told."""
        ...

    def change_unit(self, gauge: str, unit: str) -> None:
        """A gauge (empty: all that can) was switched to this unit: its lock holds it from now on."""
        ...

    def sent(self, sent: Sent, quantity: str | None) -> Taken | str:
        """What a value that a gauge's own button sent means here."""
        ...

    def close(self) -> None:
        """Let go of the ports."""
        ...


@dataclass(frozen=True)
class Guarded:
    """An input that counts only while what its sender saw is still so: a second tap must not answer the next question.

    still_holds: asked right before the input is taken; without it nothing happens. answered: told once it was taken, empty when the input
    is on disk, else why it is not.
    """

    given: Input
    still_holds: Callable[[], bool]
    answered: Callable[[str], None]


Item = Input | Guarded | MicrophoneEvent | FromStation | Late | str | None


@dataclass
class Loop:
    """One live job. Sources call `put`; `run` takes, in order."""

    bench: Bench
    mouths: tuple[Mouth, ...]
    screen: Callable[[Effect], None]
    watchers: tuple[Watcher, ...] = ()
    hearing: "Hearing | None" = None
    gauges: LiveGauges | None = None
    somebody_speaks: Callable[[], bool] = lambda: False
    watch: Watch = field(default_factory=lambda: Watch(time.monotonic()))
    waiting: "queue.Queue[tuple[float, Item]]" = field(default_factory=queue.Queue)

    _spoken: tuple[tuple[str, str], ...] = ()  # the last batch, with its urgencies
    _zeros: tuple[tuple[str, Quantity], ...] | None = None  # none before the first batch
    _units: tuple[tuple[str, str], ...] = ()
    _was_held: bool = False
    _cut_short: bool = False  # somebody talked over the mouth, and has not said anything for us yet
    _told: set[str] = field(default_factory=set)

    def put(self, item: "Item") -> None:
        """Hand one thing in: an input, an utterance, what a gauge has, a source's trouble in one line, or None when the keyboard has ended."""
        self.waiting.put((time.monotonic(), item))

    def show(self, effects: Iterable[Effect], *, slower: bool = False) -> str | None:
        """Say and show a batch; gives the verdict when it ended the job. slower: it was asked for once more."""
        effects = tuple(effects)
        self._keep_units()
        self._spoken = tuple((str(effect.body), effect.urgency or "info") for effect in effects if effect.kind == "speak")
        for watcher in self.watchers:
            watcher.watch(self.bench.state, effects)
        ended = None
        for effect in effects:
            if effect.kind == "speak":
                for mouth in self.mouths:
                    mouth.say(str(effect.body), effect.urgency or "info", slower)
            else:
                self.screen(effect)
            if effect.kind == "end":
                ended = str(effect.body["verdict"])
        if self.hearing is not None and ended is None:
            self._tell_attention()
        return ended

    def _tell_attention(self) -> None:
        """One step up: speak now. One step down: nothing is heard any more."""
        was_held, self._was_held = self._was_held, self.bench.state.held
        if self._was_held and not was_held:
            self._tone(Tone.HELD)
        elif not self._was_held and (was_held or (self._spoken and self._spoken[-1][1] == "ask")):
            self._tone(Tone.LISTENING)

    def run(self, first: Iterable[Effect]) -> int:
        """Go on until the job ends or rests. Gives the exit status: 1 when it ended out of spec."""
        ended = self.show(first)
        while ended is None:
            came = self._next()
            try:
                ended = self.look(time.monotonic()) if came is None else self._take(came[1], came[0])
            except JournalError as error:
                # Nothing of the input counts; the job stands where it was, and goes on when there is room.
                self._say(str(error), "stop")
        return 1 if ended == "out of spec" else 0

    def _next(self) -> "tuple[float, Item] | None":
        """The next thing that was handed in; None when, with a microphone, nothing has come for a moment."""
        try:
            return self.waiting.get(timeout=LOOK_EVERY_SECONDS if self.hearing is not None else None)
        except queue.Empty:
            return None

    def look(self, at: float) -> str | None:
        """Time has passed: whatever has to be done of our own accord. Gives the verdict like `show`."""
        state = self.bench.state
        busy = self.somebody_speaks() or any(mouth.is_speaking for mouth in self.mouths)
        return self._follow(self.watch.tick(at, busy=busy, confirms=state.offered is not None, held=state.held))

    def _follow(self, advice: Advice) -> str | None:
        sentences = {Advice.HOLD_NO_ANSWER: "no_answer", Advice.HOLD_ROOM_TALKS: "room_talks"}
        if advice is Advice.SAY_AGAIN:
            return self.show(self.bench.give(Said("repeat")))
        if advice is Advice.SLEEP:
            self._tone(Tone.HELD)
        if advice in sentences and not self.bench.state.held:
            self._say(self.bench.state.phrases.sentence(sentences[advice]), "warn")
            return self.show(self.bench.give(Said("hold")))
        return None

    def _take(self, item: "Item", at: float) -> str | None:
        if item is None:
            return self.show(self.bench.give(Quit()))
        if isinstance(item, TalkedOver):
            self._cut_short = True
            return None
        if isinstance(item, MicrophoneTrouble):
            self._tone(Tone.LISTENING if item.is_over else Tone.LOST)
            item = self.bench.state.phrases.reason(item.text)
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
        if isinstance(item, Guarded):
            return self._take_guarded(item, at)
        if isinstance(item, Utterance):
            return self._heard(item, at)
        given = self._late_or_sent(item) if isinstance(item, Late | Sent) else item
        return self._give(given, at, is_late=isinstance(item, Late))

    def _give(self, given: Input | None, at: float, *, is_late: bool = False) -> str | None:
        """Take an input in, where there is one. is_late: a gauge's value that settled only after the word, which is said."""
        if given is not None:
            given = self.bench.own.plainly(given)
        if isinstance(given, Said) and self.gauges is not None:
            given = self._with_gauge(given)
        if given is None:
            return None
        self.watch.acted(at)
        self._cut_short = False
        word = self._command_in(given)
        if word == "stop" and self._hush():
            return None
        if isinstance(given, Pedal) or word in ("take", "zero the gauge"):
            given = self._gauge_reading(given, at, zeroes=word == "zero the gauge")
        if given is None:
            return None
        self._hush()
        if is_late:
            self._say(self.bench.state.phrases.sentence("settled_late"), "info")
        if isinstance(given, Unheard):
            self._tone(Tone.AGAIN)
        return self.show(self.bench.give(given), slower=self._command_in(given) == "repeat")

    def _command_in(self, given: Input) -> str | None:
        """The command that was said, by its name in the interface; None for anything else."""
        if not isinstance(given, Said):
            return None
        tongue = self.bench.state.phrases.tongue
        return tongue.command_of.get(" ".join(plain_words(given.words, tongue))) or ENGLISH.command_of.get(given.words.strip().lower())

    def _with_gauge(self, given: Said) -> Said | None:
        """ "Change unit" is journalled with the gauge of this bench that it means; None, and told, where that cannot be told."""
        assert self.gauges is not None
        meant = understand(given.words, expectation(self.bench.state))
        if not (isinstance(meant, Command) and meant.name == "change unit"):
            return given
        gauge = self.gauges.switched(meant, self._wanted())
        if gauge is None:
            said = self.bench.state.phrases.say_unit(meant.argument or "")
            self._say(self.bench.state.phrases.sentence("which_gauge", unit=said), "ask")
            return None
        unit = say_unit(meant.argument or "")
        return replace(given, words=UNIT_CHANGES_SAID[1].format(gauge=GAUGES.get(gauge, gauge), unit=unit))

    def _keep_units(self) -> None:
        """Tell the gauges which units the job holds them to, which zero was confirmed, and which of them counted from one of an earlier run."""
        zeros = self.bench.state.gauge_zeros
        if self.gauges is not None and self._zeros is None:
            for gauge, _ in zeros:
                self.gauges.zero_is_gone(gauge)
        elif self.gauges is not None and zeros is not self._zeros and zeros:
            self.gauges.set_zero(zeros[-1][0])
        self._zeros = zeros
        for gauge, unit in self.bench.state.gauge_units if self.gauges is not None else ():
            if (gauge, unit) not in self._units:
                assert self.gauges is not None
                self.gauges.change_unit(gauge, unit)
        self._units = self.bench.state.gauge_units

    def _take_guarded(self, item: Guarded, at: float) -> str | None:
        if not item.still_holds():
            return None
        try:
            ended = self._take(item.given, at)
        except JournalError as error:
            item.answered(str(error))
            raise
        item.answered("")
        return ended

    def _heard(self, spoken: Utterance, at: float) -> str | None:
        """An utterance, through the recogniser: what was understood is an input, talk is none, and what was unclear is asked for again."""
        assert self.hearing is not None
        state = self.bench.state
        was_asleep = self.watch.is_asleep
        meant = self.hearing.hear(spoken.sound, state, only_interrupts=spoken.over_own_voice, asleep=was_asleep)
        if isinstance(meant, Said) and not (spoken.over_own_voice and not self._cut_short and self._is_ours(meant.words)):
            if not was_asleep:
                return self._give(meant, at)
            self.watch.acted(at)
            self._tone(Tone.LISTENING)
            return self.show(self.bench.give(Said("resume" if state.held else "repeat")))
        if spoken.over_own_voice:
            return self._say_whole()
        advice = Advice.NOTHING if was_asleep or self._is_knock() else self.watch.refused(at)
        if advice is not Advice.NOTHING:
            return self._follow(advice)
        if was_asleep or state.held or not isinstance(meant, Unheard) or not meant.for_us:
            return None
        self._tone(Tone.AGAIN)
        self._tell_sound(spoken)
        return self.show(self.bench.give(meant))

    def foreseen(self, spoken: Utterance) -> None:
        """Somebody has probably said this; the pause that ends it is not over. (The microphone's thread calls it.)"""
        if self.hearing is not None:
            self.hearing.begin(spoken.sound, self.bench.state, only_interrupts=spoken.over_own_voice, asleep=self.watch.is_asleep)

    def _is_ours(self, words: str) -> bool:
        """Whether we have just said these words ourselves: then it was our own voice that was heard."""
        ours = {word.strip(".,:;?!").lower() for text, _ in self._spoken for word in text.split()}
        return ours.issuperset(words.split())

    def _say_whole(self) -> str | None:
        """Somebody talked over us, and not to us: what was cut short is said from its start."""
        if self._cut_short:
            self._cut_short = False
            for text, urgency in self._spoken:
                for mouth in self.mouths:
                    mouth.say(text, urgency)
        return None

    def _is_knock(self) -> bool:
        assert self.hearing is not None
        return self.hearing.last is None or self.hearing.last.speech_seconds == 0.0

    def _tell_sound(self, spoken: Utterance) -> None:
        """What is wrong with the sound of what was not understood, once each."""
        assert self.hearing is not None
        snr = self.hearing.last.snr_db if self.hearing.last is not None else None
        wrong = "too_close" if spoken.is_clipped else "too_loud" if snr is not None and snr < LOUD_BELOW_DB else ""
        if wrong and wrong not in self._told:
            self._told.add(wrong)
            self._say(self.bench.state.phrases.sentence(wrong), "warn")

    def _gauge_reading(self, given: Input, onset: float, *, zeroes: bool) -> Input | None:
        """The live gauge's reading, or its zero, where one is wanted; otherwise the input itself."""
        quantity = self._wanted()
        if self.gauges is None or quantity is None or self.gauges.gauge_for(quantity) is None:
            return given
        if zeroes:
            return self._found(self.gauges.zeroed(quantity, onset, self._place()))
        return self._found(self.gauges.taken(quantity, onset, self._place()))

    def _late_or_sent(self, item: Late | Sent) -> Input | None:
        """A value that was waited for, or that a gauge sent by itself."""
        assert self.gauges is not None
        if isinstance(item, Late):
            return self._found(self.gauges.completed(item, self._place()))
        return self._found(self.gauges.sent(item, self._wanted()))

    def _found(self, found: Taken | Zeroed | str | None) -> Input | None:
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
        if news.is_loss:
            self._tone(Tone.LOST)
        if not news.is_damage:
            self._say(news.text, "warn")
            return
        # A damaged frame was refused and needs no hand: it is shown, once, and not said.
        for mouth in self.mouths:
            if mouth.name == Captions.name:
                mouth.say(as_sentences(news.text))

    def _say(self, text: str, urgency: str) -> None:
        text = as_sentences(text)
        for watcher in self.watchers:
            watcher.note(text, urgency)
        for mouth in self.mouths:
            mouth.say(text, urgency)

    def _tone(self, tone: Tone) -> None:
        for mouth in self.mouths:
            mouth.tone(tone)

    def _hush(self) -> bool:
        silenced = [mouth.hush() for mouth in self.mouths]
        return any(silenced)


def run(
    bench: Bench, first: Iterable[Effect], *, mouth: str, hearing: "Hearing | None" = None, stream: TextIO | None = None,
    gauges: Sequence[Part] = (), place: "Place | None" = None, watchers: Sequence[Watcher] = (),
) -> int:  # fmt: skip
    """Go through a job at a terminal, and on a screen where one is wanted. Gives the exit status.

    hearing: for the microphone; without it only the keyboard is heard. gauges: on their ports, pedals too. watchers: who looks on as well.
    mouth: one of mouth.MOUTHS. Raises BadInputError for a gauge that measures nothing.
    """
    tones = {tone: bench.state.phrases.sentence(f"tone.{tone.value}") for tone in Tone}
    mouths: list[Mouth] = [Captions(_caption, tones)]
    if mouth == "pyttsx3":
        from assistant.mouth.pyttsx3 import Pyttsx3Mouth, open_voice

        language = bench.state.phrases.language
        mouths.append(Pyttsx3Mouth(lambda: open_voice(language)))
    loop = Loop(bench, tuple(mouths), lambda effect: _on_screen(effect, bench.state.phrases), tuple(watchers))
    # Whoever works at the screen may have started it without a keyboard: its end then ends nothing.
    keyboard_ended = (lambda: loop.put(None)) if place is None else (lambda: None)
    at_ports = JobGauges(gauges, loop.put, phrases=bench.state.phrases) if gauges else None
    loop.gauges = at_ports
    typed = TypedLines(stream or sys.stdin, lambda line: loop.put(typed_input(line)), keyboard_ended)
    microphone = screen = None
    try:
        if place is not None:
            screen = _open_screen(loop, place)
            loop.watchers = (screen, *loop.watchers)
        if hearing is not None:
            loop.hearing = hearing

            def speaks() -> bool:
                return any(one.is_speaking for one in mouths)

            microphone = Microphone(lambda event: _microphone(loop, event), mouth_speaks=speaks, ahead=loop.foreseen)
            loop.somebody_speaks = lambda: microphone.is_hearing
            if hearing.unlearnt:
                typer.echo(f"{hearing.ear.name} has not learnt, and will not hear: {', '.join(hearing.unlearnt)}", err=True)
        if at_ports is not None:
            at_ports.start()
            for text in at_ports.opening(_held(bench.state, at_ports)):
                loop._say(text, "info")
        typed.start()
        return loop.run(_without_void(bench.state, first))
    finally:
        typed.close()
        if at_ports is not None:
            at_ports.close()
        if microphone is not None:
            microphone.close()
        if hearing is not None:
            hearing.close()
        if screen is not None:
            screen.close()
        for one in mouths:
            one.wait(5.0)
            one.close()


def _without_void(state: State, first: Iterable[Effect]) -> tuple[Effect, ...]:
    """The first batch without the readings that no longer count: on JSON lines they are all repeated, at a bench they would pass for standing."""
    standing = {reading.id for reading in state.standing}
    return tuple(effect for effect in first if not (effect.kind == "recorded" and effect.body["id"] not in standing))


def _held(state: State, gauges: JobGauges) -> dict[str, str]:
    """The units that this job holds its gauges to."""
    held: dict[str, str] = {}
    for name, settings in gauges.station.settings.items():
        if settings.unit is not None:
            unit = unit_held(state, gauge_named(name, state.phrases.tongue), unit_named(settings.unit).dimension)
            held |= {name: unit} if unit is not None else {}
    return held


def _open_screen(loop: Loop, place: "Place") -> "Screen":
    """Serve the page, and tell where it is."""
    from assistant.screen.server import Screen

    language = loop.bench.state.phrases.language
    screen = Screen(place, lambda given, still_holds, answered: loop.put(Guarded(given, still_holds, answered)), language)
    typer.echo(f"screen: {place.url}{f'#{place.keys.bench}' if place.keys else ''}")
    if place.keys is not None:
        typer.echo(f"to look only: {place.url}#{place.keys.viewer}")
    return screen


def typed_input(line: str) -> Input:
    """A typed line: words, or `dial 0.0065 in` for a gauge that is read by eye and typed with its channel."""
    from assistant.core.axle import CHANNELS

    parts = line.split()
    if len(parts) == 3 and parts[0] in CHANNELS:
        try:
            return Taken(parts[0], Quantity.of(parts[1], parts[2]))
        except BenchError:
            return Said(line)
    return Pedal() if line == "pedal" else Said(line)


def _microphone(loop: Loop, event: "MicrophoneEvent") -> None:
    """What the microphone's thread does with what it has: hand it on; only talking over the mouth is acted on at once."""
    if isinstance(event, TalkedOver):
        for mouth in loop.mouths:
            mouth.hush()
    loop.put(event)


# ---- the terminal

_COLOURS = {"ask": typer.colors.CYAN, "warn": typer.colors.YELLOW, "stop": typer.colors.RED}
_MARKS = {"ask": "?", "warn": "!", "stop": "!!"}


def _caption(text: str, urgency: str) -> None:
    typer.secho(f"{_MARKS.get(urgency, ' '):>3} {text}", fg=_COLOURS.get(urgency), bold=urgency in ("warn", "stop"))


def _on_screen(effect: Effect, phrases: Phrases) -> None:
    """Titles, readings and changes as figures; what is spoken is captioned already."""
    body = effect.body
    if effect.kind == "step":
        typer.secho(f"\n== {body['title']}", bold=True)
    elif effect.kind == "recorded":
        spot = f" {phrases.sentence('spot', spot=str(body['spot']))}" if body["spot"] else ""
        value = phrases.figures(body["value"]) if body["unit"] else phrases.choice(body["value"])
        unit = f" {body['unit']}" if body["unit"] else ""
        typer.echo(f"    [{body['id']}] {_shown_name(body['quantity'], phrases)}{spot}: {value}{unit}")
    elif effect.kind == "move":
        stack = " + ".join(phrases.figures(shim["value"]) for shim in body["stack"])
        change = f"{phrases.figures(body['from']['value'])} -> {phrases.figures(body['to']['value'])} {body['to']['unit']}"
        typer.echo(f"    {_shown_name(body['part'], phrases)}: {change}{f'  ({stack})' if stack else ''}")
    elif effect.kind == "wait":
        typer.echo(f"  > {_waiting(body, phrases)}")
    elif effect.kind == "end":
        typer.secho(f"\n== {phrases.choice(body['verdict'])}  ({phrases.sentence('shown.job', job=body['job'])})", bold=True)


def _shown_name(key: str, phrases: Phrases) -> str:
    """A quantity or part beside its figures: by the interface's name for it, which is English; in another language as it is said."""
    return key.replace("_", " ") if phrases.tongue is ENGLISH else phrases.name(key)


def _waiting(body: Line, phrases: Phrases) -> str:
    if body["for"] == "reading":
        return phrases.sentence("shown.reading", unit=phrases.say_unit(str(body.get("unit"))))
    if body["for"] == "confirm":
        return f"{phrases.command('yes')} {phrases.sentence('list.or')} {phrases.command('no')}"
    if body["for"] == "caution":
        return phrases.command("understood")
    choices = body.get("choices")
    return " / ".join(map(phrases.choice, choices)) if isinstance(choices, list) else phrases.command("done")
