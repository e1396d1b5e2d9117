"""The job as it stands: which readings count, what is complete, and what is in the manual's range."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.axle import Limits
from assistant.core.quantities import Quantity
from assistant.core.state import State, applies, backlash_in_spec, in_spec, is_complete, missing_specs, next_spot
from assistant.core.steps import Step
from tests.conftest import job_with
from tests.table import Table


def thou(*values: str) -> tuple[Quantity, ...]:
    return tuple(Quantity(Decimal(value) / 1000, "in") for value in values)


def limits(judge: str = "all", variation: str | None = "3.0") -> Limits:
    """6 to 10 thou, as the job of `conftest`."""
    low, high = thou("6", "10")
    return Limits(low, high, thou(variation)[0] if variation else None, judge)


@pytest.mark.parametrize(
    ("judge", "values", "within"),
    [
        # docs/machine.md: every spot within low to high and maximum − minimum at most the variation; or as `judge` says.
        ("all", ("6.0", "8.0", "9.0"), True),
        ("all", ("5.9", "8.0", "8.0"), False),
        ("all", ("8.0", "8.0", "10.1"), False),
        ("all", ("7.0", "8.0", "10.0"), True),  # the variation is inclusive
        ("all", ("6.9", "8.0", "10.0"), False),  # 3.1 thou
        ("minimum", ("6.0", "8.0", "9.0"), True),
        ("minimum", ("9.0", "11.0", "11.5"), True),  # only the least counts
        ("minimum", ("5.9", "8.0", "8.0"), False),
        ("minimum", ("6.0", "9.1", "8.0"), False),  # but the variation still does
        ("mean", ("9.0", "10.0", "11.0"), True),  # 10.0
        ("mean", ("9.0", "10.1", "11.0"), False),
        ("mean", ("5.0", "6.0", "7.0"), True),  # 6.0
        ("mean", ("5.0", "6.0", "6.9"), False),
        ("mean", ("6.0", "8.0", "9.1"), False),  # 3.1 thou
    ],
)
def test_backlash_is_judged_as_the_manual_does(judge: str, values: tuple[str, ...], within: bool) -> None:
    assert backlash_in_spec(thou(*values), limits(judge)) == within


def test_without_a_variation_in_the_manual_none_is_asked_for() -> None:
    assert backlash_in_spec(thou("6.0", "10.0", "8.0"), limits(variation=None))


@given(st.lists(st.integers(0, 200), min_size=3, max_size=8), st.sampled_from(("all", "minimum", "mean")))
def test_the_order_of_the_places_and_the_unit_change_no_verdict(values: list[int], judge: str) -> None:
    inches = thou(*(str(Decimal(value) / 10) for value in values))
    metric = tuple(Quantity(size.value * Decimal("25.4"), "mm") for size in inches)
    verdict = backlash_in_spec(inches, limits(judge))
    assert backlash_in_spec(tuple(reversed(inches)), limits(judge)) == verdict
    assert backlash_in_spec(metric, limits(judge)) == verdict


def test_a_quantity_is_complete_with_a_reading_at_every_place(table: Table) -> None:
    table.until("backlash.measure")
    for count in range(3):
        assert not is_complete(table.state, "backlash"), count
        assert in_spec(table.state, "backlash") is None
        table.answer()
        table.answer()
    assert is_complete(table.state, "backlash")
    assert in_spec(table.state, "backlash") is True


def test_what_has_no_limits_is_neither_in_nor_out(table: Table) -> None:
    state = table.until("preload.drag").state
    assert in_spec(state, "old_stack_thickness") is None


def test_the_next_place_is_the_first_that_is_not_read(table: Table) -> None:
    table.until("backlash.measure")
    step = table.procedure.step("backlash.measure")
    assert next_spot(table.state, step) == 1
    table.answer()
    table.answer()
    table.answer()
    table.answer()
    assert next_spot(table.state, step) == 3
    first = next(reading for reading in table.state.readings if reading.quantity == "backlash")
    gone = tuple(replace(reading, void="wrong") if reading.id == first.id else reading for reading in table.state.readings)
    assert next_spot(replace(table.state, readings=gone), step) == 1


def _state() -> State:
    return Table(job_with()).state


@pytest.mark.parametrize(
    ("condition", "holds"),
    [
        ("spec pinion_depth", True),
        ("spec spread", False),
        ("not spec spread", True),
        ("spec carrier_preload", True),
        ("seal in total_drag", True),
        ("seal in pinion_drag", False),
        ("undone intake.manual", True),
        ("answer baseline.state = still together", False),
        ("kit pinion_shims empty", False),
        ("kit side_shims empty", True),
        ("unread backlash", True),
        ("loaded", False),
        ("specs missing", False),
    ],
)
def test_each_condition_of_a_step(condition: str, holds: bool) -> None:
    assert applies(_state(), Step("s", "intake", "do", "done", when=(condition,))) == holds


def test_every_condition_has_to_hold_and_an_unknown_one_is_our_fault() -> None:
    both = Step("s", "intake", "do", "done", when=("spec pinion_depth", "spec spread"))
    assert not applies(_state(), both)
    with pytest.raises(KeyError):
        applies(_state(), Step("s", "intake", "do", "done", when=("moon full",)))


def test_the_limits_that_are_missing_are_those_the_procedure_requires_and_nobody_gave() -> None:
    table = Table(job_with(lambda data: [data["spec"].pop(name) for name in ("pinion_depth", "cap_torque", "ring_runout", "backlash")]))
    assert missing_specs(table.state) == (
        ("pinion_depth", "target"), ("pinion_depth", "tolerance"), ("cap_torque", "value"), ("ring_runout", "high"), ("backlash", "low"),
        ("backlash", "high"),
    )  # fmt: skip
    assert missing_specs(_state()) == ()
