"""What is said the second time: slower by the mouth, then figure by figure; and shorter where it is known."""

import pytest

from assistant.core.inputs import Unheard
from tests.conftest import job_with
from tests.table import Table


@pytest.fixture
def table() -> Table:
    return Table(job_with()).until("baseline.backlash")


def test_the_first_repeat_says_the_same_words_and_the_second_the_figures(table: Table) -> None:
    table.say("six point five thou")
    first = table.spoken
    table.say("repeat")
    assert table.spoken == first
    table.say("repeat")
    assert table.spoken.startswith("Point zero zero six five inches")
    assert table.wait["for"] == "confirm"


def test_what_was_not_heard_between_does_not_begin_the_repeats_anew(table: Table) -> None:
    table.say("six point five thou")
    table.say("repeat")
    table.give(Unheard(("repeat",), "unsure"))
    table.say("repeat")
    assert table.spoken.startswith("Point zero zero six five inches")


def test_anything_else_does(table: Table) -> None:
    table.say("six point five thou")
    table.say("repeat")
    table.say("no")
    table.say("seven point five thou")
    table.say("repeat")
    assert not table.spoken.startswith("Point")


def test_a_pack_is_said_in_figures_at_the_second_repeat(table: Table) -> None:
    table.until(lambda one: one.state.move is not None)
    first = table.spoken
    table.say("repeat")
    table.say("repeat")
    assert "point zero" in table.spoken
    assert table.spoken != first


def test_a_step_that_was_shown_before_is_only_named_and_repeat_gives_it_in_full(table: Table) -> None:
    full = table.spoken
    assert "Rock the ring gear" in full
    for spot in range(3):
        table.say(f"{12 + spot % 2} thou")
        table.say("yes")
    table.until("baseline.total_drag")
    table.say("go back to baseline backlash")
    table.say("yes")
    assert table.step == "baseline.backlash"
    assert "Rock the ring gear" not in table.spoken
    assert "Backlash before teardown." in table.spoken
    table.say("repeat")
    assert "Rock the ring gear" in table.spoken


def test_a_caution_and_the_step_behind_it_are_said_in_full_every_time() -> None:
    table = Table(job_with()).until("preload.cups")
    full = table.spoken
    table.say("go back to inspect seats")
    table.say("yes")
    table.until("preload.cups")
    assert table.spoken == full
