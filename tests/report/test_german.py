"""A job that was worked in German has a German sheet, to its last word; what programs read stays in the words of the interface."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from assistant.cli.app import app
from assistant.journal.lines import read_record
from assistant.report import sheet
from assistant.report.forms import FORMS
from assistant.report.page import as_html
from assistant.virtual_axle import Build, Fault
from tests.report.test_forms import Words
from tests.test_practice import Learner
from tests.test_practice_german import ENGLISH_ONLY, practised

Called = Callable[..., Any]


@pytest.fixture(scope="module", params=[Build(), Build("head-cup", "crush-sleeve", "side-shims", "mm")], ids=["in", "mm"])
def folder(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with one job, worked in German, with a slip in it and a part left loose."""
    folder = tmp_path_factory.mktemp("german")
    faults = (Fault("decimal-slip", "read:pinion_depth"), Fault("caps-loose", "torque:caps", 2))
    assert practised(request.param, folder, Learner(), *faults, auto=True).verdict == "in spec"
    return folder


@pytest.fixture
def call(folder: Path) -> Called:
    """Calls the command on that job."""
    return lambda *words: CliRunner().invoke(app, ["report", "practice", *map(str, words), "--store", str(folder)])


def told(text: str) -> str:
    """What the sheet says: without its mark, and the title of the job, which is a name."""
    assert " to " not in text
    return re.sub(r"benchhand \S+ job=.*|journal SHA-256.*|benchhand report --verify|virtual axle \d+", "", text)


def test_the_sheet_is_german_without_being_told(call: Called) -> None:
    text = call().stdout
    assert text.startswith("EINSTELLBLATT")
    assert "ERGEBNIS: im Bereich" in text
    assert ENGLISH_ONLY.findall(told(text)) == []
    assert re.findall(r"\d\.\d", told(text)) == [], "figures have a comma"


def test_the_page_is_german_with_its_plots(folder: Path) -> None:
    kept = read_record(folder, "practice")
    page = as_html(sheet(kept.lines, kept.sha256, "de"))
    assert '<html lang="de">' in page
    words = told(" ".join(Words(page.partition("</style>")[2]).words))
    assert ENGLISH_ONLY.findall(words) == []
    assert re.findall(r"\d\.\d", words) == []
    assert "gestrichelt: Grenzwerte des Handbuchs" in words


def test_the_option_says_another_language_and_what_was_said_is_quoted(call: Called) -> None:
    english, german = call("--language", "en").stdout, call().stdout
    assert english.startswith("BUILD SHEET")
    assert call("--language", "de").stdout == german
    quoted = re.findall(r"^\[a\d+\] (.*)$", german, re.MULTILINE)
    assert all(line in english for line in quoted)


@pytest.mark.parametrize("language", ["en", "de", ""])
@pytest.mark.parametrize("form", FORMS)
def test_every_form_in_every_language_is_held_to_belong(form: str, language: str, call: Called, folder: Path, tmp_path: Path) -> None:
    file = tmp_path / "sheet"
    assert call("--format", form, "--to", file, *(("--language", language) if language else ())).exit_code == 0
    assert CliRunner().invoke(app, ["report", "--verify", str(file), "--store", str(folder)]).exit_code == 0


def test_what_programs_read_is_the_same_in_every_language(call: Called) -> None:
    for form in ("json", "csv"):
        assert call("--format", form).stdout == call("--format", form, "--language", "en").stdout
    found = json.loads(call("--format", "json").stdout)
    assert found["verdict"] == "in spec"
    assert {line["verdict"] for line in found["final"]} <= {"in range", "recorded"}


def test_a_language_that_is_not_spoken_is_refused_in_one_line(call: Called) -> None:
    refused = call("--language", "fr")
    assert refused.exit_code == 2
    assert refused.stderr == "benchhand report: language 'fr' is not spoken here, expected en (English) or de (German)\n"
