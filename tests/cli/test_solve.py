"""`benchhand solve` on published worked examples (tests/worked_examples.toml), and its contract: JSON, exit status, one line on errors."""

import json
import re
import tomllib
from collections import Counter
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner, Result

from assistant.cli.solve import register
from assistant.core.quantities import Quantity
from assistant.core.worked import KINDS

EXAMPLES: list[dict[str, Any]] = tomllib.loads((Path(__file__).parents[1] / "worked_examples.toml").read_text("utf-8"))["example"]
BY_ID = {example["id"]: example for example in EXAMPLES}


def run(*words: str) -> Result:
    app = typer.Typer()
    app.callback()(lambda: None)
    register(app)
    return CliRunner().invoke(app, ["solve", *words])


def kind_of(identity: str) -> str:
    return identity.rpartition("-")[0]


def quantity(found: dict[str, str]) -> Quantity:
    assert set(found) == {"value", "unit"}
    assert "e" not in found["value"].lower()
    return Quantity.of(found["value"], found["unit"])


@pytest.mark.parametrize("identity", [name for name, example in BY_ID.items() if "expected" in example])
def test_the_worked_examples_come_out_as_printed(identity: str) -> None:
    example = BY_ID[identity]
    answer = run(kind_of(identity), *example["keys"].split(), "--json")
    assert answer.stdout.count("\n") == 1, answer.output
    line = json.loads(answer.stdout)
    assert set(line) == {"kind", "result", "working"}
    assert line["kind"] == kind_of(identity)
    assert line["working"]
    for name, wanted in example["expected"].items():
        found = line["result"][name]
        if isinstance(found, str):
            assert found == wanted, example["source"]
            continue
        expected = Quantity.parse(wanted)
        off = abs(quantity(found).base - expected.base)
        assert quantity(found).unit == expected.unit
        assert off <= (Quantity.parse(example["within"][name]).base if name in example.get("within", {}) else 0), example["source"]
    failed = example["expected"].get("verdict") in ("fail", "disagree")
    assert answer.exit_code == (1 if failed else 0)


SUM = re.compile(
    r"((?:[+-]?[\d.]+ (?:in|mm|lb-in|N·m)(?: of seals| of preload)? [+-] )+[\d.]+ (?:in|mm|lb-in|N·m)(?: of seals| of preload)?) = ([+-]?[\d.]+)"
)


def test_every_sum_in_the_workings_is_true() -> None:
    """Added up afresh from the printed line; a quotient printed as a term may be rounded in its last place."""
    checked = set()
    for example in EXAMPLES:
        kind = kind_of(example["id"])
        for printed, total in SUM.findall(run(kind, *example["keys"].split()).stdout):
            terms = re.findall(r"(^|[+-] )([+-]?[\d.]+)", printed)
            added = sum((-Decimal(size) if sign == "- " else Decimal(size) for sign, size in terms), Decimal(0))
            assert abs(added - Decimal(total)) <= Decimal("0.01" if kind == "total-drag" else 0), printed
            checked.add(kind)
    assert checked == {"etch", "target", "depth", "chain", "feeler", "spacer", "total-drag", "side-total", "spread", "stack"}


@pytest.mark.parametrize("identity", [name for name, example in BY_ID.items() if "refused" in example])
def test_where_no_number_may_be_given_none_is(identity: str) -> None:
    example = BY_ID[identity]
    answer = run(kind_of(identity), *example["keys"].split(), "--json")
    assert answer.exit_code == 2
    assert answer.stdout == ""
    assert answer.stderr.count("\n") == 1
    assert example["refused"] in answer.stderr, example["source"]


def test_every_kind_has_an_example_and_no_example_is_of_an_unknown_kind() -> None:
    assert len(BY_ID) == len(EXAMPLES)
    assert set(Counter(map(kind_of, BY_ID))) == set(KINDS)


# The table of the public interface: kind, keys, results.
INTERFACE = {
    "etch": ("layout old_shim etch_old etch_new etch_unit sign", "change shim"),
    "target": ("nominal etch etch_unit sign", "target"),
    "depth": ("layout shim measured target centre_offset", "change shim error"),
    "two-bores": ("layout left right etch etch_unit sign", "mean change"),
    "bore-centre": ("plane_to_bore diameter cap_half", "radius centre_offset"),
    "chain": ("mounting parts etch etch_unit sign", "shim"),
    "feeler": ("feeler trial_shim etch etch_unit constant", "shim"),
    "spacer": ("inserted play preload settling", "shim"),
    "side-total": ("trial play preload", "zero_play total"),
    "side-shims": ("ring_side opposite move backlash target k preload step", "ring_side opposite total"),
    "backlash-move": (
        "backlash target change k pressure_angle spiral_angle ring_teeth pinion_teeth per_notch",
        "ring_move ring_side opposite k notches direction",
    ),
    "k": ("pressure_angle spiral_angle ratio ring_teeth pinion_teeth", "k_ring k_pinion"),
    "drag": ("force radius diameter", "torque"),
    "total-drag": ("pinion carrier ratio seals", "total"),
    "yoke-backlash": ("reading yoke_radius ring_radius ratio", "backlash"),
    "backlash-stats": (
        "readings low high variation judge",
        "minimum mean maximum variation first_harmonic high_spot verdict",
    ),
    "runout": ("readings", "tir first_harmonic high_spot"),
    "spread": ("before after low high", "spread verdict"),
    "pair": ("a b", "verdict difference"),
    "convert": ("value to", "value"),
    "stack": ("target kit tolerance", "stack total error verdict"),
}


def test_kinds_keys_and_results_are_those_of_the_interface() -> None:
    assert {name: (" ".join(key.name for key in kind.keys), " ".join(kind.results)) for name, kind in KINDS.items()} == INTERFACE


@pytest.mark.parametrize("kind", list(KINDS))
def test_the_example_on_each_help_page_works_and_gives_what_the_page_says(kind: str) -> None:
    page = run(kind, "--help")
    assert page.exit_code == 0
    line = page.stdout.splitlines()[-1].split()
    assert line[:3] == ["benchhand", "solve", kind]
    answer = run(*line[2:], "--json")
    assert answer.exit_code == 0
    assert set(json.loads(answer.stdout)["result"]) <= set(KINDS[kind].results)
    for key in KINDS[kind].keys:
        assert key.name in page.stdout.splitlines()[0]
        assert key.about in page.stdout
    for name in KINDS[kind].results:
        assert name in page.stdout


@pytest.mark.parametrize("words", [[], ["--help"]])
def test_alone_it_lists_the_kinds(words: list[str]) -> None:
    answer = run(*words)
    assert answer.exit_code == 0
    assert all(f"  {name} " in answer.stdout for name in KINDS)


def test_the_list_of_kinds_is_json_lines_when_asked() -> None:
    lines = [json.loads(line) for line in run("--json").stdout.splitlines()]
    assert [line["kind"] for line in lines] == list(KINDS)
    keys = {line["kind"]: line["keys"] for line in lines}
    assert keys["depth"] == "layout shim measured target [centre_offset]"
    assert keys["drag"] == "force (radius | diameter)"
    assert keys["chain"] == "mounting parts [etch etch_unit sign]"


def test_people_see_result_and_working_without_json() -> None:
    answer = run("k", "pressure_angle=20deg", "spiral_angle=0", "ratio=3.73")
    lines = answer.stdout.splitlines()
    assert lines[0] == "k_ring    0.7031"
    assert lines[1] == "k_pinion  0.1885"
    assert lines[2].startswith("  k = 2 tan(20 deg)")


def test_a_stack_is_a_list_of_quantities() -> None:
    answer = run("stack", "target=0.0381in", "kit=0.005inx4,0.010inx3", "--json")
    result = json.loads(answer.stdout)["result"]
    assert [shim["value"] for shim in result["stack"]] == ["0.0100", "0.0100", "0.0100", "0.0050", "0.0050"]
    assert run("stack", "target=0.015in", "kit=0.005inx4,0.010inx3").stdout.splitlines()[0] == "stack  0.0100 in, 0.0050 in"


def test_an_unusual_number_is_answered_with_a_warning_on_standard_error() -> None:
    answer = run("drag", "force=1lbf", "radius=7in", "--json")
    assert answer.exit_code == 0
    assert "solve drag: doubtful: a radius of 7.0000 in is unusual" in answer.stderr
    assert any(line.startswith("Doubtful: a radius") for line in json.loads(answer.stdout)["working"])


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["stacks", "target=1in"], "kind 'stacks' is not known: did you mean stack?"),
        (["polish"], "kind 'polish' is not known: expected one of etch"),
        (["polish", "--help"], "kind 'polish' is not known"),
        (["target", "--bogus"], "'--bogus' is not key=value"),
        (["runout", "0.1in"], "'0.1in' is not key=value"),
    ],
)
def test_bad_input_is_one_line_and_exit_status_two(words: list[str], message: str) -> None:
    answer = run(*words)
    assert answer.exit_code == 2
    assert answer.stdout == ""
    assert answer.stderr.count("\n") == 1
    assert message in answer.stderr
