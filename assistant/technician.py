"""A technician with a virtual axle: reads the assistant's lines, does what they say, and answers each wait.

Known here are the public contract of lines and the axle; nothing of the engine that writes them. What is in no field of a line (is the
seal meant to be in, is the depth taken from the parting plane) is taken from the words that are spoken, as a technician would.
"""

import random
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from assistant.core.quantities import Quantity, unit_named
from assistant.virtual_axle import CHANNELS, ETCHES, INSTRUMENTS, Fault, Shown, VirtualAxle

Line = Mapping[str, Any]
# fmt: off
_ONES = [
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
]
# fmt: on
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_UNIT_WORDS = {
    "in": "inches",
    "mm": "millimetres",
    "lb-in": "inch pounds",
    "lb-ft": "foot pounds",
    "N·m": "newton metres",
    "notch": "notches",
}


_TOLD_TO_FEEL = re.compile(r"say: (go back to [A-Za-z, ]+)\.")


class PuzzledError(Exception):
    """The assistant asks for something that this technician has no means to answer."""


@dataclass
class Taken:
    """One answer to a reading wait: what it was for, what the instrument showed, what was said; and how it went on."""

    quantity: str
    spot: int | None
    part: str | None
    shown: Shown
    spoken: bool
    predicted: tuple[float, float] | None = None
    recorded_as: str | None = None
    asked_again: bool = False
    from_plane: bool = False


@dataclass
class AlarmAnswered:
    """An alarm and what was at work when it came; `chosen` is the answer that was given."""

    id: str
    text: str
    likely: list[str]
    at_work: list[str]
    chosen: str = ""
    found: str | None = None


def count_words(number: int) -> str:
    """0 to 999 as it is said: 18 "eighteen", 180 "one hundred eighty"."""
    if number < 20:
        return _ONES[number]
    if number < 100:
        return _TENS[number // 10 - 2] + ("" if number % 10 == 0 else f" {_ONES[number % 10]}")
    rest = number % 100
    return f"{_ONES[number // 100]} hundred" + ("" if rest == 0 else f" {count_words(rest)}")


def digit_words(text: str) -> str:
    """Figure by figure: "0.65" "zero point six five"."""
    return " ".join("point" if figure == "." else _ONES[int(figure)] for figure in text)


def spoken_forms(quantity: Quantity) -> list[str]:
    """Ways to say one reading, the plainest first: figures in words, with the unit, in thou where the trade does, typed."""
    text, unit = quantity.text, quantity.unit
    if unit in ("0.001 in", "0.01 mm", "0.001 mm"):
        size = int(quantity.value)
        sign = "plus" if size > 0 else "minus" if size < 0 else ""
        return [f"{sign} {count_words(abs(size))}".strip(), f"{size:+d}" if size else "0"]
    if unit in ("in", "mm"):
        figures = text.removeprefix("0") if unit == "in" else text
        forms = [digit_words(figures), f"{digit_words(figures)} {_UNIT_WORDS[unit]}", text, f"{text} {unit}"]
        thou = quantity.value * 1000
        if unit == "in" and thou < 100 and thou * 10 == int(thou * 10):
            thousandths, tenth = divmod(int(thou * 10), 10)
            forms.insert(1, f"{count_words(thousandths)} point {_ONES[tenth]} thou")
        return forms
    words = _UNIT_WORDS.get(unit, "")
    if "." in text:
        whole, _, rest = text.partition(".")
        spoken = f"{count_words(int(whole))} point {digit_words(rest)}"
        return [f"{spoken} {words}".strip(), spoken, text, f"{text} {unit}"]
    forms = [f"{digit_words(text.rjust(2, '0') if unit == 'lb-in' else text)} {words}".strip(), f"{count_words(int(text))} {words}".strip()]
    return [*forms, text, f"{text} {unit}"]


@dataclass
class Technician:
    """Plays the bench: `observe` each batch of lines, then `answer` its wait.

    gauges: the share of readings that are sent by the gauge itself; the rest is said. variety: how often another form of speech than the
    plainest is used. gauge_on_plane: this shop's depth gauge is set on the parting plane, not on the bores; None: by the axle's seed.
    """

    axle: VirtualAxle
    gauges: float = 0.25
    variety: float = 0.5
    gauge_on_plane: bool | None = None
    taken: list[Taken] = field(default_factory=list)
    alarms: list[AlarmAnswered] = field(default_factory=list)
    noticed: dict[str, str] = field(default_factory=dict)  # fault name → how it was noticed
    done_log: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._dice = random.Random(f"technician {self.axle.seed}")
        self._step: Line = {"id": "", "phase": "", "kind": "", "title": ""}
        self._step_acted = False
        self._words = ""
        self._moves: dict[str, Line] = {}
        self._alarm: AlarmAnswered | None = None
        self._causes: list[tuple[str, str]] = []
        self._measured_again: set[str] = set()
        self._said: object = None
        self._last_key: tuple[object, ...] | None = None
        self._asked_to_go_back = False
        # Where this shop's depth gauge is set: on the parting plane, or on the bores. Told when asked; else the words decide.
        self._gauge_on_plane = self._dice.random() < 0.5 if self.gauge_on_plane is None else self.gauge_on_plane
        self._told_where = False
        self._said_limit = False
        self._not_understood = 0  # how often in a row an answer was an error

    # ------------------------------------------------------------------ ears

    def observe(self, batch: Sequence[Line]) -> None:
        """Take in what the assistant printed. Raises nothing: what cannot be understood is puzzled over when it must be answered."""
        if any("move" in line for line in batch):
            self._moves = {}
        words: list[str] = []
        self._not_understood = self._not_understood + 1 if any("error" in line for line in batch) else 0
        for line in batch:
            if "step" in line:
                if line["step"]["id"] != self._step["id"]:
                    self._step_acted = False
                self._step = line["step"]
            elif "speak" in line:
                words.append(str(line["speak"]))
            elif "move" in line:
                self._moves[line["move"]["part"]] = line["move"]
            elif "alarm" in line:
                alarm = line["alarm"]
                self._causes = [(str(each["cause"]), f"{each['cause']} {each['check']}") for each in alarm["likely"]]
                at_work = [fault.name for fault in self.axle.active]
                self._alarm = AlarmAnswered(str(alarm["id"]), str(alarm["text"]), [cause for cause, _ in self._causes], at_work)
                self.alarms.append(self._alarm)
            elif "recorded" in line and not line["recorded"].get("replayed"):
                self._note_recorded(line["recorded"])
        if words:
            self._words = " ".join(words)

    def _note_recorded(self, recorded: Line) -> None:
        for taken in reversed(self.taken):
            if taken.quantity == recorded["quantity"] and taken.recorded_as is None:
                taken.recorded_as = str(recorded["id"])
                if taken.shown.fault is not None and taken.shown.fault.mistake.kind == "reading" and recorded.get("replaces") is None:
                    taken.shown.fault.happened_as += "; it was recorded"
                return

    def forget(self) -> None:
        """What was said last was not meant, or is taken back: a read-back of it is not agreed to, a move that came of it is not made."""
        self._said = None
        self._moves = {}
        self._last_key = None

    # ------------------------------------------------------------------ mouth and hands

    def answer(self, wait: Line) -> dict[str, Any]:
        """The next input line for this wait. Raises PuzzledError."""
        kind = wait["for"]
        if kind == "caution":
            return {"say": "understood"}
        if kind == "done":
            wrong = self.wrong_pack()
            if wrong is not None:
                return {"say": self._go_back(wrong)}
            self.do()
            return {"say": "done"}
        if kind == "reading":
            return self._reading(wait)
        if kind == "confirm":
            return {"say": "yes" if self._agrees(wait) else "no"}
        if kind == "choice":
            return {"say": self._choice(wait)}
        raise PuzzledError(f"a wait for {kind!r}")

    def do(self) -> None:
        """Make the moves that were told, then what the step itself is."""
        self._last_key = None
        if self._moves:
            self._make_moves()
            if "Count both from their marks" in self._words:
                self._look_around("counted")
        self._act()

    def wrong_pack(self) -> Fault | None:
        """The mistake in a pack that comes out for the change that was told, if one was told to look at it as it comes out."""
        told = _TOLD_TO_FEEL.search(self._words)
        seen = ("burr", "shim-left-out", "shim-doubled")
        return next((f for f in self.axle.active if told and f.name in seen and f.at.removeprefix("fit:") in self._moves), None)

    def _go_back(self, fault: Fault) -> str:
        """What is said instead of making the change: the same pack goes in once more, as it should be."""
        told = _TOLD_TO_FEEL.search(self._words)
        assert told is not None
        self.notice(fault, "as it came out")
        self.axle.put_right(fault)
        self._moves, self._asked_to_go_back = {}, True
        return told.group(1)

    def _make_moves(self) -> None:
        moves, self._moves = self._moves, {}
        packs: dict[str, list[Quantity]] = {}
        # Loosen first, then tighten: the teeth must not be driven together.
        for part, move in sorted(moves.items(), key=lambda item: Decimal(item[1]["change"]["value"])):
            self.done_log.append(f"{part}: {move['from']['value']} → {move['to']['value']} {move['to']['unit']}")
            if part == "crush_sleeve":
                self.axle.new_sleeve()
            elif part in ("crush_nut", "ring_side_adjuster", "opposite_adjuster"):
                self.axle.turn(part, float(Decimal(move["change"]["value"])))
            elif move.get("stack"):
                packs[part] = [Quantity.of(each["value"], each["unit"]) for each in move["stack"]]
            else:
                raise PuzzledError(f"a move of {part} without the stack to fit")
        if packs:
            try:
                self.axle.fit(packs)
            except ValueError as error:
                raise PuzzledError(str(error)) from error

    def _act(self) -> None:
        """What a step does to the axle, told by its kind, its title and its phase."""
        if self._step_acted:
            return
        self._step_acted = True
        title, kind, phase = str(self._step["title"]).lower(), self._step["kind"], self._step["phase"]
        about_seal = "seal" in title and not re.search(
            r"seal(ant|ing|er| ring)|o-ring|without|leave|left out|no seal|take out|remove", title
        )
        if about_seal and phase == "final":
            self.axle.fit_seal()
        if kind == "press" and not about_seal:
            self.axle.press()
        if kind == "torque":
            cage = re.search(r"\bcap|cartridge|cage|ring gear|bolt", title)
            if "nut" in title or (phase in ("pinion_preload", "pinion_depth") and not cage):
                self.axle.tighten("nut")
            # "Locks and last torque" is the caps too: their bolts are what the locks lie under.
            if re.search(r"\bcaps?\b|last torque", title) or (phase in ("carrier", "backlash") and not re.search("nut|ring gear", title)):
                self.axle.tighten("caps")
        if (
            kind == "do"
            and re.search(r"strip|take .*apart|disassembl|tear ?down|remove the (case|pinion)", title)
            and phase in ("baseline", "inspect")
        ):
            self.axle.strip()

    # ------------------------------------------------------------------ readings

    def _reading(self, wait: Line) -> dict[str, Any]:
        shown = self.look(wait)
        quantity = str(wait["quantity"])
        if quantity in CHANNELS and shown.fault is None and not self._said_limit and self._dice.random() < self.gauges:
            self.taken[-1].spoken = False
            return {"gauge": {"channel": CHANNELS[quantity], "value": shown.said.text, "unit": shown.said.unit}}
        forms = spoken_forms(shown.said)
        if self._not_understood:  # the next form each time, and in the end the plainest again
            return {"say": forms[self._not_understood % len(forms)]}
        return {"say": self._dice.choice(forms) if self._dice.random() < self.variety else forms[0]}

    def look(self, wait: Line) -> Shown:
        """Read the instrument for a reading wait, or the manual for a limit that is asked for. Raises PuzzledError.

        Asked for the same once more with nothing done in between, one looks again, and an own slip is seen.
        """
        quantity, unit = str(wait["quantity"]), str(wait["unit"])
        spot, part = wait.get("spot") or {}, wait.get("part")
        index = int(spot["index"]) if spot else None
        if quantity in ("nut_torque", "cap_torque") and self._step["kind"] == "torque":
            self._act()
        elif quantity == "cap_torque" and self.axle.state.caps != "torqued":
            self.axle.tighten("caps")  # one reads a click wrench by pulling it
        limit = self._limit_asked(quantity)
        self._said_limit = limit is not None
        if limit is not None:
            self._said = limit
            return Shown(limit, limit)
        key = (quantity, index, part)
        again = key == self._last_key
        self._last_key = key
        from_plane = quantity == "pinion_depth" and (
            self._gauge_on_plane if self._told_where else re.search(r"\bplane\b|parting", self._words) is not None
        )
        if again:
            self._look_around()
            if "set it up anew" in self._words:
                self.axle.set_up_anew()
        shown = self._shown(quantity, unit, spot, part, again, from_plane)
        predicted = wait.get("predicted")
        self.taken.append(
            Taken(
                quantity, index, part, shown, spoken=True, asked_again=again, from_plane=from_plane,
                predicted=(float(predicted["value"]), float(predicted["spread"])) if predicted else None,
            )
        )  # fmt: skip
        if again:
            self._see_own_slip(quantity)
        self._said = shown.said
        return shown

    def _shown(self, quantity: str, unit: str, spot: Line, part: str | None, again: bool, from_plane: bool) -> Shown:
        seal_was = self.axle.state.seal
        if quantity == "pinion_drag" and re.search(r"seal (is )?out|without (the|a) seal|no seal|seal left out", self._words.lower()):
            self.axle.state.seal = False
        try:
            if quantity not in ETCHES and unit_named(unit).symbol not in INSTRUMENTS.get(quantity, {}):
                raise PuzzledError(f"no instrument shows {quantity} in {unit}")
            return self.axle.read(
                quantity, unit, degrees=float(spot.get("degrees", 0) or 0), part=part, index=int(spot.get("index", 0) or 0),
                from_plane=from_plane, again=again,
            )  # fmt: skip
        except KeyError as error:
            raise PuzzledError(f"{quantity} of {part}: there is no such pack") from error
        finally:
            self.axle.state.seal = seal_was

    def _look_around(self, how: str = "asked again") -> None:
        """Asked for the same once more, or told to count, one looks first at what was named, and puts right what is found."""
        found = self.axle.named_by(self._words)
        if found is not None and found.mistake.kind != "reading":
            self.notice(found, how)
            self.axle.put_right(found)

    def _see_own_slip(self, quantity: str) -> None:
        """Asked again, one looks again: a slip in the first answer is seen."""
        for taken in reversed(self.taken[:-1]):
            if taken.quantity == quantity:
                if taken.shown.fault is not None and taken.shown.fault.state == "active":
                    self.notice(taken.shown.fault, "asked again")
                    self.axle.settle(taken.shown)
                return

    def notice(self, fault: Fault, how: str) -> None:
        """Keep how a mistake was noticed; the first time counts."""
        self.noticed.setdefault(fault.name, how)

    def _limit_asked(self, quantity: str) -> Quantity | None:
        """The manual's figure, when it is that and not a reading that is asked for (intake, a spec that the job file lacks)."""
        if self._step["phase"] != "intake" or quantity in ETCHES or quantity not in self.axle.spec:
            return None
        row, words = self.axle.spec[quantity], self._words.lower()
        for key, pattern in (
            ("variation", "variation"), ("tolerance", "tolerance|plus or minus"), ("target", "target|nominal|distance"),
            ("low", r"\blow|least|minimum|\bfrom\b"), ("high", r"high|most|maximum|upper|limit"), ("value", "."),
        ):  # fmt: skip
            if key in row and re.search(pattern, words):
                return Quantity.of(str(row[key]), str(row["unit"]))
        raise PuzzledError(f"which figure of {quantity} is asked for: {self._words!r}")

    # ------------------------------------------------------------------ questions

    def _agrees(self, wait: Line) -> bool:
        value = wait.get("value")
        if value is None:
            asked = self._words.lower()
            if re.search(r"stop the job|go back|undo|start again", asked):
                agreed, self._asked_to_go_back = self._asked_to_go_back, False
                return agreed
            return True
        if isinstance(value, Mapping):
            heard = Quantity.of(str(value["value"]), str(value["unit"]))
            return isinstance(self._said, Quantity) and heard == self._said
        return bool(value == self._said)

    def _choice(self, wait: Line) -> str:
        choices = [str(each) for each in wait["choices"]]
        quantity = str(wait.get("quantity") or "")
        if quantity.startswith("pattern_"):
            self._said = self.print_on(quantity)
            return str(self._said)
        if self._alarm is not None and "nothing found" in choices:
            self._said = self._answer_alarm(self._alarm)
            return str(self._said)
        self._said = self._sensible(choices)
        return str(self._said)

    def print_on(self, quantity: str) -> str:
        """What the compound shows, for `pattern_drive` or `pattern_coast`."""
        return self.axle.pattern("drive" if quantity.endswith("drive") else "coast")

    def _answer_alarm(self, alarm: AlarmAnswered) -> str:
        """Make the checks in their order; name what is found."""
        for cause, text in self._causes:
            if self.axle.named_by(text) is not None:
                self.act_on_alarm(cause)
                return cause
        # A slip that no cause names shows itself when the reading is taken anew.
        slip = any(fault.mistake.kind == "reading" for fault in self.axle.active)
        chosen = "measure again" if slip or alarm.id not in self._measured_again else "nothing found"
        self._measured_again.add(alarm.id)
        self.act_on_alarm(chosen)
        return chosen

    def act_on_alarm(self, chosen: str) -> Fault | None:
        """Do what an answer to the open alarm means: a cause is looked for and put right, a reading taken anew. Gives the mistake found."""
        self._last_key = None
        text = next((text for cause, text in self._causes if cause == chosen), "")
        found = self.axle.named_by(text) if text else None
        if found is None and chosen == "measure again":
            found = next((fault for fault in self.axle.active if fault.mistake.kind == "reading"), None)
        if found is not None:
            self.notice(found, "an alarm" if text else "measured again after an alarm")
            self.axle.put_right(found)
        if self._alarm is not None:
            self._alarm.chosen, self._alarm.found = chosen, found.name if found is not None else None
        return found

    def told(self, answer: str) -> None:
        """Keep to an answer that was given: a gauge that was said to stand on the plane stands there."""
        if re.search(r"from the (plane|bores)", answer):
            self._gauge_on_plane, self._told_where = "plane" in answer, True

    def _sensible(self, choices: Sequence[str]) -> str:
        """An answer to a question about the axle that has no field of its own."""
        build = self.axle.build
        for choice in choices:
            if re.search(r"\bplane\b", choice) and len(choices) == 2:
                answer = choice if self._gauge_on_plane else next(other for other in choices if other != choice)
                self.told(answer)
                return answer
        facts = (build.pinion_shims, build.preload, build.carrier, build.ring_gear_side, build.teeth, build.etch_sign, build.units)
        for fact in facts:
            if fact in choices:
                return fact
        mark_unit = "thousandths of an inch" if build.units == "in" else "hundredths of a millimetre"
        if mark_unit in choices:
            return mark_unit
        for wanted in ("accept", "good", "keep", "yes", "go on", "continue", "new", "none"):
            for choice in choices:
                if wanted in choice.lower():
                    return choice
        return choices[0]
