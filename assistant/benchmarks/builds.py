"""Whole builds on virtual axles: the same jobs played with our moves, with a rule of thumb, and with all sensitivities known beforehand.

    python -m assistant.benchmarks.builds --builds 20                     every layout, every policy
    python -m assistant.benchmarks.builds --builds 20 --tuning            on the axles that the thresholds were set on

Builds with mistakes are in `assistant.benchmarks.faults`.

The axles that give the figures are not those that thresholds were set on: other seeds, other constants, other noise (`OTHER`).

Policies: `ours` is the engine as it is. The others make the moves by plain sums (`Sums`) in the same order of work, with the same starting packs.
thumb: 0.7 of backlash for each ring move, 1 N·m of drag for each 0.025 mm (Land Rover Discovery II), from the last reading, one change at a
time, and never giving up. careful: the same, but between a pack that was too tight and one that was too loose it takes the middle.
knowing: the axle's own sensitivities, from all readings so far, both packs in one assembly, the ring gear moved along with the pinion; where
things stand it learns by the same measurements only.
"""

import argparse
import json
import math
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from assistant.bench import new_bench
from assistant.benchmarks.plain_sums import Sums
from assistant.benchmarks.times import at_share
from assistant.core import decide, moves
from assistant.core.events import Event, Learned, MoveProposed
from assistant.core.predictions import forget, predict
from assistant.core.quantities import UNITS, Quantity
from assistant.core.state import State
from assistant.core.steps import Step
from assistant.files import read_job
from assistant.headless import answer
from assistant.journal import Loaded
from assistant.technician import PuzzledError, Technician
from assistant.virtual_axle import (
    CARRIER_LAYOUTS,
    INSTRUMENTS,
    PINION_LAYOUTS,
    PRELOAD_LAYOUTS,
    Build,
    Constants,
    VirtualAxle,
)  # fmt: skip

Line = dict[str, Any]
POLICIES = ("ours", "thumb", "careful", "knowing")
LAYOUTS = tuple(",".join(parts) for parts in product(PINION_LAYOUTS, PRELOAD_LAYOUTS, CARRIER_LAYOUTS))
FIRST_SEED = 500_000
"""Seeds below this were used while thresholds were set."""
OTHER = Constants(
    tooth_form=0.07, depth_miss_thou=1.7, preload_miss_thou=2.0, drag_rise=(0.55, 1.15), drag_bend=(0.05, 0.5), drag_free=(0.06, 0.26),
    notch_lead_thou=(1.8, 3.5), carrier_rate=(5.0, 12.0), wobble_thou=(0.4, 2.0), second_wave_thou=(0.0, 0.3), cap_shift_thou=(2.5, 5.0),
    sleeve_play=(30, 125), burr_thou=(2.5, 5.0), stand_off_thou=6.0, loose_nut_thou=4.0, breakaway=1.4, noise=1.1, eye=0.2,
)  # fmt: skip
_SHIMS = ("pinion_shims", "preload_shims", "ring_side_shims", "opposite_shims", "crush_sleeve")
_MOST_INPUTS = 700


class Forgetful:
    """A journal that keeps nothing: the disk is no part of what is measured."""

    job_id = "build"

    def load(self) -> Loaded:
        """Nothing."""
        return Loaded(())

    def append(self, events: Sequence[Event], at: str) -> None:
        """Forgotten."""

    def close(self) -> None:
        """Nothing to let go of."""


@dataclass
class Expected:
    """What a move said that it would bring, and what was read then. Numbers in the unit of the quantity."""

    quantity: str
    low: float
    high: float
    chance: float
    read: list[float] = field(default_factory=list)
    landed: bool | None = None


@dataclass
class Played:
    """What one build showed."""

    layout: str
    seed: int
    verdict: str = ""
    failed: tuple[str, ...] = ()
    trouble: str = ""  # why it never ended
    untrue: tuple[str, ...] = ()  # out of limits in truth
    assemblies: int = 1
    turns: int = 0
    wrong_way: list[str] = field(default_factory=list)
    readings: int = 0
    asked_again: int = 0
    false_alarms: list[str] = field(default_factory=list)
    inputs: int = 0
    busy: float = 0.0  # seconds of this process's own time in the engine
    alone: float = math.nan  # the same for belief and moves alone
    reading_seconds: list[float] = field(default_factory=list)
    expected: list[Expected] = field(default_factory=list)
    predicted: list[tuple[str, float]] = field(default_factory=list)  # quantity, spreads off


Asked = tuple[State, str, Step]


@contextmanager
def moves_by(sums: Sums | None) -> Iterator[list[Asked]]:
    """The engine's moves chosen by plain sums for a while; None: by the engine itself. Gives what the moves are asked, as it comes."""
    asked: list[Asked] = []

    def chosen(state: State, quantity: str, step: Step) -> MoveProposed | moves.Unreachable:
        asked.append((state, quantity, step))
        return (moves if sums is None else sums).correction(state, quantity, step)

    most = decide.MOST_CHANGES
    setattr(decide, "correction", chosen)  # noqa: B010
    if sums is not None:
        # Ten changes for one number and no more is a rule of ours. The others have none: who goes round in circles goes on.
        setattr(decide, "MOST_CHANGES", _MOST_INPUTS)  # noqa: B010
    try:
        yield asked
    finally:
        setattr(decide, "correction", moves.correction)  # noqa: B010
        setattr(decide, "MOST_CHANGES", most)  # noqa: B010


def _sums(axle: VirtualAxle, policy: str) -> Sums | None:
    return None if policy == "ours" else Sums(axle, knowing=policy == "knowing", careful=policy == "careful")


def alone(waits: Sequence[tuple[State, Line]], asked: Sequence[Asked]) -> float:
    """Seconds of this process's own time for belief and moves alone: every reading foretold anew, every move chosen anew."""
    forget()
    begun = time.process_time()
    for state, wait in waits:
        predict(state, wait["quantity"], wait["unit"], int((wait.get("spot") or {}).get("index", 0)))
    for state, quantity, step in asked:
        moves.correction(state, quantity, step)
    return time.process_time() - begun


def play(axle: VirtualAxle, policy: str = "ours", watch: "Watch | None" = None, learned: tuple[Learned, ...] = ()) -> Played:
    """One job to its end, in this process. watch: what else is to be written down of it; learned: what the shop's own builds say."""
    with TemporaryDirectory() as folder, moves_by(_sums(axle, policy)) as asked:
        path = Path(folder) / "job.toml"
        # A mark can only be misread where it is asked for.
        path.write_text(axle.job_toml(etches=not any(fault.at.startswith("read:etch") for fault in axle.faults)), encoding="utf-8")
        watch = Watch(axle) if watch is None else watch
        bench, effects = new_bench(read_job(path), Forgetful(), lambda: "0", learned=learned)
        batch = [effect.json() for effect in effects]
        watch.see(batch)
        waits: list[tuple[State, Line]] = []
        while "end" not in batch[-1] and watch.played.inputs < _MOST_INPUTS:
            try:
                line = watch.answer(batch[-1]["wait"], bench.state)
            except PuzzledError as error:
                watch.played.trouble = str(error)
                break
            if "predicted" in batch[-1]["wait"]:
                waits.append((bench.state, batch[-1]["wait"]))
            text = json.dumps(line, ensure_ascii=False)
            begun, busy = time.perf_counter(), time.process_time()
            effects = answer(bench, text)
            watch.took(time.perf_counter() - begun, time.process_time() - busy, batch[-1]["wait"])
            batch = [effect.json() for effect in effects]
            watch.see(batch)
        watch.close(batch[-1], bench.state)
    watch.played.alone = alone(waits, asked) if policy == "ours" and watch.timed else math.nan
    return watch.played


class Watch:
    """Between the engine and the technician: writes down what the measures need. timed: whether belief and moves alone are timed as well."""

    timed = True

    def __init__(self, axle: VirtualAxle) -> None:
        build = axle.build
        self.axle, self.technician = axle, Technician(axle, gauge_on_plane=False)
        self.last: State | None = None
        self.played = Played(f"{build.pinion_shims},{build.preload},{build.carrier}", axle.seed)
        self.moves: list[Line] = []
        self.open: list[Expected] = []
        self.kept: dict[str, dict[int, float]] = {}
        self.groups: set[str] = set()
        self.measured: set[str] = set()

    def see(self, batch: Sequence[Line]) -> None:
        """Take in a batch."""
        self.technician.observe(batch)
        if any("move" in line for line in batch):
            self.moves = [line["move"] for line in batch if "move" in line]
        for line in batch:
            if "recorded" in line:
                self.recorded(line["recorded"])
            if "alarm" in line:
                self.alarm(line["alarm"])

    def answer(self, wait: Line, state: State) -> Line:
        """The technician's answer to a wait; state: where the job stands."""
        self.played.inputs += 1
        if wait["for"] == "done" and self.moves:
            moves, self.moves = self.moves, []
            if self.technician.wrong_pack() is None:
                self.moved(moves)
        line = self.technician.answer(wait)
        if wait["for"] == "reading" and self.technician.taken:
            self.taken(wait, state)
        return line

    def took(self, seconds: float, busy: float, wait: Line) -> None:
        """How long the answer to an input took, how much of that this process worked, and what had been waited for."""
        self.played.busy += busy
        if wait["for"] in ("reading", "confirm"):
            self.played.reading_seconds.append(seconds)

    def close(self, last: Line, state: State) -> None:
        """The end of the job. state: its last one."""
        played, self.last = self.played, state
        if "end" in last:
            played.verdict, played.failed = last["end"]["verdict"], tuple(last["end"]["failed"])
        elif not played.trouble:
            played.trouble = f"no end after {played.inputs} inputs"
        played.untrue = untrue(self.axle)

    # ---- lines

    def recorded(self, recorded: Line) -> None:
        """A reading is kept."""
        quantity = recorded["quantity"]
        self.played.readings += 1
        if recorded["unit"] is None:
            return
        number, spot = float(recorded["value"]), int(recorded.get("spot") or 0)
        self.measured.add(quantity)
        spots = self.kept.setdefault(quantity, {})
        spots[spot] = number
        for each in [each for each in self.open if each.quantity == quantity]:
            each.read.append(number)
            if quantity != "backlash" or len(each.read) == self.axle.build.spots:
                each.landed = self._in_spec(quantity, each.read)
                self.open.remove(each)

    def _in_spec(self, quantity: str, numbers: Sequence[float]) -> bool:
        low, high = limits(self.axle, quantity)
        tiny = 1e-9
        fits = all(low - tiny <= number <= high + tiny for number in numbers)
        variation = self.axle.spec[quantity].get("variation")
        return fits and (variation is None or max(numbers) - min(numbers) <= float(variation) + tiny)

    def alarm(self, alarm: Line) -> None:
        """An alarm was raised."""
        if not any(fault.state == "active" for fault in self.axle.faults):
            self.played.false_alarms.append(f"{alarm['text'][:70]} {[each['cause'] for each in alarm['likely']][:3]}")

    def taken(self, wait: Line, state: State) -> None:  # noqa: ARG002 (for those who look closer)
        """A reading was said; state: what the job knew before it."""
        taken = self.technician.taken[-1]
        predicted = wait.get("predicted")
        if taken.asked_again:
            self.played.asked_again += 1
        if predicted is None or float(predicted["spread"]) <= 0:
            return
        if not self.axle.active and taken.shown.fault is None and not taken.asked_again:
            off = float(taken.shown.said.value) - float(predicted["value"])
            self.played.predicted.append((taken.quantity, off / float(predicted["spread"])))

    # ---- moves

    def moved(self, moves: Sequence[Line]) -> None:
        """A change is about to be made."""
        group = str(moves[0]["group"])
        if group in self.groups:
            return
        self.groups.add(group)
        if any(move["part"] == "crush_nut" for move in moves):
            self.played.turns += 1
        if not self.is_correction(moves):
            return
        if any(move["part"] in _SHIMS for move in moves):
            self.played.assemblies += 1
        self.played.wrong_way += wrong_way(self.axle, moves)
        expect, chance = moves[0].get("expect"), moves[0].get("chance")
        if expect is not None and chance is not None:
            self.open = [each for each in self.open if each.quantity != expect["quantity"]]
            self.open.append(Expected(expect["quantity"], float(expect["low"]), float(expect["high"]), float(chance)))
            self.played.expected.append(self.open[-1])

    def is_correction(self, moves: Sequence[Line]) -> bool:
        """A change after something of that part was measured; the first packs and their refitting are none."""
        of = {
            "pinion_shims": {"pinion_depth"}, "preload_shims": {"pinion_drag"}, "crush_sleeve": {"pinion_drag"}, "crush_nut": {"pinion_drag"},
            "ring_side_shims": {"backlash", "carrier_drag", "total_drag"}, "opposite_shims": {"backlash", "carrier_drag", "total_drag"},
            "ring_side_adjuster": {"backlash", "total_drag"}, "opposite_adjuster": {"backlash", "total_drag"},
        }  # fmt: skip
        measured = self.measured if self.axle.state.sleeve or self.axle.build.preload != "crush-sleeve" else self.measured - {"pinion_drag"}
        return any(float(move["change"]["value"]) != 0 and of[move["part"]] & measured for move in moves)


# ---------------------------------------------------------------------- the truth


def limits(axle: VirtualAxle, quantity: str) -> tuple[float, float]:
    """Lowest and highest allowed, in the unit of the manual."""
    row = axle.spec[quantity]
    if quantity == "pinion_depth":
        etch = Quantity.of(str(axle.etch_new), "0.001 in" if axle.build.units == "in" else "0.01 mm").to(str(row["unit"]))
        target = Decimal(str(row["target"])) + axle.build.toward * etch.value
        return float(target - Decimal(str(row["tolerance"]))), float(target + Decimal(str(row["tolerance"])))
    if "value" in row:
        return float(row["value"]), float(row["value"])
    return float(row.get("low", 0)), float(row.get("high", math.inf))


def untrue(axle: VirtualAxle) -> tuple[str, ...]:
    """What lies out of its limits in truth by more than the instrument's uncertainty (docs/trade.md, 4.10) and half its step."""
    found = []
    for quantity in axle.specs_with_limits:
        if quantity in ("nut_torque", "cap_torque"):
            continue
        unit = str(axle.spec[quantity]["unit"])
        factor = float(UNITS[unit].factor) / 1e6
        places = range(0, 360, 360 // axle.build.spots) if quantity == "backlash" else (0,)
        sizes = [axle.size(quantity, degrees=place) / factor for place in places]
        if quantity == "pinion_drag" and axle.spec[quantity].get("seal") == "out":
            sizes = [axle.pinion_drag() / factor]
        low, high = limits(axle, quantity)
        step, uncertainty = INSTRUMENTS[quantity][unit]
        # A beam wrench: 1 lb-in or 4 %.
        slack = max(uncertainty, {"lb-in": 1.0, "N·m": 0.113}.get(unit, 0.0), 0.04 * max(sizes) if quantity.endswith("drag") else 0.0)
        slack += float(step) / 2
        if not all(low - slack <= size <= high + slack for size in sizes):
            found.append(f"{quantity} {min(sizes):.4f} to {max(sizes):.4f} {unit}, limits {low:g} to {high:g}")
    return tuple(found)


def wrong_way(axle: VirtualAxle, moves: Sequence[Line]) -> list[str]:
    """The moves that take a size away from where it should be, seen from the truth; one that stands right already cannot be moved wrongly."""
    change = {move["part"]: Quantity.of(move["change"]["value"], move["change"]["unit"]) for move in moves}
    mm = {part: float(each.base) / 1e6 for part, each in change.items() if each.unit in ("in", "mm")}
    found = []

    def check(name: str, wanted: float, made: float, room: float) -> None:
        # Only a change that leaves it farther off than before, and farther than the instruments can tell, went the wrong way.
        if wanted * made < 0 and abs(wanted - made) > room:
            found.append(f"{name}: {made:+.3f} where {wanted:+.3f} was wanted")

    depth_room = INSTRUMENTS["pinion_depth"][axle.build.units][1] * (25.4 if axle.build.units == "in" else 1.0)
    if "pinion_shims" in mm:
        check("pinion_shims", axle.truth.wanted_distance - axle.mounting_distance(), axle.build.lay * mm["pinion_shims"], depth_room)
    if "preload_shims" in mm:
        tighter = -mm["preload_shims"] + (mm.get("pinion_shims", 0.0) if axle.build.pinion_shims == "head-cup" else 0.0)
        low, high = (limit * float(UNITS[str(axle.spec["pinion_drag"]["unit"])].factor) / 1e6 for limit in limits(axle, "pinion_drag"))
        now = axle.pinion_drag()
        if abs(tighter) > 1e-9 and not low <= now <= high:
            check("preload_shims", math.copysign(1.0, (low + high) / 2 - now), math.copysign(1.0, tighter), 0.0)
    return found + _wrong_ring(axle, moves, change)


def _wrong_ring(axle: VirtualAxle, moves: Sequence[Line], change: Mapping[str, Quantity]) -> list[str]:
    if (moves[0].get("expect") or {}).get("quantity") != "backlash":
        return []
    sizes = {
        part: float(each.value) * axle.truth.notch_lead if each.unit == "notch" else float(each.base) / 1e6 for part, each in change.items()
    }
    opposite = sizes.get("opposite_adjuster", 0.0) + sizes.get("opposite_shims", 0.0)
    away = (opposite - sizes.get("ring_side_adjuster", 0.0) - sizes.get("ring_side_shims", 0.0)) / 2
    unit = str(axle.spec["backlash"]["unit"])
    low, high = (limit * float(UNITS[unit].factor) / 1e6 for limit in limits(axle, "backlash"))
    wanted = (low + high) / 2 - axle.mean_backlash()
    made = axle.truth.k_ring * away
    room = INSTRUMENTS["backlash"][unit][1] * float(UNITS[unit].factor) / 1e6
    return [f"ring: {made:+.3f} where {wanted:+.3f} was wanted"] if wanted * made < 0 and abs(wanted - made) > room else []


# ---------------------------------------------------------------------- many builds


def build_of(layout: str, seed: int) -> Build:
    """A build of a layout; inches and millimetres, cuts, ratios and spots go round with the seed."""
    pinion, preload, carrier = layout.split(",")
    ring, pinion_teeth = ((41, 11), (37, 9), (43, 13), (39, 8))[seed % 4]
    return Build(
        pinion, preload, carrier, units=("in", "mm")[seed % 2], teeth=("face-milled", "face-hobbed")[seed // 2 % 2],
        ring_teeth=ring, pinion_teeth=pinion_teeth, etch_sign=("away", "toward")[seed // 3 % 2], spots=(3, 4, 8)[seed // 5 % 3],
    )  # fmt: skip


def clean_builds(layout: str, policy: str, builds: int, first_seed: int, constants: Constants) -> Iterator[Played]:
    """`builds` jobs without a mistake."""
    for seed in range(first_seed, first_seed + builds):
        yield play(VirtualAxle(build_of(layout, seed), seed, constants=constants), policy)


@dataclass
class Totals:
    """Builds added up."""

    played: list[Played] = field(default_factory=list)

    @property
    def assemblies(self) -> float:
        """Mean per build."""
        return mean([each.assemblies for each in self.played])

    def row(self) -> dict[str, float | int]:
        """The figures of the clean builds, by name."""
        played = self.played
        landed = [each for build in played for each in build.expected if each.landed is not None]
        held = [each.low <= read <= each.high for build in played for each in build.expected for read in each.read]
        off = [z for build in played for _, z in build.predicted]
        replies = [seconds for each in played for seconds in each.reading_seconds]
        base = mean([float(bool(each.landed)) for each in landed])
        return {
            "builds": len(played),
            "in spec": sum(each.verdict == "in spec" and not each.untrue for each in played),
            "false in spec": sum(each.verdict == "in spec" and bool(each.untrue) for each in played),
            "out of spec": sum(each.verdict == "out of spec" for each in played),
            "never ended": sum(bool(each.trouble) for each in played),
            "wrong way": sum(len(each.wrong_way) for each in played),
            "assemblies": self.assemblies,
            "sleeve turns": mean([each.turns for each in played]),
            "inputs": mean([each.inputs for each in played]),
            "readings": sum(each.readings for each in played),
            "asked again": sum(each.asked_again for each in played),
            "false alarms": sum(len(each.false_alarms) for each in played),
            "readings in low-high": mean([float(each) for each in held]),
            "in predicted 90 %": mean([float(abs(z) < 1.645) for z in off]),
            "brier": mean([(each.chance - float(bool(each.landed))) ** 2 for each in landed]),
            "brier of base rate": base * (1 - base),
            "moves judged": len(landed),
            "builds per second": len(played) / max(math.fsum(each.busy for each in played), 1e-9),
            "belief and moves alone": len(played) / math.fsum(each.alone for each in played),
            "reply p95 ms": 1000 * at_share(replies, 0.95) if replies else math.nan,
        }


def mean(numbers: Sequence[float]) -> float:
    """Of nothing it is no number."""
    return math.fsum(numbers) / len(numbers) if numbers else math.nan


def table(rows: Mapping[str, Mapping[str, float | int]]) -> str:
    """Markdown, one line for each row."""
    names = list(next(iter(rows.values())))
    lines = [f"| | {' | '.join(names)} |", "|---" * (len(names) + 1) + "|"]
    lines += [f"| {name} | {' | '.join(_figure(row[key]) for key in names)} |" for name, row in rows.items()]
    return "\n".join(lines)


def _figure(number: float | int) -> str:
    if isinstance(number, int):
        return f"{number:,}"
    return "-" if math.isnan(number) else f"{number:.3f}" if abs(number) < 10 else f"{number:.1f}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the tables. Exit status 1 when a build of ours never ended."""
    parser = argparse.ArgumentParser(prog="python -m assistant.benchmarks.builds", description="Whole builds on virtual axles.")
    parser.add_argument("--builds", type=int, default=20, help="for each layout and policy")
    parser.add_argument("--layouts", nargs="*", default=list(LAYOUTS), help="such as flange,spacer-shims,adjusters")
    parser.add_argument("--policy", nargs="*", default=list(POLICIES), choices=POLICIES)
    parser.add_argument("--seed", type=int, default=FIRST_SEED, help="the first seed")
    parser.add_argument("--tuning", action="store_true", help="axles with the constants that the thresholds were set on")
    parser.add_argument("--verbose", action="store_true", help="each build that did not go as it should, on standard error")
    given = parser.parse_args(arguments)
    strange = [layout for layout in given.layouts if layout not in LAYOUTS]
    if strange:
        parser.error(f"layout {strange[0]!r}: expected one of {' '.join(LAYOUTS)}")
    played = _clean(given, Constants() if given.tuning else OTHER)
    return 1 if any(each.trouble for each in played) else 0


def _clean(given: argparse.Namespace, constants: Constants) -> list[Played]:
    everything: dict[str, Totals] = {policy: Totals() for policy in given.policy}
    rows: dict[str, Mapping[str, float | int]] = {}
    by_row: dict[tuple[str, str], list[Played]] = {}
    for layout, policy in product(given.layouts, given.policy):
        totals = Totals()
        for played in clean_builds(layout, policy, given.builds, given.seed, constants):
            totals.played.append(played)
            if given.verbose:
                _tell(played, policy)
        everything[policy].played += totals.played
        by_row[layout, policy] = totals.played
        rows[f"{layout} {policy}"] = totals.row()
    rows |= {f"all {policy}": totals.row() for policy, totals in everything.items()}
    sys.stdout.write(f"{table(rows)}\n")
    if "ours" in everything:
        for policy in POLICIES[1:]:
            if policy in everything:
                sys.stdout.write(f"\nassemblies, ours to {policy}: {_compared(by_row, given.layouts, policy)}\n")
    return everything["ours"].played if "ours" in everything else []


def _compared(by_row: Mapping[tuple[str, str], Sequence[Played]], layouts: Sequence[str], policy: str) -> str:
    """Our assemblies to another policy's: the mean of the layouts' ratios, of all builds and of those alone that both brought to an end; and
    the ratio of the means.

    A build that went round in circles until its inputs were used up counts in the first and the last with the assemblies made by then.
    """
    every, ended, means = [], [], []
    for layout in layouts:
        pairs = list(zip(by_row[layout, "ours"], by_row[layout, policy], strict=True))
        means.append((mean([a.assemblies for a, _ in pairs]), mean([b.assemblies for _, b in pairs])))
        every.append(means[-1][0] / means[-1][1])
        both = [(a, b) for a, b in pairs if not a.trouble and not b.trouble]
        if both:
            ended.append(mean([a.assemblies for a, _ in both]) / mean([b.assemblies for _, b in both]))
    of_means = mean([ours for ours, _ in means]) / mean([theirs for _, theirs in means])
    return f"{mean(every):.3f} (mean over layouts; {mean(ended):.3f} of the builds that both ended; {of_means:.3f} of the means)"


def _tell(played: Played, policy: str) -> None:
    """What did not go as it should, on standard error."""
    for text in amiss(played):
        sys.stderr.write(f"{played.layout} {played.seed} {policy}: {text}\n")


def amiss(played: Played) -> list[str]:
    """What did not go as it should."""
    return [
        *([played.trouble] if played.trouble else []),
        *([f"false in spec: {played.untrue}"] if played.verdict == "in spec" and played.untrue else []),
        *([f"out of spec: {played.failed}"] if played.verdict == "out of spec" else []),
        *played.wrong_way,
        *[f"false alarm: {alarm}" for alarm in played.false_alarms],
    ]


if __name__ == "__main__":
    sys.exit(main())
