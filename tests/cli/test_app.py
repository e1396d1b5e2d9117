"""What is wrong with the command line: one line on standard error, as for any bad input, and nothing left behind."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import JOB


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "assistant", *arguments], capture_output=True, text=True, encoding="utf-8", timeout=60, check=False,
        stdin=subprocess.DEVNULL, env=dict(os.environ),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("run",), "benchhand run: Missing option '--job': see `benchhand run --help`"),
        (("run", "--job"), "benchhand: Option '--job' requires an argument: see `benchhand --help`"),
        (("sove", "etch"), "benchhand: No such command 'sove'"),
        (("run", "--job", "job.toml", "--colour"), "benchhand run: No such option: --colour"),
        (("practice", "--seed", "red"), "benchhand practice: Invalid value for '--seed'"),
        (("jobs", "compare", "one"), "benchhand jobs compare: Missing argument 'JOB-ID'"),
        (("gauges", "decode", "file"), "benchhand gauges decode: Missing option '--format'"),
    ],
)
def test_a_wrong_command_line_is_told_in_one_line(arguments: tuple[str, ...], told: str) -> None:
    done = run(*arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith(told)


def test_the_statuses_of_the_commands_come_through() -> None:
    assert run("--version").returncode == 0
    assert run("solve", "pair", "a=1in", "b=1mm").returncode == 1
    assert run("solve", "pair", "a=1in").returncode == 2
    assert "Usage: benchhand" in run("gauges").stdout


def test_a_mouth_that_does_not_exist_is_refused_before_a_job_begins(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    for how in ((), ("--headless",)):
        done = run("run", "--job", str(tmp_path / "job.toml"), "--mouth", "nose", "--store", str(tmp_path / "store"), *how)
        assert (done.returncode, done.stderr) == (2, "benchhand: --mouth 'nose' is not known, expected captions or pyttsx3\n")
    assert not (tmp_path / "store").exists()


def test_a_kind_of_sum_is_explained_as_json_too() -> None:
    done = run("solve", "etch", "--help", "--json")
    assert done.stdout.count("\n") == 1
    told = json.loads(done.stdout)
    assert (told["kind"], set(told["results"])) == ("etch", {"change", "shim"})
    assert set(told["about"]) == {"layout", "old_shim", "etch_old", "etch_new", "etch_unit", "sign"}
