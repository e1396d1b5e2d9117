"""`benchhand run`, `resume` and `listen` in German, as another program and a technician drive them."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.test_run import printed, run
from tests.conftest import JOB


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


GERMAN_BEGIN = ({"say": "fertig"}, {"say": "noch zusammengebaut"}, {"say": "0,012 Zoll"}, {"say": "ja"})


def test_a_job_in_german_is_spoken_and_goes_on_in_german_and_keeps_the_interfaces_words(job_file: Path, tmp_path: Path) -> None:
    store = tmp_path / "store"
    lines = printed(run("run", "--job", job_file, "--headless", "--store", store, "--language", "de", lines=GERMAN_BEGIN))
    assert next(line["speak"] for line in lines if "speak" in line).startswith("Das Werkstatthandbuch dieser Achse aufschlagen.")
    assert next(line["recorded"]["value"] for line in lines if "recorded" in line) == "0.012"
    again = printed(run("resume", "--headless", "--store", store, lines=({"say": "zwölf Tausendstel Zoll"}, {"say": "yes"})))
    assert "Das Ritzel festhalten." in " ".join(line["speak"] for line in again if "speak" in line) or "Stelle zwei" in str(again)
    assert {line["wait"]["for"] for line in again if "wait" in line} == {"reading", "confirm"}
    assert "understood" not in {word for line in again if "wait" in line for word in line["wait"]["commands"]}
    assert "repeat" in next(line["wait"]["commands"] for line in again if "wait" in line)
    assert [line["recorded"]["value"] for line in again if "recorded" in line] == ["0.012", "0.012"]


def test_the_language_may_be_told_by_the_environment(job_file: Path, tmp_path: Path) -> None:
    lines = printed(run("run", "--job", job_file, "--headless", "--store", tmp_path, BENCHHAND_LANGUAGE="de"))
    assert next(line["step"]["title"] for line in lines if "step" in line) == "Handbuch offen, Platz sicher"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--language", "fr"), "language 'fr' is not spoken here, expected en (English) or de (German)"),
        (("--language", "de", "--ears", "net"), "our own ear (net) hears English only: for German take --ears vosk"),
    ],
)
def test_a_language_that_cannot_be_had_is_one_clear_line_and_leaves_no_job(
    job_file: Path, tmp_path: Path, arguments: tuple[str, ...], says: str
) -> None:
    done = run("run", "--job", job_file, "--store", tmp_path / "store", *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert not list((tmp_path / "store").glob("*.jsonl"))


def test_on_the_terminal_a_german_job_has_no_english_word(job_file: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "assistant", "run", "--job", str(job_file), "--store", str(tmp_path), "--language", "de"],
        input="fertig\nnoch zusammengebaut\n0,012 Zoll\nja\nstopp\nja\n",
        capture_output=True, text=True, encoding="utf-8", timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "[r1] Zahnflankenspiel vor dem Zerlegen an Stelle 1: 0,012 in" in done.stdout
    assert "> ja oder nein" in done.stdout
    assert "> ein Messwert in Zoll" in done.stdout
    assert "== angehalten  (Auftrag " in done.stdout
    assert not re.search(r"\b(the|or|place|reading|stopped|yes)\b", done.stdout)


def test_a_clip_in_german_needs_a_model_of_german(tmp_path: Path) -> None:
    done = run("listen", tmp_path / "clip.wav", "--expect", "backlash", "--language", "de")
    assert (done.returncode, done.stdout) == (2, "")
    assert (
        done.stderr == "listen: our own ear (net) hears English only: for German take --ears vosk with a model of that language, or type\n"
    )
    done = run("listen", tmp_path / "clip.wav", "--expect", "backlash", "--language", "de", "--vosk-model", tmp_path / "model")
    assert done.returncode == 2
    assert f"{tmp_path / 'model'} is not a folder: expected the path of an unpacked Vosk model" in done.stderr
