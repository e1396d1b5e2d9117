"""What the engine waits for is a function of the state alone, and its words are those of the interface."""

import dataclasses
from decimal import Decimal

import pytest

from assistant.core.axle import PATTERN_CHOICES
from assistant.core.events import AlarmRaised, Suspect
from assistant.core.evolve import evolve
from assistant.core.state import Wait
from assistant.core.waits import done_steps, expectation, unit_of, wait
from tests.conftest import job_with
from tests.table import Table

ANYWHERE = {"repeat", "undo", "stop", "hold"}
TALK = {"why", "what do you have", "what have you learned", "help", "go back", "correct"}


def now(table: Table) -> Wait:
    found = wait(table.state)
    assert found is not None
    return found


def test_every_wait_of_a_whole_job_offers_the_words_of_the_interface(table: Table) -> None:
    """The table of words in docs/machine.md: anywhere; anywhere but confirm; and what each wait adds."""
    own = {
        "done": {"done"},
        "caution": {"understood"},
        "confirm": {"yes", "no"},
        "choice": set(),
        "reading": {"take", "zero the gauge", "change unit"},
    }
    seen = set()
    while table.end is None:
        found = now(table)
        wanted = ANYWHERE | own[found.kind] | (set() if found.kind == "confirm" else TALK)
        assert set(found.commands) == wanted, found
        seen.add(found.kind)
        table.answer()
    assert seen == set(own)
    assert wait(table.state) is None


def test_the_same_state_waits_for_the_same(table: Table) -> None:
    while table.end is None:
        assert wait(table.replayed()) == wait(table.state)
        table.answer()


def test_a_confirm_carries_what_was_read_back_and_a_question_carries_nothing(table: Table) -> None:
    table.until("preload.drag")
    table.say("22 lb-in")
    assert (now(table).quantity, str(now(table).value)) == ("pinion_drag", "22 lb-in")
    table.say("stop")
    assert (now(table).kind, now(table).quantity, now(table).value) == ("confirm", None, None)


def test_a_reading_goes_round_the_ring_place_by_place(table: Table) -> None:
    table.until("backlash.measure")
    for place in (1, 2, 3):
        assert (now(table).spot, now(table).spots) == (place, 3)
        assert table.wait["spot"] == {"index": place, "of": 3, "degrees": 120 * (place - 1)}
        table.answer()
        assert table.wait["spot"]["index"] == place  # at its read-back too
        table.answer()


def test_degrees_are_a_number_even_where_they_do_not_come_out_even() -> None:
    table = Table(job_with(lambda data: data["spec"].update(backlash_spots=7)))
    table.until("backlash.measure")
    table.answer()
    table.answer()
    assert table.wait["spot"] == {"index": 2, "of": 7, "degrees": 51.4}  # 360 / 7


def test_a_pattern_is_a_choice_of_the_nine_places_and_unclear(table: Table) -> None:
    table.until("pattern.drive")
    assert now(table).choices == PATTERN_CHOICES
    assert len(PATTERN_CHOICES) == 10
    assert now(table).quantity == "pattern_drive"


def test_packs_carry_their_part(table: Table) -> None:
    for step, part in (("inspect.old_pinion_stack", "pinion_shims"), ("preload.fit", "preload_shims"), ("depth.fit", "pinion_shims")):
        table.until(step)
        assert now(table).part == part


def test_an_alarm_is_a_choice_of_its_causes_nothing_found_and_measure_again(table: Table) -> None:
    table.until("preload.drag")
    table.answer()
    table.answer()
    suspect = Suspect("nut loose", Decimal("0.7"), "look at the nut")
    alarm = AlarmRaised("a1", "preload.drag", "pinion_drag", "text", ("r1",), (suspect,))
    state = evolve(table.state, alarm)
    found = wait(state)
    assert found is not None
    assert (found.kind, found.choices) == ("choice", ("nut loose", "nothing found", "measure again"))


def test_on_hold_only_resume_and_stop_can_be_said_and_nothing_else_is_expected(table: Table) -> None:
    table.until("preload.drag")
    table.say("hold")
    assert now(table).commands == ("resume", "stop")
    expected = expectation(table.state)
    assert (expected.quantity, expected.unit, expected.choices, expected.commands) == (None, None, (), ("resume", "stop"))


def test_no_is_offered_only_right_after_a_gauge_reading(table: Table) -> None:
    table.until("preload.drag")
    assert "no" not in now(table).commands
    table.gauge("22 lb-in", "torque")
    assert "no" in now(table).commands
    table.say("understood")
    assert "no" not in now(table).commands


def test_a_mark_is_expected_with_its_sign_and_in_its_unit() -> None:
    table = Table(job_with(lambda data: data["parts"].pop("etch_old")), {"intake.etch_old_marked": "marked"})
    table.until("intake.etch_old_unit")
    table.say("hundredths of a millimetre")
    assert unit_of(table.state, "etch_old") == "0.01 mm"
    assert expectation(table.state).signed
    assert expectation(table.state).unit == "0.01 mm"
    assert unit_of(table.state, "etch_new") == "0.001 in"


def test_a_limit_is_asked_in_the_manuals_unit() -> None:
    table = Table(job_with(lambda data: data["spec"].pop("nut_torque"))).until("intake.limits")
    assert (now(table).quantity, now(table).part, now(table).unit) == ("nut_torque", "low", "lb-ft")


def test_a_correction_waits_for_the_quantity_the_place_and_the_part_of_the_old_reading(table: Table) -> None:
    table.until(lambda each: each.step == "backlash.measure" and each.wait.get("spot", {}).get("index") == 3)
    table.say("correct backlash")
    table.say("yes")
    assert (now(table).kind, now(table).quantity, now(table).spot, now(table).spots) == ("reading", "backlash", 2, 3)


def test_a_correction_of_a_print_is_a_choice(table: Table) -> None:
    table.until("pattern.coast")
    table.say("correct drive pattern")
    table.say("yes")
    assert (now(table).kind, now(table).quantity, now(table).choices) == ("choice", "pattern_drive", PATTERN_CHOICES)


def test_go_back_may_name_what_is_done_in_the_order_of_the_work(table: Table) -> None:
    table.until("inspect.seats")
    done = [step.id for step in done_steps(table.state)]
    assert done == [step.id for step in table.procedure.steps if step.id in table.state.done]
    assert expectation(table.state).steps == tuple(done)


def test_a_state_without_a_step_a_question_or_an_end_is_our_fault(table: Table) -> None:
    with pytest.raises(AssertionError):
        wait(dataclasses.replace(table.state, open_step=None))
