"""Readings without an axle, with gauges whose notices the test puts, and a real spool on disk."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from assistant.capture import WORDS, Capture, Typed
from assistant.core.inspection import Plan, State
from assistant.files import phrases_for
from assistant.live_gauges import News, Pressed, Sent, Takes
from assistant.mouth.captions import Captions
from assistant.onward import Heading, Spool
from assistant.plans import plan_from
from gauges.feed import Lost
from gauges.settings import GaugeSettings
from tests.test_live_gauges import Bench, reading

PLAN = plan_from(
    {
        "characteristic": [
            {"name": "outer diameter", "unit": "mm", "nominal": "25.400", "tolerance": "0.013", "gauge": "micrometer"},
            {"name": "width", "unit": "mm", "low": "12.60", "high": "12.80", "gauge": "caliper"},
        ]
    },
    "plan.toml",
)
MICROMETER = GaugeSettings("micrometer", "ascii-signed-cr", "x", unit="mm", uses=("size",))
CALIPER = GaugeSettings("caliper", "multi-feature-cr", "y", uses=("size",))


class Work:
    """A capture and all that came out of it."""

    def __init__(self, folder: Path, plan: Plan, *parts: GaugeSettings, language: str = "en") -> None:
        self.bench = Bench(*parts)
        self.bench.station.phrases = phrases_for(language)
        self.said: list[tuple[str, str]] = []
        self.shown: list[tuple[str, Any]] = []
        self.spool = Spool(folder / "c1.jsonl", Heading("c1", "t"))
        self.capture = Capture(
            State(plan), self.spool, Takes(self.bench.station, lambda late: self.bench.handed.append(late)),
            (Captions(lambda text, urgency: self.said.append((text, urgency))),), lambda kind, value: self.shown.append((kind, value)), lambda: "t",
        )  # fmt: skip

    def do(self, *items: Any) -> str:
        """Hand things in at the bench's own time; gives the last thing said."""
        for item in items:
            self.capture._take(item, self.bench.now)
        return self.said[-1][0] if self.said else ""

    def say(self, *words: str) -> str:
        return self.do(*(Typed(word) for word in words))

    @property
    def values(self) -> list[str]:
        return [str(record.value) for record in self.capture.state.standing]


@pytest.fixture
def work(tmp_path: Path) -> Iterator[Work]:
    made = Work(tmp_path, PLAN, MICROMETER, CALIPER)
    yield made
    made.spool.close()


def test_a_reading_is_taken_at_the_word_judged_and_kept_before_it_is_said(work: Work) -> None:
    work.bench.reads(*[reading("25.420")] * 10, gauge="micrometer")
    work.say("take")
    assert ("Twenty five point four two millimetres, out, too large by zero point zero zero seven millimetres.", "warn") in work.said
    assert work.said[-1] == ("Part one: width.", "ask")
    (kept,) = work.spool.records
    assert (kept.characteristic, kept.verdict, kept.quality) == ("outer diameter", "out", "settled")
    assert kept.gauge.startswith("micrometer: ascii-signed-cr at x, steps of 0.001 mm")
    assert bytes.fromhex(kept.raw) == b"25.420"
    assert [kind for kind, _ in work.shown] == ["record", "chart"]
    assert work.say("repeat").startswith("Twenty five")


def test_buttons_and_pedals_take_and_a_part_is_done_by_its_last_reading(work: Work) -> None:
    work.bench.reads(*[reading("25.400")] * 10, gauge="micrometer")
    work.do(Sent("caliper", reading("12.70"), 1.0), Pressed(work.bench.now))
    assert [(record.characteristic, record.quality) for record in work.spool.records] == [
        ("width", "button"), ("outer diameter", "settled"), ("", ""),
    ]  # fmt: skip
    assert work.said[-1] == ("Part two: outer diameter.", "ask")
    work.do(Sent("caliper", reading("12.70"), 2.0))
    assert work.do(Sent("caliper", reading("12.71"), 3.0)).startswith("The caliper measures nothing that is open")


def test_a_late_reading_is_kept_as_one_and_a_late_one_of_another_place_is_not(work: Work) -> None:
    work.bench.reads(reading("25.1"), gauge="micrometer")
    work.say("take")
    work.bench.reads(*[reading("25.400")] * 8, gauge="micrometer")
    (late,) = work.bench.handed
    work.do(late)
    assert ("Settled after the word:", "info") in work.said
    assert [record.quality for record in work.spool.records] == ["late"]
    work.do(late)
    assert len(work.spool.records) == 1


def test_undo_and_next_part_by_word(work: Work) -> None:
    assert work.say("next part") == "Part one has no reading yet."
    assert work.say("undo") == "There is nothing to take back."
    work.say("25.401", "next part")
    assert work.said[-1] == ("Part two: outer diameter.", "ask")
    assert work.say("undo") == "Taken back: outer diameter, twenty five point four zero one millimetres. Part one: outer diameter."
    assert work.values == []


def test_what_is_typed_is_a_reading_only_with_a_unit_that_is_known(work: Work) -> None:
    work.say("25.401", "0.5 in")
    assert work.values == ["25.401 mm", "0.5 in"]
    assert "expected a number in mm" in work.say("25,401")
    assert "expected a number in mm" in work.say("grape")
    assert work.say("3.0 N·m").startswith("Not taken")
    assert work.values == ["25.401 mm", "0.5 in"]


def test_without_a_plan_a_typed_value_needs_its_unit_and_the_only_gauge_is_the_one(tmp_path: Path) -> None:
    work = Work(tmp_path, Plan(), MICROMETER)
    assert "expected a number with its unit" in work.say("25.4")
    work.bench.reads(*[reading("25.400")] * 10, gauge="micrometer")
    work.say("take", "take", "2.0 N·m")
    assert work.values == ["25.400 mm", "25.400 mm", "2.0 N·m"]
    work.spool.close()


def test_no_gauge_or_several_without_a_plan_are_asked_about(tmp_path: Path) -> None:
    work = Work(tmp_path, Plan(), MICROMETER, CALIPER)
    assert work.say("take") == (
        "No gauge to take it from: gauges here are micrometer, caliper; type the value, or name the gauge in the plan."
    )
    work.spool.close()


def test_a_disk_that_refuses_keeps_nothing_and_says_so(work: Work, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: object, __: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("assistant.onward._write_all", full)
    assert work.say("25.401") == "The reading cannot be kept: No space left on device. Make room, then take it again."
    assert work.said[-1][1] == "stop"
    assert work.values == []
    monkeypatch.undo()
    work.say("25.401")
    assert work.values == ["25.401 mm"]


def test_on_hold_nothing_is_taken(work: Work) -> None:
    work.bench.reads(*[reading("25.400")] * 10, gauge="micrometer")
    work.say("hold", "take", "25.401")
    work.do(Pressed(work.bench.now), Sent("caliper", reading("12.70"), 1.0))
    assert work.values == []
    assert work.say("resume") == "Part one: outer diameter."


def test_stop_asks_and_only_yes_ends(work: Work) -> None:
    work.say("stop")
    assert work.said[-1][0] == "End the capture? Say yes."
    assert work.capture._take(Typed("no"), 0.0)
    work.say("stop")
    assert not work.capture._take(Typed("yes"), 0.0)


def test_trouble_is_told_and_the_work_goes_on(work: Work) -> None:
    work.bench.tell(Lost("micrometer", 1.0, "unplugged"))
    (news,) = work.bench.handed
    assert work.do(news) == "The micrometer is lost: unplugged."
    assert work.said[-2][0] == "(lost)"
    assert work.do(News("the micrometer says: odd bytes", is_damage=True)) == "The micrometer says: odd bytes."
    assert work.do("the microphone is gone") == "The microphone is gone."
    work.say("25.401")
    assert work.values == ["25.401 mm"]


class Away:
    """A target that is away for a while."""

    trouble, waiting = "the broker is away", 1

    def go_on(self) -> None: ...

    def close(self, seconds: float) -> None: ...


def test_a_target_that_is_away_is_told_once_and_so_is_its_return(work: Work) -> None:
    target = Away()
    work.capture.targets = (target,)
    for _ in range(3):
        work.capture._go_on()
    target.trouble = ""
    for _ in range(3):
        work.capture._go_on()
    assert [text for text, _ in work.said] == ["The broker is away.", "Readings go on again."]


def test_the_first_words_tell_how_a_reading_is_taken(work: Work, tmp_path: Path) -> None:
    work.capture.put(None)
    work.capture.run()
    assert work.said[-1] == ("Part one: outer diameter. Say take when it is steady, or help.", "ask")
    by_hand = Work(tmp_path / "typed", Plan())
    by_hand.capture.put(None)
    by_hand.capture.run()
    assert by_hand.said == [("Part one. Type each reading, or help.", "ask")]
    by_hand.spool.close()


def test_the_run_ends_with_the_keyboard_and_its_status_tells_what_is_out(work: Work) -> None:
    work.capture.put(Typed("what do you have"))
    work.capture.put(Typed("help"))
    work.capture.put(Typed("25.401"))
    work.capture.put(None)
    assert work.capture.run() == 0
    work.capture.put(Typed("13.00"))
    work.capture.put(None)
    assert work.capture.run() == 1
    assert work.shown[-1][0] == "summary"


def test_every_word_can_be_heard_by_the_recogniser() -> None:
    from assistant.ears.spellings import unknown_words

    assert unknown_words(WORDS) == []


def test_a_gauge_that_was_switched_is_asked_about_and_then_held_to_its_new_unit(tmp_path: Path) -> None:
    work = Work(tmp_path, Plan(), MICROMETER)
    work.bench.reads(*[reading("25.400")] * 10, gauge="micrometer")
    assert work.say("change unit to inches") == "Does the micrometer show inches now? Say yes."
    assert work.say("yes") == "From now on the micrometer gives inches, and what it sends in another unit is refused."
    work.bench.reads(*[reading("25.400")] * 10, *[reading("1.0000", "in")] * 10, gauge="micrometer")
    work.say("take")
    assert work.values == ["1.0000 in"]
    work.say("change unit to millimetres")
    assert work.say("no").startswith("Part")
    assert work.say("change unit to foot pounds") == "The micrometer measures nothing in foot pounds."
    work.spool.close()


def test_a_gauge_is_zeroed_by_word_and_each_reading_names_the_offset(work: Work) -> None:
    work.bench.reads(*[reading("0.015")] * 10, gauge="micrometer")
    assert work.say("zero the gauge") == "Zero of the micrometer where it shows zero point zero one five millimetres? Say yes."
    assert work.say("yes") == "That comes off its readings from now on."
    work.bench.reads(*[reading("25.410")] * 10, gauge="micrometer")
    work.say("take")
    assert work.values == ["25.395 mm"]  # 25.410 - 0.015, by hand
    assert "25.410 less 0.015, where it was zeroed by word" in work.capture.state.standing[0].gauge
