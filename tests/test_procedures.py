"""Every procedure, as data and walked to its end: no torque or press step without its accepted caution, and every gate holds.

The walks are made by the technician of the virtual axle, who knows the interface and nothing of the engine. The order that is asked for here is
that of the manuals, told beside each check; where none is named it is common practice, no source.
"""

import itertools
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache

import pytest

from assistant.core import events as ev
from assistant.core.axle import CARRIERS, PINION_SHIMS, PRELOADS, Axle
from assistant.core.phrases import fields_of
from assistant.core.state import in_spec
from assistant.core.steps import Procedure, Step, problems
from assistant.files import check, job_from, phrases_for, procedure_for
from assistant.headless import input_from
from assistant.technician import Technician
from assistant.virtual_axle import Build, VirtualAxle
from tests.table import Line, Table

LAYOUTS = list(itertools.product(PINION_SHIMS, PRELOADS, CARRIERS))
NAMES = [" + ".join(layout) for layout in LAYOUTS]


def procedure(layout: tuple[str, str, str]) -> Procedure:
    return procedure_for(Axle(*layout, "left", "face-milled", 37, 9))


every_layout = pytest.mark.parametrize("layout", LAYOUTS, ids=NAMES)

# ---- as data


@every_layout
def test_every_layout_has_its_procedure_whole_and_with_words_for_all_of_it(layout: tuple[str, str, str]) -> None:
    found = procedure(layout)
    assert problems(found) == []
    check(found, phrases_for())
    assert len(found.steps) > 30


@every_layout
def test_every_torque_and_press_step_is_guarded_by_a_caution_of_its_own(layout: tuple[str, str, str]) -> None:
    words = phrases_for().steps
    for step in procedure(layout).steps:
        if step.kind in ("torque", "press"):
            assert step.caution == step.kind
        if step.caution is not None:
            assert words[step.text].caution.startswith("Caution")


# What a hand is told to do, where it can hurt: words for tightening to a figure, and for pressing or driving a part home.
_TORQUING = re.compile(r"\b(torque (the|its|their|them|it|to|crosswise)|torqued|tighten .* to the manual)\b", re.IGNORECASE)
_PRESSING = re.compile(r"\b(press|drive) (the|both|each|a|it|on)\b", re.IGNORECASE)


@every_layout
def test_no_other_step_tells_to_torque_or_to_press(layout: tuple[str, str, str]) -> None:
    words = phrases_for().steps
    for step in procedure(layout).steps:
        if step.kind in ("do", "measure", "decide"):
            told = words[step.text].say
            assert not _TORQUING.search(told), f"{step.id}: {told}"
            assert not _PRESSING.search(told), f"{step.id}: {told}"


@every_layout
def test_every_torque_defers_to_the_manual_and_names_no_figure_of_ours(layout: tuple[str, str, str]) -> None:
    words = phrases_for().steps
    for step in procedure(layout).steps:
        text = words[step.text]
        told = f"{text.say} {text.caution} {text.why}"
        assert not re.search(r"\d", told), f"{step.id}: figures are said as words: {told}"
        if step.kind == "torque":
            assert "manual" in told, step.id


@every_layout
def test_what_the_words_ask_to_be_filled_in_is_known(layout: tuple[str, str, str]) -> None:
    words = phrases_for().steps
    for step in procedure(layout).steps:
        known = {"ring_side", "opposite", "seat", "ring_teeth", "pinion_teeth", "pinion", "keep", "back", "locks"}
        assert fields_of(words[step.text].say) <= known, step.id


@every_layout
def test_what_is_read_again_has_lost_its_reading(layout: tuple[str, str, str]) -> None:
    """A measure step that is undone while its reading stands would be done again unseen."""
    found = procedure(layout)
    spoils = [(rule.part, rule.undoes, rule.voids) for rule in found.parts]
    spoils += [(step.id, step.undoes, step.voids) for step in found.steps if step.undoes]
    spoils += [(step.id, step.redo, (step.quantity or "",)) for step in found.steps if step.redo]
    for name, undoes, voids in spoils:
        undone = [found.step(step_id) for step_id in found.matching(undoes)]
        for step in undone:
            voids = (*voids, *step.voids)  # a step that is made again before it may take it too
            if step.ask in ("reading", "pattern", "creep"):
                assert step.quantity in voids, f"{name} undoes {step.id}, whose {step.quantity} still stands"


# ---- walked

BUILDS = {
    name: Build(
        pinion_shims=layout[0], preload=layout[1], carrier=layout[2],
        units=("in", "mm")[index % 2], etch_sign=("away", "toward")[index // 2 % 2], spots=(3, 4, 6)[index % 3],
    )
    for index, (name, layout) in enumerate(zip(NAMES, LAYOUTS, strict=True))
}  # fmt: skip


@dataclass
class Walk:
    """One job, walked to its end by the technician: what happened, with what had been done by then."""

    table: Table
    shown: list[tuple[Step, frozenset[str], frozenset[str]]] = field(default_factory=list)  # step, done, accepted cautions

    @property
    def events(self) -> list[ev.Event]:
        return self.table.events


@cache
def walk(name: str) -> Walk:
    """The job of a layout on a virtual axle, answered to its end."""
    axle = VirtualAxle(BUILDS[name], seed=20 + NAMES.index(name))  # another axle for each layout
    table = Table(job_from(tomllib.loads(axle.job_toml()), "job.toml"))
    hands = Technician(axle)
    found = Walk(table)
    accepted: set[str] = set()
    guarded: str | None = None
    for _ in range(600):
        batch = table.batch
        for line in batch:
            if "caution" in line:
                guarded = line["caution"]["id"]
            if "step" in line:
                step = table.procedure.step(line["step"]["id"])
                found.shown.append((step, table.state.done, frozenset(accepted)))
                accepted.discard(step.id)
        if table.end is not None:
            return found
        hands.observe(batch)
        line = hands.answer(table.wait)
        if line == {"say": "understood"} and guarded is not None:
            accepted.add(guarded)
        table.give(input_from(line))
    raise AssertionError(f"{name}: no end after 600 inputs; the wait is {table.wait}")


every_walk = pytest.mark.parametrize("name", NAMES)


@every_walk
def test_a_walk_ends_in_spec_on_an_axle_without_mistakes(name: str) -> None:
    assert walk(name).table.end == {"verdict": "in spec", "job": "job", "failed": []}


@every_walk
def test_no_torque_or_press_step_is_shown_without_its_accepted_caution(name: str) -> None:
    found = walk(name)
    guarded = [(step, accepted) for step, _, accepted in found.shown if step.kind in ("torque", "press")]
    assert len(guarded) >= 6
    creeping = ""  # tightening on a crush sleeve is one step with many moves: its caution is accepted on entry
    for step, accepted in guarded:
        assert step.id in accepted or step.id == creeping, step.id
        creeping = step.id if step.ask == "creep" else ""


@every_walk
def test_what_a_step_says_to_do_is_heard_when_it_comes(name: str) -> None:
    """Also where a pack is fitted with it: which shims is one thing, where they go and what stays out is another (common practice, no source)."""
    found = walk(name)
    heard = " ".join(found.table.all_lines("speak"))
    for step in {step for step, _, _ in found.shown if step.ask != "judge"}:
        literal = re.split(r" ?\{\w+\}", phrases_for().steps[step.text].say)
        assert [part for part in literal if part not in heard] == [], step.id


@every_walk
def test_nothing_heavy_or_under_load_comes_out_for_a_change_without_its_hazard(name: str) -> None:
    """The cautions of docs/trade.md, section 8: cap bolts out, a preloaded case can jump; a heavy case or cartridge; a cone that is pressed off."""
    build, table = BUILDS[name], walk(name).table
    hazards = {
        "pinion_shims": {"flange": "heavy"}.get(build.pinion_shims, "eye protection"), "preload_shims": "eye protection",
        "ring_side_shims": "it can jump", "opposite_shims": "it can jump", "ring_side_adjuster": "Cap bolts slack first",
    }  # fmt: skip
    starts = {event.group for event in table.events if isinstance(event, ev.MoveProposed) and event.start}
    for batch in table.batches:
        said = " ".join(line["speak"] for line in batch if "speak" in line)
        for move in (line["move"] for line in batch if "move" in line and line["move"]["group"] not in starts):
            assert hazards.get(move["part"], "") in said, (move["part"], said)
            if move["part"] == "pinion_shims" and build.pinion_shims != "flange":
                assert ("it can jump" in said) == ("Case into the housing" in _titles_before(table, batch)), said


def _titles_before(table: Table, until: list[Line]) -> set[str]:
    before = table.batches[: next(i for i, batch in enumerate(table.batches) if batch is until)]
    return {line["step"]["title"] for batch in before for line in batch if "step" in line}


@every_walk
def test_no_part_is_named_that_the_axle_does_not_have(name: str) -> None:
    """A cartridge only where the shims lie under its flange, adjusters only where they set the carrier."""
    heard = " ".join(walk(name).table.all_lines("speak")).lower()
    build = BUILDS[name]
    assert ("cartridge" in heard) == (build.pinion_shims == "flange")
    assert ("adjuster" in heard) == (build.carrier == "adjusters")
    assert ("crush sleeve" in heard) == (build.preload == "crush-sleeve")


@every_walk
def test_no_step_is_shown_before_its_gates(name: str) -> None:
    found = walk(name)
    for step, done, _ in found.shown:
        missing = [gate for gate in step.needs if gate not in done]
        assert not missing, f"{step.id} was shown before {missing}"


def _at(found: Walk, kind: type[ev.Event], **fields: object) -> list[int]:
    return [
        index
        for index, event in enumerate(found.events)
        if isinstance(event, kind) and all(getattr(event, key) == value for key, value in fields.items())
    ]


def _moments(found: Walk, kind: type[ev.Event], **fields: object) -> Iterator[int]:
    moments = _at(found, kind, **fields)
    assert moments, f"nothing of {kind.__name__} {fields}"
    yield from moments


def _done_before(found: Walk, moment: int) -> set[str]:
    done: set[str] = set()
    for event in found.events[:moment]:
        if isinstance(event, ev.StepDone):
            done.add(event.step)
        elif isinstance(event, ev.StepsUndone):
            done -= set(event.steps)
    return done


@every_walk
def test_caps_are_marked_before_anything_comes_apart(name: str) -> None:
    """Caps are bored with the housing; swapped caps cross-thread the adjusters (Meritor MM-0230)."""
    found = walk(name)
    for moment in _moments(found, ev.StepBegan, step="inspect.clean"):
        assert "inspect.mark_caps" in _done_before(found, moment)


@every_walk
def test_a_pair_is_a_pair_before_its_ring_is_bolted(name: str) -> None:
    """The wrong pair cannot be shimmed right (Ford 1982 axle page: matching numbers)."""
    found = walk(name)
    for moment in _moments(found, ev.StepBegan, step="carrier.ring_bolts"):
        assert "inspect.match" in _done_before(found, moment)


@every_walk
def test_depth_is_read_with_the_bearings_held(name: str) -> None:
    """A depth is true only with the bearings loaded (GM Yukon XL 2009): by drag with a spacer, by the trial nut without a sleeve."""
    found = walk(name)
    for moment in _moments(found, ev.Recorded, quantity="pinion_depth"):
        done = _done_before(found, moment)
        if BUILDS[name].preload == "spacer-shims":
            drag = found.table.replayed(moment).latest("pinion_drag")
            assert drag is not None
            assert drag.value is not None
            low = found.table.state.limits("pinion_drag")
            assert low is not None
            assert low.low is not None
            assert 2 * drag.value.base >= low.low.base
        else:
            assert done & {"depth.trial_nut", "preload.trial_nut"}


@every_walk
def test_backlash_is_read_with_the_caps_at_their_torque(name: str) -> None:
    """Caps move the readings (docs/trade.md, section 2, gate of step 10)."""
    found = walk(name)
    for moment in _moments(found, ev.Recorded, quantity="backlash"):
        state = found.table.replayed(moment)
        assert {"carrier.caps", "final.locks"} & state.done
        torque = state.latest("cap_torque")
        assert torque is not None
        assert in_spec(state, "cap_torque") is True


@every_walk
def test_a_print_is_taken_only_with_every_number_in_its_range(name: str) -> None:
    """A pattern with loose bearings is a picture of the looseness (GM pattern text: drag, case preload and backlash first)."""
    found = walk(name)
    first = next(_moments(found, ev.Recorded, quantity="pattern_drive"))
    state = found.table.replayed(first)
    assert in_spec(state, "backlash") is True
    assert in_spec(state, "pinion_depth") is True
    if BUILDS[name].preload == "spacer-shims":
        assert in_spec(state, "pinion_drag") is True


@every_walk
def test_seals_sleeves_and_the_last_nut_wait_for_the_final_build(name: str) -> None:
    """Trial numbers do not carry over: seal, sleeve and nut for good go in after the pattern was accepted (docs/trade.md, section 2, step 14)."""
    found = walk(name)
    prints = max(_at(found, ev.StepDone, step="pattern.coast"))
    late = [step.id for step in found.table.procedure.steps if step.phase == "final"]
    assert "final.nut" in late
    assert any(step.startswith("final.seal") for step in late)
    first = min(index for step in late for index in _at(found, ev.StepBegan, step=step))
    assert first > min(_at(found, ev.StepDone, step="pattern.coast"))
    sleeves = [i for i, e in enumerate(found.events) if isinstance(e, ev.MoveMade) and _changes(found, e.group, "crush_sleeve")]
    assert all(index > prints for index in sleeves)
    assert bool(sleeves) == (BUILDS[name].preload == "crush-sleeve")


def _changes(found: Walk, group: str, part: str) -> bool:
    return any(isinstance(e, ev.MoveProposed) and e.group == group and any(c.part == part for c in e.changes) for e in found.events)


@every_walk
def test_after_the_last_nut_the_drag_the_total_the_backlash_and_both_prints_are_taken_again(name: str) -> None:
    """The void map of docs/trade.md, section 6c: the final torque takes these their ground; the accepted depth stays."""
    found = walk(name)
    nut = max(_at(found, ev.StepBegan, step="final.nut"))
    for quantity in ("pinion_drag", "total_drag", "backlash", "pattern_drive", "pattern_coast"):
        standing = {reading.id for reading in found.table.state.current(quantity)}
        assert standing, quantity
        for moment in _at(found, ev.Recorded, quantity=quantity):
            event = found.events[moment]
            assert isinstance(event, ev.Recorded)
            assert event.id not in standing or moment > nut, quantity


@every_walk
def test_nothing_stands_that_was_read_before_its_ground_was_moved(name: str) -> None:
    """The void map once more, over every move that was made: a changed part takes the readings that hang on it."""
    hang = {
        "pinion_shims": ("pinion_depth", "backlash", "pattern_drive", "pattern_coast", "total_drag"),
        "preload_shims": ("pinion_drag", "pinion_depth", "pattern_drive", "pattern_coast", "total_drag"),
        "crush_nut": ("pinion_drag", "total_drag"),
        "crush_sleeve": ("pinion_drag", "total_drag"),
        "ring_side_adjuster": ("backlash", "carrier_drag", "pattern_drive", "pattern_coast", "total_drag"),
        "opposite_adjuster": ("backlash", "carrier_drag", "pattern_drive", "pattern_coast", "total_drag"),
        "ring_side_shims": ("backlash", "carrier_drag", "pattern_drive", "pattern_coast", "total_drag"),
        "opposite_shims": ("backlash", "carrier_drag", "pattern_drive", "pattern_coast", "total_drag"),
    }
    found = walk(name)
    for made in (i for i, e in enumerate(found.events) if isinstance(e, ev.MoveMade)):
        event = found.events[made]
        assert isinstance(event, ev.MoveMade)
        before = {e.id for e in found.events[:made] if isinstance(e, ev.Recorded)}
        for part, quantities in hang.items():
            if _changes(found, event.group, part):
                for quantity in quantities:
                    assert not before & {reading.id for reading in found.table.state.current(quantity)}, (event.group, part, quantity)


def test_the_walks_make_corrections_of_every_kind_of_part() -> None:
    """So that the laws above have something to hold."""
    parts = {
        change.part for name in NAMES for e in walk(name).events if isinstance(e, ev.MoveProposed) and not e.start for change in e.changes
    }
    assert parts >= {
        "pinion_shims", "preload_shims", "crush_nut", "ring_side_adjuster", "opposite_adjuster", "ring_side_shims", "opposite_shims",
    }  # fmt: skip


def test_lines_of_a_walk_name_only_steps_of_its_procedure() -> None:
    table = walk(NAMES[0]).table
    lines: list[Line] = table.all_lines("step")
    assert {line["id"] for line in lines} <= {step.id for step in table.procedure.steps}
