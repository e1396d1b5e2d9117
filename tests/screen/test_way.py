"""The way through the job: how each step stands, in a word."""

from typing import Any

from assistant.core.steps import PHASES
from assistant.screen.way import way_through
from assistant.screen.words import words_for
from tests.screen.jobs import BUILDS, walk
from tests.table import Table

WORDS = words_for("en")


def steps(table: Table) -> dict[str, Any]:
    return {step["id"]: step for phase in way_through(table.state, WORDS) for step in phase["steps"]}


def test_phases_come_in_the_order_of_the_work_with_their_names(table: Table) -> None:
    found = [phase["phase"] for phase in way_through(table.state, WORDS)]
    assert found == [phase for phase in PHASES if phase in found]
    assert {"pinion_preload", "pinion_depth", "carrier", "backlash", "pattern", "final"} <= set(found)


def test_at_the_start_one_step_is_now_and_all_others_are_ahead(table: Table) -> None:
    stands = [step["stands"] for step in steps(table).values()]
    assert stands[0] == "now"
    assert set(stands[1:]) == {"ahead"}
    assert {step["word"] for step in steps(table).values()} == {"now", "ahead"}


def test_what_only_judges_is_no_step_for_hands(table: Table) -> None:
    judged = {step.id for step in table.procedure.steps if step.ask == "judge"}
    assert judged
    assert not judged & set(steps(table))


def test_at_the_end_everything_is_done(table: Table) -> None:
    table.finish()
    assert {step["stands"] for step in steps(table).values()} == {"done"}
    assert {phase["stands"]["word"] for phase in way_through(table.state, WORDS)} == {"done"}


def test_a_step_that_was_undone_has_to_be_made_again(table: Table) -> None:
    table.answers["pinion_drag"] = ["12 lb-in", "22 lb-in"]
    table.until(lambda at: at.state.move is not None and at.state.move.quantity == "pinion_drag" and not at.state.move.start)
    before = steps(table)
    table.say("done")
    after = steps(table)
    again = {name for name, step in after.items() if step["stands"] == "again"}
    assert again
    assert all(before[name]["stands"] in ("done", "now") for name in again)
    assert any(step["void"] for step in after.values())
    phase = next(phase for phase in way_through(table.state, WORDS) if phase["phase"] == "pinion_preload")
    assert phase["stands"]["key"] in ("now", "again")


def test_on_every_way_one_step_is_now_until_the_end() -> None:
    for build in BUILDS:
        for state in walk(build):
            now = [step for phase in way_through(state, WORDS) for step in phase["steps"] if step["stands"] == "now"]
            assert len(now) <= 1
            if state.open_step is not None and state.procedure.step(state.open_step).ask != "judge":
                assert [step["id"] for step in now] == [state.open_step]
