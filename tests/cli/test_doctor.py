"""`benchhand doctor` as a command: exit status, streams, and what it does without any device."""

import json
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from typer.testing import CliRunner

from assistant.bench import new_bench
from assistant.cli.app import app
from assistant.core.inputs import Said
from assistant.ears import recorder
from assistant.ears.devices import NoDeviceError
from assistant.journal.lines import LinesJournal
from tests.conftest import job_with
from tests.ears.speaking import said

RUNNER = CliRunner()


def no_microphone(_seconds: float, _name: str | None = None) -> NDArray[np.int16]:
    raise NoDeviceError("no microphone: this computer has no sound system")


def test_without_devices_it_says_so_and_exits_1(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recorder, "recorded", no_microphone)
    done = RUNNER.invoke(app, ["doctor", "--store", str(tmp_path), "--loudspeaker", "no such one", "--json"])
    assert done.exit_code == 1
    found = [json.loads(line) for line in done.stdout.splitlines()]
    assert {one["part"] for one in found} == {"recogniser", "microphone", "loudspeaker", "gauges", "store"}
    assert all(one["remedy"] for one in found if not one["works"])
    assert any(not one["works"] and one["part"] == "microphone" for one in found)


def test_for_people_each_fault_has_its_remedy_on_the_next_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recorder, "recorded", no_microphone)
    lines = RUNNER.invoke(app, ["doctor", "--store", str(tmp_path), "--loudspeaker", "no such one"]).stdout.splitlines()
    faults = [at for at, line in enumerate(lines) if line.startswith("!!")]
    assert faults
    assert all(lines[at + 1].lstrip().startswith("->") for at in faults)


def test_options_that_belong_together_are_told() -> None:
    done = RUNNER.invoke(app, ["doctor", "--keep"])
    assert (done.exit_code, done.stderr) == (2, "doctor: --keep belongs to --refit\n")


def test_with_too_few_readings_nothing_is_fitted(tmp_path: Path) -> None:
    done = RUNNER.invoke(app, ["doctor", "--refit", "--store", str(tmp_path)])
    assert done.exit_code == 2
    assert "0 spoken readings whose truth is known, expected at least 100" in done.stderr


def test_fitted_bars_are_kept_only_when_asked(tmp_path: Path) -> None:
    journal = LinesJournal(tmp_path, "job", new=True)
    bench, _ = new_bench(job_with(), journal, lambda: "0")
    for words in ("done", "still together"):
        bench.give(Said(words))
    for _ in range(110):
        for one in (Said("twelve thou", "spoken", 0.98, -0.05, ear="net 1"), Said("yes"), Said("undo")):
            bench.give(one)
    journal.close()
    done = RUNNER.invoke(app, ["doctor", "--refit", "--json", "--store", str(tmp_path)])
    told = json.loads(done.stdout)
    assert (told["ear"], told["cases"], told["posterior"], told["kept"]) == ("net 1", 110, 0.98, False)
    assert not (tmp_path / "bars.toml").exists()
    assert RUNNER.invoke(app, ["doctor", "--refit", "--keep", "--store", str(tmp_path)]).exit_code == 0
    assert 'ear = "net 1"' in (tmp_path / "bars.toml").read_text(encoding="utf-8")


def test_recording_walks_through_the_phrases_and_gives_figures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from assistant.ears import own_recordings

    few = own_recordings.phrase_list()[:6]
    monkeypatch.setattr(own_recordings, "phrase_list", lambda: few)
    waiting = [phrase.text for phrase in few]
    monkeypatch.setattr(recorder, "recorded", lambda _seconds, _name=None: np.rint(said(waiting.pop(0)) * 32767).astype(np.int16))
    done = RUNNER.invoke(app, ["doctor", "--record", str(tmp_path / "own"), "--json"], input="yes\n")
    told = json.loads(done.stdout)
    assert told["phrases"] == 6
    assert told["right"] + told["again"] + told["wrong"] == 6
    assert done.exit_code == 1  # of 120
    assert len(list((tmp_path / "own").glob("*.wav"))) == 6


def test_without_consent_nothing_is_recorded(tmp_path: Path) -> None:
    done = RUNNER.invoke(app, ["doctor", "--record", str(tmp_path / "own")], input="no\n")
    assert done.exit_code == 2
    assert not (tmp_path / "own").exists()


def test_in_german_people_are_told_in_german_and_programs_as_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recorder, "recorded", no_microphone)
    words = ["doctor", "--store", str(tmp_path / "a.b"), "--loudspeaker", "no such one"]
    german = RUNNER.invoke(app, [*words, "--language", "de"])
    assert german.exit_code == 1
    assert f"Speicher: {tmp_path / 'a.b'} lässt sich schreiben, " in german.stdout
    assert "einstecken; bis dahin --ears typed nehmen" in german.stdout
    parts = [
        [json.loads(line)["part"] for line in RUNNER.invoke(app, [*words, "--json", *more]).stdout.splitlines()]
        for more in ((), ("--language", "de"))
    ]
    assert parts[0] == parts[1]
    assert RUNNER.invoke(app, [*words, "--language", "fr"]).exit_code == 2
