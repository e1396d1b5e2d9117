"""`benchhand practice`: options, exit status, and what a script gets."""

import json

import pytest
import typer
from typer.testing import CliRunner

from assistant.cli import practice


@pytest.fixture
def app() -> typer.Typer:
    mounted = typer.Typer()
    practice.register(mounted)
    return mounted


def test_the_outcome_is_one_json_object_and_the_talk_goes_elsewhere(app: typer.Typer) -> None:
    done = CliRunner().invoke(app, ["--auto", "--json", "--seed", "3", "--faults", "decimal-slip@read:pinion_depth"])
    assert done.exit_code == 0
    outcome = json.loads(done.stdout)
    assert (outcome["verdict"], outcome["seed"]) == ("in spec", 3)
    assert [(each["fault"], each["outcome"]) for each in outcome["happened"]] == [("decimal-slip", "noticed")]
    assert "The practice ended: in spec. It is not kept." in done.stderr


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["--layout", "banana"], "benchhand practice: layout 'banana' is not known"),
        (["--faults", "gremlin"], "benchhand practice: faults: no mistake is called 'gremlin'"),
    ],
)
def test_bad_options_get_one_line_and_exit_status_two(app: typer.Typer, arguments: list[str], line: str) -> None:
    done = CliRunner().invoke(app, arguments)
    assert done.exit_code == 2
    assert done.stderr.startswith(line)
    assert done.stderr.count("\n") == 1


def test_a_learner_who_leaves_stops_the_job_and_gets_the_lesson(app: typer.Typer) -> None:
    done = CliRunner().invoke(app, ["--seed", "3", "--faults", "burr"], input="done\n")
    assert done.exit_code == 0
    assert "Practice, seed 3: flange, spacer-shims, adjusters, in." in done.stdout
    assert "The practice ended: stopped. It is not kept.\nburr: it never came up." in done.stdout


def test_practice_in_german_is_told_in_german_and_kept_in_the_interfaces_words_for_a_script(app: typer.Typer) -> None:
    wanted = ["--auto", "--json", "--seed", "3", "--faults", "decimal-slip@read:pinion_depth", "--language", "de"]
    done = CliRunner().invoke(app, wanted)
    assert done.exit_code == 0
    outcome = json.loads(done.stdout)
    assert (outcome["verdict"], outcome["happened"][0]["how"]) == ("in spec", "asked again")
    assert "Die Übung ist zu Ende: im Bereich. Sie wird nicht aufgehoben." in done.stderr
    assert "Bemerkt: noch einmal gefragt. Das Zeichen dafür: das Zehnfache des Erwarteten." in done.stderr
