"""What happens when the ear was not sure, or was wrong: the order of the speech policy (docs/speech.md, "Heard, read back, confirmed")."""

import pytest

from assistant.core import events as ev
from assistant.core.inputs import Said, Unheard
from assistant.core.state import Trouble
from tests.conftest import job_with
from tests.table import Table

CLOSE = ("six point five thou", "six point nine thou", "six thou")


@pytest.fixture
def table() -> Table:
    """A job that waits for its first backlash."""
    return Table(job_with()).until("baseline.backlash")


def heard(words: str, posterior: float = 0.999, **more: object) -> Said:
    return Said(words, "spoken", posterior, -0.02, **more)  # type: ignore[arg-type]


def unclear(*words: str) -> Unheard:
    return Unheard(words, "unsure", 0.7, -0.05)


def test_after_the_first_miss_no_guess_is_spoken(table: Table) -> None:
    table.give(unclear(*CLOSE))
    assert table.spoken == "Again, please."
    assert table.wait["for"] == "reading"


def test_on_the_second_miss_the_two_best_are_offered_and_what_is_chosen_is_read_back(table: Table) -> None:
    table.give(unclear(*CLOSE))
    table.give(unclear(*CLOSE))
    assert not table.lines("error")
    assert "First, six point five thousandths. Or second, six point nine thousandths." in table.spoken
    assert (table.wait["for"], table.wait["choices"]) == ("choice", ["first", "second", "neither"])
    table.say("second")
    assert (table.wait["for"], table.wait["value"]) == ("confirm", {"value": "0.0069", "unit": "in"})
    table.say("yes")
    assert table.standing("baseline_backlash") == ["0.0069 in"]


def test_which_of_the_two_can_be_answered_by_saying_the_value_again(table: Table) -> None:
    table.give(unclear(*CLOSE))
    table.give(unclear(*CLOSE))
    table.give(heard("six point five thou"))
    assert (table.wait["for"], table.wait["value"]) == ("confirm", {"value": "0.0065", "unit": "in"})


def test_neither_refuses_both_and_the_other_ways_in_are_said(table: Table) -> None:
    table.give(unclear(*CLOSE))
    table.give(unclear(*CLOSE))
    table.say("neither")
    assert "type it" in table.spoken
    assert table.wait["for"] == "reading"
    table.give(heard("six point five thou"))
    assert table.lines("error")
    assert table.wait["for"] == "reading"


def test_on_the_third_miss_the_other_ways_in_are_said(table: Table) -> None:
    for _ in range(3):
        table.give(unclear("six thou"))
    assert "Take it from the gauge, or type it." in table.spoken


def test_a_command_is_never_one_of_the_two(table: Table) -> None:
    for _ in range(2):
        table.give(unclear("six thou", "stop"))
    assert table.wait["for"] == "reading"


def test_a_value_that_was_refused_once_is_not_read_back_again_as_it_was_heard(table: Table) -> None:
    table.give(heard("six point five thou"))
    table.say("no")
    table.give(heard("six point five thou"))
    assert "which you refused" in table.spoken
    assert "point zero zero six five inches" in table.spoken
    assert table.wait["for"] == "reading"
    # Nor is it one of two.
    table.state = table.replayed()
    assert table.state.trouble.misses == 2
    table.give(unclear(*CLOSE))
    assert table.wait["for"] == "reading"


def test_a_refused_value_in_another_form_is_other_evidence(table: Table) -> None:
    table.give(heard("six point five thou"))
    table.say("no")
    table.give(heard("point zero zero six five"))
    assert table.wait["value"] == {"value": "0.0065", "unit": "in"}


def test_what_is_typed_is_taken_whatever_the_ear_had_wrong(table: Table) -> None:
    table.give(heard("six point five thou"))
    table.say("no")
    table.say("six point five thou")
    assert table.wait["value"] == {"value": "0.0065", "unit": "in"}


def test_a_refusal_counts_as_a_miss(table: Table) -> None:
    table.give(heard("nine thou"))
    table.say("no")
    table.give(unclear(*CLOSE))
    assert table.wait["choices"] == ["first", "second", "neither"]


def test_the_next_wait_begins_without_the_troubles_of_the_last(table: Table) -> None:
    table.give(heard("nine thou"))
    table.say("no")
    table.give(heard("twelve thou"))
    table.say("yes")
    assert table.state.trouble == Trouble()


def test_an_answer_that_is_not_heard_keeps_the_read_back_and_names_the_pedal_at_the_third(table: Table) -> None:
    table.give(heard("twelve thou"))
    for said in ("Again, please.", "Again, please.", "Press the pedal if it is as I said"):
        table.give(unclear("yes"))
        assert said in table.spoken
        assert table.wait["for"] == "confirm"
    table.pedal()
    assert table.standing("baseline_backlash") == ["0.012 in"]


def test_noise_is_no_miss(table: Table) -> None:
    for _ in range(3):
        table.give(Unheard((), "nobody spoke", for_us=False))
    assert table.state.trouble == Trouble()


def test_where_the_expectation_pulls_the_read_back_is_a_question_and_both_are_kept(table: Table) -> None:
    table.say("11 thou")
    table.say("yes")
    table.give(heard("sixteen thou", doubted=True, instead="thirteen thou"))
    pulled = [event for event in table.events if isinstance(event, ev.Pulled)]
    assert pulled == [ev.Pulled("sixteen thou", "thirteen thou")]
    offered = [event for event in table.events if isinstance(event, ev.Offered)]
    assert offered[-1].question


def test_every_read_back_is_kept_with_its_figures_and_the_ear_that_gave_them(table: Table) -> None:
    table.give(heard("twelve thou", 0.9991, ear="net 1234"))
    table.give(heard("yes", ear="net 1234"))
    kept = [event for event in table.events if isinstance(event, ev.EarOpened | ev.Offered | ev.Recorded)]
    assert kept[-3] == ev.EarOpened("net 1234")
    offered = kept[-2]
    assert isinstance(offered, ev.Offered)
    assert (offered.posterior, offered.fit) == (0.9991, -0.02)
    assert isinstance(kept[-1], ev.Recorded)
    assert sum(isinstance(event, ev.EarOpened) for event in table.events) == 1


def test_a_print_that_is_not_clear_is_offered_like_a_number(table: Table) -> None:
    table = Table(job_with()).until(lambda one: one.end is None and one.wait.get("quantity") == "pattern_drive")
    for _ in range(2):
        table.give(unclear("toe root", "heel root"))
    assert "First, toe root. Or second, heel root." in table.spoken
    table.say("first")
    assert (table.wait["for"], table.wait["value"]) == ("confirm", "toe root")
