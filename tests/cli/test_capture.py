"""The command `capture` on real parts: a terminal device, a real broker, a process that is killed."""

import csv
import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from assistant.cli.app import app
from assistant.core.inspection import ANY, Plan, State, evolve, next_part, reading
from assistant.core.quantities import Quantity
from assistant.onward import Heading, Spool
from tests.broker import Broker, Subscriber, free_port, until
from tests.gauges.simulated import SimulatedGauge
from tests.gauges.test_registers import cable, instrument
from tests.test_practice_german import ENGLISH_ONLY

WAIT_SECONDS = 30.0
PLAN = '[[characteristic]]\nname = "outer diameter"\nunit = "mm"\nnominal = "25.400"\ntolerance = "0.013"\ngauge = "micrometer"\n'


class Process:
    """`benchhand capture --json` in a process of its own, and what it prints."""

    def __init__(self, *arguments: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "assistant", "capture", "--json", *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True, encoding="utf-8", env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        self.lines: list[dict[str, Any]] = []
        self.told: list[str] = []
        self._readers = [
            threading.Thread(target=self._read, args=(self._process.stdout, lambda text: self.lines.append(json.loads(text)))),
            threading.Thread(target=self._read, args=(self._process.stderr, self.told.append)),
        ]
        for reader in self._readers:
            reader.start()

    @staticmethod
    def _read(stream: Any, take: Any) -> None:
        for text in stream:
            take(text)

    def say(self, text: str) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(text + "\n")
        self._process.stdin.flush()

    @property
    def readings(self) -> list[str]:
        return [line["record"]["value"] for line in self.lines if line.get("record", {}).get("kind") == "reading"]

    def was_told(self, words: str) -> bool:
        return any(words in line for line in self.told)

    def kill(self) -> None:
        """As the system does it when there is no memory left."""
        self._process.send_signal(signal.SIGKILL)
        self.end()

    def end(self) -> int:
        """Close its keyboard; gives the exit status."""
        assert self._process.stdin is not None
        with suppress(BrokenPipeError):
            self._process.stdin.close()
        status = self._process.wait(WAIT_SECONDS)
        for reader in self._readers:
            reader.join()
        for stream in (self._process.stdout, self._process.stderr):
            assert stream is not None
            stream.close()
        return status


@contextmanager
def running(*arguments: str) -> Iterator[Process]:
    process = Process(*arguments)
    try:
        yield process
    finally:
        if process._process.poll() is None:
            process.kill()


def frames(value: str) -> bytes:
    text = f"+{value:0>8}\r".encode()
    return bytes(byte | (0x80 if byte.bit_count() % 2 else 0) for byte in text) * 40


@pytest.fixture
def plan(tmp_path: Path) -> str:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    return str(path)


def test_a_gauge_that_is_unplugged_and_a_process_that_is_killed_lose_nothing(tmp_path: Path, plan: str) -> None:
    out, store = tmp_path / "out.csv", str(tmp_path / "store")
    with SimulatedGauge() as gauge:
        port = f"micrometer={gauge.device},ascii-signed-cr,mm"
        with running("--plan", plan, "--gauge", port, "--to", str(out), "--store", store) as first:
            until(lambda: first.was_told("Part one"))
            first.say("take")
            until(lambda: first.readings == ["25.401"], lambda: gauge.send(frames("0025.401")))
            gauge.unplug()
            until(lambda: first.was_told("The micrometer is lost"))
            first.say("25.402")
            until(lambda: first.readings == ["25.401", "25.402"])
            first.kill()
    with SimulatedGauge() as gauge, running("--plan", plan, "--store", store, "--resume") as second:
        until(lambda: second.was_told("Part three"))
        second.say("25.420")
        until(lambda: second.readings == ["25.420"])
        second.say("what do you have")
        until(lambda: any("summary" in line for line in second.lines))
        assert second.end() == 1
        assert second.lines[-1]["summary"]["count"] == 3
    with out.open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] == "reading"]
    assert [(row["value"], row["verdict"], row["quality"]) for row in rows] == [
        ("25.401", "in", "late"), ("25.402", "in", "typed"), ("25.420", "out", "typed"),
    ]  # fmt: skip
    assert rows[0]["gauge"].startswith("micrometer: ascii-signed-cr at ")


def test_what_a_broker_missed_goes_to_it_with_the_next_capture(tmp_path: Path, plan: str) -> None:
    store = str(tmp_path / "store")
    with Broker(tmp_path / "broker") as broker:
        with running("--plan", plan, "--to", f"mqtt://127.0.0.1:{broker.port}/shop", "--store", store) as first:
            until(lambda: first.was_told("No broker"))
            first.say("25.401")
            first.say("25.402")
            until(lambda: len(first.readings) == 2)
            first.kill()
        broker.start()
        subscriber = Subscriber(broker, "shop")
        with running("--store", store) as second:
            until(lambda: len(subscriber.heard) >= 4)
            assert second.end() == 0
        subscriber.close()
    assert [line.get("value") for line in subscriber.heard] == ["25.401", None, "25.402", None]
    (spool,) = [path for path in (tmp_path / "store" / "captures").glob("*.jsonl") if "25.401" in path.read_text()]
    assert spool.with_suffix(".sent").read_text() == "4"


def invoke(*arguments: str, typed: str = "") -> Any:
    return CliRunner().invoke(app, ["capture", *arguments], input=typed)


def test_figures_for_people_are_a_chart_and_a_summary(tmp_path: Path, plan: str) -> None:
    result = invoke("--plan", plan, "--store", str(tmp_path), typed="25.401\n25.399\nstop\nyes\n")
    assert result.exit_code == 0, result.output
    assert "25.399 mm  in" in result.output
    assert "mean 25.4000, lowest 25.399, highest 25.401, range 0.002 mm" in result.output
    assert "micrometer is on no port: type its values" in result.output


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--plan", "none.toml"], "none.toml: cannot be read"),
        (["--to", "out.xlsx"], "expected FILE.csv, FILE.jsonl or mqtt://"),
        (["--to", "mqtt:///x"], "expected mqtt://HOST"),
        (["--gauge", "dial"], "has not been met"),
        (["--gauge", "a=x,ascii-fixed-unit", "--gauge", "a=y,ascii-fixed-unit"], "each name once"),
        (["--ears", "cat"], "--ears 'cat' is not known"),
        (["--resume"], "no capture to go on with"),
        (["--resume", "--to", "a.csv"], "leave --to out"),
    ],
)
def test_bad_input_is_one_line_and_leaves_no_capture(arguments: list[str], words: str, tmp_path: Path) -> None:
    result = invoke("--store", str(tmp_path), "--settings", str(tmp_path / "settings.toml"), *arguments)
    assert result.exit_code == 2
    assert words in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert list(tmp_path.glob("captures/*.jsonl")) == []


def test_a_capture_is_gone_on_with_by_its_own_plan_alone(tmp_path: Path, plan: str) -> None:
    assert invoke("--plan", plan, "--store", str(tmp_path), typed="25.401\n").exit_code == 0
    result = invoke("--store", str(tmp_path), "--resume")
    assert result.exit_code == 2
    assert "made by another plan" in result.stderr


def test_a_gauge_of_the_plan_that_was_met_needs_no_option(tmp_path: Path, plan: str) -> None:
    settings = tmp_path / "settings.toml"
    with SimulatedGauge() as gauge:
        settings.write_text(f'[gauge.micrometer]\nformat = "ascii-signed-cr"\nunit = "mm"\nport = "{gauge.device}"\n')
        with running("--plan", plan, "--settings", str(settings), "--store", str(tmp_path / "store")) as process:
            process.say("take")
            until(lambda: process.readings == ["25.401"], lambda: gauge.send(frames("0025.401")))
            assert process.end() == 0


def test_a_polled_instrument_is_taken_from_like_any_other(tmp_path: Path) -> None:
    # Low word, high word, decimals: 2540 and 2 are 25.40 (panel meter DPF20 manual, p. 29).
    with cable() as (ours, theirs), instrument(theirs, [2540, 0, 2]):
        settings = tmp_path / "settings.toml"
        # A pseudo-terminal refuses even parity.
        settings.write_text(f'[gauge.meter]\nformat = "modbus-rtu-int32"\nunit = "mm"\nport = "{ours}"\nline = "9600 8N1"\naddress = 1\n')
        with running("--gauge", "meter", "--settings", str(settings), "--store", str(tmp_path)) as process:
            until(lambda: process.was_told("Part one"))
            # The first question may take longer than a word waits for its value.
            for turn in range(1, 11):
                process.say("take")
                until(lambda: len([line for line in process.told if "no steady value" in line]) == turn or bool(process.readings))  # noqa: B023 - used at once
                if process.readings:
                    break
            assert process.readings == ["25.40"], process.told
            assert process.end() == 0
    (record,) = [line["record"] for line in process.lines if "record" in line]
    assert record["unit"] == "mm"
    assert record["gauge"].startswith("meter: modbus-rtu-int32 at ")


def test_a_damaged_earlier_capture_is_told_and_left_alone(tmp_path: Path) -> None:
    folder = tmp_path / "captures"
    made = Spool(folder / "old.jsonl", Heading("old", "t", "", f"mqtt://127.0.0.1:{free_port()}/x"))
    made.append(next_part(evolve(State(Plan()), reading(State(Plan()), ANY, Quantity.of("1", "mm"), "t", quality="typed")), "t"))
    made.append(reading(State(Plan()), ANY, Quantity.of("1", "mm"), "t", quality="typed"))
    made.close()
    damaged = made.path.read_text().replace('"kind": "part"', '"kind" "part"')
    made.path.write_text(damaged)
    result = invoke("--store", str(tmp_path))
    assert result.exit_code == 0
    assert "is damaged in line 2" in result.stderr
    assert made.path.read_text() == damaged


def test_in_german_a_typed_reading_is_judged_in_german_and_the_record_is_as_ever(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.replace('gauge = "micrometer"\n', ""), encoding="utf-8")
    words = ["capture", "--plan", str(plan), "--language", "de", "--store", str(tmp_path)]
    told = CliRunner().invoke(app, words, input="25,420 mm\nstopp\nja\n")
    assert told.exit_code == 1
    assert "außerhalb, zu groß um null Komma null null sieben Millimeter." in told.stdout
    assert "outer diameter: 1 Messwerte, 1 außerhalb, 0 unsicher" in told.stdout
    assert ENGLISH_ONLY.findall(told.stdout.replace("outer diameter", "")) == []
    program = CliRunner().invoke(app, [*words, "--json"], input="25,420 mm\nstopp\nja\n")
    assert json.loads(program.stdout.splitlines()[0])["record"]["verdict"] == "out"
    refused = CliRunner().invoke(app, [*words, "--ears", "net"])
    assert (refused.exit_code, refused.stderr.count("\n")) == (2, 1)
    assert "hears English only" in refused.stderr
