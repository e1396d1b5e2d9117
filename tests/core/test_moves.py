"""Which change is proposed: its direction by the layout, its size out of what the kit and the adjusters can make, and its record."""

import dataclasses
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assistant.core.belief.normal import Normal
from assistant.core.moves import opposed_prints, pattern_asks, proposed
from assistant.core.quantities import Quantity
from assistant.core.saying import say_count
from assistant.core.show import pattern_words
from assistant.core.state import Reading, State
from assistant.files import job_from
from tests.conftest import job_with
from tests.strategies import job_tables
from tests.table import Line, Table

FINE = [{"thickness": size, "count": 9} for size in ("0.0100", "0.0050", "0.0030", "0.0010", "0.0005")]


def length(line: Line) -> Decimal:
    return Decimal(line["value"])


def moved(table: Table, part: str) -> Line:
    """The move of a part in the last batch."""
    (found,) = (move for move in table.lines("move") if move["part"] == part)
    return dict(found)


# ---- the first packs


def started(layout: str, sign: str, old: str, etch_old: str, etch_new: str, unit: str = "0.001 in") -> Table:
    """A job at the fit of its pinion shims."""

    def change(data: dict[str, Any]) -> None:
        data["axle"]["pinion_shims"] = layout
        data["parts"].update(
            etch_old={"value": etch_old, "unit": unit}, etch_new={"value": etch_new, "unit": unit}, etch_sign=sign, shim_kit=FINE
        )  # fmt: skip

    return Table(job_with(change), {"old_stack_thickness pinion_shims": old}).until("depth.fit")


@pytest.mark.parametrize(
    ("layout", "sign", "old", "etch_old", "etch_new", "pack", "source"),
    [
        ("head-cup", "away", "0.032 in", "+1", "-2", "0.0350", "docs/trade.md, invented job A: .032 - .001 x (-2 - 1)"),
        ("flange", "away", "0.043 in", "+3", "-1", "0.0390", "docs/trade.md, invented job B: cage shims, .043 + .001 x (-1 - 3)"),
        ("head-cone", "away", "0.030 in", "+2", "+5", "0.0270", "docs/trade.md, F01: .030, +2 to +5, under the head cone .027"),
        ("flange", "away", "0.030 in", "+2", "+5", "0.0330", "docs/trade.md, F01: the same under a cage flange .033"),
        ("head-cone", "toward", "0.030 in", "0", "+3", "0.0330", "GM M1009 (TM 9-2320-289-34): a plus adds shim under the head"),
        ("flange", "toward", "0.030 in", "0", "+3", "0.0270", "the same sense at a cage flange, by the sign of its seat"),
    ],
)
def test_the_first_pack_takes_both_marks_in(
    layout: str, sign: str, old: str, etch_old: str, etch_new: str, pack: str, source: str
) -> None:  # fmt: skip
    table = started(layout, sign, old, etch_old, etch_new)
    move = moved(table, "pinion_shims")
    assert move["to"]["value"] == pack, source
    assert Decimal(move["from"]["value"]) == Decimal(old.removesuffix(" in"))


def test_a_mark_in_hundredths_of_a_millimetre_is_converted_exactly() -> None:
    """+5 of 0.01 mm is 0.05 mm, 0.00197 in to the last figure shown (docs/trade.md, F02: not .005 in); the kit's finest shim makes 0.0320."""
    table = started("flange", "away", "0.0300 in", "0", "+5", "0.01 mm")
    assert moved(table, "pinion_shims")["to"]["value"] == "0.0320"


def test_an_unknown_old_mark_is_taken_as_none_and_said_to_be_less_exact() -> None:
    def change(data: dict[str, Any]) -> None:
        data["parts"].update(shim_kit=FINE)
        del data["parts"]["etch_old"]

    table = Table(job_with(change), {"intake.etch_old_marked": "not marked"}).until("depth.fit")
    assert moved(table, "pinion_shims")["to"]["value"] == "0.0280"  # .030 + .001 x (-2 - 0)
    assert "less exact" in table.spoken


def test_the_manuals_preload_notches_go_half_on_each_side_and_an_odd_one_opens_the_mesh() -> None:
    for notches, ring, opposite in (("2", "1", "1"), ("3", "1", "2")):
        table = Table(job_with(lambda data, notches=notches: data["spec"]["carrier_preload"].update(value=notches)))  # type: ignore[misc]
        table.until("carrier.preload")
        assert moved(table, "ring_side_adjuster")["change"] == {"value": ring, "unit": "notch"}
        assert moved(table, "opposite_adjuster")["change"] == {"value": opposite, "unit": "notch"}


# ---- corrections: direction


def corrected(answers: dict[str, str | list[str]], change: Callable[[dict[str, Any]], object] | None = None) -> Table:
    """The job at its first correction of what `answers` reads badly."""

    def fine(data: dict[str, Any]) -> None:
        data["parts"].update(shim_kit=FINE, preload_kit=FINE)
        if change is not None:
            change(data)

    table = Table(job_with(fine), answers)
    for _ in range(300):
        corrections = [
            move for move in table.lines("move") if move["expect"] is not None and table.state.move and not table.state.move.start
        ]
        if corrections:
            return table
        table.say("nothing found" if table.state.alarm is not None else table.answer_words())
    raise AssertionError("no correction came")


@pytest.mark.parametrize(("drag", "thinner"), [("12 lb-in", True), ("34 lb-in", False)])
def test_between_the_cones_a_thinner_pack_tightens_and_a_thicker_one_loosens(drag: str, thinner: bool) -> None:
    """Meritor specification pages; TM 5-3895-359-14&P (docs/trade.md, F08)."""
    move = moved(corrected({"pinion_drag": [drag, "22 lb-in"]}), "preload_shims")
    assert (length(move["change"]) < 0) == thinner


@pytest.mark.parametrize(
    ("layout", "depth", "thicker"),
    [("flange", "2.6200 in", True), ("flange", "2.6270 in", False), ("head-cone", "2.6200 in", False), ("head-cup", "2.6270 in", True)],
)
def test_the_pinion_is_moved_the_way_its_seat_moves_it(layout: str, depth: str, thicker: bool) -> None:
    """Target 2.6250 − 0.0020 (mark −2, plus means away) = 2.6230; the signs are those of tests/core/test_axle.py."""
    table = corrected({"pinion_depth": [depth, depth, "2.6232 in"]}, lambda data: data["axle"].update(pinion_shims=layout))
    assert (length(moved(table, "pinion_shims")["change"]) > 0) == thicker


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(("lash", "away"), [("0.0040 in", True), ("0.0150 in", False)])
def test_backlash_is_opened_away_from_the_pinion_and_closed_toward_it(side: str, lash: str, away: bool) -> None:
    """Tightening the ring-side adjuster, or a thicker shim there, moves the ring toward the pinion (docs/machine.md): less backlash."""
    table = corrected({"backlash": [lash] * 3 + ["0.0082 in"]}, lambda data: data["axle"].update(ring_gear_side=side))
    ring, opposite = (length(moved(table, part)["change"]) for part in ("ring_side_adjuster", "opposite_adjuster"))
    assert (ring < 0) == away
    assert ring == -opposite
    assert side in table.spoken
    first, second = table.lines("move")
    assert length(first["change"]) < 0 < length(second["change"])  # loosen first: the teeth are not driven together


@pytest.mark.parametrize(("total", "tighter"), [("21 lb-in", True), ("46 lb-in", False)])
def test_total_drag_is_set_by_both_sides_alike(total: str, tighter: bool) -> None:
    table = corrected({"total_drag": [total, total, "30 lb-in"]})
    ring, opposite = (length(moved(table, part)["change"]) for part in ("ring_side_adjuster", "opposite_adjuster"))
    assert ring == opposite
    assert (ring > 0) == tighter


# ---- corrections: what is proposed can be made


def between_side_shims(readings: Mapping[str, str | Sequence[str]], layout: str = "flange", *, crush: bool = False) -> Table:
    """A job whose side packs are shims outside the bearings, their own drag printed: 12 to 24 lb-in."""

    def sides(data: dict[str, Any]) -> None:
        data["axle"].update(carrier="side-shims", pinion_shims=layout)
        data["spec"]["carrier_drag"] = {"low": "12", "high": "24", "unit": "lb-in"}
        data["parts"]["side_kit"] = [{"thickness": size, "count": 8} for size in ("0.0300", "0.0050", "0.0020", "0.0010")]
        del data["spec"]["carrier_preload"], data["axle"]["notch_lead_in"]
        if crush:
            data["axle"]["preload"] = "crush-sleeve"
            del data["spec"]["nut_torque"], data["parts"]["preload_kit"]

    stacks = {"old_stack_thickness ring_side_shims": "0.104 in", "old_stack_thickness opposite_shims": "0.106 in"}
    return Table(job_with(sides), {**stacks, **readings})


def sides_of(table: Table) -> tuple[Decimal, Decimal]:
    """By how much the ring side and the opposite pack change in the last batch."""
    ring, opposite = (Decimal(moved(table, part)["change"]["value"]) for part in ("ring_side_shims", "opposite_shims"))
    return ring, opposite


@pytest.mark.parametrize(
    ("drag", "lash", "sum_grows", "away"),
    [("30 lb-in", "0.0130 in", False, False), ("30 lb-in", "0.0035 in", False, True), ("10 lb-in", "0.0130 in", True, False)],
)
def test_carrier_drag_and_backlash_that_are_both_out_cost_one_change_of_the_side_packs(
    drag: str, lash: str, sum_grows: bool, away: bool
) -> None:
    """The sum of the packs holds the preload, their difference the ring gear (GM M1009, TM 9-2320-289-34: .010 and .004 in one go)."""
    table = between_side_shims({"carrier_drag": drag, "backlash": lash}).until("carrier.drag")
    table.until(lambda each: bool(each.standing("carrier_drag")))
    assert not table.lines("move"), "the backlash is read first: the packs come out once"
    assert "Leave the packs in" in table.spoken
    table.until(lambda each: bool(each.lines("move")))
    assert len(table.standing("backlash")) == 3
    ring, opposite = sides_of(table)
    assert (ring + opposite > 0) is sum_grows
    assert (opposite > ring) is away
    assert moved(table, "ring_side_shims")["expect"]["quantity"] == "carrier_drag"


def test_side_bearings_that_may_have_play_are_tightened_before_any_backlash_is_read() -> None:
    """Every .001 in of looseness feels like some .0007 in of backlash (docs/trade.md, section 2, step 11)."""
    table = between_side_shims({"carrier_drag": "2 lb-in"}).until(
        lambda each: bool(each.lines("move")) and each.step == "carrier.judge_drag"
    )
    assert table.standing("backlash") == []
    ring, opposite = sides_of(table)
    assert ring + opposite > 0


def test_a_total_drag_is_not_made_up_for_by_side_bearings_out_of_their_own_range() -> None:
    """Pinion 22 and carrier 14 lb-in are in their ranges, and 22 + 14 / 4.1 is not 16: one of them was read wrong, no pack is."""
    table = between_side_shims({"carrier_drag": "14 lb-in", "total_drag": "16 lb-in"})
    table.until(lambda each: each.end is not None or "total_drag" in each.state.unreachable, limit=900)
    assert all(move.quantity != "total_drag" for move in table.state.moves_made)
    assert table.finish(900)["failed"] == ["total_drag"]


@pytest.mark.parametrize("crush", [False, True])
@pytest.mark.parametrize("layout", ["flange", "head-cone", "head-cup"])
def test_a_share_of_the_total_that_was_misread_is_read_again_without_a_new_sleeve(layout: str, *, crush: bool) -> None:
    readings: dict[str, str | list[str]] = {"carrier_drag": "14 lb-in", "total_drag": ["17 lb-in", "17 lb-in", "28 lb-in"]}
    if crush:
        readings["pinion_drag"] = ["4 lb-in", "13 lb-in", "22 lb-in"]
    table = between_side_shims(readings, layout, crush=crush)
    table.until(lambda each: each.state.alarm is not None and each.state.alarm.quantity == "total_drag")
    assert "pinion drag misread" in table.wait["choices"]
    before = len(table.batches)
    table.say("pinion drag misread")
    assert table.standing("pinion_drag") == []
    assert table.finish()["verdict"] == "in spec"
    again = [line["step"]["id"] for batch in table.batches[before:] for line in batch if "step" in line]
    assert "final.sleeve" not in again
    assert any(step in again for step in ("final.drag", "final.nut"))


def test_a_pack_uses_no_shim_twice_that_is_there_once() -> None:
    table = corrected({"pinion_drag": ["12 lb-in", "22 lb-in"]})
    move = moved(table, "preload_shims")
    counts = Counter(Decimal(shim["value"]) for shim in move["stack"])
    # What was in counts as in the kit (docs/machine.md); 9 of each are at hand, and one old pack of 0.0205.
    assert all(count <= 10 for count in counts.values())
    assert sum(size * count for size, count in counts.items()) == length(move["to"])


def test_a_kit_of_one_size_is_offered_in_steps_of_that_size_only() -> None:
    one_size = [{"thickness": "0.0007", "count": 60}]
    table = corrected({"pinion_drag": ["12 lb-in", "22 lb-in"]}, lambda data: data["parts"].update(preload_kit=one_size))
    move = moved(table, "preload_shims")
    assert {shim["value"] for shim in move["stack"]} == {"0.0007"}
    assert length(move["to"]) % Decimal("0.0007") == 0


def test_notches_are_whole_and_never_more_than_a_turn_of_the_eye() -> None:
    move = moved(corrected({"backlash": ["0.0150 in"] * 3 + ["0.0082 in"]}), "ring_side_adjuster")
    assert length(move["change"]) == int(length(move["change"]))
    assert 0 < abs(length(move["change"])) <= 24


def test_a_move_tells_what_to_expect_its_chance_and_why() -> None:
    for answers in ({"pinion_drag": ["12 lb-in", "22 lb-in"]}, {"pinion_depth": ["2.6260 in", "2.6232 in"]}, {"backlash": ["0.0150 in"]}):
        table = corrected({name: list(values) for name, values in answers.items()})
        for move in table.lines("move"):
            expect = move["expect"]
            assert Decimal(expect["low"]) < Decimal(expect["value"]) < Decimal(expect["high"])
            assert 0 < Decimal(move["chance"]) <= 1
            assert move["why"]
            assert move["why"] in table.spoken


def test_when_the_pinion_moves_under_a_measured_backlash_the_ring_follows() -> None:
    """The pinion out by d opens the mesh by d over the ratio (docs/trade.md, 4.3); the ring closes it again, in the same group."""
    table = Table(job_with(lambda data: data["parts"].update(shim_kit=FINE))).until("pattern.drive")
    table.say("correct pinion depth")
    table.say("yes")
    for _ in range(3):
        table.say("2.6110 in")  # twelve thousandths too far in
        if table.wait["for"] == "confirm":
            break
    table.say("yes")
    if table.state.alarm is not None:
        table.say("nothing found")
    groups = {move["group"] for move in table.lines("move")}
    assert len(groups) == 1
    pinion = length(moved(table, "pinion_shims")["change"])
    assert pinion > 0
    ring = length(moved(table, "ring_side_adjuster")["change"])
    assert ring > 0  # toward the pinion, which has moved away
    assert ring == -length(moved(table, "opposite_adjuster")["change"])


@pytest.mark.parametrize(
    ("quantity", "limits", "readings"),
    [
        ("pinion_drag", {"high": "29"}, ["40 lb-in", "40 lb-in", "22 lb-in"]),
        ("pinion_drag", {"low": "16"}, ["8 lb-in", "8 lb-in", "22 lb-in"]),
        ("backlash", {"high": "0.0100"}, ["0.0150 in"] * 3 + ["0.0082 in"]),
        ("backlash", {"low": "0.0060"}, ["0.0030 in"] * 3 + ["0.0082 in"]),
        ("total_drag", {"high": "29"}, ["40 lb-in", "40 lb-in", "28 lb-in"]),
        ("total_drag", {"low": "35"}, ["30 lb-in", "30 lb-in", "38 lb-in"]),
        ("carrier_drag", {"high": "30"}, ["40 lb-in", "40 lb-in", "28 lb-in"]),
    ],
)
def test_a_manual_that_gives_one_limit_only_is_aimed_at_as_well(quantity: str, limits: dict[str, str], readings: list[str]) -> None:
    unit = "in" if quantity == "backlash" else "lb-in"
    table = corrected({quantity: list(readings)}, lambda data: data["spec"].update({quantity: {**limits, "unit": unit}}))
    assert table.state.move is not None
    assert table.state.move.quantity == quantity
    while table.end is None:
        table.say("nothing found" if table.state.alarm is not None else table.answer_words())
    assert table.end == {"verdict": "in spec", "job": "job", "failed": []}


def test_a_pack_that_read_out_of_range_is_not_fitted_again() -> None:
    """The same shims give the same drag: between a pack that is too loose and one that is too tight this kit has none, and that is said."""
    coarse = [{"thickness": "0.0100", "count": 2}, {"thickness": "0.0005", "count": 2}, {"thickness": "0.0030", "count": 1}]
    reads = ["40 lb-in", "40 lb-in", *(["12 lb-in", "12 lb-in", "34 lb-in", "34 lb-in"] * 8)]
    table = Table(job_with(lambda data: data["parts"].update(preload_kit=coarse)), {"pinion_drag": reads})
    packs: list[str] = []
    while "pinion_drag" not in table.state.unreachable:
        table.say("nothing found" if table.state.alarm is not None else table.answer_words())
        packs += [move["to"]["value"] for move in table.lines("move") if move["part"] == "preload_shims"]
    assert len(packs) >= 3
    assert len(set(packs)) == len(packs)
    assert "finer shim" in table.spoken


# ---- prints


def printed(state: State, teeth: str, drive: str, coast: str) -> State:
    """The state with one print on each flank at three places."""
    job = dataclasses.replace(state.job, axle=dataclasses.replace(state.job.axle, teeth=teeth))
    prints = tuple(
        Reading(f"p{flank}{spot}", "s", f"pattern_{flank}", None, told, spot, None, "typed", "", "", None, None, (), 0)
        for flank, told in (("drive", drive), ("coast", coast))
        for spot in (1, 2, 3)
    )
    return dataclasses.replace(state, job=job, readings=prints)


@pytest.mark.parametrize(
    ("teeth", "drive", "coast", "asks"),
    [
        # The corrective move is the opposite of the row that matches: Revolution Gear & Axle contact pattern page, backlash and mounting-distance
        # rows; milled ring row as TM 10-3930-638-24&P, hobbed rows as the GM Silverado 2008 table (docs/trade.md, section 6).
        ("face-milled", "toe root", "toe root", "ring out"),
        ("face-milled", "heel tip", "heel tip", "ring in"),
        ("face-milled", "toe root", "heel root", "pinion out"),
        ("face-milled", "heel tip", "toe tip", "pinion in"),
        ("face-hobbed", "toe root", "heel root", "ring out"),
        ("face-hobbed", "heel tip", "toe tip", "ring in"),
        ("face-hobbed", "heel root", "toe root", "pinion out"),
        ("face-hobbed", "toe tip", "heel tip", "pinion in"),
        # Contradictory words give no move (F45), nor does a print that is good.
        ("face-milled", "heel tip", "heel root", None),
        ("face-milled", "centre middle", "centre middle", None),
        ("face-milled", "unclear", "unclear", None),
        # Without the cut a print that means two things means nothing (F47).
        ("unknown", "toe root", "heel root", None),
    ],
)
def test_both_flanks_together_ask_for_a_move_as_the_published_table_says(
    table: Table, teeth: str, drive: str, coast: str, asks: str | None
) -> None:
    assert pattern_asks(printed(table.state, teeth, drive, coast)) == asks


def places(state: State, **prints: tuple[str, str, str]) -> State:
    """The state with a print of its own at each of three places, by flank."""
    readings = tuple(
        Reading(f"p{flank}{spot}", "s", f"pattern_{flank}", None, told, spot, None, "typed", "", "", None, None, (), 0)
        for flank, at in prints.items()
        for spot, told in enumerate(at, start=1)
    )
    return dataclasses.replace(state, readings=readings)


@pytest.mark.parametrize(
    ("drive", "opposed"),
    [
        (("toe middle", "centre middle", "heel middle"), (1, 3)),
        (("centre tip", "centre root", "centre root"), (1, 2)),
        (("centre middle", "heel tip", "toe tip"), (2, 3)),
        # Next to each other is how any print wanders; and what cannot be read says nothing.
        (("toe root", "centre root", "toe root"), None),
        (("unclear", "toe root", "unclear"), None),
    ],
)
def test_a_print_that_changes_ends_round_the_ring_is_runout_and_asks_for_no_move(
    table: Table, drive: tuple[str, str, str], opposed: tuple[int, int] | None
) -> None:
    """Common practice, no source: a print that goes from end to end once a turn is the ring running out, and no shim cures that."""
    state = places(table.state, drive=drive, coast=("toe root", "toe root", "toe root"))
    found = opposed_prints(state, "pattern_drive")
    assert (found and (found[0].spot, found[1].spot)) == opposed
    if opposed:
        assert pattern_asks(state) is None
        assert f"at place {say_count(opposed[0])}" in pattern_words(state)
        assert "runout" in pattern_words(state)


def test_one_flank_alone_asks_for_nothing(table: Table) -> None:
    state = printed(table.state, "face-milled", "toe root", "heel root")
    one = dataclasses.replace(state, readings=state.readings[:3])
    assert pattern_asks(one) is None


# ---- any job


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=job_tables(), dice=st.randoms(use_true_random=False))
def test_any_job_with_readings_near_its_limits_goes_on_whatever_they_are(data: dict[str, Any], dice: Any) -> None:
    """In and out of their ranges, at random: every move adds up, and nothing is raised."""
    table = Table(job_from(data, "job.toml"))
    for _ in range(120):
        if table.end is not None:
            break
        wait = table.wait
        if wait["for"] == "reading":
            table.say(_near(table, wait, dice))
            if table.wait["for"] == "reading" and table.state.doubted is None and not table.lines("recorded"):
                table.say("undo")
        elif wait["for"] == "choice":
            table.say(dice.choice(wait["choices"]))
        else:
            table.say({"done": "done", "caution": "understood", "confirm": "yes"}[wait["for"]])
        for move in table.lines("move"):
            start, end, by = (Quantity.of(move[key]["value"], move[key]["unit"]) for key in ("from", "to", "change"))
            assert start.value + by.value == end.value
            if move["part"].endswith("shims"):
                assert sum(Quantity.of(shim["value"], shim["unit"]).base for shim in move["stack"]) == end.base


def _near(table: Table, wait: Line, dice: Any) -> str:
    """A reading in or near the range of its limits, or of the trade where it has none."""
    quantity, unit = wait["quantity"], wait["unit"]
    if quantity.startswith("etch"):
        return str(dice.choice(("+2", "-3", "0")))
    if quantity == "shim_thickness" and table.standing("shim_thickness") and dice.random() < 0.5:
        return "done"
    usual = {
        "pinion_depth": "2.6 in", "plane_to_bore": "1.6250 in", "bore_diameter": "3.2500 in", "backlash": "0.0080 in", "ring_runout": "0.0020 in",
        "nut_torque": "180 lb-ft", "cap_torque": "75 lb-ft",
    }.get(quantity, "0.0200 in" if unit in ("in", "mm") else "20 lb-in")  # fmt: skip
    limits = None if table.step == "intake.limits" else table.state.limits(quantity)
    if limits is not None and limits.low is not None and limits.high is not None:
        width = limits.high.base - limits.low.base
        base = limits.low.base + width * dice.randint(-4, 14) / 10
        size = Quantity(Decimal(round(base / Quantity.of("1", unit).base * 10**5)).scaleb(-5), unit)
    elif wait.get("part") == "tolerance":
        size = Quantity.of("0.002", "in").to(unit)
    else:
        size = Quantity.parse(usual).to(unit)
        size = Quantity(size.value * (2 if wait.get("part") == "high" else 1), unit)
    return f"{size.text} {unit}"


def test_the_number_that_is_expected_lies_in_the_interval_told_with_it_however_narrow() -> None:
    """A dial wrench shows whole pound-inches; what is known better than that still has to show as one of them."""
    state = Table(job_with()).state
    told = proposed(state, "preload.fit", (), "pinion_drag", Normal(2.448, 1e-6), 1.0, "why")
    assert told.expected is not None
    assert told.low is not None
    assert told.high is not None
    assert told.expected.text == "22"
    assert told.low <= told.expected <= told.high
    assert told.low.text == "21.67"  # 2.448 N·m / 0.112985 N·m per lb-in
