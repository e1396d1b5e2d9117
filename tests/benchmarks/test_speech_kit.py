"""The plan of what is said, and the score of what was heard."""

from collections import Counter
from typing import Any

import pytest

from assistant.benchmarks import speech_kit
from assistant.benchmarks.speech_kit import CHATTER, READINGS, Item, confirms, interval, outcome, planned, recorded, score
from assistant.core.english import COMMANDS
from assistant.core.grammar import phrases, value_set
from assistant.core.quantities import Quantity
from assistant.core.words import Expectation

VOICES = ("espeak:en-029", "espeak:en-us-nyc")
READING = Item(1, "reading", "six and a half thou", "backlash", "in", "half", "0.0065")
COMMAND = Item(2, "command", "next", "command", "", command="done")
TALK = Item(3, "chatter", CHATTER[0], "backlash", "in")


def line(value: str | None = None, unit: str | None = None, command: str | None = None, accepted: bool = True) -> dict[str, Any]:
    return {"accepted": accepted, "value": value, "unit": unit, "command": command}


@pytest.mark.parametrize(
    ("item", "answer", "expected"),
    [
        (READING, line("0.0065", "in"), "right"),
        (READING, line("0.00650", "in"), "right"),
        (READING, line("0.0060", "in"), "wrong"),
        (READING, line("0.1651", "mm"), "wrong"),  # the same size, but never in a unit that was not said
        (READING, line(command="undo"), "wrong"),
        (READING, line(accepted=False), "again"),
        (READING, None, "again"),
        (COMMAND, line(command="done"), "right"),
        (COMMAND, line(command="undo"), "wrong"),
        (COMMAND, line("0.0065", "in"), "wrong"),
        (COMMAND, line(accepted=False), "again"),
        (TALK, line(accepted=False), "quiet"),
        (TALK, None, "quiet"),
        (TALK, line(command="stop"), "taken"),
    ],
)
def test_what_was_heard_is_judged_by_what_was_said(item: Item, answer: dict[str, Any] | None, expected: str) -> None:
    assert outcome(item, answer) == expected


@pytest.mark.parametrize(
    ("hits", "tries", "low", "high"),
    # Wilson's score, from the formula by hand; 0 of 60 is the "none seen still allows six in a hundred".
    [(0, 60, 0.0, 0.0602), (3, 60, 0.0171, 0.1370), (30, 60, 0.3773, 0.6227), (60, 60, 0.9398, 1.0), (0, 0, 0.0, 1.0)],
)
def test_a_rate_comes_with_its_interval(hits: int, tries: int, low: float, high: float) -> None:
    assert interval(hits, tries) == pytest.approx((low, high), abs=1e-4)


def test_a_score_counts_and_knows_its_quantiles() -> None:
    counted = score([("right", 0.01), ("right", 0.02), ("wrong", 0.03), ("again", 0.04), ("quiet", 0.05), ("taken", 0.06)])
    assert (counted.right, counted.wrong, counted.again, counted.spoken, counted.chatter, counted.taken) == (2, 1, 1, 4, 2, 1)
    assert (counted.quantile(0.5), counted.quantile(0.95)) == (0.03, 0.06)
    assert score([]).quantile(0.95) == 0.0


def test_the_plan_is_the_same_for_the_same_seed_and_all_of_it_is_legal() -> None:
    items = planned(600, 4, VOICES)
    assert items == planned(600, 4, VOICES)
    assert items != planned(600, 5, VOICES)
    for item in items:
        if item.kind == "reading":
            heard = dict(phrases(Expectation(item.expect, item.unit)))
            assert heard[item.text].quantity == Quantity.of(item.value, item.unit)  # type: ignore[union-attr]
        elif item.kind == "command":
            assert item.text in COMMANDS[item.command]
            assert (item.expect in ("confirm", "command")) == (item.unit == "")


def test_every_step_and_every_command_comes_up() -> None:
    items = planned(900, 1, VOICES)
    kinds = Counter(item.kind for item in items)
    assert kinds["reading"] > 3 * kinds["command"] > 6 * kinds["chatter"] > 0
    assert {(item.expect, item.unit) for item in items if item.kind == "reading"} == set(READINGS)
    said = {name for names in speech_kit.WORDS.values() for name in names}
    assert {item.command for item in items if item.kind == "command"} == said
    assert all(Quantity.of(item.value, item.unit) in value_set(item.expect, item.unit) for item in items if item.kind == "reading")


def test_half_of_the_confirms_are_a_no_and_each_voice_says_both() -> None:
    items = confirms(40, 1, VOICES)
    assert Counter((item.voice, item.command) for item in items) == {(voice, name): 10 for voice in VOICES for name in ("yes", "no")}


def test_a_clip_is_the_same_speech_at_every_level_and_is_drawn_the_same_again_alone() -> None:
    items = planned(6, 2, VOICES)
    clips = list(recorded(items, [None, 10.0], ("fan", "babble"), 2))
    assert [(clip.item.number, clip.snr_db) for clip in clips] == [(n, level) for n in range(6) for level in (None, 10.0)]
    assert all((clip.noise is None) == (clip.snr_db is None) for clip in clips)
    again = list(recorded([items[4]], [None, 10.0], ("fan", "babble"), 2))
    assert [clip.noise for clip in again] == [clip.noise for clip in clips[8:10]]
    # espeak never says a thing twice in quite the same number of samples.
    assert len(again[1].samples) == pytest.approx(len(clips[9].samples), abs=100)
    assert len(clips[8].samples) == len(clips[9].samples)
