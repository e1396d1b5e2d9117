"""The speech benchmark, end to end on a few clips, and the bars of its exit status."""

import json
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner, Result

from assistant.benchmarks import voices
from assistant.benchmarks.speech import _row, main
from assistant.benchmarks.speech_kit import Clip, Item, Score
from assistant.ears.audio import write


def run(*words: str) -> Result:
    app = typer.Typer()
    app.command()(main)
    return CliRunner().invoke(app, list(words))


def test_a_few_clean_clips_are_heard_right_by_the_command_itself() -> None:
    result = run("--clips", "6", "--snr", "clean", "--voice", "espeak:en-us,espeak:en", "--seed", "3", "--json")
    assert result.exit_code == 0, result.output
    figures = json.loads(result.stdout)
    assert set(figures) == {"level", "kind", "step", "form", "voice", "noise"}
    everything = figures["level"]["all"]
    assert everything["spoken"] + everything["chatter"] == 6
    assert (everything["wrong"], everything["chatter_taken"]) == (0, 0)
    assert 0 < everything["p50_seconds"] <= everything["p95_seconds"]
    assert set(figures["voice"]) == {"espeak:en-us", "espeak:en", "all"}


def test_the_table_for_people_has_every_part() -> None:
    result = run("--clips", "2", "--confirms", "--snr", "clean,20", "--voice", "espeak:en-us")
    assert result.exit_code == 0, result.output
    for part in ("level", "at once", "clean", "20 dB", "silent-wrong (95 %)", "quiet room", "for 4 clips, starting included"):
        assert part in result.stdout


def test_expected_and_surprising_values_are_told_apart() -> None:
    options = ["--clips", "8", "--snr", "clean", "--voice", "espeak:en-us", "--seed", "3", "--predicted"]
    shown = run(*options)
    assert shown.exit_code == 0, shown.output
    for part in ("prior, if it chose", "none: the sound chooses", "surprising misheard", "prior, read-back asks", "floor 0.05"):
        assert part in shown.stdout
    told = json.loads(run(*options, "--json").stdout.splitlines()[-1])["predicted"]
    assert {(one["floor"], one["kind"]) for one in told} >= {(1.0, "expected"), (1.0, "surprising"), (0.05, "expected")}
    assert all(one["misheard"] == one["wrong"] == 0 < one["said"] == one["right"] for one in told if one["floor"] == 1.0)


def test_people_take_the_place_of_the_voices(tmp_path: Path) -> None:
    for word in ("zero", "six", "eighteen"):
        write(tmp_path / f"{word}.wav", voices.spoken("espeak:en-us", word))
        (tmp_path / f"{word}.txt").write_text(word, encoding="utf-8")
    result = run("--clips", "4", "--snr", "clean", "--people", str(tmp_path), "--json")
    assert result.exit_code == 0, result.output
    figures = json.loads(result.stdout)
    assert set(figures["voice"]) == {tmp_path.name, "all"}
    assert figures["form"]["joined words"]["at_once"] == figures["level"]["clean"]["right"] == 4


@pytest.mark.parametrize(
    ("heard", "accepted", "at_once"),
    [("six thou", True, True), ("six thou", False, True), ("nine thou", False, False), (None, False, False), ("hold", True, False)],
)
def test_the_likeliest_counts_whatever_the_bars(heard: str | None, accepted: bool, at_once: bool) -> None:
    item = Item(1, "reading", "six thou", "backlash", "in", "thou", "0.0060")
    line = {"accepted": accepted, "value": "0.0060" if accepted else None, "unit": "in", "command": None, "heard": heard, "seconds": 0.1}
    assert _row(Clip(item, None, None, np.zeros(1)), line)[3] is at_once


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        (["--voice", "espeak:nosuch"], "no voice 'nosuch'"),
        (["--noise", "rain", "--snr", "10"], "noise 'rain'"),
        (["--people", "nowhere"], "nowhere holds no WAV files"),
    ],
)
def test_bad_options_are_told_in_one_line(options: list[str], fault: str) -> None:
    result = run("--clips", "1", *options)
    assert result.exit_code == 2
    assert fault in result.stderr


@pytest.mark.parametrize(
    ("clean", "loud", "good"),
    [
        (Score(98, 2, 0, 9, 0, (0.1,)), Score(50, 50, 0, 0, 0, (0.1,)), True),  # 10 dB has no bar: nothing cures it but a nearer microphone
        (Score(97, 3, 0, 9, 0, (0.1,)), Score(100, 0, 0, 0, 0, (0.1,)), False),
        (Score(100, 0, 0, 9, 1, (0.1,)), Score(100, 0, 0, 0, 0, (0.1,)), False),
        (Score(100, 0, 0, 9, 0, (1.1,)), Score(100, 0, 0, 0, 0, (1.1,)), False),
    ],
)
def test_too_many_wrong_or_chatter_taken_or_late_answers_fail(clean: Score, loud: Score, good: bool) -> None:
    from assistant.benchmarks.speech import _is_good_enough

    assert _is_good_enough({"clean": clean, "10 dB": loud, "all": clean}) is good
