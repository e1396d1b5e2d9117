"""Plays a whole job against the headless contract and holds every line to it.

This is a second reading of the public interface (docs/machine.md), kept apart from the engine's own: it imports the virtual axle and its
technician, and nothing of the engine. `play` answers every wait as a technician with that axle would, and writes each broken promise
into `Record.problems`; what makes going on senseless raises `ContractBrokenError`.
"""

import random
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from assistant.core.quantities import UNITS, Quantity
from assistant.technician import AlarmAnswered, PuzzledError, Taken, Technician, spoken_forms
from assistant.virtual_axle import INSTRUMENTS, KIT_OF, KITS, VirtualAxle

Line = dict[str, Any]
Send = Callable[[Line], list[Line]]

OUT_KINDS = ("step", "speak", "caution", "recorded", "move", "alarm", "wait", "end", "error")
PHASES = ("intake", "baseline", "inspect", "pinion_preload", "pinion_depth", "carrier", "backlash", "pattern", "final")
STEP_KINDS = ("do", "measure", "torque", "press", "decide")
URGENCIES = ("info", "ask", "warn", "stop")
BEFORE = ("torque", "press", "heat", "lift", "spring", "chemical")
WAITS = ("reading", "confirm", "done", "choice", "caution")
QUANTITIES = (
    "etch_old", "etch_new", "pinion_drag", "seal_drag", "pinion_depth", "bore_diameter", "plane_to_bore", "shim_thickness", "stack_thickness",
    "old_stack_thickness", "ring_runout", "backlash", "carrier_drag", "total_drag", "spread", "nut_torque", "cap_torque",
    "baseline_backlash", "baseline_total_drag", "pattern_drive", "pattern_coast",
)  # fmt: skip
PATTERNS = frozenset(f"{end} {edge}" for end in ("toe", "centre", "heel") for edge in ("root", "middle", "tip")) | {"unclear"}
SHIM_PARTS = ("pinion_shims", "preload_shims", "ring_side_shims", "opposite_shims")
UNIT_OF_PART = {"crush_nut": "deg", "crush_sleeve": "1", "ring_side_adjuster": "notch", "opposite_adjuster": "notch"}
# What else a reading loses its ground by (docs/trade.md, the void map; from the manuals' rule that whatever is moved is measured anew).
VOIDED_BY = {
    "pinion_shims": ("pinion_depth", "backlash", "total_drag", "pattern_drive", "pattern_coast"),
    "preload_shims": ("pinion_drag", "pinion_depth", "total_drag", "pattern_drive", "pattern_coast"),
    "crush_nut": ("pinion_drag", "total_drag", "backlash", "pattern_drive", "pattern_coast"),
    "crush_sleeve": ("pinion_drag", "total_drag", "backlash", "pattern_drive", "pattern_coast"),
    "ring_side_adjuster": ("backlash", "carrier_drag", "spread", "total_drag", "pattern_drive", "pattern_coast"),
    "opposite_adjuster": ("backlash", "carrier_drag", "spread", "total_drag", "pattern_drive", "pattern_coast"),
    "ring_side_shims": ("backlash", "carrier_drag", "spread", "total_drag", "pattern_drive", "pattern_coast"),
    "opposite_shims": ("backlash", "carrier_drag", "spread", "total_drag", "pattern_drive", "pattern_coast"),
}
AFTER_A_FINAL_TORQUE = ("backlash", "total_drag")
_DECIMAL = re.compile(r"-?\d+(\.\d+)?")


class ContractBrokenError(AssertionError):
    """The lines cannot be followed any further."""


@dataclass
class Kept:
    """One `recorded` line, and whether it still counts."""

    id: str
    quantity: str
    value: str
    unit: str | None
    spot: int | None
    of: int | None
    void: str = ""

    @property
    def size(self) -> Quantity:
        """As a quantity. Only for measured ones."""
        assert self.unit is not None
        return Quantity.of(self.value, self.unit)


@dataclass
class Record:
    """All that happened in one job."""

    axle: VirtualAxle
    inputs: list[Line] = field(default_factory=list)
    batches: list[list[Line]] = field(default_factory=list)
    steps: list[Line] = field(default_factory=list)
    moves: list[Line] = field(default_factory=list)
    open_moves: list[Line] = field(default_factory=list)  # told, not yet made
    kept: list[Kept] = field(default_factory=list)
    taken: list[Taken] = field(default_factory=list)
    alarms: list[AlarmAnswered] = field(default_factory=list)
    noticed: dict[str, str] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    end: Line | None = None

    @property
    def verdict(self) -> str:
        """The engine's verdict, "" when it never came."""
        return "" if self.end is None else str(self.end["verdict"])

    @property
    def lines(self) -> Iterator[Line]:
        """Every line the engine printed, in order."""
        return (line for batch in self.batches for line in batch)

    @property
    def false_alarms(self) -> list[AlarmAnswered]:
        """Alarms raised while no mistake was at work."""
        return [alarm for alarm in self.alarms if not alarm.at_work]

    @property
    def surprises(self) -> list[tuple[str, float, bool]]:
        """For each predicted reading: quantity, how many predicted spreads it lay off, and whether a mistake was in it."""
        found = []
        for taken in self.taken:
            if taken.predicted is not None and taken.predicted[1] > 0:
                off = (float(taken.shown.said.value) - taken.predicted[0]) / taken.predicted[1]
                found.append((taken.quantity, off, taken.shown.fault is not None))
        return found


def job_toml(axle: VirtualAxle) -> str:
    """The job file of an axle, with specs that a proper build reaches with the given kit."""
    return axle.job_toml()


def play(
    send: Send, first_batch: list[Line], axle: VirtualAxle, *, max_inputs: int = 600, restless: float = 0.0, gauges: float = 0.25,
    variety: float = 0.5, technician: Technician | None = None, power_cut: Callable[[], list[Line]] | None = None, cuts: float = 0.05,
) -> Record:  # fmt: skip
    """Play the job to its end.

    send: gives one input line to the engine and returns the batch it printed. first_batch: what it printed before any input.
    restless: the share of waits at which something else is said first (repeat, why, help, a wrong value taken back, undo).
    power_cut, cuts: takes the job up again from its journal, and after which share of the inputs that is done.
    gauges, variety: as for Technician. max_inputs: more than this is a job that does not end: a problem.
    Raises ContractBrokenError where no answer is possible.
    """
    hands = technician or Technician(axle, gauges=gauges, variety=variety)
    record = Record(axle)
    rules = Rules(axle, record, hands)
    dice = random.Random(f"restless {axle.seed}")
    batch = first_batch
    rules.take(batch, None)
    try:
        while record.end is None and len(record.inputs) < max_inputs:
            hands.observe(batch)
            wait = batch[-1]["wait"]
            aside = _aside(wait, dice, rules, hands) if dice.random() < restless else None
            if aside is None:
                line = hands.answer(wait)
                if line == {"say": "done"} or "pedal" in line:
                    rules.acts(wait)
            else:
                line = aside
            line = {**line, "at": 5.0 * len(record.inputs)}
            record.inputs.append(line)
            batch = send(line)
            rules.take(batch, line)
            if power_cut is not None and record.end is None and dice.random() < cuts:
                where = f"resumed after input {len(record.inputs)}"
                record.problems += [f"{where}: {problem}" for problem in resumed(power_cut(), record)]
    except PuzzledError as error:
        known = "; ".join(["", *record.problems])
        raise ContractBrokenError(f"after {len(record.inputs)} inputs: {error}; last batch: {record.batches[-1]}{known}") from error
    finally:
        record.taken, record.alarms, record.noticed = hands.taken, hands.alarms, hands.noticed
    if record.end is None:
        record.problems.append(f"no end after {max_inputs} inputs; last wait {batch[-1]}")
    else:
        rules.judge()
    return record


def _aside(wait: Line, dice: random.Random, rules: "Rules", hands: Technician) -> Line | None:
    """Something else than the answer: a word that leaves the wait as it is, a wrong value to be taken back, or the last reading undone."""
    if rules.just_recorded is not None and dice.random() < 0.3:
        # "no" as the very next input after a gauge's reading takes it back; "undo" voids the last recorded reading anywhere.
        word = "no" if "gauge" in rules.record.inputs[-1] and wait["for"] not in ("confirm", "choice") else "undo"
        rules.just_recorded.void = f"taken back by {word}"
        rules.went_back = True
        hands.forget()
        return {"say": word}
    if wait["for"] == "confirm":
        return {"say": "repeat"}
    if wait["for"] == "caution" and dice.random() < 0.6:
        rules.expect_the_same_wait = True
        return dice.choice([{"pedal": "press"}, {"say": "yes"}, {"say": "done"}])  # nothing but "understood" accepts one
    if wait["for"] == "reading" and wait["quantity"] in INSTRUMENTS and dice.random() < 0.5:
        hands.forget()
        return {"say": spoken_forms(_another_value(wait, hands.axle, dice))[0]}  # a slip of the tongue: its read-back gets a "no"
    rules.expect_the_same_wait = True
    return {"say": dice.choice(["repeat", "why", "what do you have", "help"])}


def _another_value(wait: Line, axle: VirtualAxle, dice: random.Random) -> Quantity:
    """A legal value near the true one, but not it."""
    unit, spot = wait["unit"], wait.get("spot") or {}
    step = Decimal(INSTRUMENTS[wait["quantity"]][unit][0])
    true = axle.size(wait["quantity"], degrees=spot.get("degrees", 0), part=wait.get("part"), index=spot.get("index", 0))
    steps = round(true * 1e6 / float(UNITS[unit].factor) / float(step)) + dice.choice((2, 3, 4))
    return Quantity((steps * step).quantize(step), unit)


class Rules:
    """The rules of the contract, checked line by line."""

    def __init__(self, axle: VirtualAxle, record: Record, hands: Technician) -> None:
        self.axle, self.record, self.hands = axle, record, hands
        self.wait: Line | None = None
        self.reading: Line | None = None  # the last reading wait: a confirm need not repeat its part
        self.step: Line | None = None
        self.left: str | None = None  # the step before it
        self.open_cautions: list[Line] = []  # accepted, not yet used by a step
        self.asked_caution: Line | None = None
        self.alarm: Line | None = None
        self.standing: dict[str, Quantity] = {}  # part → where it stands as far as the lines tell
        self.expect_the_same_wait = False
        self.went_back = False  # the last input was an undo, or took a gauge's reading back
        self.just_recorded: Kept | None = None  # the reading that the last batch put on disk

    def problem(self, text: str) -> None:
        """Write a broken promise down, with where it was."""
        where = f"input {len(self.record.inputs)}" + (f" {self.record.inputs[-1]}" if self.record.inputs else "")
        self.record.problems.append(f"{where}: {text}")

    # ---------------------------------------------------------------- one batch

    def take(self, batch: list[Line], line: Line | None) -> None:
        """Check one batch, printed after `line` (None before any input)."""
        self.record.batches.append(batch)
        if not batch:
            raise ContractBrokenError(f"nothing was printed after {line}")
        for number, each in enumerate(batch):
            kinds = [kind for kind in OUT_KINDS if kind in each]
            if len(kinds) != 1 or set(each) - {kinds[0]} - ({"urgency"} if kinds == ["speak"] else set()):
                self.problem(f"a line must hold exactly one of {OUT_KINDS}: {each}")
                continue
            if kinds[0] in ("wait", "end") and number != len(batch) - 1:
                self.problem(f"{kinds[0]} is not the last line of its batch: {batch}")
        last = batch[-1]
        if "wait" not in last and "end" not in last:
            raise ContractBrokenError(f"the batch ends in neither wait nor end: {batch}")
        _no_floats(batch, self.problem)
        before = self.wait
        self.just_recorded = None
        accepted = self._caution_answered(line)
        if "wait" in last and last["wait"].get("for") != "caution" and self.went_back:
            self.asked_caution = None  # what was guarded is not reached any more; it will be asked for anew
        if self.went_back or any("move" in each for each in batch):
            self.record.open_moves = []  # what was to be moved and was not is planned anew
        for each in batch:
            kind = _kind(each)
            if kind == "speak":
                self._speak(each)
            elif kind:
                getattr(self, f"_{kind}")(each[kind])
        self._ordered(batch, line, before, accepted)
        self.expect_the_same_wait = False
        self.went_back = False

    def _ordered(self, batch: list[Line], line: Line | None, before: Line | None, accepted: bool) -> None:
        names = [_kind(each) for each in batch]
        if "alarm" in names:
            wait = batch[-1].get("wait", {})
            causes = [str(cause["cause"]) for each in batch if "alarm" in each for cause in each["alarm"]["likely"]]
            wanted = {*causes, "nothing found", "measure again"}
            if wait.get("for") != "choice" or set(wait.get("choices") or ()) != wanted:
                self.problem(f"after an alarm the wait must be a choice of {sorted(wanted)}, not {wait}")
        if "error" in names:
            if any(name in names for name in ("recorded", "step", "move", "alarm", "caution")):
                self.problem(f"an error changes nothing, but the batch holds {names}")
            if before is not None and not _same_wait(before, batch[-1].get("wait")):
                self.problem(f"after an error the standing wait follows: {before} became {batch[-1]}")
            text = next(each["error"]["text"] for each in batch if "error" in each)
            self.record.notes.append(f"error at {line}: {text}")
        if self.expect_the_same_wait and before is not None and not _same_wait(before, batch[-1].get("wait")):
            self.problem(f"{line} must leave the wait as it is: {before} became {batch[-1]}")
        if "recorded" in names and line is not None:
            gauge_or_yes = "gauge" in line or "pedal" in line or str(line.get("say", "")).lower() in ("yes", "that is right")
            if not gauge_or_yes:
                self.problem(f"recorded without a yes or a gauge: {batch}")
            if "say" in line and (before is None or before.get("for") != "confirm"):
                self.problem(f"recorded after a yes that was not a confirm: {before}")
        if (
            before is not None
            and before.get("for") == "caution"
            and not (accepted or self.went_back)
            and any(n in names for n in ("step", "move", "recorded"))
        ):
            self.problem(f"a caution that was not understood let {names} through")
        if (
            line is not None
            and "quit" not in line
            and "error" not in names
            and not any(name in names for name in ("speak", "end", "caution"))
        ):
            self.record.notes.append(f"nothing was said after {line}")

    def _caution_answered(self, line: Line | None) -> bool:
        if self.asked_caution is None or line is None or str(line.get("say", "")).lower() != "understood":
            return False
        self.open_cautions.append(self.asked_caution)
        self.asked_caution = None
        return True

    # ---------------------------------------------------------------- line by line

    def _step(self, step: Line) -> None:
        for key, allowed in (("phase", PHASES), ("kind", STEP_KINDS)):
            if step.get(key) not in allowed:
                self.problem(f"step {key} {step.get(key)!r} is none of {allowed}")
        if not step.get("id") or not step.get("title"):
            self.problem(f"a step needs id and title: {step}")
        again = self.step is not None and self.step["id"] == step["id"]
        if not again:
            # A gauge's reading that is taken back leaves the step open that it had ended: creeping up on a sleeve, its caution accepted on entry.
            again = self.went_back and self.record.inputs[-1].get("say") == "no" and step["id"] == self.left
            self.left = self.step["id"] if self.step is not None else None
        if step.get("kind") in ("torque", "press") and not again:
            fitting = next((caution for caution in self.open_cautions if caution["before"] == step["kind"]), None)
            if fitting is None:
                self.problem(f"step {step['id']} ({step['kind']}) is shown with no caution of its own accepted before")
            else:
                self.open_cautions.remove(fitting)
        self.step = step
        self.record.steps.append(step)

    def _speak(self, line: Line) -> None:
        if not isinstance(line["speak"], str) or not line["speak"].strip():
            self.problem(f"speak is not a sentence: {line}")
        if line.get("urgency") not in URGENCIES:
            self.problem(f"the urgency of {line} is none of {URGENCIES}")

    def _caution(self, caution: Line) -> None:
        if caution.get("before") not in BEFORE or not caution.get("id") or not caution.get("text"):
            self.problem(f"not a whole caution: {caution}")
        self.asked_caution = caution

    def _recorded(self, recorded: Line) -> None:
        quantity, value, unit, spot = (recorded.get(key) for key in ("quantity", "value", "unit", "spot"))
        if quantity not in QUANTITIES:
            self.problem(f"recorded quantity {quantity!r} is none of the contract")
            return
        pattern = quantity.startswith("pattern_")
        if pattern and value not in PATTERNS:
            self.problem(f"recorded pattern {value!r}")
        elif not pattern and not (isinstance(value, str) and _DECIMAL.fullmatch(value.lstrip("+")) and unit in UNITS):
            self.problem(f"a recorded value is a decimal string with a known unit: {recorded}")
            return
        if any(kept.id == recorded["id"] for kept in self.record.kept) and not recorded.get("replayed"):
            self.problem(f"the id {recorded['id']} was used before")
        index, of = (spot.get("index"), spot.get("of")) if isinstance(spot, Mapping) else (spot, None)
        self._is_what_was_read_back(quantity, str(value), unit)
        replaced = recorded.get("replaces")
        for kept in self.record.kept:
            if kept.id == replaced:
                kept.void = f"replaced by {recorded['id']}"
        if replaced is not None and not any(kept.id == replaced for kept in self.record.kept):
            self.problem(f"{recorded['id']} replaces {replaced}, which was never recorded")
        self.just_recorded = Kept(str(recorded["id"]), quantity, str(value), unit, index, of)
        self.record.kept.append(self.just_recorded)
        if quantity in ("old_stack_thickness", "stack_thickness") and self.reading is not None and self.reading.get("part"):
            self.standing[f"{self.reading['part']} measured"] = Quantity.of(str(value), str(unit))

    def _is_what_was_read_back(self, quantity: str, value: str, unit: str | None) -> None:
        wait, sent = self.wait or {}, self.record.inputs[-1] if self.record.inputs else {}
        if "gauge" in sent:
            gauge = sent["gauge"]
            if (value, unit) != (gauge["value"], Quantity.of("0", gauge["unit"]).unit):
                self.problem(f"recorded {value} {unit}, the gauge sent {gauge['value']} {gauge['unit']}")
            return
        if wait.get("for") != "confirm":
            return
        if wait.get("quantity") != quantity:
            self.problem(f"recorded {quantity}, confirmed was {wait.get('quantity')}")
        shown = wait.get("value")
        same = (
            shown == value
            if not isinstance(shown, Mapping)
            else Quantity.of(shown["value"], shown["unit"]) == Quantity.of(value, str(unit))
        )
        if not same:
            self.problem(f"recorded {value} {unit}, confirmed was {shown}")

    def _move(self, move: Line) -> None:
        part = move.get("part")
        if part not in SHIM_PARTS and part not in UNIT_OF_PART:
            self.problem(f"a move of an unknown part: {move}")
            return
        start, end, change = (_quantity(move.get(key), self.problem) for key in ("from", "to", "change"))
        if start is None or end is None or change is None:
            self.problem(f"from, to and change are quantities: {move}")
            return
        if len({start.unit, end.unit, change.unit}) != 1 or start.value + change.value != end.value:
            self.problem(f"from {start} + change {change} is not to {end} ({part})")
        if part in UNIT_OF_PART and end.unit != UNIT_OF_PART[part]:
            self.problem(f"a {part} is moved in {UNIT_OF_PART[part]}, not in {end.unit}")
        stack = move.get("stack")
        if part in SHIM_PARTS:
            self._stack(part, end, stack)
        elif stack:
            self.problem(f"a {part} has no stack: {stack}")
        if part == "crush_nut" and change.value <= 0:
            self.problem(f"a crush nut only ever tightens: {change}")
        if part == "crush_sleeve" and (change.value != 1):
            self.problem(f"a crush sleeve changes by one new sleeve: {change}")
        if self.axle.build.preload == "crush-sleeve" and part == "preload_shims":
            self.problem("an axle with a crush sleeve has no preload shims")
        known = [self.standing[key] for key in (part, f"{part} measured") if key in self.standing]
        if known and start not in known:
            self.problem(f"{part} moves from {start}, but it stood at {' or '.join(map(str, known))}")
        chance = move.get("chance")
        if chance is not None and not (isinstance(chance, str) and _DECIMAL.fullmatch(chance) and 0 <= Decimal(chance) <= 1):
            self.problem(f"chance is a decimal string from 0 to 1: {chance!r}")
        expect = move.get("expect")
        if expect and expect.get("quantity") not in QUANTITIES:
            self.problem(f"a move expects an unknown quantity: {expect}")
        if not str(move.get("why") or "").strip():
            self.problem(f"a move says why: {move}")
        self.record.open_moves.append(move)
        if move not in self.record.moves[-4:]:  # said again after a look round or an undo: the same move
            self.record.moves.append(move)

    def _stack(self, part: str, end: Quantity, stack: object) -> None:
        if not isinstance(stack, list) or (not stack and end.value != 0):
            self.problem(f"a move of {part} lists the pack to fit: {stack}")
            return
        shims = [quantity for each in stack if (quantity := _quantity(each, self.problem)) is not None]
        total = sum((shim.base for shim in shims), Fraction(0))
        if total != end.base:
            self.problem(f"the stack of {part} sums to {float(total / end.base) if end.base else total} of its {end}: {stack}")
        others = [part]
        if KIT_OF[part] == "side_kit":  # both sides draw on one kit
            others = ["ring_side_shims", "opposite_shims"]
            shims += [Quantity.of(each["value"], each["unit"]) for move in self.record.open_moves if move["part"] in others and move["part"] != part
                      for each in move["stack"]]  # fmt: skip
        left = {Quantity.of(size, self.axle.build.units): count for size, count in KITS[self.axle.build.units][KIT_OF[part]]}
        for shim in shims:
            size = min(left, key=lambda each: abs(each.base - shim.base))
            if abs(size.base - shim.base) > 10_000:  # nanometres: a shim as measured lies close to its mark
                self.problem(f"the kit of {part} has no {shim}")
            left[size] -= 1
            if left[size] < 0:
                self.problem(f"the kit of {part} has not that many {size}: {[str(each) for each in shims]}")

    def _alarm(self, alarm: Line) -> None:
        if not alarm.get("id") or not alarm.get("text") or not alarm.get("likely"):
            self.problem(f"not a whole alarm: {alarm}")
        ids = {kept.id for kept in self.record.kept}
        if not set(alarm.get("evidence") or ()) <= ids:
            self.problem(f"the evidence {alarm.get('evidence')} names readings that were not recorded")
        for likely in alarm.get("likely") or ():
            if not likely.get("cause") or "odds" not in likely or not likely.get("check"):
                self.problem(f"a likely cause has cause, odds and check: {likely}")

    def _wait(self, wait: Line) -> None:
        kind = wait.get("for")
        if kind not in WAITS:
            raise ContractBrokenError(f"a wait for {kind!r}")
        if kind == "reading" and (wait.get("quantity") not in QUANTITIES or wait.get("unit") not in UNITS):
            self.problem(f"a reading wait names a quantity and its unit: {wait}")
        if kind == "reading" and str(wait.get("quantity", "")).endswith(("shim_thickness", "stack_thickness")) and not wait.get("part"):
            self.problem(f"a wait for a shim or stack carries its part: {wait}")
        if kind == "choice" and not (isinstance(wait.get("choices"), list) and wait["choices"]):
            self.problem(f"a choice lists its choices: {wait}")
        if kind == "caution" and self.asked_caution is None:
            self.problem("a caution is waited for that was not shown")
        if kind != "caution" and self.asked_caution is not None:
            self.problem(f"a caution is open, but the wait is for {kind}")
        spot = wait.get("spot")
        if spot is not None and not (isinstance(spot, Mapping) and 1 <= spot.get("index", 0) <= spot.get("of", 0)):
            self.problem(f"a spot has an index from 1 up to of: {spot}")
        self.wait = wait
        if kind == "reading":
            self.reading = wait

    def _end(self, end: Line) -> None:
        if end.get("verdict") not in ("in spec", "out of spec", "stopped") or not end.get("job") or not isinstance(end.get("failed"), list):
            self.problem(f"not a whole end: {end}")
        self.record.end = end

    def _error(self, error: Line) -> None:
        if not error.get("text"):
            self.problem(f"an error says what was seen and expected: {error}")

    # ---------------------------------------------------------------- what the hands do

    def acts(self, wait: Line) -> None:
        """The next answer to this wait is about to be made: what it changes loses readings their ground."""
        if wait["for"] != "done":
            return
        for move in self.record.open_moves:
            self.standing[move["part"]] = Quantity.of(move["to"]["value"], move["to"]["unit"])
            self.standing.pop(f"{move['part']} measured", None)
            self._void(VOIDED_BY[move["part"]], f"{move['part']} moved")
        self.record.open_moves = []
        if self.step is not None and self.step["kind"] == "torque" and self.step["phase"] == "final":
            self._void(AFTER_A_FINAL_TORQUE, f"{self.step['id']} torqued")

    def _void(self, quantities: Sequence[str], why: str) -> None:
        for kept in self.record.kept:
            if kept.quantity in quantities and not kept.void:
                kept.void = why

    # ---------------------------------------------------------------- the end

    def counting(self, quantity: str) -> list[Kept]:
        """The recorded values that count for a quantity at the end: the last of each spot that is not void."""
        last: dict[int | None, Kept] = {}
        for kept in self.record.kept:
            if kept.quantity == quantity and not kept.void:
                last[kept.spot] = kept
        return list(last.values())

    def judge(self) -> None:
        """Hold the verdict against the recorded values and against the axle itself."""
        end = self.record.end
        if end is None or end["verdict"] == "stopped":
            return
        failing: dict[str, str] = {}
        for quantity in self.axle.specs_with_limits:
            reason = self._fails(quantity)
            if reason:
                failing[quantity] = reason
        missing = [flank for flank in ("pattern_drive", "pattern_coast") if not self.counting(flank)]
        verdict = "out of spec" if failing or missing else "in spec"
        if end["verdict"] != verdict:
            self.problem(
                f"the verdict is {end['verdict']!r} with failed {end['failed']}; by the recorded values {failing} fail, {missing} are missing"
            )
        elif set(failing) != set(end["failed"]) - set(missing):
            self.problem(f"failed is {end['failed']}, by the recorded values it is {failing}")
        if end["verdict"] == "in spec":
            for quantity, how in self._untrue().items():
                self.problem(f"in spec, but the axle's {quantity} is {how}")

    def _fails(self, quantity: str) -> str:
        values = self.counting(quantity)
        if not values:
            return "none that counts"
        row = self.axle.spec[quantity]
        unit = str(row["unit"])
        sizes = [kept.size for kept in values]
        if quantity == "backlash":
            if len(sizes) < self.axle.build.spots:
                return f"{len(sizes)} spots of {self.axle.build.spots}"
            if max(size.base for size in sizes) - min(size.base for size in sizes) > Quantity.of(str(row["variation"]), unit).base:
                return f"variation of {[str(size) for size in sizes]}"
            judged = {"all": sizes, "minimum": [min(sizes)], "mean": []}[str(row["judge"])]
            if row["judge"] == "mean":
                mean = sum((size.base for size in sizes), Fraction(0)) / len(sizes)
                low, high = (Quantity.of(str(row[key]), unit).base for key in ("low", "high"))
                return "" if low <= mean <= high else f"mean of {[str(size) for size in sizes]}"
            sizes = list(judged)
        low_high = self._limits(quantity)
        for size in sizes:
            number = size.base - (self._centre_offset() if quantity == "pinion_depth" else 0)
            if not low_high[0] <= number <= low_high[1]:
                return f"{size} outside"
        return ""

    def _limits(self, quantity: str) -> tuple[Fraction, Fraction]:
        """Lowest and highest allowed, in base units."""
        row = self.axle.spec[quantity]
        unit = str(row["unit"])

        def base(key: str, otherwise: str) -> Fraction:
            return Quantity.of(str(row.get(key, otherwise)), unit).base

        if quantity == "pinion_depth":
            etch = Quantity.of(self.axle.etch_new, "0.001 in" if self.axle.build.units == "in" else "0.01 mm").base
            target = base("target", "0") + self.axle.build.toward * etch
            return target - base("tolerance", "0"), target + base("tolerance", "0")
        if "value" in row:
            return base("value", "0"), base("value", "0")
        return base("low", "0"), base("high", "1000000")

    def _centre_offset(self) -> Fraction:
        """What a depth taken from the parting plane is too long by: plane to bore less the bore's radius; nothing for one from the bores."""
        depth = next((taken for taken in reversed(self.hands.taken) if taken.quantity == "pinion_depth"), None)
        if depth is None or not depth.from_plane:
            return Fraction(0)
        plane, bore = self.counting("plane_to_bore"), self.counting("bore_diameter")
        if not plane or not bore:
            return Fraction(0)
        return plane[-1].size.base - bore[-1].size.base / 2

    def _untrue(self) -> dict[str, str]:
        """Which true sizes lie outside the limits by more than the instrument can hide (twice its 95 % uncertainty)."""
        found: dict[str, str] = {}
        axle = self.axle
        for quantity in axle.specs_with_limits:
            if quantity in ("nut_torque", "cap_torque"):
                continue
            unit = str(axle.spec[quantity]["unit"])
            factor = float(UNITS[unit].factor)
            places = range(0, 360, 360 // axle.build.spots) if quantity == "backlash" else (0,)
            true = {place: axle.size(quantity, degrees=place) * 1e6 / factor for place in places}
            if quantity == "pinion_drag" and axle.spec[quantity].get("seal") == "out" and axle.state.seal:
                true = {0: axle.pinion_drag() * 1e6 / factor}
            if quantity == "backlash" and axle.build.judge != "all":
                true = {0: min(true.values()) if axle.build.judge == "minimum" else sum(true.values()) / len(true)}
            low, high = (float(limit) / factor for limit in self._limits(quantity))
            slack = 2 * INSTRUMENTS[quantity][unit][1] + float(INSTRUMENTS[quantity][unit][0]) / 2
            for place, size in true.items():
                if not low - slack <= size <= high + slack:
                    found[quantity] = f"{size:.4f} {unit} at {place}, limits {low:g} to {high:g}"
        return found


def resumed(batch: list[Line], record: Record) -> list[str]:
    """What is wrong with the first batch after a resume, as against the record of the job so far.

    It repeats every accepted reading (`replayed`), then the open step, caution, move and alarm, then the same wait.
    """
    problems: list[str] = []
    names = [_kind(line) for line in batch]
    replayed = [line["recorded"] for line in batch if "recorded" in line]
    if not all(each.get("replayed") is True for each in replayed):
        problems.append("a repeated reading is not marked as replayed")
    before = [(kept.id, kept.value) for kept in record.kept]
    if [(each["id"], each["value"]) for each in replayed] != before:
        problems.append(f"repeated are {[(each['id'], each['value']) for each in replayed]}, recorded were {before}")
    if "recorded" in names and "step" in names and names.index("step") < len(names) - 1 - names[::-1].index("recorded"):
        problems.append(f"the step comes before the last repeated reading: {names}")
    last = record.batches[-1][-1]
    if batch[-1] != last:
        problems.append(f"the wait is {batch[-1]}, it was {last}")
    if [line["move"] for line in batch if "move" in line] != record.open_moves:
        problems.append(f"the open moves are {[line['move'] for line in batch if 'move' in line]}, they were {record.open_moves}")
    # Before a caution is accepted, the step behind it must not be seen, and the one before it is done.
    if (
        record.steps
        and last.get("wait", {}).get("for") != "caution"
        and [line["step"]["id"] for line in batch if "step" in line] != [record.steps[-1]["id"]]
    ):
        problems.append(f"the open step is {[line['step'] for line in batch if 'step' in line]}, it was {record.steps[-1]}")
    return problems


def _quantity(value: object, problem: Callable[[str], None]) -> Quantity | None:
    if not isinstance(value, Mapping) or set(value) != {"value", "unit"} or not isinstance(value["value"], str):
        problem(f"not a quantity: {value!r}")
        return None
    try:
        return Quantity.of(value["value"], value["unit"])
    except ValueError as error:
        problem(f"not a quantity: {value!r} ({error})")
        return None


def _no_floats(value: object, problem: Callable[[str], None], path: str = "") -> None:
    """No float anywhere but where the contract says "a number" (a spot's degrees, a cause's odds)."""
    if isinstance(value, float) and not path.endswith((".degrees", ".odds")):
        problem(f"a float at {path}: {value}")
    elif isinstance(value, Mapping):
        for key, each in value.items():
            _no_floats(each, problem, f"{path}.{key}")
    elif isinstance(value, list):
        for each in value:
            _no_floats(each, problem, path)


def _kind(line: Line) -> str:
    return next((kind for kind in OUT_KINDS if kind in line), "")


def _same_wait(before: Line, after: object) -> bool:
    return isinstance(after, Mapping) and all(
        before.get(key) == after.get(key) for key in ("for", "quantity", "part", "unit", "spot", "value", "choices")
    )
