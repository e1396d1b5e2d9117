"""`benchhand listen` on clips that the bundled espeak says on the spot, and its contract: a line for each, exit status, errors."""

import json
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner, Result

from assistant.cli.listen import register
from assistant.ears.audio import write
from tests.ears.speaking import hiss, said, silence

KEYS = {"wav", "accepted", "value", "unit", "command", "heard", "confidence", "seconds"}


def run(*words: str) -> Result:
    app = typer.Typer()
    app.callback()(lambda: None)
    register(app)
    return CliRunner().invoke(app, ["listen", *words])


def lines(result: Result) -> list[dict[str, Any]]:
    return [json.loads(line) for line in result.stdout.splitlines()]


def clip(folder: Path, words: str) -> str:
    path = folder / f"{words.replace(' ', '_')}.wav"
    write(path, said(words))
    return str(path)


def heard(folder: Path, words: str, *options: str) -> dict[str, Any]:
    result = run(clip(folder, words), "--json", *options)
    assert result.exit_code == 0, result.stderr
    (line,) = lines(result)
    assert set(line) - {"reason", "expected_instead"} == KEYS
    assert 0 <= line["confidence"] <= 1
    assert (line["value"] is None) != (line["command"] is None) if line["accepted"] else line["value"] is line["command"] is None
    return line


# The coached forms of the machine interface, one for each unit.
@pytest.mark.parametrize(
    ("words", "expect", "unit", "value"),
    [
        ("six point five thou", "backlash", "in", "0.0065"),
        ("point zero zero six five", "backlash", "in", "0.0065"),
        ("three point seven thou", "ring_runout", "in", "0.0037"),
        ("zero point one four", "backlash", "mm", "0.14"),
        ("eighteen inch pounds", "pinion_drag", "lb-in", "18"),
        ("two point one newton metres", "pinion_drag", "N·m", "2.1"),
        ("one two five foot pounds", "nut_torque", "lb-ft", "125"),
        ("nine zero degrees", "angle", "deg", "90"),
        ("three notches", "notches", "notch", "3"),
        ("plus two thou", "etch_new", "0.001 in", "2"),
    ],
)
def test_a_reading_is_its_exact_value_in_the_unit_of_the_step(tmp_path: Path, words: str, expect: str, unit: str, value: str) -> None:
    line = heard(tmp_path, words, "--expect", expect, "--unit", unit)
    assert (line["accepted"], line["value"], line["unit"], line["heard"]) == (True, value, unit, words)


@pytest.mark.parametrize(
    ("words", "expect", "command"),
    [
        ("undo", "backlash", "undo"),
        ("that is right", "confirm", "yes"),
        ("measure again", "confirm", "no"),
        ("next", "command", "done"),
        ("understood", "command", "understood"),
        ("what do you have", "command", "what do you have"),
        ("go back", "pinion_drag", "go back"),
    ],
)
def test_a_command_is_told_by_the_name_in_the_first_column_of_the_table_of_words(
    tmp_path: Path, words: str, expect: str, command: str
) -> None:
    line = heard(tmp_path, words, "--expect", expect)
    assert (line["accepted"], line["command"], line["unit"]) == (True, command, None)


@pytest.mark.parametrize(
    ("words", "expect"),
    [
        ("six point five thou", "confirm"),
        ("yes", "backlash"),
        ("correct", "confirm"),
        ("hand me the big hammer would you", "backlash"),
        ("six and a half millimetres", "backlash"),
        ("sixty five", "backlash"),
    ],
)
def test_what_the_step_does_not_hear_is_not_accepted(tmp_path: Path, words: str, expect: str) -> None:
    line = heard(tmp_path, words, "--expect", expect)
    assert not line["accepted"]
    assert line["reason"]


def test_a_pattern_is_heard_as_its_choice(tmp_path: Path) -> None:
    line = heard(tmp_path, "toe root", "--expect", "pattern_drive")
    assert (line["accepted"], line["value"], line["unit"]) == (True, "toe root", None)


def test_a_large_size_is_heard_around_the_expected_one(tmp_path: Path) -> None:
    options = ("--expect", "pinion_depth", "--around", "2.6250", "--spread", "0.0020")
    assert heard(tmp_path, "two point six two seven zero inches", *options)["value"] == "2.6270"


def test_the_expected_value_does_not_choose_and_is_named_when_it_would_have_chosen_otherwise(tmp_path: Path) -> None:
    near = heard(tmp_path, "nine point five thou", "--expect", "backlash", "--around", "0.0095", "--spread", "0.001")
    far = heard(tmp_path, "nine point five thou", "--expect", "backlash", "--around", "0.0055", "--spread", "0.0001in")
    assert (near["value"], far["value"]) == ("0.0095", "0.0095")
    assert near["confidence"] == far["confidence"]


def test_every_clip_has_its_line_in_order_and_a_bad_one_does_not_stop_the_next(tmp_path: Path) -> None:
    (tmp_path / "torn.wav").write_bytes(b"RIFF")
    wavs = [clip(tmp_path, "six thou"), str(tmp_path / "torn.wav"), str(tmp_path / "nowhere.wav"), clip(tmp_path, "undo")]
    result = run(*wavs, "--expect", "backlash", "--unit", "in", "--json")
    found = lines(result)
    assert [line["wav"] for line in found] == wavs
    assert [line["accepted"] for line in found] == [True, False, False, True]
    assert ["error" in line for line in found] == [False, True, True, False]
    assert "No such file" in found[2]["error"]
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 2


@pytest.mark.parametrize("sound", [silence(0.0), silence(0.1), silence(2.0), hiss(2.0)])
@pytest.mark.parametrize("expect", ["backlash", "confirm"])
def test_silence_and_noise_are_not_accepted(tmp_path: Path, sound: Any, expect: str) -> None:
    write(tmp_path / "a.wav", sound)
    result = run(str(tmp_path / "a.wav"), "--expect", expect, "--json")
    (line,) = lines(result)
    assert result.exit_code == 0
    assert (line["accepted"], line["value"], line["command"], line["heard"]) == (False, None, None, None)


def test_without_json_it_is_told_for_people(tmp_path: Path) -> None:
    (tmp_path / "torn.wav").write_bytes(b"RIFF")
    result = run(clip(tmp_path, "six and a half thou"), clip(tmp_path, "yes"), str(tmp_path / "torn.wav"), "--expect", "backlash")
    told = result.stdout.splitlines()
    assert "0.0065 in (heard 'six and a half thou'" in told[0]
    assert "not accepted" in told[1]
    assert "not read" in told[2]


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        (["--expect", "wobble"], "'wobble' is no spoken reading: expected one of"),
        (["--expect", "backlash", "--unit", "lb-in"], "backlash is not spoken in lb-in: expected one of in, mm"),
        (["--expect", "backlash", "--unit", "furlongs"], "unit 'furlongs' is not known"),
        (["--expect", "backlash", "--around", "0.006"], "--around and --spread go together"),
        (["--expect", "backlash", "--spread", "0.006"], "--around and --spread go together"),
        (["--expect", "backlash", "--around", "0.006", "--spread", "0"], "--spread 0: expected more than zero"),
        (["--expect", "backlash", "--around", "6e-3", "--spread", "0.001"], "'6e-3' is not a plain decimal number"),
        (["--expect", "backlash", "--around", "18 lb-in", "--spread", "0.001"], "--around 18 lb-in does not fit a step in in"),
        (["--expect", "pinion_depth"], "too many values to listen for all"),
        (["--expect", "confirm", "--unit", "in"], "leave out --unit"),
    ],
)
def test_bad_options_are_told_in_one_line_before_anything_is_heard(tmp_path: Path, options: list[str], fault: str) -> None:
    result = run(clip(tmp_path, "six thou"), "--json", *options)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert fault in result.stderr
    assert len(result.stderr.splitlines()) == 1
