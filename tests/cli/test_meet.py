"""The command `gauges meet` on a terminal device: ten steps typed, and the gauge known by its name afterwards."""

import json
import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from assistant.cli.app import app
from assistant.cli.meet import WORDS
from assistant.cli.meet import _settings as settings_of
from assistant.core.errors import BadInputError
from gauges.formats import format_named
from gauges.known import known_gauges
from gauges.ports import Probed
from gauges.probing import Match
from gauges.settings import GaugeSettings
from tests.broker import until
from tests.gauges.simulated import SimulatedGauge


def frames(value: str) -> bytes:
    text = f"+{value:0>8}\r".encode()
    return bytes(byte | (0x80 if byte.bit_count() % 2 else 0) for byte in text) * 20


class Meeting:
    """The command in a process of its own."""

    def __init__(self, *arguments: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "assistant", "gauges", "meet", "--json", *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        self.found: dict[str, str] = {}
        self.told: list[str] = []
        self._readers = [
            threading.Thread(target=self._read, args=(self.process.stdout, self._line)),
            threading.Thread(target=self._read, args=(self.process.stderr, self.told.append)),
        ]
        for reader in self._readers:
            reader.start()

    def _line(self, text: str) -> None:
        line = json.loads(text)
        self.found[line["step"]] = line["found"]

    @staticmethod
    def _read(stream: Any, take: Any) -> None:
        for text in stream:
            take(text)

    def say(self, word: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(word + "\n")
        self.process.stdin.flush()

    def step(self, step: str, gauge: SimulatedGauge, *values: str, word: str = "done") -> None:
        """Let it send these values, then say the word, until the step is judged."""

        def again() -> None:
            for value in values:
                gauge.send(frames(value))
            self.say(word)

        until(lambda: step in self.found, lambda: again() if step not in self.found else None)

    def end(self) -> int:
        assert self.process.stdin is not None
        status = self.process.wait(30)
        for reader in self._readers:
            reader.join()
        for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
            assert stream is not None
            stream.close()
        return status


def test_a_gauge_is_met_typed_and_known_by_its_name_afterwards(tmp_path: Path) -> None:
    file, link = tmp_path / "settings.toml", tmp_path / "port"
    with SimulatedGauge() as first, SimulatedGauge() as second:
        link.symlink_to(first.device)
        meeting = Meeting(str(link), "--name", "lever", "--format", "ascii-signed-cr", "--unit", "mm", "--settings", str(file))
        until(lambda: any("1 of 10" in line for line in meeting.told))
        meeting.say("10.000")
        meeting.step("frames", first, "0003.000")
        meeting.step("zero", first, "0000.000")
        meeting.step("block", first, "0010.000")
        meeting.step("unit", first, "00.39370", "0010.000")
        meeting.step("sign", first, "0010.000", "0012.000")
        meeting.step("zero key", first, "0012.000", "0000.000")
        meeting.step("range", first, "0000.000", word="no")
        meeting.step("hold", first, "0000.000", word="no")
        link.unlink()
        first.unplug()
        link.symlink_to(second.device)
        meeting.step("plug", second, "0000.000")
        meeting.step("timing", second, "0000.000")
        assert meeting.end() == 0, meeting.told
    assert meeting.found["sign"] == "inward counts up"
    assert "decimals-change" in meeting.found["unit"]
    known = known_gauges(file)["lever"]
    assert (known.key, known.unit, known.port) == ("ascii-signed-cr", "mm", str(link))
    assert isinstance(known, GaugeSettings)
    with SimulatedGauge() as third:
        link.unlink()
        link.symlink_to(third.device)
        stop = threading.Event()

        def send() -> None:
            while not stop.wait(0.05):
                third.send(frames("0001.234"))

        sender = threading.Thread(target=send)
        sender.start()
        result = CliRunner().invoke(app, ["gauges", "watch", "lever", "--settings", str(file), "--seconds", "2"])
        stop.set()
        sender.join()
    assert '{"gauge": "lever", "value": "1.234", "unit": "mm"}' in result.stdout


def test_two_families_that_fit_are_asked_about(tmp_path: Path) -> None:
    with SimulatedGauge() as gauge:
        stop = threading.Event()

        def send() -> None:
            while not stop.wait(0.05):
                gauge.send(frames("0001.234"))

        sender = threading.Thread(target=send)
        sender.start()
        arguments = ["gauges", "meet", gauge.device, "--unit", "mm", "--settings", str(tmp_path / "s.toml")]
        result = CliRunner().invoke(app, arguments, input="stop\n")
        stop.set()
        sender.join()
    # Ten bytes with a sign and four digits before the point are a frame of both.
    assert result.exit_code == 2
    assert "listening at every known line setting; nothing is sent" in result.stderr
    assert "ascii-signed-cr or ask-reply-cr. Say which by --format" in result.stderr


def test_a_family_that_is_found_by_listening_brings_its_line_and_parity(monkeypatch: pytest.MonkeyPatch) -> None:
    slow = format_named("ascii-status-lf").lines[1]
    heard = [
        Probed(format_named("ascii-signed-cr").lines[0], [], 0, None),
        Probed(slow, [Match("ascii-status-lf", "none", 20, 1.0)], 240, None),
    ]
    monkeypatch.setattr("gauges.ports.probe", lambda _: iter(heard))
    assert settings_of("x", "dial", None, None, None, None) == GaugeSettings("dial", "ascii-status-lf", "x", line=slow)
    heard[0] = Probed(heard[0].line, [Match("ascii-signed-cr", "none", 20, 1.0)], 240, None)
    found = settings_of("x", "dial", None, "mm", None, "1")
    assert found == GaugeSettings("dial", "ascii-signed-cr", "x", unit="mm", parity="none", channel="1")
    monkeypatch.setattr("gauges.ports.probe", lambda _: iter([Probed(slow, [], 0, None)]))
    with pytest.raises(BadInputError, match="none that was heard; a gauge with a button"):
        settings_of("x", "dial", None, None, None, None)


def test_a_wrong_size_on_the_block_keeps_nothing(tmp_path: Path) -> None:
    file = tmp_path / "settings.toml"
    with SimulatedGauge() as gauge:
        meeting = Meeting(gauge.device, "--format", "ascii-signed-cr", "--unit", "mm", "--block", "10.000", "--settings", str(file))
        until(lambda: any("1 of 10" in line for line in meeting.told))
        meeting.step("frames", gauge, "0003.000")
        meeting.step("zero", gauge, "0000.000")
        meeting.step("block", gauge, "0020.000")
        assert meeting.end() == 1
    assert "factor of two" in meeting.found["block"]
    assert not file.exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nothing here"], "is not there"),
        (["x", "--format", "ell"], "format 'ell' is not known"),
        (["x", "--format", "ascii-signed-cr"], "give the unit"),
        (["x", "--format", "ascii-fixed-unit", "--block", "ten"], "not a plain decimal number"),
        (["x", "--format", "ascii-fixed-unit", "--block", "-1"], "a size above zero"),
        (["x", "--format", "ascii-fixed-unit", "--ears", "cat"], "--ears 'cat' is not known"),
    ],
)
def test_bad_input_is_told(arguments: list[str], words: str, tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["gauges", "meet", "--settings", str(tmp_path / "s.toml"), *arguments])
    assert result.exit_code == 2
    assert words in result.stderr


def test_a_meeting_that_is_stopped_keeps_nothing(tmp_path: Path) -> None:
    arguments = ["gauges", "meet", "x", "--format", "ascii-fixed-unit", "--settings", str(tmp_path / "s.toml")]
    result = CliRunner().invoke(app, arguments, input="repeat\nno\nell\nstop\n")
    assert result.exit_code == 1
    assert "cannot be left out" in result.stdout
    assert "'ell' is none of done, no, repeat, stop" in result.stdout
    assert "Stopped: nothing is kept." in result.stdout
    assert list(tmp_path.iterdir()) == []


def test_every_word_of_a_meeting_can_be_heard_by_the_recogniser() -> None:
    from assistant.ears.spellings import unknown_words

    assert unknown_words(WORDS) == []
