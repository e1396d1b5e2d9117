"""Between the job's thread and the pages: the newest view, whole, and nothing that could stop the job."""

import json
from dataclasses import replace
from typing import Any

import pytest

from assistant.core.effects import Effect, speak
from assistant.screen.hub import Hub
from assistant.screen.words import words_for
from tests.table import Table


@pytest.fixture
def hub() -> Hub:
    """A hub before the first state."""
    return Hub(words_for("en"))


def made(hub: Hub) -> dict[str, Any]:
    found = hub.made()
    assert found is not None
    seen: dict[str, Any] = json.loads(found[1])
    return seen


def test_before_the_first_state_there_is_nothing_to_show(hub: Hub) -> None:
    assert hub.made() is None
    assert hub.at == ""


def test_the_newest_state_is_shown_under_its_name_with_what_was_said(hub: Hub, table: Table) -> None:
    hub.watch(table.state, [speak("First."), speak("Second.", "warn")])
    seen = made(hub)
    assert seen["at"] == hub.at != ""
    assert [(line["text"], line["urgency"], line["fresh"]) for line in seen["said"]] == [
        ("First.", "info", True),
        ("Second.", "warn", True),
    ]
    assert seen["view"]["now"]["title"] == "Manual open, place safe"


def test_every_state_has_a_name_of_its_own_in_this_run_and_the_next(hub: Hub, table: Table) -> None:
    names = set()
    for another in (hub, Hub(words_for("en"))):
        for _ in range(3):
            another.watch(table.state, [])
            names.add(another.at)
    assert len(names) == 6


def test_what_was_said_before_is_kept_for_a_while_and_told_from_the_new(hub: Hub, table: Table) -> None:
    for number in range(20):
        hub.watch(table.state, [speak(f"Line {number}.")])
    said = made(hub)["said"]
    assert [line["text"] for line in said] == [f"Line {number}." for number in range(8, 20)]
    assert [line["fresh"] for line in said] == [False] * 11 + [True]


def test_a_note_is_news_and_no_new_state(hub: Hub, table: Table) -> None:
    hub.watch(table.state, [])
    at, before = hub.at, hub.made()
    hub.note("No room on the disk.", "stop")
    assert hub.at == at, "what a page says to this state still counts"
    assert before is not None
    found = hub.made()
    assert found is not None
    assert found[0] > before[0]
    assert made(hub)["said"][-1] == {"text": "No room on the disk.", "urgency": "stop", "fresh": True}


def test_a_note_before_the_first_state_is_not_lost(hub: Hub, table: Table) -> None:
    hub.note("The microphone is gone.", "warn")
    hub.watch(table.state, [])
    assert [line["text"] for line in made(hub)["said"]] == ["The microphone is gone."]


def test_a_view_is_made_once_however_many_look(hub: Hub, table: Table) -> None:
    hub.watch(table.state, [])
    first = hub.made()
    assert first is not None
    again = hub.made()
    assert again is first


def test_a_view_that_cannot_be_made_is_said_and_stops_nothing(hub: Hub, table: Table, capsys: pytest.CaptureFixture[str]) -> None:
    hub.watch(replace(table.state, open_step="no such step"), [speak("Go on.")])
    seen = made(hub)
    assert seen["failed"] is True
    assert "view" not in seen
    assert seen["said"][0]["text"] == "Go on."
    assert "no such step" in capsys.readouterr().err
    hub.watch(table.state, [])
    assert "failed" not in made(hub)


def test_everyone_who_attends_is_woken_until_they_leave(hub: Hub, table: Table) -> None:
    woken: list[str] = []

    def first() -> None:
        woken.append("first")

    def second() -> None:
        woken.append("second")

    hub.attend(first)
    hub.attend(second)
    hub.watch(table.state, [Effect("wait", {})])
    assert sorted(woken) == ["first", "second"]
    hub.leave(first)
    hub.note("Still there.", "info")
    hub.finish()
    assert woken.count("first") == 1
    assert woken.count("second") == 3
    assert hub.is_finished
