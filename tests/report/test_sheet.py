"""What the sheet says of its numbers: limits and their source, uncertainty, what is void and why, which journal it refuses."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from assistant.core import events as ev
from assistant.core.errors import JournalError
from assistant.core.quantities import Quantity
from assistant.core.tongues import TONGUES
from assistant.journal.lines import read_record
from assistant.report import Sheet, sheet
from assistant.report.data import as_json
from assistant.report.sections import sections
from assistant.report.text import as_text
from tests.conftest import job_with
from tests.report.jobs import Played
from tests.suites.journal import STARTED


def without(*quantities: str) -> Any:
    def change(data: dict[str, Any]) -> None:
        for quantity in quantities:
            del data["spec"][quantity]

    return change


def of(*events: ev.Event, job: Any = None) -> Sheet:
    return sheet([("0", replace(STARTED, job=job or STARTED.job)), *((str(at), event) for at, event in enumerate(events, 1))], "0" * 64)


def reading(number: int, quantity: str, value: str, unit: str, spot: int = 0, step: str = "backlash.measure", **more: Any) -> ev.Recorded:
    return ev.Recorded(f"r{number}", step, quantity, Quantity.of(value, unit), None, spot, None, "typed", **more)


def final(found: Sheet, quantity: str) -> Any:
    return next(line for line in found.finals if line.quantity == quantity)


def test_a_journal_that_holds_no_start_is_refused_in_one_line() -> None:
    for lines in ([], [("0", ev.Held())]):
        with pytest.raises(JournalError, match="does not begin with the start of a job"):
            sheet(lines, "0" * 64)


def test_a_journal_of_another_procedure_is_refused_in_one_line() -> None:
    with pytest.raises(JournalError, match=r"job job does not fit this program's procedure"):
        of(ev.StepBegan("no.such.step"), ev.StepDone("no.such.step"))


def test_a_limit_tells_whether_it_came_from_the_job_file_or_was_read_aloud() -> None:
    limit = ev.SpecGiven("backlash", "low", Quantity.of("0.006", "in"))
    found = {line.quantity: line.source for line in of(limit, job=job_with(without("backlash"))).specs}
    assert found["backlash"] == "read aloud from the manual at intake"
    assert found["pinion_drag"] == "job file"


def test_the_variation_is_the_largest_less_the_smallest_exactly() -> None:
    found = of(*(reading(n, "backlash", value, "in", n) for n, value in enumerate(("0.0071", "0.0085", "0.0080"), 1)))
    assert final(found, "backlash").variation == "0.0014 in"


@pytest.mark.parametrize(("value", "close"), [("0.0060", True), ("0.0064", True), ("0.0065", False), ("0.0080", False), ("0.0097", True)])
def test_a_reading_nearer_to_a_limit_than_its_uncertainty_is_told(value: str, close: bool) -> None:
    """Limits 0.0060 to 0.0100 in, uncertainty ± 0.0005 in: |0.0064 − 0.0060| = 0.0004 is nearer, 0.0005 is not."""
    found = of(*(reading(n, "backlash", value, "in", n) for n in (1, 2, 3)))
    assert final(found, "backlash").close is close


def test_the_uncertainty_of_a_drag_is_four_hundredths_and_at_least_a_pound_inch() -> None:
    """Common practice, no source: ± 4 %, not less than 1 lb-in. 4 % of 20 is 0.8, of 50 it is 2."""
    for value, uncertainty in (("20", "± 1 lb-in"), ("50", "± 2 lb-in")):
        found = of(reading(1, "pinion_drag", value, "lb-in", step="preload.drag"))
        assert final(found, "pinion_drag").uncertainty == uncertainty


def test_a_corrected_reading_is_kept_and_names_the_one_that_corrects_it() -> None:
    found = of(reading(1, "backlash", "0.0700", "in", 1), reading(2, "backlash", "0.0070", "in", 1, replaces="r1"))
    assert [(line.reading.id, line.void) for line in found.readings] == [("r1", "corrected by r2"), ("r2", "")]


def test_a_doubt_names_what_was_recorded_next_for_the_same_quantity() -> None:
    doubt = ev.Doubted("backlash", Quantity.of("0.070", "in"), 1, "typed", "ten times the prediction")
    found = of(doubt, reading(1, "backlash", "0.0070", "in", 1))
    assert [line.outcome for line in found.doubts] == ["r1: 0.0070 in"]


def test_an_alarm_keeps_what_its_answer_made_void_and_what_was_made_again() -> None:
    suspect = ev.Suspect("burr", Decimal("0.7"), "feel for it", ("backlash.*",))
    alarm = ev.AlarmRaised("a1", "backlash.measure", "backlash", "does not add up", ("r1",), (suspect,))
    found = of(
        reading(1, "backlash", "0.0070", "in", 1),
        alarm,
        ev.AlarmAnswered("a1", "burr"),
        ev.Voided(("r1",), "wrong", "burr"),
        ev.StepsUndone(("backlash.measure",), "burr"),
    )
    line = found.alarms[0]
    assert (line.answer, line.voided, len(line.redone)) == ("burr", ("r1",), 1)
    assert found.readings[0].void == "wrong: burr"


def test_a_move_counts_as_made_only_when_its_own_group_was_made(troubled: Played) -> None:
    lines = read_record(troubled.folder, troubled.job_id).lines
    made = {event.group for _, event in lines if isinstance(event, ev.MoveMade)}
    found = troubled.sheet()
    assert found.moves
    assert {line.move.group for line in found.moves if line.made} == made


def test_a_depth_from_the_parting_plane_says_what_is_taken_off_before_it_is_judged(troubled: Played) -> None:
    """MD = P − (plane to bore − radius), docs/trade.md 4.10: the note's figure is that difference, from the two bore readings."""
    found = troubled.sheet()
    stands = {line.reading.quantity: line.reading.value for line in found.readings if not line.void}
    off = stands["plane_to_bore"].base - stands["bore_diameter"].base / 2  # type: ignore[union-attr]
    if not off:
        pytest.fail("this axle's bore is centred: choose another seed")
    assert len(found.notes) == 1
    assert Quantity.parse(found.notes[0].partition("plane: ")[2].partition(",")[0]).base == abs(off)
    assert ("taken off" if off > 0 else "added to") in found.notes[0]


def test_the_plots_show_only_what_stands_round_the_ring_and_all_that_was_right_for_the_drag(troubled: Played) -> None:
    found = troubled.sheet()
    standing = [line.reading.value for line in found.readings if line.reading.quantity == "backlash" and not line.void]
    assert [point.value for point in found.ring] == standing
    assert [point.degrees for point in found.ring] == [360 * spot / len(standing) for spot in range(len(standing))]
    assert any(point.stands for point in found.drag)


def test_a_sheet_without_a_depth_says_that_the_pattern_led() -> None:
    found = of(job=job_with(lambda data: data["spec"].update(pinion_depth="by pattern")))
    assert found.notes == ("The manual gives no pinion depth: none was read, and the pattern led.",)


@pytest.mark.parametrize("language", TONGUES)
def test_what_the_job_was_taught_stands_in_a_line_of_its_own_with_its_numbers(language: str) -> None:
    taught = (
        ev.Learned("k_ring", Decimal("0.781234"), Decimal("0.052111"), 12),
        ev.Learned("reach", Decimal("24.26"), Decimal("1.318"), 1),
    )
    lines = [("0", STARTED), ("0", ev.ShopTaught(taught))]
    found = sheet(lines, "0" * 64, language)
    rows = next(part for part in sections(found) if part.key == "taught").rows
    mark = found.words.phrases.tongue.decimal_mark
    for row, numbers, builds in zip(rows, (("0.781", "0.052"), ("24.3", "1.32")), ("12", ""), strict=True):
        assert all(number.replace(".", mark) in row.cells[0] for number in numbers), row
        assert builds in row.cells[1]
        assert row.cells[0] in " ".join(as_text(found).split())
    assert [one["mean"] for one in as_json(found)["learned"]] == ["0.781234", "24.26"]
    untaught = sheet(lines[:1], "0" * 64, language)
    assert "taught" not in [part.key for part in sections(untaught)]
    assert rows[0].cells[0] not in as_text(untaught)
