"""The three pictures: places and figures by hand for the invented axle of `conftest.JOB`."""

import pytest

from assistant.core.state import Reading
from assistant.screen import plots
from assistant.screen.words import words_for
from assistant.virtual_axle import Build
from tests.conftest import job_with
from tests.screen.jobs import BUILDS, walk
from tests.table import Table

WORDS = words_for("en")


def reading(spot: int, void: str | None, name: str = "r") -> Reading:
    return Reading(name, "backlash.measure", "backlash", None, None, spot, None, "typed", "", "", void, None, (), 0)


def test_at_each_place_the_newest_reading_that_stands_wins_and_a_wrong_one_never() -> None:
    given = [
        reading(1, None, "a"),
        reading(1, "changed", "b"),
        reading(2, "changed", "c"),
        reading(2, "changed", "d"),
        reading(3, "wrong", "e"),
    ]
    assert {spot: found.id for spot, found in plots.newest_by_spot(given).items()} == {1: "a", 2: "d"}


def test_backlash_is_drawn_at_its_places_round_the_ring(table: Table) -> None:
    table.answers["backlash"] = ["0.0070 in", "0.0080 in", "0.0090 in"]
    table.until(lambda at: len(at.standing("backlash")) == 3)
    dial = plots.dial(table.state, WORDS)
    assert dial is not None
    assert [(spot["index"], spot["degrees"], spot["text"]) for spot in dial["spots"]] == [
        (1, 0, "0.0070"),
        (2, 120, "0.0080"),
        (3, 240, "0.0090"),
    ]
    # Limits 0.0060 to 0.0100 on an axis from 0.0030 to 0.0130: a thousandth is 100 (by hand).
    assert [spot["at"] for spot in dial["spots"]] == [400, 500, 600]
    assert (dial["limits"]["low"]["at"], dial["limits"]["high"]["at"]) == (300, 700)
    assert dial["variation"] == {"text": "largest − smallest 0.0020, at most 0.0030 in", "where": "inside"}
    assert len(dial["expected"]) == 24
    assert all(abs(at - 500) < 150 for at in dial["expected"])


def test_a_variation_above_its_limit_is_told(table: Table) -> None:
    table.answers["backlash"] = ["0.0062 in", "0.0080 in", "0.0098 in"]
    table.until(lambda at: len([r for r in at.state.readings if r.quantity == "backlash"]) == 3)
    found = plots.dial(table.state, WORDS)
    assert found is not None
    assert found["variation"]["where"] == "above"
    assert "0.0036" in found["variation"]["text"]


def test_the_place_that_is_read_now_is_marked(table: Table) -> None:
    table.until("backlash.measure")
    table.say("0.0082 in")
    table.say("yes")
    dial = plots.dial(table.state, WORDS)
    assert dial is not None
    assert [spot["here"] for spot in dial["spots"]] == [False, True, False]


def test_before_teardown_the_dial_shows_the_old_backlash(table: Table) -> None:
    assert plots.dial(table.state, WORDS) is None
    table.until("baseline.backlash")
    table.say("0.012 in")
    table.say("yes")
    dial = plots.dial(table.state, WORDS)
    assert dial is not None
    assert dial["title"] == "Backlash before teardown, round the ring"
    assert dial["spots"][0]["text"] == "0.012"
    assert dial["expected"] == []
    table.until("backlash.measure")
    dial = plots.dial(table.state, WORDS)
    assert dial is not None
    assert dial["title"] == "Backlash round the ring"
    assert [spot["text"] for spot in dial["spots"]] == [None, None, None]


def test_drag_is_drawn_against_the_pack_that_was_in(table: Table) -> None:
    table.answers["pinion_drag"] = ["12 lb-in", "22 lb-in"]
    assert plots.drag(table.state, WORDS) is None
    table.until(lambda at: len([r for r in at.state.readings if r.quantity == "pinion_drag"]) == 2)
    drag = plots.drag(table.state, WORDS)
    assert drag is not None
    first, second = drag["points"]
    assert (first["text"], first["x_text"], first["void"]) == ("12", "0.0205", True)
    assert (second["text"], second["void"]) == ("22", False)
    assert second["x"] < first["x"]  # a thinner pack
    assert first["y"] < drag["limits"]["low"]["at"] < second["y"] < drag["limits"]["high"]["at"]
    assert drag["here"] == second["x"]
    assert [low <= middle <= high for _, low, middle, high in drag["curve"]] == [True] * 17
    assert drag["curve"][0][2] > drag["curve"][-1][2]  # with shims between the cones thinner is tighter (TM 5-3895-359-14&P)


def test_on_a_crush_sleeve_drag_is_drawn_against_the_nut() -> None:
    seen = [drag for state in walk(BUILDS[1]) if (drag := plots.drag(state, WORDS)) is not None]
    assert seen
    assert all(drag["x_words"] == "nut past snug, degrees" for drag in seen)
    last = seen[-1]
    assert [point["x"] for point in last["points"]] == sorted(point["x"] for point in last["points"])  # it only ever gets tighter
    assert all(one[2] <= other[2] for one, other in zip(last["curve"], last["curve"][1:], strict=False))


def test_a_print_is_drawn_where_it_was_read(table: Table) -> None:
    assert plots.prints(table.state, WORDS) is None
    table.answers |= {"pattern.drive": ["toe root"], "pattern.coast": ["unclear"]}
    table.until(lambda at: at.state.latest("pattern_coast") is not None)
    prints = plots.prints(table.state, WORDS)
    assert prints is not None
    drive, coast = prints["flanks"]
    assert {(one["along"], one["across"]) for one in drive["prints"]} == {("toe", "root")}
    assert {(one["along"], one["text"]) for one in coast["prints"]} == {(None, "unclear")}


def test_without_limits_the_dial_still_has_room_for_the_largest() -> None:
    table = Table(job_with())
    table.until("baseline.backlash")
    for value in ("0.012 in", "0.018 in"):
        table.say(value)
        table.say("yes")
    dial = plots.dial(table.state, WORDS)
    assert dial is not None
    assert dial["limits"] == {"low": None, "high": None}
    assert dial["spots"][1]["at"] == 667  # two thirds: half as much again as the largest is the edge
    assert dial["variation"] == {"text": "largest − smallest 0.0060 in", "where": None}


@pytest.mark.parametrize("build", BUILDS, ids=lambda build: build.pinion_shims)
def test_everything_that_is_drawn_lies_on_the_paper(build: Build) -> None:
    def places(value: object) -> list[int]:
        if isinstance(value, dict):
            return [
                number
                for key, item in value.items()
                for number in (
                    [item] if key in ("at", "x", "y", "here") and isinstance(item, int) and not isinstance(item, bool) else places(item)
                )
            ]
        return [number for item in value for number in places(item)] if isinstance(value, list) else []

    for state in walk(build):
        for plot in (plots.dial(state, WORDS), plots.drag(state, WORDS)):
            assert all(0 <= place <= 1000 for place in places(plot))
            if plot is not None and "curve" in plot:
                assert all(0 <= place <= 1000 for point in plot["curve"] for place in point)
