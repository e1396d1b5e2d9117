"""The screen's own words: all that are asked for are there, and none is left over."""

import re
from pathlib import Path

import pytest

from assistant.core.english import COMMANDS
from assistant.core.quantities import UNITS
from assistant.core.steps import CAUTION_KINDS, PHASES
from assistant.screen import page
from assistant.screen.words import words_for

WORDS = words_for("en")
FOLDER = Path(page.__file__).parent


def test_every_command_has_its_button_and_a_key_of_its_own() -> None:
    said = set(COMMANDS) - {"same"}  # not offered at any wait
    assert set(WORDS.buttons) == said
    assert set(WORDS.keys) == said
    assert len(set(WORDS.keys.values())) == len(said)
    assert all(re.fullmatch("[a-z]", key) for key in WORDS.keys.values())


def test_every_phase_has_its_name() -> None:
    assert set(WORDS.phases) == set(PHASES)


def test_units_that_are_written_otherwise_are_units() -> None:
    assert set(WORDS.units) <= set(UNITS)
    assert WORDS.unit("lb-in") == "lb-in"
    assert WORDS.unit("1") == ""


def test_every_label_is_used_by_the_page_and_every_one_it_uses_is_there() -> None:
    script, shell = (FOLDER / "page.js").read_text(encoding="utf-8"), (FOLDER / "page.html").read_text(encoding="utf-8")
    used = set(re.findall(r"\bL\.(\w+)", script)) | set(re.findall(r"\{\{(\w+)\}\}", shell))
    made = {
        f"{name}_{value}"
        for name, values in (("light", ("auto", "day", "night")), ("size", ("near", "far")), ("keys", ("on", "off")))
        for value in values
    }
    lists = {"go_back_to", "correct_which", "change_unit_which"}
    assert used | made | lists == set(WORDS.labels)


def test_every_sentence_is_used() -> None:
    code = "\n".join(path.read_text(encoding="utf-8") for path in FOLDER.glob("*.py"))
    named = set(re.findall(r'"(\w+)"', code)) | {f"judged_{way}" for way in ("minimum", "mean")}
    named |= {f"{what}_{way}" for what, ways in (("ring", ("left", "right")), ("pinion", ("out", "in"))) for way in ways}
    named |= {f"caution_{kind}" for kind in CAUTION_KINDS}
    named |= {"in_spec", "out_of_spec", "stopped", "left", "right"}  # verdicts, and the sides of a housing
    assert set(WORDS.sentences) - named == set()


def test_a_sentence_that_is_not_there_is_our_fault() -> None:
    with pytest.raises(KeyError):
        WORDS.say("nothing of the kind")


def test_a_language_that_is_not_there_is_not_made_up() -> None:
    with pytest.raises(FileNotFoundError):
        words_for("xx")
