"""The screen's benchmark in a real browser, with a few readings: it measures, and what it measures is kept."""

import json
import subprocess
import sys

from assistant.benchmarks.screen import holds
from tests.browser.conftest import CHROMIUM


def benchmark(*arguments: str) -> "subprocess.CompletedProcess[str]":
    """The command, in a process of its own: this one has a browser open already."""
    return subprocess.run(
        [sys.executable, "-m", "assistant.benchmarks.screen", *arguments], capture_output=True, text=True, timeout=300, check=False
    )


def test_the_figures_are_measured_and_decide_the_exit_status() -> None:
    result = benchmark("--readings", "10", "--loads", "2", "--chromium", CHROMIUM, "--json")
    figures = json.loads(result.stdout)
    assert figures["readings"] >= 10
    assert figures["loads"] == 2
    assert 0 < figures["shown_after_disk_ms_p50"] <= figures["shown_after_disk_ms_p95"] <= figures["shown_after_disk_ms_max"]
    assert 0 < figures["first_paint_ms_p50"] <= figures["first_paint_ms_max"]
    # Whether it is soon enough is measured with more readings, on a computer that does nothing else (docs/benchmarks.md).
    assert result.returncode == (0 if holds(figures) else 1)


def test_a_browser_that_is_not_there_is_said_in_one_line() -> None:
    result = benchmark("--chromium", "nowhere")
    assert result.returncode == 2
    assert "install Chromium" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
