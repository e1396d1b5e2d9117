"""Clips from a list."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner, Result

from assistant.benchmarks.clips import main
from assistant.ears.audio import read
from assistant.ears.net import NetEar


def run(folder: Path, listed: str) -> Result:
    (folder / "spec.toml").write_text(listed, "utf-8")
    app = typer.Typer()
    app.command()(main)
    return CliRunner().invoke(app, [str(folder / "spec.toml"), str(folder / "out")])


LIST = """
[[clip]]
file = "01.wav"
text = "six and a half thou"

[[clip]]
file = "02.wav"
text = "undo"
voice = "espeak:en-029"
speed = 0.9
pitch = 40
snr = 20
noise = "babble"
room = 0.3
seed = 7
"""


def test_a_list_becomes_clips_that_are_understood_and_the_same_each_time(tmp_path: Path) -> None:
    (tmp_path / "spec.toml").write_text(LIST, "utf-8")
    for folder in ("out", "again"):
        # A process of its own each time: espeak goes on from where its last sentence left it.
        command = [sys.executable, "-m", "assistant.benchmarks.clips", str(tmp_path / "spec.toml"), str(tmp_path / folder)]
        assert subprocess.run(command, check=True, capture_output=True, text=True).stdout.startswith("2 clips in ")
    ear = NetEar()
    grammar = ear.load([("six and a half thou", 65), ("undo", "undo")])
    first = {name: read(tmp_path / "out" / name) for name in ("01.wav", "02.wav")}
    meanings = [chosen.meaning for clip in first.values() if (chosen := ear.hear(clip.samples, grammar).chosen)]
    assert meanings == [65, "undo"]
    assert all(clip.recorded_rate == 16_000 for clip in first.values())
    assert all(np.array_equal(read(tmp_path / "again" / name).samples, clip.samples) for name, clip in first.items())


def test_every_fault_of_a_list_is_told_at_once_with_its_place(tmp_path: Path) -> None:
    bad = """
[[clip]]
file = "../01.wav"
text = "6.5 thou"
[[clip]]
file = "02.wav"
text = "undo"
snr = 10
[[clip]]
file = "03.wav"
text = "undo"
loudness = 3
"""
    result = run(tmp_path, bad)
    assert result.exit_code == 2
    for place in ("clip.0.file", "clip.0.text", "clip.1: Value error, snr and noise go together", "clip.2.loudness"):
        assert place in result.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("listed", "fault"),
    [
        ("", "clip: Field required"),
        ("[[clip", "spec.toml:"),
        ('[[clip]]\nfile = "a.wav"\ntext = "undo"\n' * 2, "a.wav listed more than once"),
        ('[[clip]]\nfile = "a.wav"\ntext = "undo"\nvoice = "espeak:nosuch"', "no voice 'nosuch'"),
        ('[[clip]]\nfile = "a.wav"\ntext = "undo"\nsnr = 3\nnoise = "rain"', "noise 'rain': expected one of"),
    ],
)
def test_a_list_that_cannot_be_used_is_told_in_one_line(tmp_path: Path, listed: str, fault: str) -> None:
    result = run(tmp_path, listed)
    assert result.exit_code == 2
    assert fault in result.stderr
    assert len(result.stderr.splitlines()) == 1
