"""Readings by a plan: verdicts at the very edge, parts, undo, what is said and shown."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.errors import DimensionError
from assistant.core.inspection import (
    ANY,
    Characteristic,
    Plan,
    State,
    chart,
    evolve,
    next_part,
    prompt,
    reading,
    reading_words,
    record_from,
    summaries,
    summary_json,
    summary_lines,
    undo,
    undo_words,
    verdict_words,
    wanted,
)
from assistant.core.quantities import Quantity
from assistant.files import phrases_for


def mm(text: str) -> Quantity:
    return Quantity.of(text, "mm")


OUTER = Characteristic("outer diameter", "mm", mm("25.400"), mm("25.387"), mm("25.413"), gauge="micrometer")
WIDTH = Characteristic("width", "in", low=Quantity.of("0.4990", "in"), high=Quantity.of("0.5010", "in"), gauge="caliper")
EN = phrases_for()

PLAN = Plan("bearing spacers", (OUTER, WIDTH))
GUARDED = Characteristic("outer diameter", "mm", None, mm("25.387"), mm("25.413"), mm("0.002"))


def with_readings(plan: Plan, *values: str) -> State:
    state = State(plan)
    for value in values:
        number, unit = value.split()
        state = evolve(state, reading(state, state.open[0], Quantity.of(number, unit), "t", quality="settled"))
    return state


@pytest.mark.parametrize(
    ("value", "verdict"),
    [("25.387", "in"), ("25.413", "in"), ("25.4131", "out"), ("25.3869", "out"), ("25.400", "in")],
)
def test_limits_are_inclusive_to_the_last_digit(value: str, verdict: str) -> None:
    assert OUTER.verdict(mm(value)) == verdict


def test_a_reading_in_another_unit_is_compared_exactly() -> None:
    # 1 in = 25.4 mm exactly: .5010 in is 12.7254 mm.
    assert WIDTH.verdict(mm("12.7254")) == "in"
    assert WIDTH.verdict(mm("12.7255")) == "out"
    with pytest.raises(DimensionError):
        WIDTH.verdict(Quantity.of("12.7", "N·m"))


@pytest.mark.parametrize(
    ("value", "verdict"),
    # ISO 14253-1 (from memory): in is proved U inside the limits, out beyond U outside; between, neither.
    [
        ("25.3889", "unsure"), ("25.389", "in"), ("25.411", "in"), ("25.4111", "unsure"), ("25.415", "unsure"), ("25.4151", "out"),
        ("25.385", "unsure"), ("25.3849", "out"),
    ],
)  # fmt: skip
def test_the_guard_band_leaves_what_nobody_can_prove(value: str, verdict: str) -> None:
    assert GUARDED.verdict(mm(value)) == verdict


@given(st.integers(25_300, 25_500), st.integers(0, 50))
def test_a_wider_guard_band_never_proves_more(thousandths: int, band: int) -> None:
    value = Quantity(Decimal(thousandths).scaleb(-3), "mm")
    guarded = Characteristic("d", "mm", None, OUTER.low, OUTER.high, Quantity(Decimal(band).scaleb(-3), "mm"))
    plain, strict = OUTER.verdict(value), guarded.verdict(value)
    assert strict in (plain, "unsure")


def test_a_part_is_done_with_its_last_characteristic_and_the_next_begins() -> None:
    state = with_readings(PLAN, "25.401 mm", "0.5000 in", "25.420 mm")
    assert [(record.kind, record.part, record.characteristic, record.verdict) for record in state.records] == [
        ("reading", 1, "outer diameter", "in"),
        ("reading", 1, "width", "in"),
        ("part", 2, "", "none"),
        ("reading", 2, "outer diameter", "out"),
    ]
    assert state.has_out
    assert [record.number for record in state.records] == [1, 2, 3, 4]


def test_next_part_leaves_the_rest_out_but_never_an_empty_part() -> None:
    state = with_readings(PLAN, "25.401 mm")
    state = evolve(state, next_part(state, "t"))
    assert (state.part, state.open) == (2, (OUTER, WIDTH))
    assert next_part(state, "t") == ()


def test_undo_goes_back_to_the_part_of_the_reading_and_deletes_nothing() -> None:
    state = with_readings(PLAN, "25.401 mm", "0.5000 in")
    assert state.part == 2
    (taken_back,) = undo(state, "t")
    state = evolve(state, (taken_back,))
    assert (taken_back.kind, taken_back.undoes, taken_back.part) == ("undo", 2, 1)
    assert (state.part, state.open) == (1, (WIDTH,))
    assert undo_words(taken_back, EN) == "Taken back: width, zero point five zero zero zero inches."
    assert len(state.records) == 4
    state = evolve(state, undo(state, "t"))
    assert state.standing == ()
    assert undo(state, "t") == ()


def test_without_a_plan_any_number_of_readings_is_taken() -> None:
    state = with_readings(Plan(), "1.0 mm", "2.0 mm", "0.5 in")
    assert [record.part for record in state.standing] == [1, 1, 1]
    assert state.open == (ANY,)
    assert prompt(state, EN) == "Part one."
    assert reading_words(state, state.records[-1:], EN) == "Zero point five zero zero zero inches."


def test_a_button_takes_the_first_open_characteristic_of_its_gauge() -> None:
    state = State(PLAN)
    assert wanted(state, "caliper") == WIDTH
    assert wanted(state, "depth") is None
    assert wanted(State(Plan()), "anything") == ANY


def test_a_reading_of_another_kind_is_refused_before_it_is_kept() -> None:
    with pytest.raises(DimensionError):
        reading(State(PLAN), OUTER, Quantity.of("3.0", "N·m"), "t", quality="settled")


def test_what_is_said_names_the_value_the_verdict_and_by_how_much() -> None:
    state = with_readings(PLAN, "25.420 mm")
    assert reading_words(state, state.records, EN).endswith("out, too large by zero point zero zero seven millimetres.")
    done = with_readings(PLAN, "25.400 mm", "0.5000 in")
    assert reading_words(done, done.records[1:], EN).endswith(", in. Part one done.")
    assert prompt(done, EN) == "Part two: outer diameter."
    assert verdict_words(GUARDED, mm("25.412"), "unsure", EN).startswith("inside the limits, but closer to one than the uncertainty")
    assert "too small by" in verdict_words(GUARDED, mm("25.386"), "unsure", EN)
    assert verdict_words(ANY, mm("1"), "none", EN) == ""


def test_the_chart_shows_each_reading_at_its_place() -> None:
    state = with_readings(Plan("", (OUTER,)), "25.387 mm", "25.400 mm", "25.420 mm")
    first, second, third = chart(state, OUTER, EN)
    assert first.index("o") < second.index("o") < third.index("X")
    assert third.index("|") < third.rindex("|") < third.index("X")
    assert first.count("|") == 1  # the reading stands on the limit
    assert third.endswith("25.420 mm  out")
    assert len(chart(state, OUTER, EN, rows=2)) == 2
    assert chart(state, WIDTH, EN) == []
    assert len(chart(with_readings(Plan(), "1.0 mm", "1.0 mm"), ANY, EN)) == 2
    assert [line.split()[-2:] for line in chart(with_readings(Plan(), "1.0 mm", "2.0 N·m"), ANY, EN)] == [["2.0", "N·m"]]


def test_records_come_back_from_their_lines() -> None:
    state = with_readings(PLAN, "25.420 mm", "0.5000 in")
    state = evolve(state, undo(state, "t"))
    assert tuple(record_from(record.json()) for record in state.records) == state.records
    assert state.records[0].json() == {
        "number": 1, "kind": "reading", "at": "t", "part": 1, "characteristic": "outer diameter", "value": "25.420", "unit": "mm",
        "verdict": "out", "quality": "settled", "gauge": "", "raw": "",
    }  # fmt: skip


def test_the_summary_counts_what_stands_in_the_unit_of_the_limits() -> None:
    state = with_readings(Plan("", (OUTER,)), "25.400 mm", "25.402 mm", "25.420 mm", "1.0000 in")
    state = evolve(state, undo(state, "t"))
    ((one, unit, found),) = summaries(state)
    line = summary_json(one, unit, found, state)
    # (25.400 + 25.402 + 25.420) / 3 = 25.40733…, by hand; one place more than the readings have.
    assert (line["count"], line["out"], line["mean"], line["range"], line["unit"]) == (3, 1, "25.4073", "0.020", "mm") or line[
        "range"
    ] == "0.020"
    assert found.mean == Fraction("25.400") / 3 + Fraction("25.402") / 3 + Fraction("25.420") / 3
    assert any("too few to judge" in text for text in summary_lines(state, EN))
    assert summary_lines(State(PLAN), EN) == ["no reading stands"]
    mixed = with_readings(Plan(), "1.0 mm", "2.0 N·m")
    assert summaries(mixed)[0][2].count == 1
