"""`benchhand jobs`: list, compare, gauges, export, import."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from assistant.cli.app import app
from assistant.journal.spool import Carrier
from tests.report.jobs import Played, played

Called = Callable[..., Any]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """A store with two played jobs, `one` the last."""
    folder = tmp_path_factory.mktemp("store")
    played(folder, "two", seed=3)
    return played(folder, "one", seed=2)


@pytest.fixture
def call(kept: Played) -> Called:
    """Calls a command of the group on that store, unless told another."""

    def calling(*words: object, store: Path | None = None) -> Any:
        return CliRunner().invoke(app, ["jobs", *map(str, words), "--store", str(store or kept.folder)])

    return calling


def test_the_list_names_every_job_and_a_search_only_those_that_hold_the_words(call: Called) -> None:
    lines = call("list").stdout.splitlines()
    assert [line.split()[0] for line in lines[::2]] == ["one", "two"]
    found = call("list", "axle", "3", "--state", "in spec")
    assert found.stdout.splitlines()[0].startswith("two ")
    assert found.stderr == "1 job\n"


def test_what_is_not_shown_is_counted(call: Called) -> None:
    result = call("list", "--most", "1")
    assert len(result.stdout.splitlines()) == 2
    assert result.stderr == "2 jobs, 1 shown\n"


def test_with_json_standard_output_carries_json_alone(call: Called) -> None:
    assert [json.loads(line)["job_id"] for line in call("list", "--json").stdout.splitlines()] == ["one", "two"]
    assert {json.loads(line)["group"] for line in call("compare", "one", "two", "--json").stdout.splitlines()} == {
        "job", "limit", "final", "fitted", "effort",
    }  # fmt: skip
    assert call("gauges", "--json").stdout == ""


def test_a_comparison_marks_what_differs_under_its_heading(call: Called) -> None:
    lines = call("compare", "one", "two").stdout.splitlines()
    assert [line for line in lines if line.isupper()] == ["THE JOBS", "LIMITS", "FINAL NUMBERS", "FITTED AT THE END", "WHAT IT TOOK"]
    at = next(number for number, line in enumerate(lines) if line.startswith("* title"))
    assert lines[at].endswith("virtual axle 2")
    assert lines[at + 1].strip() == "virtual axle 3"


def test_two_sound_jobs_show_no_drift(call: Called) -> None:
    result = call("gauges")
    assert (result.exit_code, result.stdout) == (0, "")
    assert result.stderr == "2 jobs with gauges looked at, 0 drift\n"


def test_jobs_go_to_another_bench_and_their_sheets_are_the_same(call: Called, kept: Played, tmp_path: Path) -> None:
    file, there = tmp_path / "jobs.zip", tmp_path / "there"
    assert call("export", "one", "two", "--to", file).exit_code == 0
    assert call("import", file, store=there).stdout == "one new\ntwo new\n"
    assert [json.loads(line) for line in call("import", file, "--json", store=there).stdout.splitlines()] == [
        {"job": "one", "how": "there already"}, {"job": "two", "how": "there already"},
    ]  # fmt: skip
    sheets = [CliRunner().invoke(app, ["report", "one", "--store", str(store)]).stdout for store in (kept.folder, there)]
    assert sheets[0] == sheets[1] != ""


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("list", "--state", "broken"), "--state 'broken' is not known, expected one of in spec,"),
        (("list", "--since", "yesterday"), "--since 'yesterday' is no date: expected 2026-01-31, 2026-01 or 2026"),
        (("list", "--until", "2026-13"), "--until '2026-13' is no date"),
        (("compare", "one", "three"), "job three is not in this store"),
        (("export", "three", "--to", "x.zip"), "job three is not in this store"),
        (("export", "one", "--to", "no/such/folder/x.zip"), "cannot be written"),
        (("import", "no-such-file"), "cannot be read"),
        (("import", __file__), "the file is no export of jobs"),
    ],
)
def test_what_it_cannot_do_is_told_in_one_line(words: tuple[str, ...], told: str, call: Called) -> None:
    result = call(*words)
    assert result.exit_code == 2
    assert told in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stdout == ""


def test_a_shop_brings_the_jobs_of_one_bench_to_another(kept: Played, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    url = f"sqlite:///{tmp_path / 'shop.db'}"
    carrier = Carrier(kept.folder, url)
    carrier.carry()
    carrier.close()
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "home"))
    result = CliRunner().invoke(app, ["jobs", "fetch", "--store", url])
    assert (result.exit_code, result.stdout) == (0, "one\ntwo\n")
    sheets = [CliRunner().invoke(app, ["report", "one", "--store", store]).stdout for store in (str(kept.folder), url)]
    assert sheets[0] == sheets[1] != ""
    refused = CliRunner().invoke(app, ["jobs", "fetch", "one", "--store", url])
    assert (refused.exit_code, refused.stderr) == (2, "benchhand jobs: job one is at this bench already\n")


def test_a_store_that_is_no_database_of_ours_is_refused_in_one_line() -> None:
    result = CliRunner().invoke(app, ["jobs", "list", "--store", "mysql://shop/jobs"])
    assert result.exit_code == 2
    assert result.stderr == "benchhand jobs: store 'mysql://shop/jobs' is no database: expected postgresql://… or sqlite:///…\n"
