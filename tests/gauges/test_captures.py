"""The byte files of tests/captures, decoded by the command as a user would, against what a person read in the sheets."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from gauges.cli import app
from gauges.formats import FORMATS

FOLDER = Path(__file__).parent.parent / "captures"
CAPTURES: list[dict[str, Any]] = tomllib.loads((FOLDER / "sources.toml").read_text(encoding="utf-8"))["capture"]


@pytest.mark.parametrize("capture", CAPTURES, ids=lambda capture: capture["file"])
def test_a_capture_says_what_its_sheet_says(capture: dict[str, Any]) -> None:
    unit = ["--unit", capture["unit"]] if "unit" in capture else []
    result = CliRunner().invoke(app, ["decode", str(FOLDER / capture["file"]), "--format", capture["key"], *unit, "--json"])
    assert result.exit_code == 0
    assert result.stdout.splitlines() == capture["says"]
    assert result.stderr == ""


def test_every_family_has_a_capture_and_every_capture_its_source() -> None:
    assert {capture["key"] for capture in CAPTURES} == set(FORMATS)
    assert {capture["file"] for capture in CAPTURES} == {path.name for path in FOLDER.glob("*.bin")}
    for capture in CAPTURES:
        assert capture["sheet"]
        assert capture["page"]
        assert capture["line"]
        assert capture["captured_by"]
