"""Numbers that cannot be true, numbers that are asked for once more, and alarms with every way to answer them."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core import events as ev
from assistant.core.axle import QUANTITIES
from assistant.core.doubts import RANGES, as_sentence, impossible, impossible_limit, said_again, shares
from assistant.core.evolve import evolve
from assistant.core.quantities import Quantity
from tests.conftest import job_with
from tests.table import Table


def q(text: str) -> Quantity:
    return Quantity.parse(text)


# ---- impossible: nothing changes, the reason is said


@pytest.mark.parametrize(
    ("quantity", "value"),
    [
        # What the world refuses, and "refuse" of the trade reference (docs/trade.md, section 3).
        ("backlash", "0in"),
        ("backlash", "-0.0060in"),
        ("backlash", "0.65in"),
        ("baseline_backlash", "0.00mm"),
        ("pinion_drag", "-1lb-in"),
        ("pinion_drag", "601lb-in"),
        ("ring_runout", "-0.0010in"),
        ("shim_thickness", "0in"),
        ("shim_thickness", "30in"),
        ("stack_thickness", "-0.0300in"),
        ("pinion_depth", "0.0020in"),
        ("pinion_depth", "262.5in"),
        ("nut_torque", "0lb-ft"),
        ("cap_torque", "7500lb-ft"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(table: Table, quantity: str, value: str) -> None:
    reason = impossible(table.state, quantity, q(value))
    assert reason is not None
    assert table.phrases.name(quantity) in reason or "no backlash" in reason


def test_a_serial_number_or_a_date_is_no_mark(table: Table) -> None:
    """docs/trade.md, F04: 25, 312 and 0884 are numbers of a set, not marks in thousandths."""
    for number in ("312", "0884"):
        assert impossible(table.state, "etch_new", Quantity.of(number, "0.001 in")) is not None
    assert impossible(table.state, "etch_new", Quantity.of("-3", "0.001 in")) is None


def test_zero_backlash_is_told_as_jammed_gears(table: Table) -> None:
    """docs/trade.md, F33: zero is never accepted; the mesh is opened to get a reading (Ford 8.8 zero backlash step)."""
    table.until("backlash.measure")
    table.say("0 in")
    assert "jammed" in table.lines("error")[0]["text"]
    table.gauge("0.0000 in")
    assert [move["part"] for move in table.lines("move")] == ["ring_side_adjuster", "opposite_adjuster"]
    assert table.standing("backlash") == []


def test_every_quantity_has_bounds_of_its_own_dimension_that_hold_what_is_usual_within_what_is_possible() -> None:
    assert set(RANGES) == set(QUANTITIES)
    for quantity, bounds in RANGES.items():
        sizes = [bound for bound in (bounds.refuse_low, bounds.ask_low, bounds.ask_high, bounds.refuse_high) if bound is not None]
        assert len(sizes) == 4, quantity
        assert all(size.dimension is QUANTITIES[quantity] for size in sizes)
        assert sizes == sorted(sizes)


# The usual ranges as the trade prints them (docs/trade.md, section 9): none of these may ever be called unusual.
USUAL = [
    ("pinion_drag", "8lb-in", "GM 7.5 used"),
    ("pinion_drag", "32lb-in", "GM 7.5 new"),
    ("pinion_drag", "45lb-in", "Meritor new"),
    ("pinion_drag", "0.48N·m", "Subaru VA"),
    ("pinion_drag", "6N·m", "Land Rover Discovery II"),
    ("backlash", "0.003in", "GM 9.75"),
    ("backlash", "0.018in", "Spicer heavy"),
    ("backlash", "0.08mm", "Lexus LS460"),
    ("backlash", "0.22mm", "Audi 01X"),
    ("total_drag", "10.85N·m", "Land Rover Discovery II"),
    ("ring_runout", "0.010in", "Spicer heavy"),
    ("ring_runout", "0.05mm", "Lexus LS460"),
    ("nut_torque", "500N·m", "Corvette C6"),
    ("nut_torque", "140lb-ft", "Ford integral"),
]


@pytest.mark.parametrize(("quantity", "value", "source"), USUAL)
def test_what_the_manuals_print_is_neither_refused_nor_unusual(table: Table, quantity: str, value: str, source: str) -> None:
    bounds = RANGES[quantity]
    assert impossible(table.state, quantity, q(value)) is None, source
    assert bounds.ask_low is not None
    assert bounds.ask_high is not None
    assert bounds.ask_low <= q(value) <= bounds.ask_high, source


def test_a_limit_is_held_to_its_own_bounds(table: Table) -> None:
    assert impossible_limit(table.state, "pinion_depth", "target", q("2.6250in")) is None
    assert impossible_limit(table.state, "pinion_depth", "target", q("0.0020in")) is not None
    assert impossible_limit(table.state, "pinion_depth", "tolerance", q("0.0020in")) is None
    assert impossible_limit(table.state, "pinion_depth", "tolerance", q("0in")) is not None
    assert impossible_limit(table.state, "pinion_depth", "tolerance", q("0.0610in")) is not None
    assert impossible_limit(table.state, "backlash", "high", q("0.65in")) is not None


# ---- doubtful: asked for once more


def test_a_value_ten_times_too_large_is_asked_for_once_more_and_not_recorded(table: Table) -> None:
    """docs/trade.md, F48: a slip of the point."""
    wait = table.until("backlash.measure").wait
    table.say("0.082 in")
    assert table.lines("recorded") == []
    assert "Read it once more" in table.spoken
    assert table.wait == wait
    table.say("0.0082 in")
    assert table.wait["value"] == {"value": "0.0082", "unit": "in"}
    table.say("yes")
    assert table.standing("backlash") == ["0.0082 in"]
    assert not table.lines("alarm")


def test_the_same_again_is_read_back_as_a_question_recorded_and_may_alarm(table: Table) -> None:
    table.until("backlash.measure")
    table.say("0.082 in")
    table.say("0.082 in")
    assert table.wait["for"] == "confirm"
    assert "though I expected" in table.spoken
    table.say("yes")
    assert [line["value"] for line in table.lines("recorded")] == ["0.082"]
    assert table.lines("alarm")


def test_another_doubtful_value_is_asked_for_once_more_again(table: Table) -> None:
    """Only the same answer again counts as said twice."""
    table.until("backlash.measure")
    for value in ("0.082 in", "0.28 in", "0.082 in", "0.41 in"):
        table.say(value)
        assert table.wait["for"] == "reading", value
        assert not table.lines("recorded")


def test_a_doubtful_gauge_reading_is_asked_for_once_more_and_then_recorded(table: Table) -> None:
    table.until("backlash.measure")
    table.gauge("0.0820 in")
    assert table.standing("backlash") == []
    table.gauge("0.0822 in")  # a second look at one gauge differs by its own spread
    assert table.standing("backlash") == ["0.0822 in"]


def test_said_again_means_the_same_quantity_the_same_place_and_the_same_size(table: Table) -> None:
    table.until("backlash.measure")
    table.say("0.082 in")
    state = table.state
    assert said_again(state, "backlash", q("0.0820 in"), 1)
    assert said_again(state, "backlash", q("2.0828 mm"), 1)  # the same size, an inch being 25.4 mm
    assert not said_again(state, "backlash", q("0.0082 in"), 1)
    assert not said_again(state, "backlash", q("0.082 in"), 2)
    assert not said_again(state, "ring_runout", q("0.082 in"), 1)


def test_a_doubt_is_forgotten_with_its_step(table: Table) -> None:
    table.until("baseline.total_drag")
    table.say("390 lb-in")
    assert table.state.doubted is not None
    table.say("go back to baseline state")
    table.say("yes")
    assert table.state.doubted is None


def test_inches_told_by_a_gauge_that_is_switched_to_millimetres_are_asked_for_once_more(table: Table) -> None:
    """docs/trade.md, F49: the unit comes from the frame; a value 25.4 times off is a surprise, not a reading."""
    table.until("backlash.measure")
    table.gauge("0.0082 mm")
    assert table.standing("backlash") == []
    assert "Read it once more" in table.spoken


# ---- alarms

CAUSES = ("nothing found", "measure again")


def alarmed() -> Table:
    """The preload pack was changed, and the drag did not answer (docs/trade.md, F06)."""
    table = Table(job_with(), {"pinion_drag": ["12 lb-in", "12 lb-in", "12 lb-in", "12 lb-in", "22 lb-in"]})
    table.until(lambda each: each.state.alarm is not None)
    return table


def test_a_pack_that_changed_nothing_raises_an_alarm_with_its_evidence_and_what_to_check_first() -> None:
    table = alarmed()
    (alarm,) = table.lines("alarm")
    drags = [line["id"] for line in table.all_lines("recorded") if line["quantity"] == "pinion_drag"]
    assert alarm["evidence"] == drags
    assert "Stop" in table.spoken
    assert all(cause["cause"] and cause["check"] for cause in alarm["likely"])
    assert any("seated" in cause["cause"] for cause in alarm["likely"])
    assert table.wait["for"] == "choice"
    assert table.wait["choices"] == [*(cause["cause"] for cause in alarm["likely"]), *CAUSES]


def test_nothing_goes_on_before_an_alarm_is_answered() -> None:
    table = alarmed()
    for words in ("done", "yes", "understood", "22 lb-in", "next"):
        table.say(words)
        assert table.lines("error"), words
        assert table.state.alarm is not None
    table.gauge("22 lb-in", "torque")
    assert table.lines("error")


def test_nothing_found_lets_the_reading_stand() -> None:
    table = alarmed()
    table.say("nothing found")
    assert table.state.alarm is None
    assert table.standing("pinion_drag") == ["12 lb-in"]
    assert table.lines("move")  # it is out of its range still


def test_measure_again_voids_the_reading_and_reads_only_it_again() -> None:
    table = alarmed()
    steps = table.state.done
    table.say("measure again")
    assert table.standing("pinion_drag") == []
    assert table.state.reading(table.all_lines("recorded")[-1]["id"]).void == "wrong"
    assert table.step == "preload.drag"
    assert steps - table.state.done == {"preload.drag"}


def test_a_cause_that_was_found_has_its_steps_made_again_with_their_cautions() -> None:
    likely = alarmed().lines("alarm")[0]["likely"]
    seen = 0
    for cause in likely:
        table = alarmed()
        assert table.state.alarm is not None
        redo = next(suspect.redo for suspect in table.state.alarm.likely if suspect.cause == cause["cause"])
        done = table.state.done
        table.say(cause["cause"])
        assert table.state.alarm is None
        assert table.standing("pinion_drag") == []
        assert done - table.state.done == {*redo, "preload.drag"} & done
        if redo:
            seen += 1
            first = next(step.id for step in table.procedure.steps if step.id in redo)
            assert table.step == first
            assert table.state.caution_open == (table.procedure.step(first).caution is not None)
        table.finish()
        assert table.end == {"verdict": "in spec", "job": "job", "failed": []}, cause
    assert seen


def test_after_two_alarms_in_a_row_that_found_nothing_the_next_number_stands() -> None:
    table = Table(job_with(), {"pinion_drag": "12 lb-in"})
    alarmed_at: list[bool] = []
    for _ in range(200):
        alarmed_at += [bool(table.lines("alarm"))] if any(line["quantity"] == "pinion_drag" for line in table.lines("recorded")) else []
        table.say("nothing found" if table.state.alarm is not None else table.answer_words())
    assert any(alarmed_at)
    assert all(not all(alarmed_at[at : at + 3]) for at in range(len(alarmed_at) - 2))


def test_the_second_alarm_on_one_thing_goes_through_more_causes_than_the_first_and_says_each_check() -> None:
    table = Table(job_with(), {"pinion_drag": "12 lb-in"})
    table.until(lambda each: each.state.alarm is not None)
    first = table.lines("alarm")[0]["likely"]
    table.say("measure again")
    table.until(lambda each: each.state.alarm is not None)
    second = table.lines("alarm")[0]
    assert len(second["likely"]) > len(first)
    assert all(cause["check"] in second["text"] for cause in second["likely"])


def test_a_depth_that_is_alarmed_with_the_case_in_is_read_again_and_the_job_can_still_end_in_spec(table: Table) -> None:
    table.until("pattern.drive")
    depth = table.state.latest("pinion_depth")
    assert depth is not None
    raised = ev.AlarmRaised("a1", depth.step, "pinion_depth", "The print contradicts the depth.", (depth.id,), ())
    table.state = evolve(table.state, raised)
    table.events.append(raised)
    table.say("measure again")
    assert table.standing("pinion_depth") == []
    table.finish()
    assert table.end == {"verdict": "in spec", "job": "job", "failed": []}


def test_a_resumed_job_shows_the_alarm_that_waits() -> None:
    table = alarmed()
    alarm, wait = table.lines("alarm"), table.batch[-1]
    table.resume()
    assert table.lines("alarm") == alarm
    assert [line["id"] for line in table.lines("step")] == ["preload.drag"]
    assert table.batch[-1] == wait


# ---- runout


def runout(reading: str = "0.0060 in") -> Table:
    table = Table(job_with(), {"ring_runout": [reading, "0.0020 in"]})
    table.until("carrier.runout")
    table.answer()
    if table.state.doubted is not None:
        table.say(reading)
    table.say("yes")
    return table


def test_runout_beyond_its_limit_is_an_alarm_for_no_shim_cures_it() -> None:
    """docs/trade.md, F32: runout first, it is not averaged away."""
    table = runout()
    (alarm,) = table.lines("alarm")
    assert "runs out" in alarm["text"]
    assert table.wait["for"] == "choice"
    assert not table.lines("move")


def test_dirt_found_behind_the_ring_has_it_bolted_and_read_again() -> None:
    table = runout()
    table.say("dirt behind the ring gear")
    assert table.lines("caution")[0]["id"] == "carrier.ring_bolts"
    table.finish()
    assert table.end == {"verdict": "in spec", "job": "job", "failed": []}


def test_runout_with_nothing_found_stands_is_said_once_and_fails_at_the_end() -> None:
    table = runout()
    table.say("nothing found")
    assert not table.lines("alarm")
    assert "out of spec" in table.spoken
    while table.end is None:
        table.say("nothing found" if table.state.alarm is not None else table.answer_words())
    assert table.end == {"verdict": "out of spec", "job": "job", "failed": ["ring_runout"]}


def test_an_alarm_in_the_middle_of_a_step_leaves_it_open_at_its_next_place(table: Table) -> None:
    table.until("backlash.measure")
    for words in ("0.0820 in", "0.0820 in", "yes"):
        table.say(words)
    assert table.lines("alarm")
    table.say("nothing found")
    assert table.lines("step") == []
    assert (table.step, table.wait["spot"]["index"]) == ("backlash.measure", 2)


def test_an_alarm_while_creeping_up_on_a_sleeve_does_not_ask_for_the_caution_again() -> None:
    """docs/machine.md: creeping up on a crush sleeve is one torque step; its caution is accepted once, on entry."""

    def crush(data: dict[str, Any]) -> None:
        data["axle"]["preload"] = "crush-sleeve"
        del data["spec"]["nut_torque"], data["parts"]["preload_kit"]

    table = Table(job_with(crush)).until("final.nut")
    table.say("4 lb-in")
    table.say("yes")
    table.say("done")
    reading = table.state.readings[-1]
    raised = ev.AlarmRaised("a9", "final.nut", "pinion_drag", "It does not add up.", (reading.id,), ())
    table.state = evolve(table.state, raised)
    table.events.append(raised)
    table.say("nothing found")
    assert table.lines("caution") == []
    assert (table.step, table.wait["for"], table.wait["quantity"]) == ("final.nut", "reading", "pinion_drag")


def test_no_question_that_an_alarm_asks_ends_in_a_question_mark_and_a_full_stop() -> None:
    asked = [row.check for row in Table(job_with()).state.phrases.mistakes if row.check.endswith("?")]
    assert asked
    for check in asked:
        assert as_sentence(check) == check[0].upper() + check[1:]
    assert as_sentence("look at it") == "Look at it."
    assert as_sentence("") == ""


@given(st.lists(st.floats(0.005, 1.0), min_size=1, max_size=7))
def test_the_odds_of_an_alarm_add_up_to_one_and_none_is_off_by_a_hundredth(odds: list[float]) -> None:
    found = shares(odds)
    assert sum(found) == 1
    assert all(abs(float(share) - each / sum(odds)) < 0.01 + 1e-9 for share, each in zip(found, odds, strict=True))


def test_a_drag_at_its_floor_after_a_change_names_what_is_on_the_bench_not_a_slip_of_the_reading_before() -> None:
    """32 lb-in by two looks, 26 expected of the thicker pack, 2 read: a bearing, the nut or the pack (docs/trade.md, F06)."""
    table = Table(job_with()).until("preload.drag")
    for words in ("32 lb-in", "32 lb-in", "yes", "done"):
        table.say(words)
    table.until("preload.drag")
    for words in ("2 lb-in", "2 lb-in", "yes"):
        table.say(words)
    causes = [each["cause"] for each in table.lines("alarm")[0]["likely"]]
    assert causes[:2] == ["bearing not seated", "nut not tight"]
    assert "stack thick" in causes
    assert "read at the start" not in causes
