"""The schemas in docs/schemas are those that the program makes, and what the program writes in whole jobs holds to them.

The judge is jsonschema, the reference validator for Python of the open standard (draft 2020-12).
"""

import json
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

import assistant
from assistant.bench import new_bench
from assistant.board import told
from assistant.cli.app import app
from assistant.core import events as ev
from assistant.core.inputs import Bad
from assistant.files import FileProblemsError, job_from
from assistant.headless import answer, input_from
from assistant.journal.lines import LinesJournal
from assistant.schemas import schemas, text_of
from assistant.technician import Technician
from assistant.virtual_axle import Fault, VirtualAxle
from tests.screen.jobs import BUILDS, walk

ROOT = Path(assistant.__file__).resolve().parent.parent
Line = dict[str, Any]


@cache
def judge(name: str) -> Draft202012Validator:
    return Draft202012Validator(json.loads((ROOT / "docs" / "schemas" / f"{name}.json").read_text(encoding="utf-8")))


def problems(name: str, line: Any) -> list[str]:
    return [error.message for error in judge(name).iter_errors(line)]


@pytest.mark.parametrize("name", schemas())
def test_each_file_is_what_the_program_makes_now_and_a_schema(name: str) -> None:
    text = (ROOT / "docs" / "schemas" / f"{name}.json").read_text(encoding="utf-8")
    assert text == text_of(schemas()[name]), "run `python -m assistant.schemas docs/schemas`"
    Draft202012Validator.check_schema(json.loads(text))


def test_no_file_is_left_over() -> None:
    assert {path.stem for path in (ROOT / "docs" / "schemas").iterdir()} == set(schemas())


@dataclass
class Played:
    """A whole job: every line in, every line out, its file, its journal."""

    job: Line
    lines_in: list[Line]
    lines_out: list[Line]
    journal: list[Line]


@pytest.fixture(scope="module", params=range(len(BUILDS)))
def played(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Played:
    """With a mistake, some talk and nonsense on the way."""
    folder = tmp_path_factory.mktemp("job")
    axle = VirtualAxle(BUILDS[request.param], 5, [Fault("decimal-slip", "read:backlash")])
    found = Played(tomllib.loads(axle.job_toml()), [], [], [])
    bench, effects = new_bench(job_from(found.job, "job.toml"), LinesJournal(folder, "job", new=True), lambda: "0")
    hands = Technician(axle)
    batch = [effect.json() for effect in effects]
    found.lines_out += batch
    while "wait" in batch[-1] and len(found.lines_in) < 600:
        hands.observe(batch)
        line = dict(hands.answer(batch[-1]["wait"]))
        extra: list[Line] = (
            [{"say": "why"}, {"say": "what do you have"}, {"say": "gibberish", "at": 12}] if len(found.lines_in) % 20 == 0 else []
        )
        for one in (*extra, line):
            found.lines_in.append(one)
            batch = [effect.json() for effect in answer(bench, json.dumps(one))]
            found.lines_out += batch
    bench.journal.close()
    found.journal += [json.loads(text) for text in (folder / "job.jsonl").read_text(encoding="utf-8").splitlines()]
    return found


def test_every_line_of_whole_jobs_holds_to_its_schema(played: Played) -> None:
    for name, lines in (
        ("line-in", played.lines_in),
        ("line-out", played.lines_out),
        ("journal-line", played.journal),
        ("job-file", [played.job]),
    ):
        assert lines
        assert [(line, problems(name, line)) for line in lines if problems(name, line)] == []
    kinds = {next(iter(line)) for line in played.lines_out}
    assert {"step", "speak", "caution", "recorded", "move", "wait", "end"} <= kinds


def test_every_kind_of_event_has_its_schema() -> None:
    titles = {kind["title"] for kind in schemas()["journal-line"]["oneOf"]}
    assert titles == set(ev.KINDS)


def spoilt(line: Line, change: Callable[[Line], object]) -> Line:
    copy: Line = json.loads(json.dumps(line))
    change(copy)
    return copy


def test_a_float_a_word_too_many_and_a_missing_key_are_seen(played: Played) -> None:
    recorded = next(line for line in played.lines_out if "recorded" in line)
    wait = next(line for line in played.lines_out if "wait" in line)
    event = next(line for line in played.journal if line["event"] == "Recorded" and line["value"])
    for name, line in (
        ("line-out", spoilt(recorded, lambda line: line["recorded"].update(value=0.0065))),
        ("line-out", spoilt(recorded, lambda line: line["recorded"].pop("unit"))),
        ("line-out", spoilt(wait, lambda line: line["wait"].update({"for": "nothing"}))),
        ("line-out", spoilt(wait, lambda line: line.update(more=1))),
        ("journal-line", spoilt(event, lambda line: line["value"].update(value=0.0065))),
        ("journal-line", spoilt(event, lambda line: line.update(v=99))),
        ("job-file", spoilt(played.job, lambda job: job["axle"].update(carrier="springs"))),
        ("job-file", spoilt(played.job, lambda job: job["spec"].update(colour={"low": "1", "unit": "in"}))),
        ("job-file", spoilt(played.job, lambda job: job["spec"]["backlash"].update(low=0.006))),
    ):
        assert problems(name, line), line


@pytest.mark.parametrize(
    ("line", "is_one"),
    [
        ({"say": "done"}, True),
        ({"gauge": {"channel": "dial", "value": "0.0065", "unit": "in"}}, True),
        ({"pedal": "press"}, True),
        ({"quit": True}, True),
        ({"say": 5}, False),
        ({"gauge": {"channel": "dial", "value": 0.0065, "unit": "in"}}, False),
        ({"gauge": {"channel": "nose", "value": "0.0065", "unit": "in"}}, False),
        ({"gauge": {"channel": "dial", "value": "0.0065"}}, False),
        ({"pedal": "kick"}, False),
        ({"quit": False}, False),
        ({"say": "done", "pedal": "press"}, False),
        ({}, False),
    ],
)
def test_the_schema_of_a_line_in_and_the_program_take_and_refuse_the_same(line: Line, is_one: bool) -> None:
    assert (not problems("line-in", line)) is is_one
    assert (not isinstance(input_from(dict(line)), Bad)) is is_one


def test_the_job_file_of_the_documents_holds_to_the_schema_and_a_float_to_neither() -> None:
    example = re.search(r"^```toml\n(.*?)^```", (ROOT / "docs" / "machine.md").read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    assert example is not None
    job = tomllib.loads(example[1])
    assert problems("job-file", job) == []
    wrong = spoilt(job, lambda job: job["spec"]["backlash"].update(low=0.006))
    assert problems("job-file", wrong)
    with pytest.raises(FileProblemsError):
        job_from(wrong, "job.toml")


@pytest.mark.parametrize("build", BUILDS)
def test_every_message_to_the_board_holds_to_its_schema(build: Any) -> None:
    for state in walk(build):
        assert problems("board", json.loads(told(state, "b", "t").text())) == []


def test_a_listed_job_holds_to_its_schema(tmp_path: Path) -> None:
    axle = VirtualAxle(BUILDS[0], 1)
    journal = LinesJournal(tmp_path, "job", new=True)
    new_bench(job_from(tomllib.loads(axle.job_toml()), "job.toml"), journal, lambda: "0")
    journal.close()
    listed = CliRunner().invoke(app, ["jobs", "list", "--json", "--store", str(tmp_path)])
    (line,) = listed.stdout.splitlines()
    assert problems("listed-job", json.loads(line)) == []


@pytest.mark.parametrize(
    ("body", "is_one"),
    [
        ({"words": "done", "at": "ab-1"}, True),
        ({"at": "ab-1"}, True),
        ({"channel": "dial", "value": "0.0065", "unit": "in", "at": "ab-1"}, True),
        ({"key": "abcd-efgh-jkmn"}, True),
        ({"words": "", "at": "ab-1"}, False),
        ({"words": "done"}, False),
    ],
)
def test_what_the_doors_of_the_screen_take_holds_to_its_schema(body: Line, is_one: bool) -> None:
    assert (not problems("screen-doors", body)) is is_one
