"""How soon the mouth can begin, and what listening costs: that both are measured, and that listening costs little."""

import typer
from typer.testing import CliRunner

from assistant.benchmarks.sounds import listening, main


def test_listening_to_a_room_costs_less_than_a_tenth_of_a_core() -> None:
    assert listening(5.0) < 0.5  # the measure of the speech policy: waiting costs at most 10 % of one core


def test_both_are_told() -> None:
    app = typer.Typer()
    app.command()(main)
    done = CliRunner().invoke(app, ["--seconds", "1"])
    assert done.exit_code == 0, done.output
    assert [line.partition(" (")[0].partition(" to ")[0] for line in done.output.splitlines()] == [
        "read-backs", "first sentences of steps", "listening",
    ]  # fmt: skip
