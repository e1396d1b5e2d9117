"""Peak memory of a process, checked against a block whose size is known."""

import subprocess
import sys

import pytest
import typer
from typer.testing import CliRunner, Result

from assistant.benchmarks.memory import main, peak_mib


def run() -> Result:
    app = typer.Typer()
    app.command()(main)
    return CliRunner().invoke(app, [])


def test_a_block_of_known_size_is_counted_with_what_python_itself_takes() -> None:
    full = peak_mib([sys.executable, "-c", "block = b'x' * (300 * 2**20)"])
    assert 300 < full < 330


def test_a_command_that_fails_is_not_measured() -> None:
    with pytest.raises(subprocess.CalledProcessError):
        peak_mib([sys.executable, "-c", "raise SystemExit(3)"])


def test_the_whole_process_stays_under_its_bar() -> None:
    measured = run()
    assert measured.exit_code == 0, measured.output
    assert [line.split(",")[0] for line in measured.stdout.splitlines()] == ["listen", "demo", "ear"]
    assert all(50 < int(line.split()[-4]) <= 250 for line in measured.stdout.splitlines())


@pytest.mark.parametrize(("peak", "status"), [(250.0, 0), (250.5, 1)])
def test_more_than_the_bar_fails(peak: float, status: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("assistant.benchmarks.memory.peak_mib", lambda _: peak)
    assert run().exit_code == status
