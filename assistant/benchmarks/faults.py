"""Builds with a mistake made on order: does it matter, is it noticed before the next move, and is its cause named?

    python -m assistant.benchmarks.faults --builds 50                        50 of each mistake, its occasions and the layouts in turn
    python -m assistant.benchmarks.faults --builds 50 --to part.jsonl        keeps each build as it is played, and goes on from there next time
    python -m assistant.benchmarks.faults --mistakes burr breakaway --layouts flange,spacer-shims,adjusters
    python -m assistant.benchmarks.faults --tuning --seed 1000               on the axles that the thresholds are set on

A mistake matters when it puts a reading off by more than three predicted spreads, or when it changes what follows: every reading that it spoils is
also given to the engine as it should have been, from the same state; another judgement, or another change, is another verdict or move.
It is caught when the technician finds it, or the right number is read, before the next change is made: by an alarm, because a number was asked for
once more with what to look at first, as a pack comes out that was to be felt and counted, or because the same is read again in the course of the
work.
"""

import argparse
import copy
import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from assistant.benchmarks.builds import FIRST_SEED, LAYOUTS, OTHER, Line, Played, Watch, amiss, build_of, mean, play, table
from assistant.core import decide
from assistant.core.events import AlarmRaised
from assistant.core.quantities import UNITS, Quantity
from assistant.core.state import State, in_spec
from assistant.practice import can_happen
from assistant.technician import Taken
from assistant.virtual_axle import ETCHES, MISTAKES, Constants, Fault, VirtualAxle

_FAR = 3.0
"""Predicted spreads beyond which a mistake shows in the reading."""


@dataclass
class Caught:
    """One mistake that was made: whether it mattered, how it was caught, and what the alarm named."""

    name: str
    at: str
    shown: bool = False  # a reading was off by it
    shift: float = 0.0  # in predicted spreads, the largest that a reading showed
    verdict: bool = False  # a reading was judged otherwise than it would have been without
    move: bool = False  # another change followed than without
    how: str = ""  # "an alarm", "asked again", "as it came out", "read again"; "": it was not caught
    named: int | None = None  # its place among the causes of the first alarm, from 1; None: not there
    alarmed: bool = False
    moved_on: bool = False  # a change was made on it before it was caught

    @property
    def in_time(self) -> bool:
        """Caught before the next move was made."""
        return bool(self.how) and not self.moved_on

    @property
    def shows(self) -> bool:
        """More than three predicted spreads."""
        return self.shift > _FAR

    @property
    def matters(self) -> bool:
        """More than three predicted spreads, or another verdict or move."""
        return self.shows or self.verdict or self.move


class FaultWatch(Watch):
    """Watches a build with one mistake, beside the same build without it."""

    timed = False

    def __init__(self, axle: VirtualAxle) -> None:
        super().__init__(axle)
        (self.fault,) = axle.faults
        self.caught = Caught(self.fault.name, self.fault.at)
        self.honest: dict[str, Quantity] = {}  # reading → what it should have been
        self._pending: Quantity | None = None
        self._spoilt: set[tuple[str, int]] = set()  # quantity and place of the readings that were off

    @property
    def is_open(self) -> bool:
        """Whether the mistake has neither been caught nor been built upon."""
        return not self.caught.how and not self.caught.moved_on

    def answer(self, wait: Line, state: State) -> Line:
        line = super().answer(wait, state)
        self._found()
        return line

    def _found(self) -> None:
        noticed = self.technician.noticed.get(self.caught.name)
        if noticed and self.is_open:
            self.caught.how = "an alarm" if "alarm" in noticed else noticed

    def alarm(self, alarm: Line) -> None:
        super().alarm(alarm)
        if self.fault.state == "active" and not self.caught.alarmed:
            self.caught.alarmed = True
            for place, each in enumerate(alarm["likely"], start=1):
                words = f"{each['cause']} {each['check']}".lower()
                if any(all(word.lower() in words for word in group) for group in self.fault.mistake.words):
                    self.caught.named = place
                    break

    def recorded(self, recorded: Line) -> None:
        super().recorded(recorded)
        if recorded["unit"] is None:
            return
        place = (recorded["quantity"], int(recorded.get("spot") or 0))
        if self._pending is not None:
            self.honest[recorded["id"]] = self._pending
            self._spoilt.add(place)
        elif place in self._spoilt and self.is_open:
            self.caught.how = "read again"

    def taken(self, wait: Line, state: State) -> None:
        super().taken(wait, state)
        taken = self.technician.taken[-1]
        self._pending = self._should_have_been(taken, wait)
        self._found()
        if not self.is_open or (self._pending is None and not self.honest):
            return
        said = taken.shown.said
        honest = said if self._pending is None else self._pending
        if self._pending is not None:
            self.caught.shown = True
            predicted = wait.get("predicted")
            # A later reading of the same quantity is foretold from the earlier ones, the mistake included.
            first = taken.quantity not in {quantity for quantity, _ in self._spoilt}
            if predicted and float(predicted["spread"]) > 0 and (first or self.fault.mistake.kind != "hands"):
                off = abs(float(said.to(str(wait["unit"])).value - honest.to(str(wait["unit"])).value)) / float(predicted["spread"])
                self.caught.shift = max(self.caught.shift, off)
        verdict, move = _follows(state, taken.quantity, said, {})
        right_verdict, right_move = _follows(state, taken.quantity, honest, self.honest)
        self.caught.verdict |= verdict != right_verdict
        self.caught.move |= _is_another(move, right_move)

    def _should_have_been(self, taken: Taken, wait: Line) -> Quantity | None:
        """The reading without the mistake, to the last digit of the one that was said; None when it is as it should be."""
        shown = taken.shown
        if self.fault.state != "active" or (self.fault.mistake.kind == "reading" and shown.fault is None):
            return None
        if self.fault.mistake.kind == "reading":
            return shown.honest
        degrees = float((wait.get("spot") or {}).get("degrees", 0) or 0)
        place = degrees if self.fault.mistake.kind != "position" or self.axle.one_place is None else self.axle.one_place
        twin = copy.deepcopy(self.axle)
        wrong = twin.size(taken.quantity, degrees=place, part=wait.get("part"), from_plane=taken.from_plane)
        twin.put_right(next(fault for fault in twin.faults if fault.state == "active"))
        right = twin.size(taken.quantity, degrees=degrees, part=wait.get("part"), from_plane=taken.from_plane)
        finest = shown.said.value.as_tuple().exponent
        assert isinstance(finest, int)
        off = Quantity.of(f"{(right - wrong) * 1e6 / float(UNITS[shown.said.unit].factor):.{max(-finest, 0)}f}", shown.said.unit)
        honest = Quantity(max(shown.said.value + off.value, off.value * 0), shown.said.unit)
        return honest if honest != shown.said else None

    def moved(self, moves: Sequence[Line]) -> None:
        super().moved(moves)
        if self.is_correction(moves) and self.caught.shown and self.fault.state == "active" and self.is_open:
            self.caught.moved_on = True


Changes = tuple[tuple[str, Quantity], ...]


def _is_another(move: tuple[Changes, tuple[str, ...]], right: tuple[Changes, tuple[str, ...]]) -> bool:
    """Whether a change is another one than the right reading would have brought.

    A shorter turn on a crush sleeve is not: creeping up, the nut comes by there anyway. A longer one is, for it may go past.
    """
    if [part for part, _ in move[0]] == [part for part, _ in right[0]] == ["crush_nut"]:
        return move[0][0][1] > right[0][0][1]
    return move != right


def _follows(
    state: State, quantity: str, value: Quantity, instead: Mapping[str, Quantity]
) -> tuple[object, tuple[Changes, tuple[str, ...]]]:
    """(judgement, change) that follow from a reading in this state, were no alarm raised. instead: what recorded readings should have been."""
    readings = tuple(replace(reading, value=instead[reading.id]) if reading.id in instead else reading for reading in state.readings)
    parts, etches = state.job.parts, {r.quantity: r.value for r in readings if r.id in instead and r.quantity in ETCHES}
    parts = replace(parts, etch_old=etches.get("etch_old", parts.etch_old), etch_new=etches.get("etch_new", parts.etch_new))
    state = replace(state, job=replace(state.job, parts=parts))
    state = replace(state, readings=readings, offered=None, doubted=None, taken_from=None, taken_id=None)
    events = [event for event in decide.record(state, quantity, value, None, "typed") if not isinstance(event, AlarmRaised)]
    after = decide.applied(state, tuple(events))
    judged = in_spec(after, quantity)
    after = decide.applied(after, decide.walk(after))
    move = after.move
    changes = () if move is None or move.start else tuple((change.part, change.after) for change in move.changes)
    return (judged, after.verdict), (changes, after.unreachable)


# ---------------------------------------------------------------------- many builds


@dataclass
class Spoilt:
    """What one build with a mistake showed."""

    layout: str
    seed: int
    caught: Caught
    verdict: str
    readings: int
    asked_again: int
    amiss: list[str] = field(default_factory=list)
    false_in_spec: bool = False
    never_ended: bool = False
    wrong_way: int = 0
    false_alarms: int = 0

    @classmethod
    def of(cls, played: Played, caught: Caught) -> "Spoilt":
        """A build that was played."""
        return cls(
            played.layout, played.seed, caught, played.verdict, played.readings, played.asked_again, amiss(played),
            played.verdict == "in spec" and bool(played.untrue), bool(played.trouble), len(played.wrong_way), len(played.false_alarms),
        )  # fmt: skip

    @classmethod
    def read(cls, line: str) -> "Spoilt":
        """From its line in a file."""
        data = json.loads(line)
        return cls(**{**data, "caught": Caught(**data["caught"])})


@dataclass(frozen=True)
class Order:
    """One build to play: a mistake at an occasion, the `nth` time that it comes round."""

    name: str
    at: str
    nth: int
    layout: str
    seed: int

    @property
    def key(self) -> tuple[str, str, str, int]:
        """What tells it from the others."""
        return self.name, self.at, self.layout, self.seed


def orders(builds: int, first_seed: int, layouts: Sequence[str] = LAYOUTS, names: Sequence[str] = ()) -> Iterator[Order]:
    """`builds` for each mistake: its occasions take turns, and at each of them the layouts on which it can happen there.

    It happens the first or the second time that its occasion comes round; of backlash readings any of the first five.
    """
    for start, (name, mistake) in enumerate(MISTAKES.items()):
        if names and name not in names:
            continue
        ways = [(at, _possible(name, at, layouts, first_seed)) for at in mistake.occasions]
        ways = [(at, possible) for at, possible in ways if possible]
        for number in range(builds if ways else 0):
            turn, which = divmod(number, len(ways))
            at, possible = ways[which]
            # Rounds of layouts and of occasions do not keep step, so that each layout sees each time.
            nth = 1 + (turn + turn // len(possible)) % (5 if at == "read:backlash" else 2)
            # Every occasion has axles of its own; inches and millimetres go round with the seed.
            yield Order(name, at, nth, possible[(7 * start + 5 * which + turn) % len(possible)], first_seed + 61 * which + turn)


def _possible(name: str, at: str, layouts: Sequence[str], seed: int) -> list[str]:
    """The layouts on which a mistake can happen at an occasion."""
    etch = at.startswith("read:etch")  # asked for on order, on any layout
    return [layout for layout in layouts if etch or can_happen(Fault(name, at), build_of(layout, seed))]


def spoil(order: Order, constants: Constants) -> Spoilt:
    """One build with its mistake."""
    axle = VirtualAxle(build_of(order.layout, order.seed), order.seed, [Fault(order.name, order.at, order.nth)], constants)
    watch = FaultWatch(axle)
    return Spoilt.of(play(axle, watch=watch), watch.caught)


def row(spoilt: Sequence[Spoilt]) -> dict[str, float | int]:
    """The figures of one mistake's builds, or of all."""
    made = [each.caught for each in spoilt if each.caught.shown]
    shown, matter = [each for each in made if each.shows], [each for each in made if each.matters]
    alarmed = [each for each in matter if each.alarmed and each.in_time]
    return {
        "builds": len(spoilt),
        "made": len(made),
        "over 3 spreads": len(shown),
        "caught of those": mean([float(each.in_time) for each in shown]),
        "matter": len(matter),
        "caught": mean([float(each.in_time) for each in matter]),
        "other verdict, caught": mean([float(each.in_time) for each in made if each.verdict]),
        "by alarm": sum(each.in_time and each.how == "an alarm" for each in matter),
        "asked again": sum(each.in_time and each.how == "asked again" for each in matter),
        "as it came out": sum(each.in_time and each.how == "as it came out" for each in matter),
        "read again": sum(each.in_time and each.how == "read again" for each in matter),
        "cause in three": mean([float(each.named is not None and each.named <= 3) for each in alarmed]),
        "false alarms": sum(each.false_alarms for each in spoilt),
        "false in spec": sum(each.false_in_spec for each in spoilt),
        "out of spec": sum(each.verdict == "out of spec" for each in spoilt),
        "wrong way": sum(each.wrong_way for each in spoilt),
        "never ended": sum(each.never_ended for each in spoilt),
    }


def tables(spoilt: Sequence[Spoilt]) -> str:
    """A row for each mistake, one for each layout, one for all."""
    rows: dict[str, list[Spoilt]] = {}
    for each in spoilt:
        rows.setdefault(each.caught.name, []).append(each)
    for each in sorted(spoilt, key=lambda one: LAYOUTS.index(one.layout)):
        rows.setdefault(each.layout, []).append(each)
    return table({**{name: row(some) for name, some in rows.items()}, "all": row(spoilt)})


def main(arguments: Sequence[str] | None = None) -> int:
    """Play them and print the table. Exit status 1 when a build never ended."""
    parser = argparse.ArgumentParser(prog="python -m assistant.benchmarks.faults", description="Builds with a mistake in them.")
    parser.add_argument("--builds", type=int, default=50, help="for each mistake, its occasions and the layouts in turn")
    parser.add_argument("--mistakes", nargs="*", default=[], metavar="NAME", help=f"only these; one of {', '.join(MISTAKES)}")
    parser.add_argument("--layouts", nargs="*", default=list(LAYOUTS), help="only these, such as flange,spacer-shims,adjusters")
    parser.add_argument("--seed", type=int, default=FIRST_SEED, help="the first seed")
    parser.add_argument("--share", default="1/1", metavar="K/N", help="only every Nth build, from the Kth on: for several processes")
    parser.add_argument("--to", type=Path, help="a file that each build is added to; what it holds already is not played again")
    parser.add_argument("--tuning", action="store_true", help="axles with the constants that the thresholds were set on")
    parser.add_argument("--verbose", action="store_true", help="each build that did not go as it should, on standard error")
    given = parser.parse_args(arguments)
    for kind, words, known in (("layout", given.layouts, LAYOUTS), ("mistake", given.mistakes, tuple(MISTAKES))):
        for word in words:
            if word not in known:
                parser.error(f"{kind} {word!r}: expected one of {' '.join(known)}")
    first, _, every = given.share.partition("/")
    if not (first.isdecimal() and every.isdecimal() and 1 <= int(first) <= int(every)):
        parser.error(f"share {given.share!r}: expected K/N, such as 1/2")
    spoilt = [Spoilt.read(line) for line in _lines(given.to)]
    have = {(each.caught.name, each.caught.at, each.layout, each.seed) for each in spoilt}
    constants = Constants() if given.tuning else OTHER
    wanted = list(orders(given.builds, given.seed, given.layouts, given.mistakes))[int(first) - 1 :: int(every)]
    for order in wanted:
        if order.key not in have:
            spoilt.append(spoil(order, constants))
            _keep(given.to, spoilt[-1])
            if given.verbose:
                _tell(spoilt[-1])
    sys.stdout.write(f"{tables(spoilt)}\n")
    return 1 if any(each.never_ended for each in spoilt) else 0


def _lines(path: Path | None) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines() if path is not None and path.is_file() else []


def _keep(path: Path | None, spoilt: Spoilt) -> None:
    if path is not None:
        with path.open("a", encoding="utf-8") as file:
            file.write(f"{json.dumps(asdict(spoilt), ensure_ascii=False)}\n")


def _tell(spoilt: Spoilt) -> None:
    """What did not go as it should, on standard error."""
    caught = spoilt.caught
    said = list(spoilt.amiss)
    if caught.matters and not caught.in_time:
        said.append("missed")
    elif caught.matters and caught.alarmed and (caught.named or 9) > 3:
        said.append("not named")
    for text in said:
        sys.stderr.write(f"{spoilt.layout} {spoilt.seed} {caught}: {text}\n")


if __name__ == "__main__":
    sys.exit(main())
