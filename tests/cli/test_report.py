"""`benchhand report`: forms by name or by ending, written where it was said, and what it refuses in one line."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from assistant.cli.app import app
from assistant.report.text import WIDTH
from tests.report.jobs import Played, played

Called = Callable[..., Any]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """One played job."""
    return played(tmp_path_factory.mktemp("store"), "20260101-080000-ab12", seed=2)


@pytest.fixture
def call(kept: Played) -> Called:
    """Calls the command on the store of that job."""
    return lambda *words: CliRunner().invoke(app, ["report", *map(str, words), "--store", str(kept.folder)])


def test_without_a_form_the_sheet_is_text(call: Called, kept: Played) -> None:
    result = call(kept.job_id)
    assert result.exit_code == 0
    assert result.stdout.startswith("BUILD SHEET")
    assert max(map(len, result.stdout.splitlines())) <= WIDTH
    assert call("latest").stdout == result.stdout


@pytest.mark.parametrize(
    ("ending", "begins"),
    [(".html", b"<!DOCTYPE html>"), (".pdf", b"%PDF-"), (".json", b"{\n"), (".csv", b"job,id,"), (".txt", b"BUILD SHEET")],
)
def test_the_ending_of_the_file_tells_the_form_and_the_file_is_held_to_belong(
    ending: str, begins: bytes, call: Called, kept: Played, tmp_path: Path
) -> None:
    file = tmp_path / f"sheet{ending}"
    result = call(kept.job_id, "--to", file)
    assert (result.exit_code, result.output) == (0, "")
    assert file.read_bytes().startswith(begins)
    checked = call("--verify", file)
    assert checked.exit_code == 0
    assert checked.stdout == f"{file.name} belongs to job {kept.job_id}: every character is as its journal gives it\n"


def test_json_on_standard_output_is_json_alone(call: Called, kept: Played) -> None:
    assert json.loads(call(kept.job_id, "--format", "json").stdout)["job"] == kept.job_id


def test_with_json_the_sheet_is_one_line_and_so_is_what_verify_finds(call: Called, kept: Played, tmp_path: Path) -> None:
    line = call(kept.job_id, "--json").stdout
    assert line.count("\n") == 1
    assert json.loads(line) == json.loads(call(kept.job_id, "--format", "json").stdout)
    file = tmp_path / "sheet.txt"
    call(kept.job_id, "--to", file)
    found = call("--verify", file, "--json").stdout
    assert found.count("\n") == 1
    assert json.loads(found)["belongs"] is True


def test_a_changed_sheet_exits_with_one(call: Called, kept: Played, tmp_path: Path) -> None:
    file = tmp_path / "sheet.txt"
    call(kept.job_id, "--to", file)
    file.write_text(file.read_text(encoding="utf-8").replace("in spec", "in Spec"), encoding="utf-8")
    result = call("--verify", file)
    assert result.exit_code == 1
    assert "changed" in result.stdout


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("no-such-job",), "job no-such-job is not in this store"),
        ((), "which job? Give its JOB-ID, or `latest`"),
        (("latest", "--format", "docx"), "--format 'docx' is not known, expected one of text, html, pdf, json, csv"),
        (("latest", "--paper", "a5"), "--paper 'a5' is not known, expected a4 or letter"),
        (("latest", "--to", "sheet.docx"), "its ending tells no form"),
        (("latest", "--to", "no/such/folder/sheet.pdf"), "cannot be written"),
        (("--verify", "no-such-file.pdf"), "cannot be read"),
        (("--verify", __file__), "bears no mark of a build sheet"),
    ],
)
def test_what_it_cannot_do_is_told_in_one_line(words: tuple[str, ...], told: str, call: Called) -> None:
    result = call(*words)
    assert result.exit_code == 2
    assert told in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stdout == ""


def test_a_sheet_of_one_job_is_not_held_against_another(call: Called, kept: Played, tmp_path: Path) -> None:
    file = tmp_path / "sheet.csv"
    call(kept.job_id, "--to", file)
    assert "not of other" in call("other", "--verify", file).stderr
