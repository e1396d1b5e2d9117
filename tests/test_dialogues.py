"""Golden dialogues: what was said and read at the bench, and what must be answered, as a technician would read it.

A dialogue is a TOML file: title, source, the language (English where none is told), the job (that of `conftest.JOB`, with `change` merged in),
`answers` (what a good axle reads, for the stretches that are passed over), and the talk, line by line:

    T: six and a half thou          what the technician says
    T: [dial 0.0065 in]             a gauge reading that was taken; also [pedal], [noise], [quit], [power cut]
    B: six point five               a piece of what must be said back
    B: [recorded backlash 0.0065 in at 1]     a line that must be printed; "…]" leaves its end open
    ... preload.drag                good answers, until this step is on the bench

Of what is printed, every recorded, move, alarm, caution, error and end line has to be listed, in order; steps, waits and words where the
dialogue cares. A person reads a dialogue before it is accepted.
"""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from assistant.core.inputs import Input, Pedal, Quit, Said, Taken, Unheard
from assistant.core.quantities import Quantity
from assistant.files import job_from
from tests.conftest import JOB
from tests.table import Line, Table

FILES = sorted((Path(__file__).parent / "dialogues").glob("*.toml"))
# These lines may not pass unmentioned.
TOLD = ("recorded", "move", "alarm", "caution", "error", "end")


@dataclass
class Turn:
    """One thing the technician does, with its place in the file, and what must come of it."""

    number: int
    said: str
    wanted: list[str] = field(default_factory=list)


def turns(talk: str) -> list[Turn]:
    """The talk, turn by turn. Raises ValueError for a line that is none."""
    found: list[Turn] = []
    for number, line in enumerate(talk.splitlines(), start=1):
        who, _, words = line.strip().partition(" ")
        if not who or who.startswith("#"):
            continue
        if who in ("T:", "..."):
            found.append(Turn(number, line.strip().removeprefix("T:").strip()))
        elif who == "B:" and found:
            found[-1].wanted.append(words.strip())
        else:
            raise ValueError(f"line {number}: {line!r} is none of T:, B:, ... and #")
    return found


def merged(data: dict[str, Any], change: dict[str, Any]) -> dict[str, Any]:
    """A job's table with the changes put in; an empty table takes a key out."""
    result = dict(data)
    for key, value in change.items():
        if value == {}:
            result.pop(key, None)
        elif (
            isinstance(value, dict)
            and isinstance(result.get(key), dict)
            and "low" not in value
            and "high" not in value
            and "value" not in value
        ):
            result[key] = merged(result[key], value)
        else:
            result[key] = value
    return result


def given(text: str) -> Input:
    """The input that a turn stands for."""
    if not text.startswith("["):
        return Said(text)
    channel, _, rest = text.strip("[]").partition(" ")
    plain: dict[str, Input] = {"pedal": Pedal(), "noise": Unheard((), "too noisy"), "quit": Quit()}
    return plain[channel] if channel in plain else Taken(channel, Quantity.parse(rest))


def told(line: Line, table: Table) -> str:
    """A printed line as a dialogue writes it."""
    (kind,) = set(line) - {"urgency"}
    body = line[kind]
    return f"[{kind} {_DETAILS[kind](body, table)}]".replace(" ]", "]")


def _at(body: Line) -> str:
    spot = body.get("spot")
    place = spot["index"] if isinstance(spot, dict) else spot
    return f" at {place}" if place else ""


def _size(value: Any, unit: str | None = None) -> str:
    if isinstance(value, dict):
        return f"{value['value']} {value['unit']}"
    return f"{value} {unit}" if unit else str(value)


def _recorded(body: Line, table: Table) -> str:
    old = f" instead of {table.state.reading(body['replaces']).value}" if body["replaces"] else ""
    again = " again" if body.get("replayed") else ""
    return f"{body['quantity']} {_size(body['value'], body['unit'])}{_at(body)}{old}{again}"


def _wait(body: Line, table: Table) -> str:
    del table
    value = f" {_size(body['value'])}" if "value" in body else ""
    return f"{body['for']} {body.get('quantity', '')}{value}{_at(body)}".replace("  ", " ").strip()


_DETAILS: dict[str, Any] = {
    "recorded": _recorded,
    "wait": _wait,
    "move": lambda body, _: f"{body['part']} {_size(body['change'])} to {_size(body['to'])}",
    "alarm": lambda body, _: " | ".join(cause["cause"] for cause in body["likely"]),
    "caution": lambda body, _: f"{body['before']} {body['id']}",
    "step": lambda body, _: f"{body['kind']} {body['id']}",
    "error": lambda _, __: "",
    "end": lambda body, _: body["verdict"] + (f": {', '.join(body['failed'])}" if body["failed"] else ""),
    "speak": lambda body, _: body,
}


def as_written(batch: list[Line], table: Table) -> list[str]:
    """A batch as a dialogue would write it, with everything that was said."""
    return [f"B: {line['speak'] if 'speak' in line else told(line, table)}" for line in batch]


def missing(wanted: list[str], batch: list[Line], table: Table) -> str:
    """What of the wanted is not in the batch, or what of the batch should have been wanted; empty when they agree."""
    lines = [told(line, table) for line in batch if "speak" not in line]
    rest: Iterator[str] = iter(lines)
    unmentioned = [line for line in lines if line.strip("[]").split()[0] in TOLD and not any(_is(each, line) for each in wanted)]
    spoken, at = " ".join(line["speak"] for line in batch if "speak" in line), 0
    for each in wanted:
        if each.startswith("["):
            if not any(_is(each, line) for line in rest):
                return f"{each} does not come, or not in this order"
        else:
            at = spoken.find(each, at)
            if at < 0:
                return f"{each!r} is not said, or not in this order"
    return f"not told of: {', '.join(unmentioned)}" if unmentioned else ""


def _is(wanted: str, line: str) -> bool:
    """Whether a line is the wanted one; "…" at its end leaves the rest open."""
    return line.startswith(wanted.removesuffix("…]")) if wanted.endswith("…]") else line == wanted


def play(data: dict[str, Any]) -> Table:
    """Play a dialogue to its last line. Fails at the first line that is answered otherwise, with what came instead."""
    table = Table(
        job_from(merged(tomllib.loads(JOB), data.get("change", {})), "job.toml"), data.get("answers"), language=data.get("language", "en")
    )
    for turn in turns(data["talk"]):
        if turn.said.startswith("... "):
            table.until(turn.said.removeprefix("... "))
        elif turn.said == "[power cut]":
            table.resume()
        else:
            table.give(given(turn.said))
        problem = missing(turn.wanted, table.batch, table) if turn.wanted or not turn.said.startswith("...") else ""
        came = "\n".join(as_written(table.batch, table))
        assert not problem, f"line {turn.number}, T: {turn.said}\n{problem}\nwhat came:\n{came}"
    return table


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_a_dialogue_is_answered_as_it_is_written(path: Path) -> None:
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert set(data) <= {"title", "source", "language", "change", "answers", "talk"}
    assert data["title"]
    assert data["source"]
    play(data)


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_every_turn_of_a_dialogue_expects_something(path: Path) -> None:
    for turn in turns(tomllib.loads(path.read_text(encoding="utf-8"))["talk"]):
        assert turn.wanted or turn.said.startswith("..."), f"{path.name}, line {turn.number}: nothing is expected of {turn.said!r}"


# ---- that a dialogue can fail

TALK = """
T: done
B: [step decide baseline.state]
B: Still together
T: still together
B: [step measure baseline.backlash]
T: [dial 0.0120 in]
B: [recorded baseline_backlash 0.0120 in at 1]
B: twelve thousandths
"""


def test_the_words_and_lines_that_are_written_are_enough() -> None:
    assert play({"talk": TALK}).standing("baseline_backlash") == ["0.0120 in"]


@pytest.mark.parametrize(
    ("right", "wrong", "says"),
    [
        ("0.0120 in at 1]", "0.0120 in at 2]", "does not come"),
        ("B: twelve thousandths", "B: thirteen thousandths", "is not said"),
        ("B: [recorded baseline_backlash 0.0120 in at 1]\n", "", "not told of: \\[recorded"),
        ("B: [step decide baseline.state]\nB: Still together", "B: Still together\nB: [step do baseline.state]", "does not come"),
        ("T: done", "T: ready, steady", "not told of: \\[error\\]|does not come"),
    ],
)
def test_a_dialogue_that_is_answered_otherwise_fails_and_shows_what_came(right: str, wrong: str, says: str) -> None:
    assert right in TALK
    with pytest.raises(AssertionError, match=says):
        play({"talk": TALK.replace(right, wrong)})


def test_a_line_that_is_none_is_told() -> None:
    with pytest.raises(ValueError, match="line 2"):
        turns("T: done\nX: what\n")
