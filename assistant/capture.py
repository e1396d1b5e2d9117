"""Readings without an axle: taken by button, pedal, voice or keyboard, judged by a plan, kept, and sent on.

Rules: nothing is acknowledged before the spool has it; a gauge, a disk or a broker that goes is told and the work goes on; what a word means
is decided where the readings are (`core.inspection`), not here.
"""

import queue
import re
import time
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

from assistant.core import inspection as ins
from assistant.core.axle import GAUGE_UNITS
from assistant.core.effects import as_sentences
from assistant.core.errors import BadInputError, BenchError, JournalError
from assistant.core.inputs import Taken, Zeroed
from assistant.core.quantities import Quantity, unit_named
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH
from assistant.core.words import plain_words
from assistant.live_gauges import FromStation, Late, News, Pressed, Sent, Takes
from assistant.mouth import Mouth, Tone
from assistant.onward import Spool, Target

if TYPE_CHECKING:
    from assistant.ears.microphone import Utterance
    from assistant.word_ear import WordEar

# What may be said, as the interface calls it; beside these a gauge may be switched to another unit.
_COMMANDS = ("take", "next part", "undo", "repeat", "help", "what do you have", "yes", "no", "stop", "hold", "resume", "zero the gauge")


def unit_words(tongue: Tongue) -> dict[str, str]:
    """A gauge that was switched, as it is said, and the unit that it then shows."""
    return {tongue.folded(tongue.unit_changes_said[0].format(unit=tongue.units_said[unit][1])): unit for unit in GAUGE_UNITS}


WORDS = (*_COMMANDS, *unit_words(ENGLISH))
"""What our own ear listens for: it hears English."""
_TICK_SECONDS = 0.5


@dataclass(frozen=True)
class Typed:
    """A line from the keyboard."""

    text: str


@dataclass
class Capture:
    """One capture at work. Sources call `put`; `run` takes, in order.

    show: gets what is for eyes only: ("record", its public line), ("chart", lines) or ("summary", the state).
    clock: the time as text.
    """

    state: ins.State
    spool: Spool
    takes: Takes
    mouths: tuple[Mouth, ...]
    show: Callable[[str, Any], None]
    clock: Callable[[], str]
    targets: tuple[Target, ...] = ()
    ear: "WordEar | None" = None
    waiting: "queue.Queue[tuple[float, Any]]" = field(default_factory=queue.Queue)
    _last_words: str = ""
    _is_held: bool = False
    _asked: Callable[[], bool] | None = None  # what a yes does now; it gives whether the work goes on
    _troubles: dict[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.phrases = self.takes.phrases
        tongue = self.phrases.tongue
        # The words of the interface are understood in every language.
        said = [(name, name) for name in _COMMANDS] + [(self._told("next_part"), "next part")]
        said += [(text, name) for name in _COMMANDS for text in tongue.commands.get(name, ())]
        self._words = {self._plain(text): name for text, name in said}
        self._units = {self._plain(text): unit for words in (unit_words(ENGLISH), unit_words(tongue)) for text, unit in words.items()}

    def _plain(self, text: str) -> str:
        """Words in the house spelling of the language."""
        return " ".join(plain_words(text, self.phrases.tongue))

    def _told(self, key: str, **values: str) -> str:
        return self.phrases.sentence(f"capture.{key}", **values)

    def put(self, item: "Typed | Utterance | FromStation | Late | str | None") -> None:
        """Hand one thing in: a typed line, an utterance, what a gauge has, a source's trouble, or None when the keyboard has ended."""
        self.waiting.put((time.monotonic(), item))

    def run(self) -> int:
        """Go on until it is ended. Gives the exit status: 1 when a standing reading is out of its limits."""
        for text in self.takes.opening({}):
            self._say(text, "info", is_prompt=True)
        title = f"{self.state.plan.title}. " if self.state.plan.title else ""
        how = self._told("begin_gauge" if self.takes.station.settings else "begin_typed")
        self._say(f"{title}{ins.prompt(self.state, self.phrases)} {how}", "ask")
        is_open = True
        while is_open:
            try:
                at, item = self.waiting.get(timeout=_TICK_SECONDS)
            except queue.Empty:
                self._go_on()
                continue
            is_open = item is not None and self._take(item, at)
            self._go_on()
        self.show("summary", self.state)
        return 1 if self.state.has_out else 0

    def _go_on(self) -> None:
        """Send on what waits; tell a target's trouble once, and its end."""
        for number, target in enumerate(self.targets):
            target.go_on()
            if target.trouble != self._troubles.get(number, ""):
                self._say(target.trouble or self._told("goes_on"), "warn")
                self._troubles[number] = target.trouble

    # ---- what comes in

    def _take(self, item: Any, at: float) -> bool:
        """Take one thing in. Gives whether the work goes on."""
        if isinstance(item, str):
            self._say(item, "warn")
        elif isinstance(item, News):
            self._tell(item)
        elif isinstance(item, Pressed):
            self._read(item.at)
        elif isinstance(item, Sent):
            self._sent(item)
        elif isinstance(item, Late):
            self._found(self.takes.completed(item, self._place()), "late")
        elif isinstance(item, Typed):
            return self._word(" ".join(item.text.split()), at)
        else:
            assert self.ear is not None
            words = self.ear.hear(item)
            if words is not None and words:
                return self._word(words, item.began)
            if words is not None:
                self._tone(Tone.AGAIN)
        return True

    def _word(self, text: str, at: float) -> bool:
        word = self._words.get(self._plain(text), text.lower())
        if self._is_held:
            if word == "resume":
                self._is_held = False
                self._say(ins.prompt(self.state, self.phrases), "ask")
            return True
        if self._asked is not None:
            asked, self._asked = self._asked, None
            if word == "yes":
                return asked()
            self._say(ins.prompt(self.state, self.phrases), "ask")
            return True
        if word == "stop" and self._hush():
            return True
        acts: dict[str, Callable[[], None]] = {
            "take": lambda: self._read(at), "next part": self._next_part, "undo": self._undo, "repeat": lambda: self._say(self._last_words, "info"),
            "help": lambda: self._say(self._told("help"), "info"), "what do you have": lambda: self.show("summary", self.state), "stop": self._stop,
            "hold": self._hold, "zero the gauge": lambda: self._zero(at),
        }  # fmt: skip
        unit = self._units.get(self._plain(text))
        act = acts.get(word) if unit is None else partial(self._switch, unit)
        if act is not None:
            act()
        elif word not in ("yes", "no", "resume"):
            self._typed(text)
        return True

    def _stop(self) -> None:
        self._asked = lambda: False
        self._say(self._told("end"), "ask")

    def _switch(self, unit: str) -> None:
        """A gauge was switched: asked about, because every value of it hangs on the answer."""
        gauge = self._gauge()
        if gauge is None:
            return
        said, set_to = self.phrases.say_unit(unit), self.takes.station.settings[gauge].unit
        if set_to is not None and unit_named(set_to).dimension is not unit_named(unit).dimension:
            self._say(self.phrases.sentence("gauge_unit_other", gauge=gauge, unit=said), "ask")
            return

        named = self.phrases.sentence("the_gauge", name=gauge)

        def switched() -> bool:
            self.takes.switch(gauge, unit)
            self._say(self.phrases.sentence("gauge_unit_changed", gauge=named, unit=said), "info")
            return True

        self._asked = switched
        self._say(f"{self.phrases.sentence('ask_change_unit', gauge=named, unit=said)} {self._told('say_yes')}", "ask")

    def _offer_zero(self, zero: Zeroed) -> None:
        """A zero is asked about too: every later value hangs on it."""

        def zeroed() -> bool:
            self.takes.set_zero(zero.channel)
            self._say(self._told("zeroed"), "info")
            return True

        self._asked = zeroed
        named = self.phrases.sentence("the_gauge", name=zero.channel)
        asked = self.phrases.sentence("ask_zero", gauge=named, value=self.phrases.say(zero.at))
        self._say(f"{asked} {self._told('say_yes')}", "ask")

    def _zero(self, onset: float) -> None:
        gauge = self._gauge()
        if gauge is not None:
            self._found(self.takes.zero(self.state.open[0].kind, gauge, onset, self._place()), "")

    def _hold(self) -> None:
        self._is_held = True
        self._tone(Tone.HELD)

    def _typed(self, text: str) -> None:
        """A value that was read by eye and typed: a number with its unit, which may be left out where the plan says it."""
        one = self.state.open[0]
        figures = re.sub(r"[\d.,]*\d[\d.,]*", lambda found: self.phrases.tongue.plain_figures(found[0]), text, count=1)
        try:
            value = Quantity.parse(figures) if any(letter.isalpha() for letter in text) else Quantity.of(figures, one.unit or "")
        except BenchError:
            wanted = self._told("number_in", unit=one.unit) if one.unit else self._told("number")
            words = (self._told("next_part") if name == "next part" else self.phrases.command(name) for name in _COMMANDS[:6])
            self._say(self._told("no_word", text=repr(text), wanted=wanted, words=", ".join(words)), "ask")
            return
        self._keep(one, value, "typed", "", "")

    # ---- readings

    def _place(self) -> Hashable:
        return (len(self.state.records), self.state.open[0].name)

    def _gauge_of(self, one: ins.Characteristic) -> str | None:
        """The gauge that measures this; where none is named, the only one."""
        names = list(self.takes.station.settings)
        return one.gauge or (names[0] if len(names) == 1 else None)

    def _gauge(self) -> str | None:
        """The gauge that is at work now; None, and told, where there is none."""
        gauge = self._gauge_of(self.state.open[0])
        if gauge is not None and gauge in self.takes.station.settings:
            return gauge
        there = ", ".join(self.takes.station.settings) or self._told("none")
        self._say(self._told("no_gauge", gauges=there), "ask")
        return None

    def _read(self, onset: float) -> None:
        if self._is_held:
            return
        one = self.state.open[0]
        gauge = self._gauge()
        if gauge is not None:
            self._found(self.takes.measure(one.kind, gauge, onset, self._place()), "settled" if one.kind == "settled" else "motion")

    def _sent(self, sent: Sent) -> None:
        if self._is_held:
            return
        one = ins.wanted(self.state, sent.gauge)
        if one is None:
            self._say(self._told("not_open", gauge=sent.gauge), "ask")
            return
        taken = self.takes.by_button(sent)
        self._keep(one, taken.value, "button", taken.gauge, taken.raw)

    def _found(self, found: Taken | Zeroed | str | None, quality: str) -> None:
        if isinstance(found, Zeroed):
            self._offer_zero(found)
        elif isinstance(found, str):
            self._say(found, "ask")
        elif found is not None:
            if quality == "late":
                self._say(self.phrases.sentence("settled_late"), "info", is_prompt=True)
            self._keep(self.state.open[0], found.value, quality, found.gauge, found.raw)

    def _keep(self, one: ins.Characteristic, value: Quantity, quality: str, gauge: str, raw: str) -> None:
        try:
            records = ins.reading(self.state, one, value, self.clock(), quality=quality, gauge=gauge, raw=raw)
        except BadInputError as error:
            self._say(self._told("not_taken", reason=str(error)), "ask")
            return
        if self._kept(records):
            verdict = records[0].verdict
            self._say(ins.reading_words(self.state, records, self.phrases), "warn" if verdict in ("out", "unsure") else "info")
            self.show("chart", ins.chart(self.state, one, self.phrases))
            if len(self.state.plan.characteristics) > 1:
                self._say(ins.prompt(self.state, self.phrases), "ask", is_prompt=True)

    def _next_part(self) -> None:
        records = ins.next_part(self.state, self.clock())
        if records and self._kept(records):
            self._say(ins.prompt(self.state, self.phrases), "ask")
        elif not records:
            self._say(self._told("part_is_empty", part=self.phrases.say_count(self.state.part)), "ask")

    def _undo(self) -> None:
        records = ins.undo(self.state, self.clock())
        if records and self._kept(records):
            self._say(f"{ins.undo_words(records[0], self.phrases)} {ins.prompt(self.state, self.phrases)}", "ask")
        elif not records:
            self._say(self._told("nothing_to_undo"), "ask")

    def _kept(self, records: Sequence[ins.Record]) -> bool:
        """Whether the spool has them; only then they count."""
        try:
            self.spool.append(records)
        except JournalError as error:
            self._say(str(error), "stop")
            return False
        self.state = ins.evolve(self.state, records)
        for record in records:
            self.show("record", record.json())
        return True

    # ---- what goes out

    def _say(self, text: str, urgency: str, *, is_prompt: bool = False) -> None:
        text = as_sentences(text)
        # A repeat is of what was said about a reading, not of the prompt after it.
        self._last_words = self._last_words if is_prompt else text
        for mouth in self.mouths:
            mouth.say(text, urgency)

    def _tell(self, news: News) -> None:
        text = as_sentences(news.text)
        if news.is_loss:
            self._tone(Tone.LOST)
        for mouth in self.mouths:
            if not news.is_damage or mouth.name == "captions":
                mouth.say(text, "info" if news.is_damage else "warn")

    def _tone(self, tone: Tone) -> None:
        for mouth in self.mouths:
            mouth.tone(tone)

    def _hush(self) -> bool:
        silenced = [mouth.hush() for mouth in self.mouths]
        return any(silenced)
