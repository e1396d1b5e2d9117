"""Expected and surprising values apart: the tally by hand, and the predictions that are drawn."""

import pytest

from assistant.benchmarks.speech_kit import READINGS, Item, planned
from assistant.benchmarks.surprises import FAR, FLOORS, KINDS, NEAR, SPREADS, Heeded, Tally, prediction, tallied
from assistant.core.grammar import value_set
from assistant.core.quantities import Quantity
from assistant.core.words import Value
from assistant.ears import Candidate

SIX = Item(1, "reading", "six thou", "backlash", "in", "thou", "0.0060")


def candidate(thou: str, posterior: float) -> Candidate:
    value = Quantity.of(thou, "in")
    return Candidate(value.text, Value(value, "", ""), posterior, posterior)


def test_every_step_that_is_read_has_its_spread() -> None:
    assert set(SPREADS) == set(READINGS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_prediction_lies_near_what_is_said_or_far_from_it(kind: str) -> None:
    drawn = 0
    for item in planned(300, 4, ["espeak:en-us"]):
        if item.kind != "reading":
            continue
        centre = prediction(item, kind, 4)
        assert centre == prediction(item, kind, 4)
        if centre is None:
            continue
        drawn += 1
        assert centre in value_set(item.expect, item.unit)
        away = abs(centre.value - Quantity.of(item.value, item.unit).value) / Quantity.of(SPREADS[item.expect, item.unit], item.unit).value
        assert away <= NEAR if kind == "expected" else away >= FAR
    assert drawn > 150


def test_a_prior_that_chooses_mends_the_expected_and_spoils_the_surprising() -> None:
    # Said .006. Half as likely as another by the sound, it wins where it is expected; twice as likely, it loses to what is expected.
    other = prediction(SIX, "surprising", 1)
    assert other is not None
    slip = Heeded(SIX, (candidate(other.text, 0.6), candidate("0.0060", 0.3)), None)
    clear = Heeded(SIX, (candidate("0.0060", 0.6), candidate(other.text, 0.3)), None)
    found = tallied([slip, clear], 1, (1.0, 0.05))
    assert [found[1.0, kind].misheard for kind in KINDS] == [1, 1]
    assert [found[0.05, kind].misheard for kind in KINDS] == [0, 2]


def test_what_is_accepted_is_the_same_with_every_prior_and_only_the_question_differs() -> None:
    # The expected value has .002 of the sound: a prior that gives what was said less than that, four deviations off, puts a question.
    other = prediction(SIX, "surprising", 1)
    assert other is not None
    right = candidate("0.0060", 0.998)
    found = tallied([Heeded(SIX, (right, candidate(other.text, 0.002)), right)], 1)
    assert {(one.right, one.wrong) for one in found.values()} == {(1, 0)}
    assert {floor: found[floor, "surprising"].questioned_right for floor in FLOORS} == {
        1.0: 0,
        0.2: 0,
        0.05: 0,
        0.02: 0,
        0.001: 1,
        0.0001: 1,
    }
    assert all(found[floor, "expected"].questioned_right == 0 for floor in FLOORS)


def test_nothing_heard_counts_as_misheard() -> None:
    found = tallied([Heeded(SIX, (), None)], 1, (1.0,))
    assert found[1.0, "expected"] == Tally(1, 1, 0, 0, 0, 0)
