"""Procedures are data: what is wrong with one is found before any work follows it, and the walk over one is its order."""

from dataclasses import replace
from typing import Any

import pytest

from assistant.core.axle import QUANTITIES
from assistant.core.steps import PHASES, PartRule, Procedure, Step, problems, text_problems


def step(step_id: str, phase: str = "inspect", kind: str = "do", ask: str = "done", **more: Any) -> Step:
    return Step(step_id, phase, kind, ask, **more)


SOUND = Procedure(
    "sound",
    (
        step("a.first", "intake"),
        step("a.read", "inspect", "measure", "reading", quantity="ring_runout", needs=("a.first",)),
        step("b.nut", "pinion_preload", "torque", caution="torque", voids=("pinion_drag",)),
        step("b.cone", "pinion_preload", "press", caution="press"),
        step("b.judge", "pinion_preload", "decide", "judge", quantity="pinion_drag", redo=("b.nut",)),
        step("c.case", "carrier", caution="lift", undoes=("b.*",)),
        step("c.choice", "carrier", "decide", "choice", choices=("one", "two")),
    ),
    (PartRule("preload_shims", ("b.*",), ("pinion_drag",)),),
    ("pinion_drag",),
    "checksum",
)


def with_step(changed: Step) -> Procedure:
    return replace(SOUND, steps=tuple(changed if each.id == changed.id else each for each in SOUND.steps))


def test_a_sound_procedure_has_no_problems() -> None:
    assert problems(SOUND) == []


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (step("b.nut", "pinion_preload", "torque"), "step b.nut: a torque step needs its own torque caution"),
        (step("b.nut", "pinion_preload", "torque", caution="press"), "step b.nut: a torque step needs its own torque caution"),
        (step("b.cone", "pinion_preload", "press", caution="torque"), "step b.cone: a press step needs its own press caution"),
        (step("b.cone", "pinion_preload", "press"), "step b.cone: a press step needs its own press caution"),
        (step("a.first", "kitchen"), "step a.first: phase 'kitchen', expected one of intake, baseline"),
        (step("a.first", "intake", "dance"), "step a.first: kind 'dance', expected one of do, measure"),
        (step("a.first", "intake", "do", "song"), "step a.first: ask 'song', expected one of done, reading"),
        (step("c.case", "carrier", caution="noise"), "step c.case: caution 'noise', expected one of torque, press"),
        (step("a.read", "inspect", "measure", "reading"), "step a.read: asks for a reading but names no quantity"),
        (step("a.read", "inspect", "measure", "reading", quantity="wobble"), "step a.read: quantity 'wobble' is not in the interface"),
        (step("a.first", "intake", needs=("c.case",)), "step a.first: its gate 'c.case' is not an earlier step"),
        (step("a.first", "intake", needs=("a.first",)), "step a.first: its gate 'a.first' is not an earlier step"),
        (step("c.case", "carrier", undoes=("d.*",)), "step c.case: undoes 'd.*', which names no step"),
        (step("c.case", "carrier", voids=("wobble",)), "step c.case: voids 'wobble', not a quantity"),
        (step("c.case", "carrier", fits="spoon"), "step c.case: fits 'spoon', expected one of pinion_shims"),
        (step("c.choice", "carrier", "decide", "choice", choices=("one",)), "step c.choice: a choice needs at least two choices"),
        (step("b.judge", "pinion_preload", "decide", "judge", quantity="pinion_drag", redo=("x.y",)), "b.judge: undoes 'x.y'"),
        (step("c.choice", "intake"), "the phases are out of order"),
    ],
)
def test_each_slip_is_told_with_its_place(changed: Step, says: str) -> None:
    found = problems(with_step(changed))
    assert any(says in problem for problem in found), found


def test_all_problems_are_told_at_once() -> None:
    twice = replace(SOUND, steps=(*SOUND.steps, step("a.first", "kitchen"), step("x.nut", "final", "torque", caution="lift")))
    found = problems(twice)
    assert len(found) >= 3
    assert any("used twice" in problem for problem in found)


def test_a_part_rule_names_parts_and_steps_that_there_are() -> None:
    wrong = replace(SOUND, parts=(PartRule("spoon", ("x.*",), ()),))
    assert problems(wrong) == ["sound: part 'spoon' is not in the interface", "sound: part spoon: 'x.*' names no step"]


def test_preload_and_depth_may_alternate_but_nothing_else() -> None:
    """Some layouts set both in one assembly."""
    both = (step("d.one", "pinion_depth"), step("p.one", "pinion_preload"), step("d.two", "pinion_depth"), step("c.one", "carrier"))
    assert problems(replace(SOUND, steps=both, parts=())) == []
    back = (step("c.one", "carrier"), step("p.one", "pinion_preload"))
    assert problems(replace(SOUND, steps=back, parts=())) == ["sound: the phases are out of order"]


def test_globs_name_steps_in_the_order_of_the_work() -> None:
    assert SOUND.matching(["b.*"]) == ("b.nut", "b.cone", "b.judge")
    assert SOUND.matching(["c.case", "a.first"]) == ("a.first", "c.case")
    assert SOUND.matching(["b"]) == ()


def test_a_step_and_a_rule_are_found_by_name_or_not_at_all() -> None:
    assert SOUND.step("b.nut").kind == "torque"
    assert SOUND.rule("preload_shims").voids == ("pinion_drag",)
    with pytest.raises(KeyError):
        SOUND.step("b.bolt")
    with pytest.raises(KeyError):
        SOUND.rule("pinion_shims")


def test_a_step_without_words_is_told() -> None:
    titles = [each.id for each in SOUND.steps if each.id != "b.cone"]
    assert text_problems(SOUND, titles) == ["sound: step b.cone has no title in the phrases"]
    shared = with_step(step("b.cone", "pinion_preload", "press", caution="press", words="b.nut"))
    assert text_problems(shared, titles) == []


def test_the_phases_and_quantities_are_those_of_the_interface() -> None:
    """The public interface (docs/machine.md), written out."""
    assert PHASES == ("intake", "baseline", "inspect", "pinion_preload", "pinion_depth", "carrier", "backlash", "pattern", "final")
    assert set(QUANTITIES) == {
        "etch_old", "etch_new", "pinion_drag", "seal_drag", "pinion_depth", "bore_diameter", "plane_to_bore", "shim_thickness",
        "stack_thickness", "old_stack_thickness", "ring_runout", "backlash", "carrier_drag", "total_drag", "spread", "nut_torque",
        "cap_torque", "baseline_backlash", "baseline_total_drag",
    }  # fmt: skip
