"""The command group: what it prints where, and how it ends."""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from typer.testing import CliRunner

from gauges.cli import app
from gauges.formats import FORMATS
from gauges.ports import PortInfo
from gauges.settings import Identity
from tests.gauges.simulated import SimulatedGauge


@pytest.fixture
def capture(tmp_path: Path) -> Path:
    """Two good frames of the fixed-column family after a cut one, and a bad one."""
    file = tmp_path / "capture.bin"
    file.write_bytes(b"80, MM\r\n+  2.1380, MM\r\n-  0.0842, MM\r\n+  2.1380 MM\r\n")
    return file


def test_each_event_is_one_json_line_and_faults_do_not_change_the_exit_status(capture: Path) -> None:
    result = CliRunner().invoke(app, ["decode", str(capture), "--format", "ascii-fixed-unit", "--json"])
    assert result.exit_code == 0
    assert [json.loads(line) for line in result.stdout.splitlines()] == [
        {"value": "2.1380", "unit": "mm"},
        {"value": "-0.0842", "unit": "mm"},
        {"fault": "shape"},
    ]
    assert result.stderr == ""


def test_without_json_a_summary_for_people_goes_to_standard_error(capture: Path) -> None:
    result = CliRunner().invoke(app, ["decode", str(capture), "--format", "ascii-fixed-unit", "--unit", "in"])
    assert result.exit_code == 0
    assert len(result.stdout.splitlines()) == 3
    assert "--unit in is not used" in result.stderr
    assert "2 readings, 0 statuses, 1 faults" in result.stderr
    assert "shape ×1, first at byte 38" in result.stderr


def test_standard_input_can_be_decoded(capture: Path) -> None:
    result = CliRunner().invoke(app, ["decode", "-", "--format", "ascii-fixed-unit", "--json"], input=capture.read_bytes())
    assert result.exit_code == 0
    assert len(result.stdout.splitlines()) == 3


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--format", "ascii-singed-cr"], "format 'ascii-singed-cr' is not known: expected one of ascii-signed-cr"),
        (["--format", "ascii-fixed-unit", "--parity", "odd"], "parity 'odd' is not known: expected even7 or none"),
        (["--format", "typed-line", "--unit", "ell"], "unit 'ell' is not known: expected one of mm, in"),
        (["--format", "stx-d15-cr", "--parity", "even7"], "uses all eight bits, expected none"),
        *(
            (["--format", key], f"format {key} has no unit in its frames: give the unit the gauge is set to")
            for key, row in FORMATS.items()
            if row.needs_unit
        ),
    ],
)
def test_a_wrong_setting_is_one_clear_line_and_exit_status_2(capture: Path, arguments: list[str], message: str) -> None:
    result = CliRunner().invoke(app, ["decode", str(capture), *arguments])
    assert result.exit_code == 2
    assert result.stdout == ""
    assert message in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_a_file_that_cannot_be_read_is_one_clear_line_and_exit_status_2(tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["decode", str(tmp_path / "gone.bin"), "--format", "ascii-fixed-unit"])
    assert result.exit_code == 2
    assert "gone.bin: No such file or directory" in result.stderr


def test_parity_and_address_reach_the_decoder(tmp_path: Path) -> None:
    file = tmp_path / "capture.bin"
    file.write_bytes(b"\r+0012.345\r")
    result = CliRunner().invoke(app, ["decode", str(file), "--format", "ascii-signed-cr", "--unit", "mm", "--parity", "none", "--json"])
    assert json.loads(result.stdout) == {"value": "12.345", "unit": "mm"}
    # Address 17: 11 03 06 FB F1 00 09 00 02, checksum by pymodbus.
    from pymodbus.framer import FramerRTU

    body = bytes.fromhex("11 03 06 FB F1 00 09 00 02")
    file.write_bytes(body + FramerRTU.compute_CRC(body).to_bytes(2, "big"))
    result = CliRunner().invoke(app, ["decode", str(file), "--format", "modbus-rtu-int32", "--unit", "mm", "--address", "17", "--json"])
    assert json.loads(result.stdout) == {"value": "6543.21", "unit": "mm"}


@contextmanager
def streaming(frame: bytes) -> Iterator[str]:
    """The device of a gauge that sends this frame over and over."""
    with SimulatedGauge() as gauge:
        stop = threading.Event()

        def stream() -> None:
            while not stop.wait(0.02):
                gauge.send(frame)

        sender = threading.Thread(target=stream, daemon=True)
        sender.start()
        try:
            yield gauge.device
        finally:
            stop.set()
            sender.join(5.0)


def test_probe_names_the_one_family_that_explains_the_bytes() -> None:
    with streaming(b"FFFF000123430\r\n") as device:
        result = CliRunner().invoke(app, ["probe", device, "--seconds", "0.4", "--json"])
    assert result.exit_code == 0
    found = [json.loads(line) for line in result.stdout.splitlines()]
    assert [(line["format"], line["found"]) for line in found] == [("bcd-13-nibble", True)]
    assert (found[0]["unit"], found[0]["step"]) == ("mm", "0.001")
    assert result.stderr == ""


def test_probe_asks_when_two_families_fit_and_when_nothing_is_heard() -> None:
    with streaming(bytes.fromhex("2B 30 30 B1 B2 2E 33 B4 35 8D")) as device:
        result = CliRunner().invoke(app, ["probe", device, "--seconds", "0.4"])
    assert result.exit_code == 1
    assert "families that explain it: ascii-signed-cr or ask-reply-cr" in result.stderr
    with SimulatedGauge() as gauge:
        result = CliRunner().invoke(app, ["probe", gauge.device, "--seconds", "0.1"])
    assert result.exit_code == 1
    assert "none; does the gauge send by itself" in result.stderr


def test_a_port_that_is_not_there_is_one_clear_line_and_exit_status_2() -> None:
    result = CliRunner().invoke(app, ["probe", "/dev/there-is-no-such-port"])
    assert result.exit_code == 2
    assert result.stderr == "/dev/there-is-no-such-port is not there: is the cable in?\n"


def test_watch_shows_a_settled_value_with_the_gauges_name() -> None:
    with streaming(bytes.fromhex("2B 30 30 B1 B2 2E 33 B4 35 8D")) as device:
        result = CliRunner().invoke(app, ["watch", f"dial={device},ascii-signed-cr,mm", "--seconds", "1.6", "--json"])
    assert result.exit_code == 0
    assert [json.loads(line) for line in result.stdout.splitlines()] == [{"gauge": "dial", "value": "12.345", "unit": "mm"}]
    assert result.stderr == ""


def test_watch_tells_a_lost_port_and_counts_faults_for_people() -> None:
    with streaming(b"garbage\x8d") as device:
        words = [f"dial={device},ascii-signed-cr,mm", "caliper=/dev/there-is-no-such-port,bin24-caliper"]
        result = CliRunner().invoke(app, ["watch", *words, "--seconds", "0.8"])
    assert result.exit_code == 0
    assert result.stdout == ""
    assert "caliper: lost: /dev/there-is-no-such-port is not there" in result.stderr
    assert "dial: parity ×" in result.stderr


def test_a_wrong_gauge_is_one_clear_line_and_exit_status_2() -> None:
    result = CliRunner().invoke(app, ["watch", "dial=/dev/ttyUSB0,ascii-signed-cr"])
    assert result.exit_code == 2
    assert "give the unit the gauge is set to" in result.stderr


def test_list_shows_what_each_port_is_known_by(monkeypatch: pytest.MonkeyPatch) -> None:
    ports = [PortInfo("/dev/ttyS0", None, "n/a"), PortInfo("/dev/ttyUSB0", Identity(0x1A86, 0x7523, None, "1-1"), "bridge")]
    monkeypatch.setattr("gauges.ports.ports", lambda: ports)
    result = CliRunner().invoke(app, ["list"])
    assert result.exit_code == 0
    assert [json.loads(line) for line in result.stdout.splitlines()] == [
        {"port": "/dev/ttyS0", "description": "n/a"},
        {
            "port": "/dev/ttyUSB0",
            "description": "bridge",
            "vendor": "1a86",
            "product": "7523",
            "serial_number": "",
            "location": "1-1",
        },
    ]
    assert "known by its socket only" in result.stderr
    monkeypatch.setattr("gauges.ports.ports", list)
    assert "no serial port here" in CliRunner().invoke(app, ["list"]).stderr
