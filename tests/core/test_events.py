"""Events survive their journal: written as JSON text and read again, every one is the same to the digit."""

import dataclasses
import json
from collections.abc import Callable
from decimal import Decimal
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.core.errors import BadInputError
from assistant.core.events import KINDS, Event, Held, Recorded, Suspect, from_json, to_json
from assistant.core.quantities import Quantity
from tests.conftest import job_with
from tests.strategies import decimals, quantities
from tests.table import Table, plain

texts = st.text(max_size=12)


def values(hint: Any) -> st.SearchStrategy[Any]:
    """Any value that a field of this type may hold."""
    origin = get_origin(hint)
    if origin in (Union, UnionType):
        return st.one_of([st.none() if option is NoneType else values(option) for option in get_args(hint)])
    if origin is tuple:
        options = get_args(hint)
        if options[-1] is Ellipsis:
            return st.lists(values(options[0]), max_size=3).map(tuple)
        return st.tuples(*map(values, options))
    simple: dict[Any, Callable[[], st.SearchStrategy[Any]]] = {
        str: lambda: texts, int: st.integers, bool: st.booleans, float: lambda: st.floats(allow_nan=False, allow_infinity=False),
        Decimal: decimals, Quantity: quantities,
    }  # fmt: skip
    return simple[hint]() if hint in simple else records(hint)


def records(kind: type[Any]) -> st.SearchStrategy[Any]:
    """Any record of a dataclass, field by field."""
    hints = get_type_hints(kind)
    return st.builds(kind, **{field.name: values(hints[field.name]) for field in dataclasses.fields(kind)})


def written(event: Event) -> Any:
    """The event as it lies in the journal, through the text."""
    return json.loads(json.dumps(to_json(event), ensure_ascii=False))


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_every_kind_of_event_comes_back_the_same_to_the_digit(kind: type[Any], data: st.DataObject) -> None:
    event = data.draw(records(kind))
    again = from_json(written(event))
    assert again == event
    assert plain(again) == plain(event)


def test_every_event_tells_its_kind_and_version() -> None:
    assert to_json(Held()) == {"event": "Held", "v": 1}
    assert all(isinstance(kind.version, int) for kind in KINDS.values())


def test_a_reading_is_written_in_the_unit_it_was_sent_in_with_every_digit() -> None:
    event = Recorded("r1", "final.backlash", "backlash", Quantity.of("0.2080", "mm"), None, 2, None, "gauge", "dial 3", "0d0a", "r0")
    assert to_json(event)["value"] == {"value": "0.2080", "unit": "mm"}
    assert from_json(written(event)) == event


def test_the_events_of_a_whole_job_come_back_the_same() -> None:
    table = Table(job_with())
    table.finish()
    again = [from_json(written(event)) for event in table.events]
    assert plain(tuple(again)) == plain(tuple(table.events))
    # What a whole job without trouble brings, so that this test cannot shrink unseen.
    assert {type(event).__name__ for event in table.events} >= {
        "JobStarted", "CautionShown", "CautionAccepted", "StepBegan", "StepDone", "Offered", "Recorded", "Voided", "Answered",
        "MoveProposed", "MoveMade", "Ended",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({}, "event None version None is not known"),
        ({"event": "Nonsense", "v": 1}, "event 'Nonsense' version 1 is not known"),
        ({"event": "Held", "v": 2}, "event 'Held' version 2 is not known"),
        ({"event": "StepBegan", "v": 1}, "StepBegan is damaged: KeyError('step')"),
        (
            {"event": "SpecGiven", "v": 1, "quantity": "backlash", "which": "low", "value": {"value": "x", "unit": "in"}},
            "SpecGiven is damaged",
        ),
        ({"event": "SpecGiven", "v": 1, "quantity": "backlash", "which": "low", "value": "0.006"}, "SpecGiven is damaged"),
        ({"event": "Voided", "v": 1, "ids": 3, "why": "wrong", "reason": ""}, "Voided is damaged"),
    ],
)
def test_what_this_program_does_not_know_is_refused_not_guessed(data: dict[str, Any], says: str) -> None:
    with pytest.raises(BadInputError) as refused:
        from_json(data)
    assert says in str(refused.value)


def test_events_and_their_parts_cannot_be_changed() -> None:
    for kind in [*KINDS.values(), Suspect]:
        assert kind.__dataclass_params__.frozen, kind  # type: ignore[attr-defined]


def test_no_event_has_a_field_that_a_line_of_the_journal_has_for_itself() -> None:
    """The codec lays both into one object: an event's own `at` would stand in the place of the time (assistant/journal/lines.py)."""
    own = {"batch", "last", "at", "event", "v"}
    assert {kind: own & {field.name for field in dataclasses.fields(KINDS[kind])} for kind in KINDS} == {kind: set() for kind in KINDS}
