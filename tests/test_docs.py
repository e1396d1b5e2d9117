"""The documents say what is there, and all of it: commands, options, sums, quantities, gauge families, links, sources, and the README's two
commands. Examples that need no device run; all others are at least understood by the program's own parser.
"""

import json
import re
import shlex
import tomllib
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

import assistant
from assistant.benchmarks.pictures import MOMENTS, MOST_BYTES
from assistant.board import Told
from assistant.cli.app import app
from assistant.cli.solve import _line as keys_of_kind
from assistant.core import english, steps, waits
from assistant.core.axle import CHANNELS, PATTERNS, QUANTITIES
from assistant.core.quantities import Quantity
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH, GERMAN
from assistant.core.words import Expectation, Unclear, Value, understand
from assistant.core.worked import KINDS
from assistant.demo import run as run_demo
from assistant.files import job_from
from gauges.formats import FORMATS
from gauges.reading import FAULT_CODES

ROOT = Path(assistant.__file__).resolve().parent.parent
DOCS = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
PROGRAM: Any = typer.main.get_command(app)


@cache
def text_of(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def section(name: str, title: str) -> str:
    """The text under a heading, up to the next heading of its level or above."""
    found = re.search(rf"^(#+) {re.escape(title)}\n(.*?)(?=^#{{1,2}} |\Z)", text_of(name), re.MULTILINE | re.DOTALL)
    assert found is not None, f"{name} has no section {title!r}"
    return found[2]


def rows(text: str) -> Iterator[list[str]]:
    """The cells of every table row, heads and rules left out."""
    lines = [line for line in text.splitlines() if line.startswith("|")]
    for line, after in zip(lines, [*lines[1:], ""], strict=True):
        if not line.startswith("|--") and not after.startswith("|--"):
            yield [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]


def spans(text: str) -> list[str]:
    """What stands between backticks."""
    return re.findall(r"`([^`\n]+)`", text)


def documented() -> str:
    return "\n".join(path.read_text(encoding="utf-8") for path in DOCS)


# ---- commands


def commands(command: Any = PROGRAM, path: str = "benchhand") -> Iterator[tuple[str, Any]]:
    """Every command that can be called, with the words that call it."""
    children = getattr(command, "commands", None)
    if children is None:
        yield path, command
        return
    for name, child in children.items():
        yield from commands(child, f"{path} {name}")


COMMANDS = dict(commands())


@pytest.mark.parametrize("path", COMMANDS)
def test_every_command_is_in_the_machine_interface_and_explains_itself(path: str) -> None:
    table = [row[0] for row in rows(section("docs/machine.md", "Commands"))]
    assert any(cell.startswith(f"`{path}") for cell in table)
    assert COMMANDS[path].help


@pytest.mark.parametrize("path", COMMANDS)
def test_every_option_is_documented(path: str) -> None:
    known = documented()
    for parameter in COMMANDS[path].params:
        for option in [option for option in parameter.opts if option.startswith("--") and option != "--help"]:
            assert re.search(rf"`[^`\n]*{option}\b", known), f"{path} {option}"


def calls(text: str) -> Iterator[str]:
    """Every call of the program in code blocks and between backticks: from its name to the end of the line or span."""
    for block in re.findall(r"^```sh\n(.*?)^```", text, re.MULTILINE | re.DOTALL):
        for line in block.splitlines():
            yield from (part.strip() for part in re.split(r"&&|\|", line.replace(".venv/bin/", "")) if part.strip().startswith("benchhand"))
    for span in spans(re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)):
        if span.startswith("benchhand "):
            yield span.replace("\\|", "|")


CALLS = sorted({(path.name, call) for path in DOCS for call in calls(path.read_text(encoding="utf-8"))})


def words_of(call: str) -> list[str]:
    """The words of a call, without the marks of "and so on"."""
    return [word for word in shlex.split(call.replace("…", ""))[1:] if word]


def command_of(words: list[str]) -> tuple[Any, list[str]]:
    """The command that the words call, and its arguments."""
    command = PROGRAM
    while words and words[0] in getattr(command, "commands", {}):
        command = command.commands[words[0]]
        words = words[1:]
    return command, words


def is_pattern(call: str) -> bool:
    """Whether a call stands for many: names in capitals, alternatives, marks of "and so on"."""
    return bool(re.search(r"[…|\[]|\b[A-Z]{3,}\b(?!\.toml)", call))


@pytest.mark.parametrize(("page", "call"), CALLS)
def test_every_call_in_the_documents_is_understood(page: str, call: str) -> None:
    command, rest = command_of(words_of(re.sub(r"\|\S+", "", call)))
    assert command is not PROGRAM or not rest or rest[0].startswith("--"), f"{page}: no command {rest[0]!r}"
    # A command named alone is a reference, not a call.
    if rest and command is not PROGRAM and "--help" not in rest:
        command.make_context(call, list(rest))


def runs_anywhere(call: str) -> bool:
    command, _ = command_of(words_of(call))
    return not is_pattern(call) and (command is COMMANDS["benchhand solve"] or command is COMMANDS["benchhand gauges decode"])


@pytest.mark.parametrize("call", sorted({call for _, call in CALLS if runs_anywhere(call)}))
def test_the_examples_that_need_no_device_run(call: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    result = CliRunner().invoke(app, words_of(call))
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert result.exit_code in (0, 1), result.output  # 1: a check did not pass, as in the example of `spread`
    assert result.stdout


def test_there_are_examples_to_run() -> None:
    assert sum(runs_anywhere(call) for _, call in CALLS) > len(KINDS)


def test_a_call_that_is_not_understood_is_noticed() -> None:
    with pytest.raises(Exception, match="--colour"):
        COMMANDS["benchhand report"].make_context("report", ["latest", "--colour", "red"])


# ---- the README


def readme_commands() -> list[str]:
    return [line for line in text_of("README.md").splitlines() if line.startswith("python3 -m venv ")]


def test_the_readme_gives_two_commands_of_one_line_each() -> None:
    hear, check = readme_commands()
    assert "benchhand demo" in hear
    assert "pytest" in check
    assert "'.[test]'" in check


@pytest.mark.parametrize("command", readme_commands())
def test_a_command_of_the_readme_makes_its_environment_from_the_pins(command: str) -> None:
    make, install, run = command.split(" && ")
    assert make == "python3 -m venv .venv"
    words = shlex.split(install)
    assert words[0] == ".venv/bin/pip"
    assert (ROOT / words[words.index("-c") + 1]).is_file()
    project = tomllib.loads(text_of("pyproject.toml"))["project"]
    for extra in re.findall(r"\[(\w+)\]", install):
        assert extra in project["optional-dependencies"]
    program = shlex.split(run)[0].removeprefix(".venv/bin/")
    assert program == "python" or program in project["scripts"]


def test_the_readme_states_the_job_in_its_first_paragraph() -> None:
    first = text_of("README.md").split("\n\n")[1]
    for word in ("hands-free", "ring gear and pinion", "torque or press", "cannot be true", "record"):
        assert word in " ".join(first.split())


def squeezed(text: str) -> str:
    """Without what differs from run to run or from width to width: times, line breaks."""
    return " ".join(re.sub(r"\d+ ms", "ms", text).split())


def test_what_the_readme_shows_is_what_the_demo_prints() -> None:
    lines: list[str] = []
    run_demo(quick=True, aloud=False, write=lines.append)
    shown = re.search(r"^```text\n(.*?)^```", section("README.md", "What one hears and sees"), re.MULTILINE | re.DOTALL)
    assert shown is not None
    printed = squeezed("\n".join(lines))
    pieces = shown[1].split("\n…\n")
    assert len(pieces) >= 5
    assert [piece for piece in pieces if squeezed(piece) not in printed] == [], "put what the demo prints now into the README"


def test_the_check_runs_the_commands_of_the_readme() -> None:
    script = text_of(".ci/run")
    assert "README.md" in script
    for word in re.findall(r"from_readme \"([^\"]+)\"", script):
        assert sum(word in command for command in readme_commands()) == 1


def test_every_dependency_is_pinned_and_no_index_is_named() -> None:
    lines = text_of(".ci/constraints.txt").splitlines()
    pins = {re.split(r"==", line)[0] for line in lines if line and not line.startswith("#")}
    assert all(re.fullmatch(r"[a-z0-9-]+==[\w.]+( ; .+)?", line) for line in lines if line and not line.startswith("#"))
    project = tomllib.loads(text_of("pyproject.toml"))["project"]
    # torch and what is measured beside our ear are chosen for the machine that trains or measures; nothing that is shipped or tested needs them.
    pinned = {name: extra for name, extra in project["optional-dependencies"].items() if name not in ("training", "peers")}
    wanted = [*project["dependencies"], *(name for extra in pinned.values() for name in extra)]
    assert {re.split(r"[^\w-]", name)[0].lower().replace("_", "-") for name in wanted} <= pins


# ---- the machine interface


def test_every_sum_is_documented_with_its_keys_results_and_example() -> None:
    table = {row[0].strip("`"): row for row in rows(section("docs/machine.md", "Sums: benchhand solve"))}
    assert list(table) == list(KINDS)
    for name, kind in KINDS.items():
        _, keys, results, example = (cell.replace("\\|", "|") for cell in table[name])
        assert keys == f"`{keys_of_kind(kind)}`"
        assert spans(results) == list(kind.results)
        assert example == f"`benchhand solve {name} {kind.example}`"


def test_every_quantity_is_documented() -> None:
    named = [name for row in rows(section("docs/machine.md", "Quantities")) for name in spans(row[0])]
    assert sorted(named) == sorted((*QUANTITIES, *PATTERNS))


def test_every_word_is_documented_with_what_means_the_same() -> None:
    table = {name: row for row in rows(section("docs/machine.md", "Words")) for name in spans(row[0])}
    said = {*waits.ANYWHERE, *waits.TALK, "done", "take", "zero the gauge", "change unit", "yes", "no", "understood", "resume"}
    assert said == set(table)
    for name in said:
        others = english.COMMANDS[name][1:]
        assert all(other in table[name][1] for other in others), name


@pytest.mark.parametrize("word", [*steps.PHASES, *steps.KINDS, *steps.CAUTION_KINDS, *steps.MOVE_PARTS, *CHANNELS])
def test_every_word_of_a_line_is_documented(word: str) -> None:
    assert f"`{word}`" in text_of("docs/machine.md")


def test_the_example_of_a_job_file_is_one() -> None:
    example = re.search(r"^```toml\n(.*?)^```", section("docs/machine.md", "The job file"), re.MULTILINE | re.DOTALL)
    assert example is not None
    job = job_from(tomllib.loads(example[1]), "docs/machine.md")
    assert job.axle.depth_sign == 1
    assert job.needed == ("pinion_drag", "backlash", "total_drag", "ring_runout", "nut_torque", "cap_torque", "pinion_depth")
    limits = job.limits("pinion_depth")
    assert limits is not None
    assert limits.low == Quantity.of("2.6210", "in")  # 2.6250 - 0.002 for the mark - 0.0020


@pytest.mark.parametrize("block", re.findall(r"^```json\n(.*?)^```", text_of("docs/machine.md"), re.MULTILINE | re.DOTALL))
def test_the_lines_of_a_job_are_json_objects_of_known_kinds(block: str) -> None:
    kinds = {"say", "gauge", "speak", "wait", "recorded", "step", "error"}
    for line in block.splitlines():
        if line.startswith('{"version"'):
            # Of the board: every key that it may have, and what the model itself would write.
            assert json.loads(Told.model_validate_json(line).text()) == json.loads(line)
        else:
            assert set(json.loads(line)) - {"urgency"} <= kinds


# ---- speech and gauges


def spoken_examples(page: str, title: str, tongue: Tongue) -> Iterator[tuple[str, str, str, Tongue]]:
    """What is said, the unit of the step, and the value, of every example of a page."""
    for row in rows(section(page, title)):
        _, unit, taught, also, values = row
        said = re.findall(r'"([^"]+)"', f"{taught} {also}")
        yield from ((words, unit, value.strip(), tongue) for words, value in zip(said, values.split(","), strict=True))


TAUGHT = [
    *spoken_examples("docs/speech.md", "How to say a number", ENGLISH),
    *spoken_examples("docs/sprache.md", "Wie eine Zahl gesagt wird", GERMAN),
]


@pytest.mark.parametrize(("words", "unit", "value", "tongue"), TAUGHT, ids=[f"{words} {unit}" for words, unit, _, _ in TAUGHT])
def test_what_the_page_teaches_to_say_is_understood(words: str, unit: str, value: str, tongue: Tongue) -> None:
    quantity = {"in": "backlash", "mm": "backlash", "lb-in": "pinion_drag", "N·m": "pinion_drag", "lb-ft": "nut_torque", "notch": "notches"}
    name = "pinion_depth" if words.startswith(("two point six two five zero", "sechsundsechzig")) else quantity.get(unit, "etch_new")
    meant = understand(words, Expectation(name, unit, signed=name == "etch_new", tongue=tongue))
    assert isinstance(meant, Value)
    assert meant.quantity == Quantity.of(value, unit)


def test_what_the_german_page_says_of_points_and_commas_is_so() -> None:
    decimal, plain, unclear, both = (spans(row[0]) for row in rows(section("docs/sprache.md", "Komma und Punkt")))
    step = Expectation("backlash", "mm", tongue=GERMAN)
    for typed in (*decimal, *plain):
        meant = understand(f"{typed} mm", step)
        assert isinstance(meant, Value), typed
        assert meant.quantity.number_in("mm") == Fraction(typed.replace(",", ".")), typed
    for typed in (*unclear, *both):
        asked = understand(f"{typed} mm", step)
        assert isinstance(asked, Unclear), typed
        assert asked.reason == "decimal comma"


def test_every_german_word_of_the_interface_is_documented() -> None:
    table = {name: f"{row[1]}, {row[2]}" for row in rows(section("docs/sprache.md", "Befehle")) for name in spans(row[0])}
    assert set(table) == set(GERMAN.commands) - {"same"}
    for name, told in table.items():
        assert all(spoken in told for spoken in GERMAN.commands[name]), name


def test_what_the_page_says_is_asked_about_is_asked_about() -> None:
    asked = [
        ("point zero zero six", "in"), ("point one four millimetres", "in"), ("six hundredths", "in"), ("four tenths", "mm"), ("five", "in"),
        ("fourteen", "mm"), ("a half", "in"), ("one eighteen", "lb-ft"), ("one eighty", "lb-ft"), ("six, no, seven thou", "in"),
        ("nineteen thou five", "in"), ("three", "0.001 in"), ("five mils", "in"),
    ]  # fmt: skip
    for words, unit in asked:
        assert isinstance(understand(words, Expectation("backlash", unit, signed=unit == "0.001 in")), Unclear), words


def test_every_gauge_family_and_fault_code_is_documented() -> None:
    assert [spans(row[0])[0] for row in rows(section("docs/gauges.md", "The keys"))] == list(FORMATS)
    for key in FORMATS:
        assert f"\n### {key} — " in text_of("docs/gauges.md")
    assert [spans(row[0])[0] for row in rows(section("docs/gauges.md", "Fault codes"))] == list(FAULT_CODES)


# ---- the trade, links, the map


def test_every_source_key_of_the_trade_page_is_resolved_on_it_and_used() -> None:
    text, sources = text_of("docs/trade.md").split("\n## 10 Sources\n")
    keys = {row[0] for row in rows(sources)}
    assert set(re.findall(r"\[([A-Z][A-Z0-9-]*)\]", text)) == keys


def slug(title: str) -> str:
    """The anchor that a heading gets."""
    return re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-")


def links() -> Iterator[tuple[Path, str]]:
    for path in DOCS:
        for target in re.findall(r"(?<!!)\[[^\]\n]*\]\(([^)\s]+)\)", path.read_text(encoding="utf-8")):
            yield path, target


@pytest.mark.parametrize(("path", "target"), [pytest.param(path, target, id=f"{path.name}-{target}") for path, target in links()])
def test_every_link_leads_somewhere(path: Path, target: str) -> None:
    file, _, anchor = target.partition("#")
    place = (path.parent / file).resolve() if file else path
    assert ROOT in place.parents
    assert place.exists()
    if anchor:
        titles = re.findall(r"^#+ (.+)$", place.read_text(encoding="utf-8"), re.MULTILINE)
        assert anchor in [slug(title) for title in titles]


def test_every_picture_is_shown_has_words_and_is_small() -> None:
    shown = [
        (path, words, target)
        for path in DOCS
        for words, target in re.findall(r"!\[([^\]\n]*)\]\(([^)\s]+)\)", path.read_text(encoding="utf-8"))
    ]
    assert all(len(words.split()) >= 4 for _, words, _ in shown), "a picture without words says nothing to whoever cannot see it"
    found = {(path.parent / target).resolve() for path, _, target in shown}
    assert found == set((ROOT / "docs" / "pictures").iterdir())
    assert len(found) <= 8
    assert all(0 < path.stat().st_size < MOST_BYTES for path in found)
    assert {path.stem for path in found} == {moment.name for moment in MOMENTS}


def test_every_page_is_reached_from_the_readme() -> None:
    reached, queue = set(), [ROOT / "README.md"]
    while queue:
        page = queue.pop()
        if page not in reached:
            reached.add(page)
            queue += [(path.parent / target.partition("#")[0]).resolve() for path, target in links() if path == page and ".md" in target]
    assert {path for path in DOCS if path.name != "CHANGELOG.md"} <= reached


def test_every_module_is_on_the_map() -> None:
    of_map = section("DEVELOPERS.md", "The map")
    known = set(re.findall(r"[\w-]+", of_map))
    modules = [*(ROOT / "assistant").glob("*.py"), *(ROOT / "assistant" / "core").glob("*.py"), *(ROOT / "gauges").glob("*.py")]
    folders = [path.parent for path in (ROOT / "assistant").glob("*/__init__.py")]
    assert [path.stem for path in (*modules, *folders) if not path.stem.startswith("__") and path.stem not in known] == []


# ---- the repository stands alone

_OF_A_MACHINE = re.compile(r"/(?:root|work|home/\w+)/|\.\./" r"shared\b|files\.python" r"hosted|pypi\.org/" r"simple|index-url[ =]http")
_TEXT = {".md", ".py", ".toml", ".txt", ".jsonl", ".json", ".tsv", ""}


def test_no_file_names_a_machine_an_index_or_anything_outside_the_repository() -> None:
    left_out = {
        ".git",
        ".venv",
        ".coverage",
        ".hypothesis",
        ".mypy_cache",
        ".ruff_cache",
        ".pytest_cache",
        ".import_linter_cache",
        "build",
        "dist",
    }
    found = []
    for top in sorted(ROOT.iterdir()):
        if top.name in left_out or top.suffix == ".egg-info":
            continue
        for path in [top] if top.is_file() else sorted(top.rglob("*")):
            if path.is_file() and path.suffix in _TEXT and "__pycache__" not in path.parts:
                match = _OF_A_MACHINE.search(path.read_text(encoding="utf-8", errors="replace"))
                found += [f"{path.relative_to(ROOT)}: {match.group()}"] if match else []
    assert found == []
