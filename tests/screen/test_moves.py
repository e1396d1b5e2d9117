"""The change to make, as it is drawn: which part, which way, how much, and on which side as one faces the housing."""

from typing import Any

import pytest

from assistant.core.events import Change, MoveProposed
from assistant.core.quantities import Quantity
from assistant.core.state import State
from assistant.core.steps import MOVE_PARTS
from assistant.screen.moves import PICTURES, amount_text, drawn_move
from assistant.screen.words import words_for
from tests.conftest import job_with
from tests.table import Table

WORDS = words_for("en")


def state_with(**axle: str) -> State:
    """The job with another layout, before any input."""
    return Table(job_with(lambda data: data["axle"].update(axle))).state


def move(*changes: Change, start: bool = False) -> MoveProposed:
    low, high = Quantity.of("0.0070", "in"), Quantity.of("0.0090", "in")
    return MoveProposed("m1", "backlash.judge", changes, "backlash", Quantity.of("0.0080", "in"), low, high, None, "because", start)


def change(part: str, before: str, after: str, by: str, unit: str, stack: tuple[str, ...] = ()) -> Change:
    sizes = [Quantity.of(size, unit) for size in (before, after, by)]
    return Change(part, *sizes, tuple(Quantity.of(shim, unit) for shim in stack))


def drawn(state: State, *changes: Change, start: bool = False) -> dict[str, Any]:
    return drawn_move(state, move(*changes, start=start), WORDS)


# The interface: the ring side is the bearing behind the ring gear's back face; tightening it, or a thicker shim there, moves the ring gear
# toward the pinion; `ring_gear_side` says where that back faces (docs/machine.md, Words).
@pytest.mark.parametrize(
    ("back", "ring", "opposite", "goes"),
    [("left", "1", "-1", "right"), ("left", "-1", "1", "left"), ("right", "1", "-1", "left"), ("right", "-1", "1", "right")],
)
def test_the_ring_gear_is_drawn_moving_to_the_side_it_moves_to(back: str, ring: str, opposite: str, goes: str) -> None:
    found = drawn(
        state_with(ring_gear_side=back),
        change("ring_side_adjuster", "0", ring, ring, "notch"),
        change("opposite_adjuster", "0", opposite, opposite, "notch"),
    )
    assert found["ring"] == goes
    assert found["goes"] == f"the ring gear moves to the {goes.upper()}, as you face the housing"
    other = "right" if back == "left" else "left"
    assert [one["side"] for one in found["changes"]] == [back, other]
    assert [one["way"] for one in found["changes"]] == ["tighten" if ring == "1" else "loosen", "tighten" if opposite == "1" else "loosen"]


def test_adjusters_say_their_side_their_way_and_their_notches() -> None:
    found = drawn(
        state_with(),
        change("opposite_adjuster", "1", "-1", "-2", "notch"),
        change("ring_side_adjuster", "1", "2", "1", "notch"),
    )
    assert [one["headline"] for one in found["changes"]] == ["RIGHT adjuster: loosen 2 notches", "LEFT adjuster: tighten 1 notch"]
    assert [one["from_to"] for one in found["changes"]] == ["1 → -1 notch", "1 → 2 notches"]


def test_both_sides_alike_leave_the_ring_gear_where_it_is() -> None:
    found = drawn(state_with(), change("ring_side_adjuster", "0", "1", "1", "notch"), change("opposite_adjuster", "0", "1", "1", "notch"))
    assert (found["ring"], found["goes"]) == (None, None)


# A thicker shim at the cartridge's flange moves the pinion out, under the head cone or behind the head cup in (sources in core/axle.py).
@pytest.mark.parametrize(
    ("layout", "by", "goes"),
    [("flange", "0.0020", "out"), ("flange", "-0.0020", "in"), ("head-cone", "0.0020", "in"), ("head-cup", "-0.0020", "out")],
)
def test_the_pinion_is_drawn_moving_the_way_its_shim_moves_it(layout: str, by: str, goes: str) -> None:
    after = "0.0320" if by == "0.0020" else "0.0280"
    found = drawn(state_with(pinion_shims=layout), change("pinion_shims", "0.0300", after, by, "in", ("0.0100", "0.0100", "0.0080")))
    assert found["pinion"] == goes
    assert goes.upper() in found["goes"]


def test_a_pack_is_told_shim_by_shim_with_its_total() -> None:
    found = drawn(state_with(), change("pinion_shims", "0.0300", "0.0260", "-0.0040", "in", ("0.0100", "0.0100", "0.0030", "0.0030")))
    (only,) = found["changes"]
    assert only["headline"] == "Pinion shim pack: 0.0040 in thinner, total 0.0260 in"
    assert [shim["text"] for shim in only["stack"]] == ["2 × 0.0100", "2 × 0.0030"]
    assert (only["picture"], only["side"]) == ("pinion", None)


def test_side_packs_say_their_side() -> None:
    state = state_with()
    found = drawn(
        state,
        change("ring_side_shims", "0.0800", "0.0830", "0.0030", "in", ("0.0830",)),
        change("opposite_shims", "0.0800", "0.0770", "-0.0030", "in", ("0.0770",)),
    )
    assert [one["headline"] for one in found["changes"]] == [
        "LEFT ring side shim pack: 0.0030 in thicker, total 0.0830 in",
        "RIGHT opposite shim pack: 0.0030 in thinner, total 0.0770 in",
    ]
    assert found["ring"] == "right"


def test_a_nut_is_tightened_by_an_angle_and_a_sleeve_is_new() -> None:
    state = state_with()
    assert drawn(state, change("crush_nut", "30", "45", "15", "deg"))["changes"][0]["headline"] == "Pinion nut: tighten 15° more"
    assert drawn(state, change("crush_sleeve", "0", "1", "1", "1"))["changes"][0]["headline"] == "A new crush sleeve"


def test_a_first_pack_moves_nothing_and_promises_nothing() -> None:
    found = drawn(state_with(), change("pinion_shims", "0.0300", "0.0260", "-0.0040", "in"), start=True)
    assert (found["pinion"], found["ring"], found["expect"], found["chance"]) == (None, None, None, None)


def test_what_a_correction_aims_at_is_told(table: Table) -> None:
    table.answers["backlash"] = ["0.0150 in", "0.0160 in", "0.0155 in", "0.0082 in"]
    table.until(lambda at: at.state.move is not None and at.state.move.quantity == "backlash" and not at.state.move.start)
    assert table.state.move is not None
    found = drawn_move(table.state, table.state.move, WORDS)
    (line,) = table.lines("move")[:1]
    assert line["expect"]["value"] in found["expect"]["text"]
    assert (found["expect"]["low"], found["expect"]["high"]) == (line["expect"]["low"], line["expect"]["high"])
    assert found["ring"] == "right"  # backlash too large: toward the pinion, away from its back on the left
    assert found["chance"]["percent"] == int(float(line["chance"]) * 100)
    assert found["why"] == line["why"]


def test_every_part_that_a_move_may_name_has_its_sketch() -> None:
    assert set(PICTURES) == set(MOVE_PARTS)


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (("1", "notch"), "1 notch"), (("-2", "notch"), "2 notches"), (("0.5", "notch"), "0.5 notches"), (("-15", "deg"), "15°"),
        (("-0.0015", "in"), "0.0015 in"), (("1", "1"), "1"),
    ],
)  # fmt: skip
def test_an_amount_has_no_sign_and_its_unit(quantity: tuple[str, str], text: str) -> None:
    assert amount_text(Quantity.of(*quantity), WORDS) == text
