"""The command group: what it prints where, and how it ends."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from gauges.cli import app
from gauges.formats import FORMATS


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
