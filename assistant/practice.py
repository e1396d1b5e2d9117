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
from assistant.core.effects import Effect
from assistant.core.errors import BadInputError
from assistant.headless import answer
from assistant.technician import PuzzledError, Technician, spoken_forms
from assistant.virtual_axle import CARRIER_LAYOUTS, ETCHES, MISTAKES, PINION_LAYOUTS, PRELOAD_LAYOUTS, Build, Fault, VirtualAxle

Line = Mapping[str, Any]
LAYOUT_WORDS = {"pinion_shims": PINION_LAYOUTS, "preload": PRELOAD_LAYOUTS, "carrier": CARRIER_LAYOUTS, "units": ("in", "mm")}
BENCH_WORDS = {
    "!look": "look at the instrument once more",
    "!check": "look the whole assembly over",
    "!you": "let the bench answer this one",
}
_HINTS = {"caution": "understood", "confirm": "yes or no", "choice": "one of those named", "reading": "a value", "done": "done"}
LONGEST = 900  # inputs of a bench that plays alone; a job with trouble takes some 300
# Words that ask and change nothing: what was read stays read.
_ASIDES = frozenset({"repeat", "say again", "why", "what do you have", "help", "hold", "resume", "mute", ""})


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
        self._fresh = True  # the instrument is to be read for the wait that stands
        self._natural = ""  # what was read for it, as it would be typed

    def run(self, first: Sequence[Effect]) -> Outcome:
        """Play to the end. Raises PuzzledError when the assistant asks for what a virtual axle does not have."""
        batch = [effect.json() for effect in first]
        inputs = 0
        while True:
            self._tell(batch)
            self.hands.observe(batch)
            if "end" in batch[-1]:
                return self._outcome(str(batch[-1]["end"]["verdict"]))
            if self.read is None and inputs == LONGEST:
                raise PuzzledError(f"no end after {LONGEST} inputs: {batch}")
            wait = batch[-1]["wait"]
            line = self._bench_line(wait) if self.read is None else self._learner_line(wait)
            inputs += 1
            batch = [effect.json() for effect in answer(self.bench, json.dumps(line))]
            self._fresh = str(line.get("say", "")).lower() not in _ASIDES and not any("error" in each for each in batch)

    def _tell(self, batch: Sequence[Line]) -> None:
        for line in batch:
            if "speak" in line:
                self.write(f"  {line['speak']}")

    def _bench_line(self, wait: Line) -> dict[str, Any]:
        line = self.hands.answer(wait)
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
                self.write(f"[bench] {text} is no word of the bench: {'; '.join(f'{word}: {what}' for word, what in BENCH_WORDS.items())}")
            elif not text and not natural:
                self.write(f"[bench] This wants a word of yours: {_HINTS[wait['for']]}.")
            else:
                return self._said(wait, text or natural)

    def _show_bench(self, wait: Line) -> str:
        """Tell what is there to be seen; gives what an empty line stands for, "" when nothing does (a caution, a question)."""
        if wait["for"] == "done":
            return "done"
        quantity = str(wait.get("quantity") or "")
        if wait["for"] == "choice" and quantity.startswith("pattern_"):
            self.write(f"[bench] The print lies: {self.hands.print_on(quantity)}.")
            return self.hands.print_on(quantity)
        if wait["for"] == "choice":
            self.write(f"[bench] One of: {', '.join(map(str, wait['choices']))}.")
        if wait["for"] != "reading":
            return ""
        if self._fresh:
            shown = self.hands.look(wait)
            self._natural = spoken_forms(shown.said)[-1]
            self.write(f"[bench] You read {shown.said}.")
        return self._natural

    def _look_again(self, wait: Line) -> str:
        """The same instrument once more: an own slip is seen."""
        before = next((taken.shown for taken in reversed(self.hands.taken)), None)
        shown = self.hands.look(wait)
        if before is not None and before.fault is not None and self.hands.noticed.get(before.fault.name) == "asked again":
            self.hands.noticed[before.fault.name] = "you looked again"
            self.write(f"[bench] It is {shown.said}: {before.fault.mistake.reveals}.")
        else:
            self.write(f"[bench] You read {shown.said}, as before.")
        return spoken_forms(shown.said)[-1]

    def _look_over(self) -> None:
        """Everything is looked at: what was done wrong is found and put right."""
        self.looked_over += 1
        found = [fault for fault in self.axle.active if fault.mistake.kind != "reading"]
        for fault in found:
            self.hands.notice(fault, "you looked it over")
            self.axle.put_right(fault)
            self.write(f"[bench] You find: {fault.mistake.reveals}. Put right. Take anew what you measured since.")
        if not found:
            self.write("[bench] You look everything over. All of it is as it should be.")

    def _said(self, wait: Line, text: str) -> dict[str, Any]:
        if wait["for"] == "done" and text.lower() in ("done", "next", "ready"):
            self.hands.do()
        elif wait["for"] == "choice" and "nothing found" in wait["choices"] and text.lower() in wait["choices"]:
            found = self.hands.act_on_alarm(text.lower())
            if found is not None:
                self.write(f"[bench] You find: {found.mistake.reveals}.")
            elif text.lower() not in ("nothing found", "measure again"):
                self.write("[bench] You look, and find nothing of the kind.")
        elif wait["for"] == "choice":
            self.hands.told(text.lower())
        elif text.lower() in ("no", "undo", "wrong"):
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


def told(outcome: Outcome) -> list[str]:
    """What to say to the learner at the end."""
    lines = [f"The practice ended: {outcome.verdict}. It is not kept."]
    for each in outcome.happened:
        if each.outcome == "never came up":
            lines.append(f"{each.name}: it never came up.")
        elif each.outcome == "noticed":
            lines.append(f"{each.name}: {each.what}. Noticed: {each.how}. The sign of it: {each.lesson}.")
        else:
            lines.append(f"{each.name}: {each.what}. Nobody noticed. What gives it away: {each.lesson}.")
    if not outcome.happened:
        lines.append("No mistake was built in.")
    if outcome.looked_over:
        lines.append(
            f"You looked everything over {outcome.looked_over} time{'s' if outcome.looked_over > 1 else ''}; each is an hour on a real bench."
        )
    if outcome.false_alarms:
        lines.append(f"Alarms with nothing behind them: {outcome.false_alarms}.")
    return lines
