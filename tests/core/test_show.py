"""What is said and shown: one batch for one input, in the order of the interface, in words that can be acted on."""

import json
import re
from decimal import Decimal
from typing import Any

import pytest

from assistant.core.quantities import Quantity
from assistant.core.show import show
from tests.conftest import job_with
from tests.table import Line, Table

KINDS = {"step", "speak", "caution", "recorded", "move", "alarm", "wait", "end", "error"}
SHAPES: dict[str, set[str]] = {
    "step": {"id", "phase", "kind", "title"},
    "caution": {"id", "before", "text"},
    "recorded": {"id", "quantity", "value", "unit", "spot", "replaces"},
    "move": {"group", "part", "from", "to", "change", "stack", "expect", "chance", "why"},
    "alarm": {"id", "text", "evidence", "likely"},
    "wait": {"for", "commands"},
    "end": {"verdict", "job", "failed"},
    "error": {"text"},
}


@pytest.fixture(scope="module")
def whole() -> Table:
    """A whole job with two corrections of packs and one of the adjusters."""
    answers = {
        "pinion_drag": ["12 lb-in", "22 lb-in", "22 lb-in"],
        "pinion_depth": ["2.6290 in", "2.6232 in"],
        "backlash": ["0.0150 in", "0.0160 in", "0.0155 in", "0.0085 in", "0.0080 in", "0.0082 in"],
    }
    table = Table(job_with(), answers)
    for _ in range(300):
        if table.end is not None:
            return table
        table.say("nothing found" if table.state.alarm is not None else table.answer_words())
    raise AssertionError(f"no end; the wait is {table.wait}")


def test_every_line_has_one_kind_and_the_keys_of_the_interface(whole: Table) -> None:
    for line in (line for batch in whole.batches for line in batch):
        (kind,) = set(line) & KINDS
        assert set(line) == ({"speak", "urgency"} if kind == "speak" else {kind})
        if kind == "speak":
            assert line["urgency"] in ("info", "ask", "warn", "stop")
            assert line["speak"].strip()
        else:
            assert set(line[kind]) >= SHAPES[kind], line


def test_a_batch_says_something_and_ends_in_one_wait_or_end(whole: Table) -> None:
    for batch in whole.batches:
        assert [line for line in batch if "wait" in line or "end" in line] == [batch[-1]]
        assert any("speak" in line for line in batch)


def test_no_number_in_any_line_is_a_float(whole: Table) -> None:
    def floats(value: object, path: str) -> list[str]:
        if isinstance(value, dict):
            return [found for key, each in value.items() for found in floats(each, f"{path}.{key}")]
        if isinstance(value, list):
            return [found for each in value for found in floats(each, path)]
        return [path] if isinstance(value, float) and not path.endswith("degrees") else []

    assert [path for batch in whole.batches for line in batch for path in floats(line, "")] == []


def test_what_is_said_holds_no_figures_no_symbols_and_no_names_of_ours(whole: Table) -> None:
    """A voice reads words: figures, unit symbols, underscores and brackets are for screens."""
    for text in whole.all_lines("speak"):
        assert not re.search(r"\d|_|[{}<>\[\]]|lb-in|N·m| mm\b", text), text


def test_a_move_adds_up_and_its_stack_is_its_total(whole: Table) -> None:
    moves = whole.all_lines("move")
    assert {move["part"] for move in moves} >= {"preload_shims", "pinion_shims", "ring_side_adjuster", "opposite_adjuster"}
    for move in moves:
        start, end, change = (Quantity.of(move[key]["value"], move[key]["unit"]) for key in ("from", "to", "change"))
        assert start.value + change.value == end.value
        if move["part"].endswith("shims"):
            shims = [Quantity.of(shim["value"], shim["unit"]) for shim in move["stack"]]
            assert sum(shim.base for shim in shims) == end.base
        else:
            assert move["stack"] == []
        if move["chance"] is not None:
            assert 0 <= Decimal(move["chance"]) <= 1


def test_moves_that_belong_together_carry_the_same_group_and_move_both_sides_as_far(whole: Table) -> None:
    groups: dict[str, list[Line]] = {}
    for move in whole.all_lines("move"):
        groups.setdefault(move["group"], []).append(move)
    pairs = [group for group in groups.values() if {move["part"] for move in group} == {"ring_side_adjuster", "opposite_adjuster"}]
    corrections = [pair for pair in pairs if pair[0]["expect"] is not None]
    assert corrections
    for one, other in corrections:
        # What one side gains the other loses, so that the preload stays (Spicer, threaded adjusters); loosen first.
        assert Decimal(one["change"]["value"]) == -Decimal(other["change"]["value"])
        assert Decimal(one["change"]["value"]) < 0


def test_both_sides_are_named_as_the_technician_sees_them(whole: Table) -> None:
    batch = next(batch for batch in whole.batches if any("move" in line and line["move"]["part"].endswith("adjuster") for line in batch))
    spoken = " ".join(line["speak"] for line in batch if "speak" in line)
    assert "left" in spoken or "right" in spoken


def test_a_step_is_shown_once_and_then_only_its_next_place_is_said(table: Table) -> None:
    table.until("backlash.measure")
    first = table.spoken
    table.answer()
    table.answer()
    assert table.lines("step") == []
    assert "place two" in table.spoken
    assert len(table.spoken) < len(first)


def test_the_manuals_figure_is_said_with_the_torque(table: Table) -> None:
    table.until("preload.nut")
    assert "one six zero to two zero zero foot pounds" in table.spoken


def test_a_read_back_says_how_it_misses_the_range(table: Table) -> None:
    table.until("carrier.runout")
    table.say("0.0045 in")
    assert "above" in table.spoken or table.state.doubted is not None
    table = Table(job_with()).until("final.total_drag")
    table.say("20 lb-in")
    assert "below" in table.spoken or table.state.doubted is not None


@pytest.mark.parametrize(("drag", "warned"), [("86 lb-in", False), ("88 lb-in", True)])
def test_a_drag_of_thrice_the_manuals_most_sends_to_look_at_the_bearings(drag: str, warned: bool) -> None:
    """The manual of this job allows 29; three times that is assumed to be where rollers may have marked their races."""
    table = Table(job_with(), {"pinion_drag": drag}).until("preload.drag")
    while not any(recorded["quantity"] == "pinion_drag" for recorded in table.lines("recorded")):
        table.answer()
    assert ("marked for good" in table.spoken) is warned


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("why", "turning"),
        ("help", "Say the reading with its unit"),
        ("what do you have", "no reading of this yet"),
        ("repeat", "read the drag"),
    ],
)
def test_talk_changes_nothing_and_is_answered(table: Table, words: str, said: str) -> None:
    wait = table.until("preload.drag").wait
    events = len(table.events)
    table.say(words)
    assert said in table.spoken
    assert table.wait == wait
    assert len(table.events) == events + 1


def test_repeat_says_the_last_words_once_more(table: Table) -> None:
    table.until("preload.drag")
    why = table.say("why")[0]
    assert table.say("repeat")[0] == why
    table.say("22 lb-in")
    read_back = table.spoken
    table.say("repeat")
    assert read_back in table.spoken


def test_what_do_you_have_lists_the_readings_of_this_step(table: Table) -> None:
    table.until("backlash.measure")
    table.answer()
    table.answer()
    table.say("what do you have")
    # The voice pauses between place and value, so that the two are not heard as one number.
    assert "at place one: eight point two thousandths" in table.spoken


def test_two_packs_of_one_quantity_are_told_apart(table: Table) -> None:
    table.until("preload.old_stack")
    table.answer()
    table.answer()
    table.say("go back to old preload shim pack")
    table.say("yes")
    table.say("what do you have")
    assert "old stack thickness of the pinion shim pack: three zero, thirty thousandths" in table.spoken
    table.say("correct old stack thickness")
    assert "Correct old stack thickness of the pinion shim pack, which was" in table.spoken


def _housing_with_a_sleeve(data: dict[str, Any]) -> None:
    data["axle"] |= {"pinion_shims": "head-cone", "preload": "crush-sleeve"}
    del data["spec"]["nut_torque"]


def test_adjusters_go_back_by_their_count_and_not_to_a_mark_that_they_have_left() -> None:
    """The mark was made at no play: back on it, preload and every move since would be lost (the count is the move lines' own sum)."""
    table = Table(job_with(_housing_with_a_sleeve), {"backlash": ["0.0150 in", "0.0160 in", "0.0155 in", "0.0155 in", "0.0082 in"]})
    table.until("carrier.fit_case")
    assert "mark" not in table.spoken
    table.until("final.case_in")
    counts = {
        side: sum(int(move["change"]["value"]) for move in table.all_lines("move") if move["part"] == f"{side}_adjuster")
        for side in ("ring_side", "opposite")
    }
    assert counts == {"ring_side": 5, "opposite": -3}  # one each for the preload, then four from side to side
    assert "the ring side one, on the left, five notches tighter than its mark" in table.spoken
    assert "the opposite one, on the right, three notches looser than its mark" in table.spoken


def test_a_low_chance_comes_with_the_words_that_bring_one_more_reading(table: Table) -> None:
    table.answers["pinion_drag"] = ["46 lb-in"]
    table.until(lambda each: "The chance" in each.spoken)
    assert "say go back to Pinion drag, turning" in table.spoken
    table.say("go back to Pinion drag, turning")
    table.say("yes")
    assert table.wait["quantity"] == "pinion_drag"


def test_a_runout_in_its_range_is_said_to_be_and_one_outside_is_left_to_the_alarm(table: Table) -> None:
    table.until("carrier.runout")
    table.say("2 thou")
    table.say("yes")
    assert "In the manual's range: ring gear runout" in table.spoken
    other = Table(table.state.job, {"ring_runout": "0.0060 in"})
    other.until(lambda each: each.state.alarm is not None)
    assert "range" not in other.spoken
    assert "runs out more than the manual allows" in other.spoken


def test_the_first_caution_says_how_it_is_accepted_and_a_refused_one_again(table: Table) -> None:
    table.until(lambda each: each.wait["for"] == "caution")
    assert "understood" in table.spoken
    table.say("understood")
    table.until(lambda each: each.wait["for"] == "caution")
    assert "understood" not in table.spoken
    table.say("yes")
    assert "understood" in table.spoken


def test_voided_readings_are_named_when_they_go(table: Table) -> None:
    table.until("preload.drag")
    table.say("go back to preload nut")
    table.say("yes")
    assert "nut torque" in table.spoken


def test_an_error_says_the_same_in_words_as_in_its_line(table: Table) -> None:
    table.until("preload.drag")
    table.say("seven bananas")
    (error,) = table.lines("error")
    assert error["text"] in table.spoken
    assert "\n" not in error["text"]


def test_the_end_names_what_failed() -> None:
    table = Table(job_with(lambda data: data["spec"].update(seal_drag={"high": "3", "unit": "lb-in"})), {"seal_drag": "9 lb-in"})
    while table.end is None:
        table.say("nothing found" if table.state.alarm is not None else table.answer_words())
    assert table.end == {"verdict": "out of spec", "job": "job", "failed": ["seal_drag"]}
    assert "seal drag" in table.spoken
    assert "Do not put this axle into service" in table.spoken


def test_the_wait_tells_what_it_expects_with_its_spread(table: Table) -> None:
    table.until("preload.drag")
    predicted = table.wait["predicted"]
    assert set(predicted) == {"value", "spread"}
    assert Decimal(predicted["spread"]) > 0
    assert 1 < Decimal(predicted["value"]) < 62  # of any use: within the usual drags of the trade (docs/trade.md, section 3)


def test_a_batch_is_made_of_its_events_alone(table: Table) -> None:
    state = table.state
    events = table.say("why")
    assert [effect.json() for effect in show(state, table.events[-1:])] == events
    json.dumps(events)


def test_a_choice_that_is_no_reading_is_read_back(table: Table) -> None:
    table.until("baseline.state")
    batch = table.say("apart with its old shims")
    assert batch[0] == {"speak": "Noted: apart with its old shims.", "urgency": "info"}


def test_what_this_axle_has_taught_is_told_on_request_a_sentence_for_each(table: Table) -> None:
    assert table.say("what have you learned")[0]["speak"] == "Nothing yet: I learn from what a change does to the next reading."
    taught = Table(job_with(), {"pinion_drag": ["12 lb-in", "22 lb-in"], "backlash": ["0.0150 in"] * 3 + ["0.0090 in"] * 40})
    taught.until("final.backlash")
    told = taught.say("what have you learned")[0]["speak"]
    assert told.count("On this axle") == 2
    assert "one thousandth of shim changes the drag by" in told
    assert "ten thousandths of ring movement change backlash by" in told
    again = taught.say("repeat")[0]["speak"]
    assert again == told


def test_no_forecast_reaches_below_nothing() -> None:
    """A drag near zero, foretold as a bell curve, would reach below it."""
    table = Table(job_with(), {"pinion_drag": ["3 lb-in", "22 lb-in"]})
    while table.step != "preload.judge":
        table.answer()
    lows = [line["move"]["expect"]["low"] for batch in table.batches for line in batch if "move" in line and line["move"]["expect"]]
    assert lows
    assert all(not low.startswith("-") for low in lows)


def test_a_corrected_old_pack_is_followed_by_the_way_to_the_pack_that_it_asks_for(table: Table) -> None:
    """A first pack is the old one and both marks (docs/trade.md, 4.1)."""
    table.until("preload.drag")
    table.say("correct old stack thickness")
    table.say("yes")
    table.say("0.0300 in")
    table.say("yes")
    assert "The preload shim pack that is in was chosen by the old number" in table.spoken
    assert "say go back to Fit spacer and preload shims" in table.spoken
    table.say("go back to Fit spacer and preload shims")
    table.say("yes")
    (move,) = table.lines("move")
    assert (move["from"]["value"], move["to"]["value"]) == ("0.0205", "0.0300")


def test_a_pack_that_a_reading_has_chosen_since_stays_when_the_old_one_is_corrected(table: Table) -> None:
    table.answers["pinion_drag"] = ["12 lb-in", "12 lb-in", "22 lb-in"]
    table.until("depth.support_bearing")
    now = table.state.pack("preload_shims")
    table.say("correct old stack thickness")
    table.say("yes")
    table.say("0.0300 in")
    table.say("yes")
    assert "was chosen by the old number" not in table.spoken
    table.say("go back to Fit spacer and preload shims")
    table.say("yes")
    (move,) = table.lines("move")
    assert now is not None
    assert move["to"] == now.total.json()
