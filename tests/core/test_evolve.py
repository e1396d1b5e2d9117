"""The only place where the job changes: what each event does to the state, and that it needs nothing but the events."""

import dataclasses

import pytest

from assistant.core import events as ev
from assistant.core.evolve import begin, evolve, replay
from assistant.core.quantities import Quantity
from tests.conftest import job_with
from tests.table import Table, plain


def q(text: str) -> Quantity:
    return Quantity.parse(text)


def test_every_prefix_of_a_whole_job_gives_the_state_it_had_then(table: Table) -> None:
    states = [plain(table.state)]
    counts = [len(table.events)]
    while table.end is None:
        table.answer()
        states.append(plain(table.state))
        counts.append(len(table.events))
    for state, count in zip(states, counts, strict=True):
        assert plain(table.replayed(count)) == state


def test_a_journal_begins_with_the_start_of_a_job_and_holds_only_one(table: Table) -> None:
    with pytest.raises(ValueError, match="does not begin with the start of a job"):
        replay([], table.procedure, table.phrases)
    with pytest.raises(ValueError, match="does not begin with the start of a job"):
        replay(table.events[1:], table.procedure, table.phrases)
    with pytest.raises(ValueError, match="a job began twice in one journal"):
        replay([*table.events, table.events[0]], table.procedure, table.phrases)


def test_a_correction_replaces_a_reading_and_keeps_what_was_in_the_axle_when_it_was_read(table: Table) -> None:
    table.until("backlash.measure")
    wrong = table.state.latest("cap_torque")
    assert wrong is not None
    event = ev.Recorded("r99", wrong.step, "cap_torque", q("75.0 lb-ft"), None, 0, None, "typed", replaces=wrong.id)
    state = evolve(evolve(table.state, ev.Correcting(wrong.id)), event)
    again = state.latest("cap_torque")
    assert again is not None
    assert (again.id, again.replaces, again.fitted, again.assembly) == ("r99", wrong.id, wrong.fitted, wrong.assembly)
    assert state.reading(wrong.id).void == "wrong"
    assert state.correcting is None


def test_voided_readings_stay_in_the_record_with_their_reason(table: Table) -> None:
    table.until("backlash.measure")
    ids = tuple(reading.id for reading in table.state.current("pinion_drag"))
    state = evolve(table.state, ev.Voided(ids, "changed", "m1"))
    assert state.current("pinion_drag") == ()
    assert [reading.void for reading in state.readings if reading.id in ids] == ["changed"]
    assert len(state.readings) == len(table.state.readings)


def test_taking_a_gauge_reading_back_is_as_if_it_had_not_been_taken_but_it_stays_in_the_record(table: Table) -> None:
    table.until("preload.drag")
    before = table.state
    table.gauge("22 lb-in", "torque")
    table.say("no")
    after = table.state
    assert after.readings[-1].void == "wrong"
    assert after.reading_count == before.reading_count + 1  # its id is never given again
    settled = dataclasses.replace(after, readings=after.readings[:-1], reading_count=before.reading_count)
    assert plain(settled) == plain(before)


def test_assembly_counts_what_was_moved_pressed_or_torqued(table: Table) -> None:
    table.until("preload.nut")
    before = table.state.assembly
    table.answer()
    assert table.state.assembly == before + 1
    table.answer()  # the wrench's reading
    assert table.state.assembly == before + 1


def test_a_limit_given_aloud_joins_the_job_and_goes_without_a_trace_when_taken_back() -> None:
    def without(data: dict[str, dict[str, object]]) -> None:
        for name in ("pinion_drag", "pinion_depth", "cap_torque"):
            del data["spec"][name]

    job = job_with(without)
    table = Table(job)
    given = [
        ev.SpecGiven("pinion_drag", "low", q("16 lb-in")),
        ev.SpecGiven("pinion_drag", "high", q("29 lb-in")),
        ev.SpecGiven("pinion_depth", "target", q("2.6250 in")),
        ev.SpecGiven("pinion_depth", "tolerance", q("0.0020 in")),
        ev.SpecGiven("cap_torque", "value", q("75 lb-ft")),
    ]
    state = table.state
    for event in given:
        state = evolve(state, event)
    drag, cap = state.limits("pinion_drag"), state.limits("cap_torque")
    assert drag is not None
    assert cap is not None
    assert (drag.low, drag.high) == (q("16 lb-in"), q("29 lb-in"))
    assert (cap.low, cap.high) == (q("75 lb-ft"), q("75 lb-ft"))
    assert (state.job.depth_target, state.job.depth_tolerance) == (q("2.6250 in"), q("0.0020 in"))
    for event in reversed(given):
        state = evolve(state, ev.SpecTakenBack(event.quantity, event.which))
    assert dict(state.job.spec) == dict(job.spec)
    assert state.job.depth_target is None
    assert state.specs_given == ()


def test_an_etch_that_is_voided_no_longer_shifts_the_depth() -> None:
    table = Table(job_with(lambda data: data["parts"].pop("etch_new")))
    table.answers["intake.etch_new_marked"] = ["marked"]
    table.answers["intake.etch_new_unit"] = ["thousandths of an inch"]
    table.until("baseline.state")
    shifted = table.state.limits("pinion_depth")
    assert shifted is not None
    assert shifted.low == q("2.6210 in")  # 2.6250 − 0.0020 (tolerance) − 0.0020 (mark −2, a plus means away): a sum by hand
    mark = table.state.latest("etch_new")
    assert mark is not None
    plain_limits = evolve(table.state, ev.Voided((mark.id,), "wrong", "undo")).limits("pinion_depth")
    assert plain_limits is not None
    assert plain_limits.low == q("2.6230 in")


def test_choices_and_limits_of_steps_that_are_made_again_are_open_again() -> None:
    table = Table(job_with(lambda data: (data["spec"].pop("ring_runout"), data["parts"].pop("etch_sign"))))
    table.answers["intake.etch_sign"] = ["away"]
    table.until("baseline.state")
    assert table.state.job.parts.etch_sign == "away"
    state = evolve(table.state, ev.StepsUndone(("intake.limits", "intake.etch_sign"), "go back"))
    assert state.job.parts.etch_sign is None
    assert state.answer("intake.etch_sign") is None
    assert state.limits("ring_runout") is None


def test_begin_knows_the_job_and_nothing_else(table: Table) -> None:
    first = table.events[0]
    assert isinstance(first, ev.JobStarted)
    state = begin(first, table.procedure, table.phrases)
    assert state.job == job_with()
    assert (state.readings, state.done, state.open_step) == ((), frozenset(), None)
