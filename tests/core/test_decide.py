"""What an input brings, at any moment of a job; and what no input may ever bring."""

import dataclasses
import json
from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assistant.core import events as ev
from assistant.core.evolve import begin, evolve
from assistant.core.inputs import Input, Pedal, Said, Taken
from assistant.core.quantities import Quantity
from assistant.core.state import State
from tests.conftest import job_with
from tests.strategies import inputs
from tests.table import Line, Table, plain

# ---- a model simple enough to trust: it reads the lines and the inputs, and the job's table; nothing of the engine


class Watch:
    """Holds every batch to the promises that may never be broken."""

    def __init__(self, table: Table, wait: Line | None) -> None:
        self.table = table
        self.wait = wait
        self.shown_caution: str | None = None
        self.accepted: set[str] = set()
        if wait is not None and wait["for"] == "caution":
            self.shown_caution = table.step

    def give(self, given: Input) -> None:
        """One input, watched."""
        before, wait = self.table.state, self.wait
        understood = isinstance(given, Said) and "understood" in given.words.lower() and wait is not None and wait["for"] == "caution"
        if understood and self.shown_caution is not None and not before.held:
            self.accepted.add(self.shown_caution)
        batch = self.table.give(given)
        self._ends_once(batch)
        self._cautions(batch)
        self._records(batch, given, wait)
        if any("error" in line for line in batch):
            self._nothing_changed(batch, before, wait)
        json.dumps(batch, allow_nan=False)
        assert "float" not in str({type(value) for value in _leaves(batch)})
        self.wait = batch[-1].get("wait")

    def _ends_once(self, batch: list[Line]) -> None:
        assert [line for line in batch if "wait" in line or "end" in line] == [batch[-1]]

    def _cautions(self, batch: list[Line]) -> None:
        for line in batch:
            if "caution" in line:
                self.shown_caution = line["caution"]["id"]
            if "step" in line and line["step"]["kind"] in ("torque", "press"):
                assert line["step"]["id"] in self.accepted, f"{line['step']['id']} was shown without its accepted caution"
                self.accepted.discard(line["step"]["id"])

    def _records(self, batch: list[Line], given: Input, wait: Line | None) -> None:
        recorded = [line["recorded"] for line in batch if "recorded" in line]
        if not recorded:
            return
        assert len(recorded) == 1
        if isinstance(given, Taken):
            assert (recorded[0]["value"], recorded[0]["unit"]) == (given.value.text, given.value.unit)
            return
        assert isinstance(given, Pedal) or (isinstance(given, Said) and given.words)
        assert wait is not None
        assert wait["for"] == "confirm"
        assert wait["quantity"] == recorded[0]["quantity"]
        told = wait["value"] if isinstance(wait["value"], str) else (wait["value"]["value"], wait["value"]["unit"])
        assert told == (recorded[0]["value"] if isinstance(wait["value"], str) else (recorded[0]["value"], recorded[0]["unit"]))

    def _nothing_changed(self, batch: list[Line], before: State, wait: Line | None) -> None:
        assert not [line for line in batch if not set(line) & {"error", "speak", "wait", "end"}]
        assert batch[-1].get("wait") == wait
        assert plain(dataclasses.replace(self.table.state, misses=0, last_reply=None)) == plain(
            dataclasses.replace(before, misses=0, last_reply=None)
        )


def _leaves(value: Any) -> Iterable[Any]:
    if isinstance(value, dict):
        for key, each in value.items():
            if key != "degrees":
                yield from _leaves(each)
    elif isinstance(value, list):
        for each in value:
            yield from _leaves(each)
    else:
        yield value


def may_end_in_spec(table: Table) -> bool:
    """By the job's own table and the recorded values that stand: whether nothing that is needed is missing, void or out of range."""
    standing: dict[str, dict[int, Quantity]] = {}
    prints: dict[str, set[int]] = {}
    void = {reading.id for reading in table.state.readings if reading.void is not None}
    for event in table.events:
        if isinstance(event, ev.Recorded) and event.id not in void:
            if event.value is not None:
                standing.setdefault(event.quantity, {})[event.spot] = event.value
            else:
                prints.setdefault(event.quantity, set()).add(event.spot)
    if any(prints.get(flank, set()) != {1, 2, 3} for flank in ("pattern_drive", "pattern_coast")):
        return False
    mark = standing.get("etch_new", {}).get(0, Quantity.of("-2", "0.001 in")).base

    def within(quantity: str, low: str, high: str, unit: str, shift: Fraction = Fraction(0)) -> bool:
        values = standing.get(quantity, {})
        return bool(values) and all(
            Quantity.of(low, unit).base + shift <= value.base <= Quantity.of(high, unit).base + shift for value in values.values()
        )

    lash = [value.base for value in standing.get("backlash", {}).values()]
    offset = Fraction(0)
    if table.state.answer("depth.taken_from") == "from the plane":
        offset = standing["plane_to_bore"][0].base - standing["bore_diameter"][0].base / 2
    return (
        within("pinion_drag", "16", "29", "lb-in")
        and within("pinion_depth", "2.6230", "2.6270", "in", mark + offset)
        and within("backlash", "0.0060", "0.0100", "in")
        and set(standing["backlash"]) == {1, 2, 3}
        and max(lash) - min(lash) <= Quantity.of("0.0030", "in").base
        and within("total_drag", "24", "40", "lb-in")
        and within("ring_runout", "0", "0.0040", "in")
        and within("nut_torque", "160", "200", "lb-ft")
        and within("cap_torque", "75", "75", "lb-ft")
    )


# ---- walks

# Where a walk may begin: after so many good answers of one whole job. States and events never change, so they are shared.
_STARTS: list[tuple[State, list[ev.Event], list[list[Line]]]] = []


def _starts() -> list[tuple[State, list[ev.Event], list[list[Line]]]]:
    if not _STARTS:
        table = Table(job_with(), {"pinion_drag": ["12 lb-in", "22 lb-in"], "backlash": ["0.0150 in"] * 3 + ["0.0082 in"]})
        while table.end is None:
            _STARTS.append((table.state, list(table.events), list(table.batches)))
            table.answer()
    return _STARTS


# What a technician with a good axle does, beside whatever else may come in: answers by word, or by the gauge where it can.
GOOD, GAUGE = "good", "gauge"


def _meant(table: Table, move: Input | str) -> Input:
    if not isinstance(move, str):
        return move
    words = table.answer_words()
    wait = table.wait
    if move == GAUGE and wait["for"] == "reading" and words != "done" and not wait["quantity"].startswith("etch"):
        return Taken("dial", Quantity.parse(words), "gauge 1", "0d0a")
    return Said(words)


def walked(begin_at: int, moves: list[Input | str]) -> Table:
    """A job after good answers up to a moment and then `moves`, watched."""
    starts = _starts()
    state, events, batches = starts[begin_at % len(starts)]
    table = Table(job_with())
    table.state, table.events, table.batches = state, list(events), list(batches)
    watch = Watch(table, table.wait)
    for move in moves:
        if table.state.stopped:
            watch.wait = table.resume()[-1].get("wait")
        if table.end is not None:
            break
        watch.give(_meant(table, move))
    return table


MOVES = st.lists(st.one_of(st.just(GOOD), st.just(GOOD), st.just(GAUGE), inputs()), max_size=50)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(begin_at=st.integers(0, 10**4), moves=MOVES)
def test_no_input_at_any_moment_breaks_a_promise(begin_at: int, moves: list[Input | str]) -> None:
    table = walked(begin_at, moves)
    if table.state.verdict == "in spec":
        assert may_end_in_spec(table)


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(begin_at=st.integers(0, 10**4), moves=MOVES, cut=st.integers(0, 10**4))
def test_any_prefix_of_a_journal_gives_the_same_state_digit_for_digit(begin_at: int, moves: list[Input | str], cut: int) -> None:
    table = walked(begin_at, moves)
    assert plain(table.replayed()) == plain(table.state)
    upto = 1 + cut % len(table.events)
    first = table.events[0]
    assert isinstance(first, ev.JobStarted)
    state = begin(first, table.procedure, table.phrases)
    for event in table.events[1:upto]:
        state = evolve(state, event)
    assert plain(table.replayed(upto)) == plain(state)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(begin_at=st.integers(0, 10**4), moves=MOVES)
def test_a_job_resumed_at_any_moment_repeats_what_was_recorded_and_waits_for_the_same(begin_at: int, moves: list[Input | str]) -> None:
    table = walked(begin_at, moves)
    before = next(batch[-1] for batch in reversed(table.batches) if "wait" in batch[-1])
    recorded = [line for line in table.all_lines("recorded") if "replayed" not in line]
    again = table.resume()
    assert [line["recorded"] for line in again if "recorded" in line] == [{**line, "replayed": True} for line in recorded]
    assert again[-1] == (before if table.state.verdict is None else {"end": table.end})
    if table.state.caution_open and table.state.correcting is None and table.state.alarm is None:
        assert table.lines("caution")
        assert not table.lines("step")
    elif table.state.verdict is None:
        assert [line["id"] for line in table.lines("step")] == [table.step]
