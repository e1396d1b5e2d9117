"""The speech benchmark, end to end on a few clips, and the bars of its exit status."""

import json

import pytest
import typer
from typer.testing import CliRunner, Result

from assistant.benchmarks.speech import main
from assistant.benchmarks.speech_kit import Score


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
    for part in ("level", "clean", "20 dB", "silent-wrong (95 %)", "quiet room", "for 4 clips, starting included"):
        assert part in result.stdout


@pytest.mark.parametrize(
    ("options", "fault"), [(["--voice", "espeak:nosuch"], "no voice 'nosuch'"), (["--noise", "rain", "--snr", "10"], "noise 'rain'")]
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
