"""The technician of the virtual axle: what is said, what is agreed to, and how an alarm is answered."""

from typing import Any

import pytest

from assistant.core.mistakes import Look
from assistant.core.quantities import Quantity
from assistant.files import phrases_for
from assistant.technician import PuzzledError, Technician, spoken_forms
from assistant.virtual_axle import MISTAKES, Build, Fault, VirtualAxle


def wait(**more: Any) -> dict[str, Any]:
    return {"for": "reading", "unit": "in", **more}


def heard(quantity: str, value: str, unit: str) -> dict[str, Any]:
    return {"for": "confirm", "quantity": quantity, "value": {"value": value, "unit": unit}}


@pytest.mark.parametrize(
    ("quantity", "forms"),
    [
        (Quantity.of("0.0065", "in"), ["point zero zero six five", "six point five thou", "0.0065"]),
        (Quantity.of("0.14", "mm"), ["zero point one four", "0.14"]),
        (Quantity.of("18", "lb-in"), ["one eight inch pounds", "eighteen inch pounds"]),
        (Quantity.of("2.1", "N·m"), ["two point one newton metres"]),
        (Quantity.of("180", "lb-ft"), ["one eight zero foot pounds", "one hundred eighty foot pounds"]),
        (Quantity.of("-3", "0.001 in"), ["minus three", "-3"]),
        (Quantity.of("2.6250", "in"), ["two point six two five zero"]),
    ],
)
def test_a_reading_is_said_in_the_forms_of_the_trade(quantity: Quantity, forms: list[str]) -> None:
    assert set(forms) <= set(spoken_forms(quantity))


def test_only_the_value_that_was_said_gets_a_yes() -> None:
    hands = Technician(VirtualAxle(Build(), 1), gauges=0, variety=0)
    hands.answer(wait(quantity="ring_runout"))
    said = hands.taken[-1].shown.said
    assert hands.answer(heard("ring_runout", said.text, "in")) == {"say": "yes"}
    assert hands.answer(heard("ring_runout", said.to("mm").text, "mm")) == {"say": "yes"}  # the same size in the other unit
    assert hands.answer(heard("ring_runout", str(said.value * 10), "in")) == {"say": "no"}
    hands.forget()
    assert hands.answer(heard("ring_runout", said.text, "in")) == {"say": "no"}


def test_a_question_to_stop_or_go_back_that_was_not_asked_for_gets_a_no() -> None:
    hands = Technician(VirtualAxle(Build(), 1))
    hands.observe([{"speak": "Stop the job?", "urgency": "ask"}, {"wait": {"for": "confirm"}}])
    assert hands.answer({"for": "confirm"}) == {"say": "no"}
    hands.observe([{"speak": "Do the numbers on ring and pinion match?", "urgency": "ask"}])
    assert hands.answer({"for": "confirm"}) == {"say": "yes"}


def test_a_move_is_made_at_the_next_done_and_only_once() -> None:
    axle = VirtualAxle(Build(), 1)
    hands = Technician(axle)
    move = {"part": "opposite_adjuster", "group": "g", **{key: {"value": "2", "unit": "notch"} for key in ("from", "to", "change")}}
    hands.observe([{"move": move}, {"caution": {"id": "c"}}, {"wait": {"for": "caution"}}])
    assert hands.answer({"for": "caution"}) == {"say": "understood"}
    assert axle.state.notches["opposite"] == 0
    hands.observe([{"step": {"id": "s", "phase": "backlash", "kind": "do", "title": "turn the adjuster"}}, {"wait": {"for": "done"}}])
    hands.answer({"for": "done"})
    hands.answer({"for": "done"})
    assert axle.state.notches["opposite"] == 2


@pytest.mark.parametrize(
    ("cause", "check", "answer"),
    [
        ("the cap bolts are loose", "put the wrench on each cap bolt", "the cap bolts are loose"),
        ("a burr under a shim", "feel the edges", "measure again"),
    ],
)
def test_an_alarm_is_answered_with_the_cause_that_is_there(cause: str, check: str, answer: str) -> None:
    axle = VirtualAxle(Build(), 1, [Fault("caps-loose", "torque:caps")])
    axle.tighten("caps")
    loose = axle.mean_backlash()
    hands = Technician(axle)
    likely = [
        {"cause": "the pinion nut is not at its torque", "odds": 0.1, "check": "try it"},
        {"cause": cause, "odds": 0.5, "check": check},
    ]
    hands.observe([{"alarm": {"id": "a", "text": "odd", "evidence": [], "likely": likely}}])
    choices = [str(each["cause"]) for each in likely] + ["nothing found", "measure again"]
    assert hands.answer({"for": "choice", "choices": choices}) == {"say": answer}
    assert (axle.mean_backlash() != loose) == (answer == cause)
    assert hands.noticed == ({"caps-loose": "an alarm"} if answer == cause else {})
    if answer != cause:
        assert hands.answer({"for": "choice", "choices": choices}) == {"say": "nothing found"}


# What each look of assistant/mistakes.toml shows, whatever it is worded like.
SHOWN_BY = {
    "nut": {"nut-not-torqued"},
    "preload-shims": {"shim-left-out", "shim-doubled"},
    "depth-shims": {"shim-left-out", "shim-doubled"},
    "side-packs-count": {"shim-left-out", "shim-doubled"},
    "seats": {"not-seated"},
    "depth-seats": {"not-seated"},
    "seal-oil": {"seal-in", "dry-bearing"},
    "caps": {"caps-loose"},
    "adjusters": {"wrong-side", "one-side-only"},
    "sides": {"wrong-side"},
    "plunger": {"one-place", "at-the-yoke"},
}


@pytest.mark.parametrize("look", phrases_for().looks, ids=lambda look: look.id)
def test_what_is_to_be_looked_at_first_names_the_mistakes_that_it_shows(look: Look) -> None:
    for name in SHOWN_BY[look.id]:
        axle = VirtualAxle(Build(), 1, [Fault(name, MISTAKES[name].occasions[0])])
        axle.faults[0].state = "active"
        assert axle.named_by(look.text) is axle.faults[0], name


def test_asked_again_one_looks_again_and_the_slip_is_seen() -> None:
    hands = Technician(VirtualAxle(Build(), 1, [Fault("decimal-slip", "read:ring_runout")]), gauges=0)
    first = hands.answer(wait(quantity="ring_runout"))
    second = hands.answer(wait(quantity="ring_runout"))
    assert first != second
    assert hands.noticed == {"decimal-slip": "asked again"}
    assert hands.taken[0].shown.said.value == 10 * hands.taken[0].shown.honest.value


def test_what_no_technician_can_answer_is_said_so() -> None:
    hands = Technician(VirtualAxle(Build(), 1))
    with pytest.raises(PuzzledError, match="no instrument shows ring_runout in lb-in"):
        hands.answer(wait(quantity="ring_runout", unit="lb-in"))
    with pytest.raises(PuzzledError, match="there is no such pack"):
        hands.answer(wait(quantity="shim_thickness", part="ring_side_shims"))
    with pytest.raises(PuzzledError, match="a wait for 'lunch'"):
        hands.answer({"for": "lunch"})
