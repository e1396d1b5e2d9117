"""Mistakes: each transform against a law written out by scipy, the rows against published slips, and the rates on virtual readings.

The virtual axles of the last part have constants of their own (other bends, reaches, scatters and waves than the beliefs suppose), and other seeds
than those that the rows' odds were tried on.
"""

import math
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from assistant.core.belief.backlash import BacklashBelief
from assistant.core.belief.depth import DepthBelief
from assistant.core.belief.drag import RISE, DragBelief
from assistant.core.belief.normal import Normal
from assistant.core.belief.priors import POUND_INCH, torque_spread
from assistant.core.errors import BadInputError
from assistant.core.mistakes import (
    NONE,
    UNKNOWN,
    Context,
    Limits,
    Mistake,
    Transform,
    Weighing,
    joined,
    mistakes_from,
    nothing_found,
    weigh,
    weigh_pattern,
    weigh_round,
)
from assistant.core.quantities import Quantity
from assistant.ears.spellings import unknown_words

ASSISTANT = Path(__file__).parents[2] / "assistant"
THOU = 25.4
DIAL_NOISE, DIAL_STEP = 0.25 * THOU, 0.5 * THOU


@cache
def rows() -> tuple[Mistake, ...]:
    return mistakes_from(tomllib.loads((ASSISTANT / "mistakes.toml").read_text(encoding="utf-8")))


def row(transform: Transform, **changes: object) -> Mistake:
    made = Mistake("it", "bench", "it", "look", "it", frozenset({"backlash", "pinion_drag", "pinion_depth"}), frozenset(), frozenset(),
                   0.01, 1.0, transform)  # fmt: skip
    return replace(made, **changes)


def context(quantity: str = "backlash", *occasion: str, **known: object) -> Context:
    fitting = {"noise": DIAL_NOISE, "step": DIAL_STEP} if quantity != "pinion_drag" else {"noise": 0.06, "step": POUND_INCH}
    return Context(quantity, frozenset(occasion), **{**fitting, **known})  # type: ignore[arg-type]


def likelihood(transform: Transform, reading: str, predicted: Normal, where: Context) -> float | None:
    """How much better than no mistake, as a logarithm; None when the row was left out."""
    weighing = weigh([row(transform)], Quantity.parse(reading), predicted, where)
    return next((suspect.likelihood for suspect in weighing.suspects if suspect.id == "it"), None)


# ---------------------------------------------------------------- each transform is the law it says

EXPECTED = Normal(8.0 * THOU, 0.5 * THOU)


@pytest.mark.parametrize(
    ("transform", "reading", "where", "mean", "spread"),
    [
        (Transform("factor", (2.0,)), "0.0150in", context(), 16.0, 1.0),
        (Transform("factor", (2.0,), 0.25), "0.0150in", context(), 16.0, math.hypot(1.0, 0.25 * 2 * 8.0)),
        (Transform("factor", ("yoke",)), "0.0150in", context(sizes={"yoke": (1.8,)}), 14.4, 0.9),
        (Transform("offset", (-2.0 * THOU,)), "0.0065in", context(), 6.0, 0.5),
        (Transform("offset", ("notch",), 0.5), "0.0105in", context(sizes={"notch": (2.0 * THOU,)}), 10.0, math.hypot(0.5, 1.0)),
        (Transform("level", (3.0 * THOU,), 0.5 * THOU), "0.0035in", context(), 3.0, math.hypot(0.5, 0.25)),
        (Transform("response", (0.0,)), "0.0125in", context(before=Normal(12.0 * THOU, 0.3 * THOU)), 12.0, 0.3),
        (Transform("response", (-1.0,)), "0.0155in", context(before=Normal(12.0 * THOU, 0.3 * THOU)), 16.0, 0.5),
        (Transform("response", (0.5,)), "0.0105in", context(before=Normal(12.0 * THOU, 0.3 * THOU)), 10.0, math.hypot(0.3, 0.5 * 0.4)),
        (Transform("reflect", ("dial-turn",)), "0.0915in", context(sizes={"dial-turn": (100.0 * THOU,)}), 92.0, 0.5),
    ],
)
def test_each_transform_foretells_the_reading_by_its_own_law(
    transform: Transform, reading: str, where: Context, mean: float, spread: float
) -> None:
    """mean and spread worked out by hand in thousandths of an inch; scipy gives both densities."""
    value = float(Quantity.parse(reading).number_in("in")) * 1000
    expected = norm.logpdf(value, mean, spread) - norm.logpdf(value, 8.0, 0.5)
    assert likelihood(transform, reading, EXPECTED, where) == pytest.approx(max(expected, -50.0), abs=1e-6)


def test_several_ways_are_equally_likely() -> None:
    both = likelihood(Transform("offset", (2.0 * THOU, -2.0 * THOU)), "0.0100in", EXPECTED, context())
    alone = likelihood(Transform("offset", (2.0 * THOU,)), "0.0100in", EXPECTED, context())
    assert both is not None
    assert alone is not None
    assert both == pytest.approx(alone - math.log(2), abs=1e-6)


def test_an_echo_is_as_sure_as_the_step_of_the_dial_is_fine() -> None:
    """All of its weight lies in one step of the dial: density 1/step."""
    where = context(last=Quantity.parse("0.0120in"))
    found = likelihood(Transform("echo"), "0.0120in", EXPECTED, where)
    assert found == pytest.approx(-math.log(DIAL_STEP) - norm.logpdf(12.0 * THOU, 8.0 * THOU, 0.5 * THOU), rel=1e-9)
    assert likelihood(Transform("echo"), "0.0125in", EXPECTED, where) is None


@pytest.mark.parametrize(
    "transform",
    [
        Transform("factor", ("yoke",)),
        Transform("offset", ("notch",)),
        Transform("response", (0.0,)),
        Transform("echo"),
        Transform("variation", (0.0,)),
        Transform("reflect", ("dial-turn",)),
        Transform("unit", ("lb-in", "N·m")),
    ],
)
def test_a_row_whose_ground_is_not_known_is_left_out(transform: Transform) -> None:
    assert likelihood(transform, "0.0125in", EXPECTED, context()) is None


def test_a_change_too_small_to_see_says_nothing_about_the_response() -> None:
    assert likelihood(Transform("response", (-1.0,)), "0.0080in", EXPECTED, context(before=Normal(8.2 * THOU, 0.3 * THOU))) is None


# ---------------------------------------------------------------- the rows name what was published or plainly said


def weighed(reading: str, predicted: Normal, where: Context) -> Weighing:
    return weigh(rows(), Quantity.parse(reading), predicted, where)


def first(weighing: Weighing) -> tuple[str, str | None]:
    leading = weighing.suspects[0]
    return leading.id, str(leading.meant) if leading.meant else None


@pytest.mark.parametrize(
    ("reading", "expected_thou", "answer", "why"),
    [
        ("0.065in", 6.6, ("decimal", "0.0065 in"), ".065 for .0065"),
        ("0.00065in", 6.6, ("decimal", "0.0065 in"), ".00065 for .0065"),
        ("0.17in", 6.6, ("inch-millimetre", "0.17 mm"), "1 in = 25.4 mm: 0.17 mm is .0067 in"),
        ("0.0026in", 6.2, ("transposed", "0.0062 in"), "two figures changed places"),
        ("0.0500in", 15.0, ("teen-ty", "0.0150 in"), "fifteen and fifty sound alike"),
    ],
)
def test_a_slip_of_the_number_is_named_with_what_was_meant(reading: str, expected_thou: float, answer: tuple[str, str], why: str) -> None:
    weighing = weighed(reading, Normal(expected_thou * THOU, 0.4 * THOU), context("backlash", "voice"))
    assert first(weighing) == answer, why
    assert weighing.verdict() == "doubtful"
    assert weighing.suspects[0].slip


@pytest.mark.parametrize(
    ("reading", "expected", "meant", "why"),
    [
        ("2.5lb-in", Normal(2.5, 0.1), "2.5 N·m", "NIST SP 811: 1 lb-in = 0.112985 N·m"),
        ("2lb-in", Normal(24 * POUND_INCH, 0.1), "2 lb-ft", "twelve pound-inches to a pound-foot"),
        ("250N·m", Normal(2.5, 0.1), "250 cN·m", "trade table: 3 N·m is fine, 300 is not: a hundredfold slip"),
    ],
)
def test_a_torque_in_another_unit_is_named_with_that_unit(reading: str, expected: Normal, meant: str, why: str) -> None:
    weighing = weighed(reading, expected, context("pinion_drag", "gauge"))
    suspects = {suspect.id: suspect for suspect in weighing.likely[:3]}
    assert str(suspects["torque-unit"].meant) == meant, why


@pytest.mark.parametrize(
    ("reading", "expected", "cause", "source"),
    [
        ("30lb-in", 15.0, "radius-diameter", "TM 5-3895-359-14&P: 5 lb at 3 in is 15 lb-in; taken for 6 in it is 30"),
        ("15lb-in", 8.0, "dry", "Mitsubishi Pajero Pinin 26-39: 0.88-1.17 N·m dry, 0.39-0.49 N·m oiled"),
    ],
)
def test_twice_the_drag_is_oil_or_a_radius(reading: str, expected: float, cause: str, source: str) -> None:
    weighing = weighed(reading, Normal(expected * POUND_INCH, 0.07), context("pinion_drag", "voice"))
    assert cause in [suspect.id for suspect in weighing.likely[:5]], source


def test_a_backlash_read_at_the_yoke_is_named() -> None:
    """Trade sum: .028 in read at 2.0 in radius, ring 4.4 in, 3.73 is .0165 in at the tooth: a factor of 1.70."""
    where = context("backlash", "voice", sizes={"yoke": (2.0 * 3.73 / 4.4,)})
    assert first(weighed("0.028in", Normal(16.5 * THOU, 0.6 * THOU), where))[0] == "yoke"


def test_a_drag_that_does_not_answer_to_its_shims_is_not_seated_or_loose() -> None:
    """Trade table: .003 in of shim and less than 2 lb-in of change: not seated, tight on the stem, nut bottomed."""
    before = Normal(12 * POUND_INCH, 0.08)
    where = context("pinion_drag", "changed", "assembled", "nut", "spacer-shims", "typed", before=before,
                    sizes=dict.fromkeys(("apart", "thicker", "shim-extra"), (-20 * POUND_INCH,)), said_again=True)  # fmt: skip
    weighing = weighed("12lb-in", Normal(40 * POUND_INCH, 0.5), where)
    assert weighing.verdict() == "alarm"
    assert {"drag-no-response"} <= {suspect.id for suspect in weighing.likely[:3]}


def test_an_etch_whose_sign_was_lost_is_off_by_twice_its_size() -> None:
    where = context("pinion_depth", "first", "voice", said_again=True, sizes={"etch-sign": (8.0 * THOU,), "etch-old": (3.0 * THOU,)})
    weighing = weighed("2.6330in", Normal(2625.0 * THOU, 1.0 * THOU), where)
    assert weighing.verdict() == "alarm"
    assert weighing.likely[0].id == "etch-sign"


def test_a_dial_past_a_turn_is_named() -> None:
    where = context("pinion_depth", "gauge", "changed", sizes={"dial-turn": (100.0 * THOU, -100.0 * THOU)})
    assert first(weighed("2.7250in", Normal(2625.0 * THOU, 1.0 * THOU), where))[0] == "dial-turn"


def test_an_adjuster_that_walked_one_notch_is_named() -> None:
    where = context("backlash", "adjusters", "gauge", sizes={"notch": (3.0 * THOU, -3.0 * THOU)}, said_again=True)
    weighing = weighed("0.0110in", Normal(8.0 * THOU, 0.4 * THOU), where)
    assert weighing.likely[0].id == "adjuster-slipped"


def test_a_sleeve_crushed_too_far_needs_a_new_sleeve() -> None:
    """Toyota Land Cruiser 1996, Lincoln 1991: over is a new sleeve, never back off."""
    where = context("pinion_drag", "sleeve", "crush-sleeve", "gauge", "final", said_again=True)
    suspect = next(s for s in weighed("42lb-in", Normal(20 * POUND_INCH, 0.25), where).likely[:3] if s.id == "sleeve-overshoot")
    assert "new sleeve" in suspect.check
    assert "never back the nut off" in suspect.check


def test_a_surprise_on_an_expected_reading_is_none() -> None:
    weighing = weighed("0.0080in", EXPECTED, context("backlash", "voice", "adjusters", sizes={"notch": (3.0 * THOU,)}))
    assert weighing.verdict() == "clear"
    assert weighing.suspects[0].id == NONE
    assert weighing.clean > 0.95


def test_a_number_that_nothing_explains_is_doubted_and_then_alarms() -> None:
    weighing = weighed("0.0115in", EXPECTED, context("backlash", "gauge"))
    again = weighed("0.0115in", EXPECTED, context("backlash", "gauge", said_again=True))
    assert (weighing.verdict(), again.verdict()) == ("doubtful", "alarm")
    assert UNKNOWN in [suspect.id for suspect in again.suspects[:4]]


def test_the_same_number_said_twice_is_less_likely_a_slip_of_the_tongue() -> None:
    where = context("backlash", "voice")
    once, twice = (weighed("0.0062in", Normal(2.6 * THOU, 0.4 * THOU), replace(where, said_again=again)) for again in (False, True))
    share = {w.said_again: sum(s.odds for s in w.suspects if s.id in ("transposed", "misheard")) for w in (once, twice)}
    assert share[True] < share[False]


def test_a_first_reading_may_lie_further_out_than_a_later_one() -> None:
    early = weighed("0.0105in", EXPECTED, context("backlash", "gauge", "first"))
    late = weighed("0.0105in", EXPECTED, context("backlash", "gauge"))
    assert early.clean > late.clean


# ---------------------------------------------------------------- shares, memory, answers


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 80), st.booleans())
def test_shares_add_up_to_one_and_are_in_order(half_thou: int, again: bool) -> None:
    where = context("backlash", "voice", "changed", "caps", "adjusters", before=Normal(300.0, 8.0), last=Quantity.parse("0.0120in"),
                    said_again=again, sizes={"notch": (75.0, -75.0), "yoke": (1.8,)})  # fmt: skip
    reading = Quantity(Decimal(half_thou) * Decimal("0.0005"), "in")
    weighing = weigh(rows(), reading, EXPECTED, where)
    odds = [suspect.odds for suspect in weighing.suspects]
    assert sum(odds) == pytest.approx(1.0)
    assert odds == sorted(odds, reverse=True)
    assert sum(suspect.odds for suspect in weighing.likely) == pytest.approx(1.0)
    assert {NONE, UNKNOWN} <= {suspect.id for suspect in weighing.suspects}


def test_a_check_that_found_nothing_lowers_its_cause_and_not_to_nothing() -> None:
    where = context("backlash", "gauge", "caps", said_again=True)
    before = weighed("0.0115in", EXPECTED, where)
    after = weighed("0.0115in", EXPECTED, replace(where, earned=nothing_found({}, "caps-loose")))
    then, now = (next(s.odds for s in each.suspects if s.id == "caps-loose") for each in (before, after))
    assert before.likely[0].id == "caps-loose"
    assert now / (1 - now) == pytest.approx(0.2 * then / (1 - then))


def test_slips_are_not_carried_over_and_what_stays_is() -> None:
    weighing = weighed("0.0115in", EXPECTED, context("backlash", "voice", "caps"))
    earned = weighing.earned({"caps-loose": 1.0})
    likelihoods = {suspect.id: suspect.likelihood for suspect in weighing.suspects}
    assert earned["caps-loose"] == pytest.approx(1.0 + likelihoods["caps-loose"])
    assert "decimal" not in earned


@pytest.mark.parametrize(
    ("readings_thou", "leads"),
    [
        ((9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0), "same-place"),
        ((9.0, 8.5, 8.0, 7.5, 7.0, 7.5, 8.0, 8.5), NONE),
        ((9.0, 11.0, 14.0, 16.5, 18.0, 16.0, 13.0, 11.0), "ring-not-square"),
    ],
)
def test_a_round_is_held_against_the_runout(readings_thou: tuple[float, ...], leads: str) -> None:
    """.004 in of runout explains about .0028 in of variation (geometry, 0.7): none at all is one tooth, three times as much is a bad seat."""
    values = [thou * THOU for thou in readings_thou]
    weighing = weigh_round(rows(), values, Normal(2.8 * THOU, 0.9 * THOU), context("backlash", "gauge"))
    assert sum(suspect.odds for suspect in weighing.suspects) == pytest.approx(1.0)
    if leads == NONE:
        assert weighing.suspects[0].id == NONE
        assert weighing.verdict() == "clear"
    else:
        assert weighing.likely[0].id == leads
        assert weighing.verdict() == "alarm"


def test_a_round_without_much_runout_may_be_even() -> None:
    weighing = weigh_round(rows(), [9.0 * THOU] * 4, Normal(0.5 * THOU, 0.2 * THOU), context("backlash", "gauge"))
    assert weighing.verdict() == "clear"


# ---------------------------------------------------------------- a pattern against the depth


@pytest.mark.parametrize(("seen", "leads"), [("out", "etch-sign"), ("right", NONE)])
def test_a_pattern_that_contradicts_the_depth_speaks_for_what_hid_it(seen: str, leads: str) -> None:
    """The depth reads right; the print shows the pinion far out: an etch of +4 read as −4 hides 8 thou the other way."""
    where = context("pinion_depth", "first", sizes={"etch-sign": (-8.0 * THOU,), "etch-unit": (2.0 * THOU,)})
    weighing = weigh_pattern(rows(), seen, Normal(0.0, 12.0), where)  # type: ignore[arg-type]
    known = weighing.likely[0].id if leads != NONE else weighing.suspects[0].id
    assert known == leads
    assert sum(suspect.odds for suspect in weighing.suspects) == pytest.approx(1.0)


def test_a_pattern_that_agrees_with_the_depth_says_nothing_against_it() -> None:
    where = context("pinion_depth", sizes={"dial-turn": (100 * THOU,)})
    far_out = Normal(6 * THOU, 12.0)
    assert weigh_pattern(rows(), "out", far_out, where).clean > weigh_pattern(rows(), "in", far_out, where).clean


# ---------------------------------------------------------------- the rows' file


def test_every_cause_is_made_of_words_that_the_ear_knows() -> None:
    assert unknown_words(mistake.cause for mistake in rows()) == []


def test_every_mistake_that_the_job_promises_to_catch_has_its_row() -> None:
    promised = {
        "drag-no-response", "depth-no-response", "both-same", "drag-reversed", "wrong-side", "half-or-double", "decimal", "inch-millimetre",
        "torque-unit", "ring-not-square", "transposed", "teen-ty", "echo", "breakaway", "nut-not-tight", "shim-missing", "shim-doubled",
        "stack-too-thick", "depth-stack-too-thick", "burr", "bearing-not-seated", "caps-swapped", "caps-loose", "same-place", "etch-sign",
        "etch-unit", "etch-old", "seal", "dial-turn", "not-square", "adjuster-slipped", "sleeve-overshoot", "nut-moved-back", "dry",
        "radius-diameter", "kilogram-newton", "yoke",
        "pinion-moved", "meshed", "dial-reversed", "dial-backwards", "gauge-not-seated", "set-up-bearing", "side-cup", "one-side", "misheard",
        "carrier-preload", "hot", "ring-face-dirty",
    }  # fmt: skip
    assert promised <= {mistake.id for mistake in rows()}


def test_what_is_to_be_made_again_are_steps_that_exist() -> None:
    steps = {
        step["id"]
        for path in sorted((ASSISTANT / "procedures").glob("*.toml"))
        for step in tomllib.loads(path.read_text(encoding="utf-8")).get("step", [])
    }
    assert {step for mistake in rows() for step in mistake.redo} <= steps


GOOD = {
    "id": "x", "kind": "slip", "cause": "x", "check": "x", "phrase": "x", "quantities": ["lengths"], "odds": 0.1, "factor": [2],
}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"kind": "whim"}, "kind is 'whim'"),
        ({"cause": ""}, "cause must be a text"),
        ({"quantities": ["warmth"]}, "no quantity or group is called 'warmth'"),
        ({"quantities": []}, "quantities are missing"),
        ({"when": ["sunday"]}, "no occasion is called 'sunday'"),
        ({"odds": 2}, "odds is 2"),
        ({"again": 0}, "again is 0"),
        ({"factor": [0]}, "factor cannot be [0]"),
        ({"factor": ["moon"]}, "factor cannot be ['moon']"),
        ({"width": -1}, "width is -1"),
        ({"echo": True}, "exactly one of"),
        ({"colour": "red"}, "colour is not known"),
        ({"redo": "all"}, "redo is 'all'"),
    ],
)
def test_a_bad_row_is_named_with_what_is_wrong(change: dict[str, object], complaint: str) -> None:
    assert mistakes_from({"mistake": [GOOD]})[0].odds == 0.1
    with pytest.raises(BadInputError) as caught:
        mistakes_from({"mistake": [{**GOOD, **change}]})
    assert complaint in str(caught.value)


def test_all_problems_of_a_file_are_told_at_once() -> None:
    with pytest.raises(BadInputError, match=r"row 1 .*odds.*row 2 .*kind") as caught:
        mistakes_from({"mistake": [{**GOOD, "odds": 0}, {**GOOD, "id": "y", "kind": "z"}]})
    assert str(caught.value).count(";") == 1


@pytest.mark.parametrize(
    ("transform", "complaint"),
    [
        ({"unit": ["furlong"]}, "unit cannot"),
        ({"digits": "upside"}, "digits cannot"),
        ({"echo": False}, "can only be true"),
        ({}, "exactly one"),
    ],
)
def test_a_transform_that_is_none_is_refused(transform: dict[str, object], complaint: str) -> None:
    bare = {key: value for key, value in GOOD.items() if key != "factor"}
    with pytest.raises(BadInputError, match=complaint):
        mistakes_from({"mistake": [{**bare, **transform}]})


@pytest.mark.parametrize("document", [{}, {"mistake": []}, {"mistake": "none"}])
def test_a_file_without_rows_is_refused(document: dict[str, object]) -> None:
    with pytest.raises(BadInputError, match="rows were expected"):
        mistakes_from(document)


def test_a_row_that_is_no_table_and_a_name_twice_are_refused() -> None:
    with pytest.raises(BadInputError, match="a table was expected"):
        mistakes_from({"mistake": [3]})
    with pytest.raises(BadInputError, match="id 'x' stands twice"):
        mistakes_from({"mistake": [GOOD, {**GOOD, "cause": "y"}]})


@pytest.mark.parametrize("bad", [{"occasion": frozenset({"sunday"})}, {"sizes": {"moon": (1.0,)}}, {"noise": 0.0}, {"step": -1.0}])
def test_a_context_that_makes_no_sense_is_our_own_fault(bad: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"no occasion|above zero"):
        replace(context(), **bad)


# ---------------------------------------------------------------- rates on virtual readings


@dataclass(frozen=True)
class Scene:
    """One reading about to be taken: what is predicted, the true value, its context, and what each mistake would make of it (true values)."""

    predicted: Normal
    true: float
    where: Context
    wrong: dict[str, float]


def drag_scenes(dice: np.random.Generator) -> Iterator[Scene]:
    reach, bend = 52 * math.exp(dice.normal(0, 0.3)), dice.uniform(1.05, 1.6)
    floor, seat, pack = dice.uniform(1.0, 6.0) * POUND_INCH, dice.uniform(0.3, 2.0), 13_335.0
    contact = pack + reach * ((22 * POUND_INCH - floor) / RISE) ** (1 / bend) + dice.normal(0, 35)
    belief, before, last = DragBelief.spacer(pack), None, None
    for assembly in range(3):
        shift = dice.normal(0, seat)

        def law(at: float, shift: float = shift) -> float:
            return float(floor + RISE * (max(contact - at + shift, 0.0) / reach) ** bend)

        true = law(pack)
        noise = torque_spread(true)

        def outlook(at: float, belief: DragBelief = belief, noise: float = noise) -> float:
            return belief.predict(at, noise).mean

        here, shims = outlook(pack), (76.2, 127.0, 254.0)
        sizes = {
            "seal": (0.2,), "thicker": (outlook(pack + 89) - here,), "apart": (outlook(pack + 89) - here,), "carrier-share": (0.6,),
            "shim-missing": tuple(outlook(pack - s) - here for s in shims), "shim-extra": tuple(outlook(pack + s) - here for s in shims),
        }  # fmt: skip
        occasion = {"voice", "assembled", "nut", "spacer-shims", "changed" if assembly else "first"}
        where = Context("pinion_drag", frozenset(occasion), noise, POUND_INCH, before, last, sizes)
        wrong = {"dry": 2 * true, "breakaway": 1.35 * true}
        if assembly:
            wrong |= {
                "nut-not-tight": law(pack + 89),
                "bearing-not-seated": floor,
                "shim-missing": law(pack - 127),
                "stack-too-thick": law(pack + 127),
            }
        yield Scene(belief.predict(pack, noise).normal, true, where, wrong)
        last = shown("pinion_drag", true + dice.normal(0, noise))
        value = float(last.base) / 1e6
        belief = belief.observe(pack, value, noise, assembly)
        before = Normal(value, math.hypot(noise, belief.slope(pack).mean * 2.5))
        packs = [pack + 12.7 * step for step in range(-10, 11) if step]
        chances = belief.chances(packs, 16 * POUND_INCH, 29 * POUND_INCH, 0.06)
        pack = packs[chances.index(max(chances))]


def depth_scenes(dice: np.random.Generator) -> Iterator[Scene]:
    aim, lay, stack = float(dice.uniform(60_000, 68_000)), int(dice.choice([1, -1])), 800.0
    base, seat = aim + dice.normal(0, 80), dice.uniform(1.0, 8.0)
    belief = DepthBelief.start(lay=lay, stack_um=stack, guess=Normal(aim, 100.0), noise_um=DIAL_NOISE)  # type: ignore[arg-type]
    before, last = None, None
    for assembly in range(3):
        true = base + lay * (stack - 800.0) + dice.normal(0, seat)
        shims = (76.2, 127.0, 254.0)
        sizes = {
            "thicker": (lay * 89.0,), "stand-off": (lay * 140.0,), "etch-sign": (101.6,), "dial-turn": (2540.0, -2540.0),
            "shim-missing": tuple(-lay * s for s in shims), "shim-extra": tuple(lay * s for s in shims),
        }  # fmt: skip
        occasion = frozenset({"voice", "assembled", "changed" if assembly else "first"})
        where = Context("pinion_depth", occasion, DIAL_NOISE, DIAL_STEP, before, last, sizes)
        wrong = {"dial-turn": true + 2540.0, "depth-not-seated": true + lay * 140.0}
        if last is not None:
            wrong |= {"depth-no-response": float(last.base) / 1000, "shim-missing": true - lay * 127.0, "shim-doubled": true + lay * 76.2,
                      "burr": true + lay * 95.0}  # fmt: skip
        else:
            wrong["etch-sign"] = true + 101.6
        yield Scene(belief.predict(stack, assembly), true, where, wrong)
        last = shown("pinion_depth", true + dice.normal(0, DIAL_NOISE))
        value = float(last.base) / 1000
        belief = belief.observe(stack, value, assembly=assembly)
        before = belief.predict(stack)
        move = round((aim - value) * lay / 12.7) * 12.7
        stack += move if abs(move) > 30 else float(dice.choice([-76.2, 76.2, 127.0]))


def backlash_scenes(dice: np.random.Generator) -> Iterator[Scene]:
    k, wave, phase = dice.uniform(0.45, 1.0), dice.rayleigh(13.0), dice.uniform(0, 2 * math.pi)
    level, seat, ring, moved = dice.uniform(150, 450), dice.uniform(1.0, 8.0), 0.0, 0.0
    belief, last = BacklashBelief.start(ratio=3.9, noise_um=DIAL_NOISE), None
    for assembly in range(3):
        shift, taken, known = dice.normal(0, seat), [], belief
        for spot in (0.0, 90.0, 180.0, 270.0):
            true = max(level + k * ring + shift + wave * math.cos(math.radians(spot) - phase), 25.0)
            notch = belief.k_ring.mean * 63.5
            fresh = bool(assembly and not spot)
            occasion = {"voice", "adjusters", "caps", *(("changed",) if fresh else ())}
            before = known.predict(ring - moved, 0.0, spot) if fresh else None
            where = Context("backlash", frozenset(occasion | (set() if assembly or spot else {"first"})), DIAL_NOISE, DIAL_STEP, before, last,
                            {"notch": (notch, -notch), "yoke": (3.9 * 0.47,)})  # fmt: skip
            wrong = {"yoke": 3.9 * 0.5 * true}
            if not spot:
                wrong["caps-loose"] = max(true + 89.0 * dice.choice([-1, 1]), 13.0)
            if fresh:
                wrong |= {"wrong-side": max(true - 2 * k * moved, 13.0), "both-same": max(true - k * moved, 13.0)}
            yield Scene(belief.predict(ring, 0.0, spot, assembly), true, where, wrong)
            last = shown("backlash", true + dice.normal(0, DIAL_NOISE))
            taken.append(float(last.base) / 1000)
            belief = belief.observe(ring, 0.0, spot, taken[-1], assembly=assembly)
        off = 203.0 - float(np.mean(taken))
        moved = round((off / belief.k_ring.mean if abs(off) > 15 else float(dice.choice([-60, 60]))) / 31.75) * 31.75
        ring += moved


def shown(quantity: str, size: float) -> Quantity:
    """To the step of the instrument: whole pound-inches, half thousandths of an inch; never below one step."""
    if quantity == "pinion_drag":
        return Quantity(Decimal(max(round(size / POUND_INCH), 1)), "lb-in")
    return Quantity(Decimal(max(round(size / DIAL_STEP), 1)) * Decimal("0.0005"), "in")


SCENES: dict[str, Callable[[np.random.Generator], Iterator[Scene]]] = {
    "pinion_drag": drag_scenes, "pinion_depth": depth_scenes, "backlash": backlash_scenes,
}  # fmt: skip


@cache
def scenes(seed: int, builds: int) -> tuple[Scene, ...]:
    dice = np.random.default_rng(seed)
    return tuple(scene for _ in range(builds) for make in SCENES.values() for scene in make(dice))


def asked_twice(scene: Scene, size: float, again: float) -> tuple[str, Weighing]:
    """The verdict when a value comes and, if it is doubted, one more look at the same thing."""
    once = weigh(rows(), shown(scene.where.quantity, size), scene.predicted, scene.where)
    if once.verdict() == "clear":
        return "clear", once
    twice = weigh(rows(), shown(scene.where.quantity, again), scene.predicted, replace(scene.where, said_again=True))
    return twice.verdict(), twice


def test_clean_readings_raise_few_questions_and_hardly_an_alarm() -> None:
    """At most 2 % asked once more and 0.5 % alarms, over drag, depth and backlash together."""
    dice = np.random.default_rng(99)
    asked, alarms = 0, 0
    everything = scenes(2024, 120)
    for scene in everything:
        first_look = scene.true + dice.normal(0, scene.where.noise)
        second_look = first_look + dice.normal(0, 0.3 * scene.where.noise)  # the set-up's own error comes again
        once = weigh(rows(), shown(scene.where.quantity, first_look), scene.predicted, scene.where)
        asked += once.verdict() != "clear"
        alarms += asked_twice(scene, first_look, second_look)[0] == "alarm"
    assert asked / len(everything) <= 0.02
    assert alarms / len(everything) <= 0.005


def test_mistakes_that_shift_a_reading_are_caught_and_named() -> None:
    """Of those that shift it by more than 3 spreads: at least 95 % alarm, 90 % with the true cause among the first three."""
    dice = np.random.default_rng(77)
    shifted, caught, named = Counter[str](), Counter[str](), Counter[str]()
    for scene in scenes(77, 60):
        for name, size in scene.wrong.items():
            if abs(size - scene.true) < 3 * scene.predicted.spread or ("first" in scene.where.occasion and name != "etch-sign"):
                continue
            noisy = size + dice.normal(0, scene.where.noise)
            _, weighing = asked_twice(scene, noisy, noisy + dice.normal(0, 0.3 * scene.where.noise))
            shifted[name] += 1
            # A slip that stays (at the yoke, one turn of the dial, the first peak) is asked about; that is where it ends.
            caught[name] += weighing.said_again
            named[name] += name in [suspect.id for suspect in weighing.likely[:3]]
    assert sum(caught.values()) / sum(shifted.values()) >= 0.95
    assert sum(named.values()) / sum(shifted.values()) >= 0.90
    assert len(shifted) >= 15
    for name, many in shifted.items():
        if many >= 20:
            assert caught[name] / many >= 0.85, name
            assert named[name] / many >= 0.75, name


def test_slips_of_the_number_are_asked_about_before_they_are_recorded() -> None:
    asked, total = Counter[str](), Counter[str]()
    dice = np.random.default_rng(5)
    for scene in scenes(5, 40):
        if "first" in scene.where.occasion:
            continue
        good = shown(scene.where.quantity, scene.true + dice.normal(0, scene.where.noise))
        slips = {"decimal": good.value * 10, "tenth": good.value / 10}
        if good.unit == "in":
            slips["inch-millimetre"] = (good.value * Decimal("25.4")).quantize(Decimal("0.01"))
        else:
            slips["torque-unit"] = Decimal(round(float(good.number_in("N·m")), 1))
        for name, value in slips.items():
            if value <= 0:
                continue
            total[name] += 1
            asked[name] += weigh(rows(), Quantity(value, good.unit), scene.predicted, scene.where).verdict() == "doubtful"
    for name, many in total.items():
        assert asked[name] / many >= 0.97, name


def test_a_reading_that_contradicts_the_one_before_names_the_slips_of_that_one() -> None:
    """At 1.8 times, the yoke is as likely as its odds say among the slips that explain it; by the law of conditional odds, worked out by hand."""
    prior, yoke = Normal(11.0 * THOU, 6.0 * THOU), {"yoke": (1.8,)}
    slip, other = (
        row(Transform("factor", ("yoke",)), id="yoke", cause="yoke", kind="slip"),
        row(Transform("offset", (40.0,)), id="off", cause="off"),
    )
    earlier = weigh([slip], Quantity.parse("0.0220in"), prior, context(sizes=yoke))
    now = weigh([other], Quantity.parse("0.0120in"), Normal(22.0 * THOU, 1.0 * THOU), context(said_again=True))
    left_out = norm.logpdf(12.0, 11.0, 6.0) - norm.logpdf(12.0, 22.0, 1.0)
    found = joined(now, earlier, left_out)
    shares = {suspect.id: suspect.odds for suspect in found.suspects}
    by_hand = 0.01 * norm.pdf(22.0, 1.8 * 11.0, 1.8 * 6.0) / norm.pdf(22.0, 11.0, 6.0) * math.exp(left_out)
    assert shares["yoke"] / shares[NONE] == pytest.approx(by_hand, rel=1e-6)
    assert sum(shares.values()) == pytest.approx(1.0)
    assert found.likely[0].id == "yoke"


def test_what_is_many_spreads_off_still_names_the_slips_of_the_one_before() -> None:
    slip = row(Transform("factor", (2.0,)), id="twice", cause="twice", kind="slip")
    earlier = weigh([slip], Quantity.parse("0.0400in"), Normal(11.0 * THOU, 6.0 * THOU), context())
    now = weigh([row(Transform("offset", (40.0,)))], Quantity.parse("0.0120in"), Normal(40.0 * THOU, 0.5 * THOU), context(said_again=True))
    assert joined(now, earlier, 1500.0).likely[0].id == "twice"


def test_the_limits_are_what_decides() -> None:
    weighing = weighed("0.0095in", EXPECTED, context("backlash", "gauge"))
    assert weighing.verdict(Limits(surprise=10.0, doubt=0.01)) == "clear"
    assert weighing.verdict(Limits(surprise=1.0, doubt=0.01)) == "doubtful"
