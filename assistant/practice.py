"""A job on a virtual axle: a learner is the technician, and mistakes come on order.

The job is the real one: the same engine, journal and words. Only the axle is not there; what its instruments show is told instead of seen.
What is typed goes to the assistant as if it were spoken, but for a few words to the bench itself, which begin with an exclamation mark.
"""

import json
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from assistant.bench import Bench
from assistant.core.decide import decide, start
from assistant.core.effects import Effect
from assistant.core.errors import BadInputError
from assistant.core.events import Event, JobStarted
from assistant.core.evolve import begin, evolve
from assistant.core.inputs import Said
from assistant.core.phrases import Phrases
from assistant.core.show import show
from assistant.core.tongues import ENGLISH
from assistant.core.waits import expectation
from assistant.core.words import Choice, Command, Unclear, Understood, Value, understand
from assistant.files import phrases_for
from assistant.headless import answer, input_from
from assistant.technician import PuzzledError, Technician, spoken_forms
from assistant.virtual_axle import CARRIER_LAYOUTS, ETCHES, MISTAKES, PINION_LAYOUTS, PRELOAD_LAYOUTS, Build, Fault, VirtualAxle

Line = Mapping[str, Any]
LAYOUT_WORDS = {"pinion_shims": PINION_LAYOUTS, "preload": PRELOAD_LAYOUTS, "carrier": CARRIER_LAYOUTS, "units": ("in", "mm")}
BENCH_WORDS = ("!look", "!check", "!you")
LONGEST = 900  # inputs of a bench that plays alone; a job with trouble takes some 300
# Commands that ask and change nothing: what was read stays read.
_ASIDES = frozenset({"repeat", "why", "what do you have", "what have you learned", "help", "hold", "resume"})


def build_named(text: str) -> Build:
    """The axle that a list of layout words means ("head-cup,crush-sleeve,mm"); what is left out is as in Build.

    Raises BadInputError for a word that names no layout, or for two of one kind.
    """
    chosen: dict[str, str] = {}
    for word in filter(None, (each.strip() for each in text.split(","))):
        kind = next((kind for kind, words in LAYOUT_WORDS.items() if word in words), None)
        if kind is None:
            raise BadInputError(f"layout {word!r} is not known: expected {'; '.join(' | '.join(words) for words in LAYOUT_WORDS.values())}")
        if kind in chosen:
            raise BadInputError(f"layout {word!r} after {chosen[kind]!r}: one of {' | '.join(LAYOUT_WORDS[kind])} is enough")
        chosen[kind] = word
    return Build(**chosen)  # type: ignore[arg-type]  # all of them are texts


def can_happen(fault: Fault, build: Build) -> bool:
    """Whether the occasion of a mistake comes round on this axle at all."""
    what, _, about = fault.at.partition(":")
    if what == "read" and about in ETCHES:
        return False  # they stand in the job file
    if about == "preload_shims":
        return build.preload == "spacer-shims"
    if about.endswith(("side_shims", "posite_shims")) or about == "carrier_drag":
        return build.carrier != "adjusters"
    if what == "turn":
        return build.carrier == "adjusters"
    return about != "stack_thickness" and (about != "nut" or build.preload == "spacer-shims")


def faults_named(text: str, build: Build, seed: int) -> list[Fault]:
    """The mistakes to come: "none"; "some" (two, by the seed); or a list such as "burr,decimal-slip@read:backlash#2".

    Raises BadInputError for an unknown one, or one that cannot happen on this axle.
    """
    if text.strip() == "none":
        return []
    possible = {
        name: [fault for at in mistake.occasions if can_happen(fault := Fault(name, at), build)] for name, mistake in MISTAKES.items()
    }
    if text.strip() == "some":
        dice = random.Random(f"mistakes {seed} {build}")
        names = dice.sample(sorted(name for name, ways in possible.items() if ways), 2)
        # The second time of what comes round often: the first reading has nothing to be compared with.
        return [
            Fault(name, at, 2 if at in ("read:backlash", "fit:preload_shims") else 1)
            for name in names
            for at in [dice.choice(possible[name]).at]
        ]
    faults = []
    for word in text.split(","):
        try:
            fault = Fault.parse(word)
        except ValueError as error:
            raise BadInputError(f"faults: {error}") from error
        ways = possible[fault.name]
        if "@" not in word and ways:
            fault = Fault(fault.name, ways[0].at, fault.nth)
        if not can_happen(fault, build):
            raise BadInputError(
                f"faults: {fault.name} at {fault.at} cannot happen with {build.pinion_shims}, {build.preload}, {build.carrier}"
            )
        faults.append(fault)
    return faults


@dataclass(frozen=True)
class Happened:
    """How one mistake went. outcome: did it come up, and who saw it; how: by what."""

    name: str
    outcome: Literal["never came up", "noticed", "not noticed"]
    what: str
    how: str
    lesson: str

    def json(self) -> dict[str, str]:
        """For a script."""
        return {"fault": self.name, "outcome": self.outcome, "what": self.what, "how": self.how, "lesson": self.lesson}


@dataclass
class Outcome:
    """How the practice ended."""

    verdict: str
    happened: list[Happened]
    false_alarms: int
    looked_over: int


@dataclass
class Practice:
    """One practice job.

    write: gets each line to show. read: gives the learner's next line, None at the end of the input; without it the bench plays alone.
    """

    bench: Bench
    axle: VirtualAxle
    write: Callable[[str], None]
    read: Callable[[], str | None] | None = None
    hands: Technician = field(init=False)
    looked_over: int = 0

    def __post_init__(self) -> None:
        self.hands = Technician(self.axle, gauges=0.0, variety=0.0, gauge_on_plane=False)
        self._phrases = self.bench.state.phrases
        self._english = _InEnglish(self.bench) if self._phrases.tongue is not ENGLISH else None
        self._fresh = True  # the instrument is to be read for the wait that stands
        self._natural = ""  # what was read for it, as it would be typed

    def run(self, first: Sequence[Effect]) -> Outcome:
        """Play to the end. Raises PuzzledError when the assistant asks for what a virtual axle does not have."""
        batch = [effect.json() for effect in first]
        seen = self._english.first if self._english is not None else batch
        inputs = 0
        while True:
            self._tell(batch)
            self.hands.observe(seen)
            if "end" in batch[-1]:
                return self._outcome(str(batch[-1]["end"]["verdict"]))
            if self.read is None and inputs == LONGEST:
                raise PuzzledError(f"no end after {LONGEST} inputs: {batch}")
            wait = batch[-1]["wait"]
            line = self._bench_line(wait) if self.read is None else self._learner_line(wait)
            inputs += 1
            meant = self._meant(line)
            batch = [effect.json() for effect in answer(self.bench, json.dumps(line))]
            seen = self._english.take(line, meant) if self._english is not None else batch
            is_aside = isinstance(meant, Command) and meant.name in _ASIDES
            self._fresh = not is_aside and not any("error" in each for each in batch)

    def _meant(self, line: Line) -> Understood | None:
        """What the words of a line mean where the job stands; None for a line without words."""
        return understand(str(line["say"]), expectation(self.bench.state)) if "say" in line else None

    def _tell(self, batch: Sequence[Line]) -> None:
        for line in batch:
            if "speak" in line:
                self.write(f"  {line['speak']}")

    def _bench_line(self, wait: Line) -> dict[str, Any]:
        line = self.hands.answer(wait)
        if self._english is not None and "say" in line:
            line = {"say": self._english.said(str(line["say"]), self._phrases)}
        self.write(f"> {line['say']}")
        return line

    # ------------------------------------------------------------------ the learner

    def _learner_line(self, wait: Line) -> dict[str, Any]:
        """The learner's answer to a wait, and what it does to the axle."""
        assert self.read is not None
        natural = self._show_bench(wait)
        while True:
            text = self.read()
            if text is None:
                return {"quit": True}
            text = text.strip()
            if text == "!look" and wait["for"] == "reading":
                natural = self._natural = self._look_again(wait)
            elif text == "!check":
                self._look_over()
            elif text == "!you" and natural:
                return self._said(wait, natural)
            elif text == "!you":
                return self._bench_line(wait)
            elif text.startswith("!"):
                words = "; ".join(f"{word}: {what}" for word, what in bench_words(self._phrases).items())
                self.write(self._phrases.sentence("practice.no_word", text=text, words=words))
            elif not text and not natural:
                self.write(self._phrases.sentence("practice.wants", hint=_hint(str(wait["for"]), self._phrases)))
            else:
                return self._said(wait, text or natural)

    def _show_bench(self, wait: Line) -> str:
        """Tell what is there to be seen; gives what an empty line stands for, "" when nothing does (a caution, a question)."""
        if wait["for"] == "done":
            return self._phrases.command("done")
        quantity = str(wait.get("quantity") or "")
        if wait["for"] == "choice" and quantity.startswith("pattern_"):
            place = self._phrases.choice(self.hands.print_on(quantity))
            self.write(self._phrases.sentence("practice.print", place=place))
            return place
        if wait["for"] == "choice":
            self.write(self._phrases.sentence("practice.one_of", choices=", ".join(map(self._phrases.choice, wait["choices"]))))
        if wait["for"] != "reading":
            return ""
        if self._fresh:
            shown = self.hands.look(wait)
            self._natural = self._phrases.figures(spoken_forms(shown.said)[-1])
            self.write(self._phrases.sentence("practice.read", value=self._phrases.figures(str(shown.said))))
        return self._natural

    def _look_again(self, wait: Line) -> str:
        """The same instrument once more: an own slip is seen."""
        before = next((taken.shown for taken in reversed(self.hands.taken)), None)
        shown = self.hands.look(wait)
        value = self._phrases.figures(str(shown.said))
        if before is not None and before.fault is not None and self.hands.noticed.get(before.fault.name) == "asked again":
            self.hands.noticed[before.fault.name] = "you looked again"
            self.write(self._phrases.sentence("practice.it_is", value=value, reveals=self._phrases.reason(before.fault.mistake.reveals)))
        else:
            self.write(self._phrases.sentence("practice.read_as_before", value=value))
        return self._phrases.figures(spoken_forms(shown.said)[-1])

    def _look_over(self) -> None:
        """Everything is looked at: what was done wrong is found and put right."""
        self.looked_over += 1
        found = [fault for fault in self.axle.active if fault.mistake.kind != "reading"]
        for fault in found:
            self.hands.notice(fault, "you looked it over")
            self.axle.put_right(fault)
            self.write(self._phrases.sentence("practice.find_over", reveals=self._phrases.reason(fault.mistake.reveals)))
        if not found:
            self.write(self._phrases.sentence("practice.find_nothing_over"))

    def _said(self, wait: Line, text: str) -> dict[str, Any]:
        meant = understand(text, expectation(self.bench.state))
        if wait["for"] == "done" and meant == Command("done"):
            self.hands.do()
        elif wait["for"] == "choice" and isinstance(meant, Choice) and "nothing found" in wait["choices"]:
            found = self.hands.act_on_alarm(meant.text)
            if found is not None:
                self.write(self._phrases.sentence("practice.find", reveals=self._phrases.reason(found.mistake.reveals)))
            elif meant.text not in ("nothing found", "measure again"):
                self.write(self._phrases.sentence("practice.find_nothing"))
        elif wait["for"] == "choice":
            self.hands.told(meant.text if isinstance(meant, Choice) else text.lower())
        elif isinstance(meant, Command) and meant.name in ("no", "undo"):
            self.hands.forget()
        return {"say": text}

    # ------------------------------------------------------------------ the end

    def _outcome(self, verdict: str) -> Outcome:
        happened = []
        for fault in self.axle.faults:
            how = self.hands.noticed.get(fault.name, "")
            outcome: Literal["never came up", "noticed", "not noticed"] = "noticed" if how else "not noticed"
            if not fault.happened_as:
                outcome = "never came up"
            happened.append(Happened(fault.name, outcome, fault.happened_as, how, fault.mistake.lesson))
        false_alarms = sum(not alarm.at_work for alarm in self.hands.alarms)
        return Outcome(verdict, happened, false_alarms, self.looked_over)


class _InEnglish:
    """The same job once more, in the language of the interface: a technician's hands know no other. Each input is put into English words."""

    def __init__(self, bench: Bench) -> None:
        spoken = bench.state
        self._phrases = phrases_for()
        events = start(spoken.job, spoken.job_id, spoken.procedure, self._phrases)
        begun = events[0]
        assert isinstance(begun, JobStarted)
        self._state = begin(begun, spoken.procedure, self._phrases)
        self.first = self._shown(events[1:])

    def _shown(self, events: Sequence[Event]) -> list[dict[str, Any]]:
        effects = show(self._state, events)
        for event in events:
            self._state = evolve(self._state, event)
        return [effect.json() for effect in effects]

    def take(self, line: Line, meant: Understood | None) -> list[dict[str, Any]]:
        """The batch of a line that means this. meant: None for a line without words."""
        given = input_from(dict(line)) if meant is None else Said(in_words(meant, self._phrases))
        return self._shown(decide(self._state, given))

    def said(self, english: str, phrases: Phrases) -> str:
        """What is said in English here, in another language."""
        meant = understand(english, expectation(self._state))
        return english if isinstance(meant, Unclear) else in_words(meant, phrases)


def in_words(meant: Understood, phrases: Phrases) -> str:
    """What was understood, as it is said in a language; a word that nobody understands for what was not."""
    tongue = phrases.tongue
    match meant:
        case Value(quantity=quantity):
            return phrases.say(quantity)
        case Choice(text=text):
            return phrases.choice(text)
        case Command(name="correct", argument=str(quantity)):
            return f"{phrases.command('correct')} {tongue.quantity_names[quantity][0]}"
        case Command(name="go back", argument=str(step)):
            return f"{ENGLISH.go_back_to} {step}"  # by its id, which every language takes
        case Command(name=name):
            return phrases.command(name)
    return "?"


def bench_words(phrases: Phrases) -> dict[str, str]:
    """What may be said to the bench itself, each with what it does."""
    return {word: phrases.sentence(f"practice.{word[1:]}") for word in BENCH_WORDS}


def _hint(kind: str, phrases: Phrases) -> str:
    """What a wait wants, in a word or two."""
    if kind == "confirm":
        return f"{phrases.command('yes')} {phrases.sentence('list.or')} {phrases.command('no')}"
    return (
        phrases.sentence(f"practice.hint_{kind}")
        if kind in ("choice", "reading")
        else phrases.command({"caution": "understood"}.get(kind, kind))
    )


def told(outcome: Outcome, phrases: Phrases) -> list[str]:
    """What to say to the learner at the end."""
    lines = [phrases.sentence("practice.ended", verdict=phrases.choice(outcome.verdict))]
    for each in outcome.happened:
        what, how, lesson = _what(each, phrases), phrases.reason(each.how), phrases.reason(each.lesson)
        if each.outcome == "never came up":
            lines.append(phrases.sentence("practice.never", name=each.name))
        elif each.outcome == "noticed":
            lines.append(phrases.sentence("practice.noticed", name=each.name, what=what, how=how, lesson=lesson))
        else:
            lines.append(phrases.sentence("practice.unnoticed", name=each.name, what=what, lesson=lesson))
    if not outcome.happened:
        lines.append(phrases.sentence("practice.no_mistake"))
    if outcome.looked_over:
        key = "practice.looked_often" if outcome.looked_over > 1 else "practice.looked_once"
        lines.append(phrases.sentence(key, times=str(outcome.looked_over)))
    if outcome.false_alarms:
        lines.append(phrases.sentence("practice.false_alarms", count=str(outcome.false_alarms)))
    return lines


def _what(happened: Happened, phrases: Phrases) -> str:
    """How a mistake came about; where the axle tells only what a second look shows, that, with its occasion in brackets."""
    reveals, bracket, occasion = happened.what.partition(" (")
    told_as = phrases.reason(happened.what)
    return told_as if told_as != happened.what or not bracket else f"{phrases.reason(reveals)} ({occasion}"
