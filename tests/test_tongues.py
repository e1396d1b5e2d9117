"""Every language is whole: nothing that one says, hears or shows is missing in another; and each by the same suites.

A key that was added to phrases/en.toml, mistakes.toml, screen/en.toml or core/english.py makes a test here fail with what to add where
(DEVELOPERS.md, "A language").
"""

import ast
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import fields
from decimal import Decimal
from itertools import product
from pathlib import Path
from string import Formatter
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import assistant
import gauges
from assistant.core.axle import CARRIERS, LARGE_QUANTITIES, NO_DEPTH, PATTERN_CHOICES, PATTERNS, PINION_SHIMS, PRELOADS, QUANTITIES
from assistant.core.english import ONE_OF_TWO
from assistant.core.grammar import heard_values, phrases, units_of, vocabulary
from assistant.core.quantities import Quantity
from assistant.core.saying import read_back, say, say_change
from assistant.core.tongue import Tongue
from assistant.core.tongues import ENGLISH, GERMAN, TONGUES
from assistant.core.waits import ALARM_ANSWERS
from assistant.core.words import Choice, Command, Expectation, Value, understand
from assistant.files import every_choice, phrases_for, untranslated
from assistant.mouth.bundled import VOICES
from assistant.screen.words import words_for
from assistant.virtual_axle import MISTAKES
from tests.conftest import job_with
from tests.table import Table

HERE = Path(assistant.__file__).parent
OTHERS = [tongue for tongue in TONGUES.values() if tongue is not ENGLISH]
FORMS = (
    "thou",
    "thousandths",
    "point_thou",
    "tenths",
    "half",
    "digits",
    "digits_bare",
    "count",
    "hundredths",
    "point_mm",
    "point_nm",
    "bare",
    "typed",
)
LARGE_AROUND = {"in": Quantity.of("2.6250", "in"), "mm": Quantity.of("66.68", "mm")}
SPOKEN = [(name, unit) for name in ENGLISH.quantity_names if not name.startswith("pattern") for unit in units_of(name)]
by_name = pytest.mark.parametrize("tongue", TONGUES.values(), ids=TONGUES)
translated = pytest.mark.parametrize("tongue", OTHERS, ids=[tongue.code for tongue in OTHERS])


def read(part: str, code: str) -> dict[str, Any]:
    return tomllib.loads((HERE / part / f"{code}.toml").read_text(encoding="utf-8"))


def names_in(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


# ---- whole

# Tables whose keys are words of the language, not ours.
OWN_KEYS = {
    "signs",
    "fractions",
    "symbols",
    "short_symbols",
    "same_word",
    "thou_misspelt",
    "unit_words",
    "kinds_by_step",
    "fraction_signs",
    "examples_digits",
}


@translated
def test_a_language_has_words_for_every_key_of_every_table(tongue: Tongue) -> None:
    for field in fields(Tongue):
        ours, theirs = getattr(ENGLISH, field.name), getattr(tongue, field.name)
        if isinstance(ours, Mapping) and field.name not in OWN_KEYS:
            missing = sorted(set(ours) - set(theirs))
            assert not missing, (
                f"{field.name.upper()} of {tongue.name} has no {', '.join(missing)}: add it to core/{tongue.name.lower()}.py"
            )


@translated
def test_every_question_and_template_fills_in_the_same_names(tongue: Tongue) -> None:
    for reason, question in ENGLISH.questions.items():
        strange = (
            names_in(tongue.questions[reason])
            - names_in(question)
            - {"heard", "said", "step", "expects", "example", "length", "name", "steps"}
        )
        assert not strange, (reason, strange)
    for template in ("example_other", "expects_reading", "the"):
        assert names_in(getattr(tongue, template)) == names_in(getattr(ENGLISH, template)), template
    assert [names_in(said) for said in tongue.unit_changes_said] == [{"unit"}, {"gauge", "unit"}]


@by_name
def test_every_unit_that_is_said_is_understood(tongue: Tongue) -> None:
    kinds = set(tongue.unit_words.values())
    assert {"thou", "in", "mm", "0.01 mm", "0.001 mm", "lb-in", "lb-ft", "N·m", "deg", "notch"} <= kinds
    assert {tongue.fraction_signs[sign] for sign in ("½", "¼", "¾")} <= set(tongue.fractions)


@translated
def test_every_sentence_step_name_and_mistake_is_translated_with_the_same_names_to_fill_in(tongue: Tongue) -> None:
    known = tomllib.loads((HERE / "mistakes.toml").read_text(encoding="utf-8"))
    looks = {look["id"]: look["text"] for look in known["look"]}
    found = untranslated(read("phrases", tongue.code), read("phrases", "en"), [row["id"] for row in known["mistake"]], looks)
    assert not found, f"phrases/{tongue.code}.toml: " + "; ".join(found)


@translated
def test_every_choice_has_words_of_its_own(tongue: Tongue) -> None:
    said = phrases_for(tongue.code).choices
    wanted = {
        *every_choice(),
        *PATTERN_CHOICES,
        *ONE_OF_TWO,
        *ALARM_ANSWERS,
        NO_DEPTH,
        "left",
        "right",
        *phrases_for(tongue.code).causes.values(),
    }
    wanted |= {f"{part} {way}" for part in ("pinion", "ring") for way in ("in", "out")} | {"in spec", "out of spec", "stopped"}
    missing = sorted(wanted - set(said))
    assert not missing, f"[choices] of phrases/{tongue.code}.toml lacks {', '.join(missing)}"
    spoken = [said[choice].lower() for choice in wanted]
    assert len(set(spoken)) == len(spoken)


@translated
def test_the_screen_has_every_word(tongue: Tongue) -> None:
    ours, theirs = read("screen", "en"), read("screen", tongue.code)
    for table, texts in ours.items():
        missing = sorted(set(texts) - set(theirs[table]))
        assert not missing, f"[{table}] of screen/{tongue.code}.toml lacks {', '.join(missing)}"
        assert set(theirs[table]) == set(texts), table
        for key, text in texts.items():
            assert names_in(theirs[table][key]) == names_in(text), (table, key)
    assert words_for(tongue.code).labels["language"] == tongue.code
    keys = list(theirs["keys"].values())
    assert len(set(keys)) == len(keys)
    assert all(re.fullmatch("[a-z]", key) for key in keys)


# How each language says "the manual" and "never mine".
DEFERS = {"de": ("Werkstatthandbuch", "nie mein")}


@translated
def test_every_caution_defers_to_the_manual_as_the_english_one_does(tongue: Tongue) -> None:
    assert tongue.code in DEFERS, f"say in DEFERS how {tongue.name} defers to the manual: its word for it, and what 'never mine' is"
    manual, never_mine = DEFERS[tongue.code]
    for step, text in phrases_for(tongue.code).steps.items():
        if text.caution:
            assert manual in text.caution, step
            # The figure of a torque is the manual's, never ours.
            assert ("never mine" in phrases_for().steps[step].caution) == bool(re.search(never_mine, text.caution)), step


@by_name
def test_a_language_has_a_voice(tongue: Tongue) -> None:
    assert tongue.code in VOICES
    assert tongue.code == phrases_for(tongue.code).language


# ---- what is said is understood

LENGTHS = st.sampled_from(("in", "mm", "0.001 in", "0.01 mm", "0.001 mm"))
PLAIN = st.sampled_from(("lb-in", "lb-ft", "N·m", "deg", "notch"))
EXPECTED = {
    "in": "shim_thickness",
    "mm": "shim_thickness",
    "lb-in": "pinion_drag",
    "lb-ft": "nut_torque",
    "N·m": "nut_torque",
    "deg": "angle",
    "notch": "notches",
}


def sizes() -> st.SearchStrategy[Quantity]:
    """Whatever a gauge or a sum may give: any decimal that the unit can show."""
    inches = st.integers(0, 400_000).map(lambda count: Quantity.of(f"{Decimal(count).scaleb(-5):f}", "in"))
    millimetres = st.integers(0, 400_000).map(lambda count: Quantity.of(f"{Decimal(count).scaleb(-3):f}", "mm"))
    etches = st.tuples(st.integers(-300, 300), st.sampled_from(("0.001 in", "0.01 mm", "0.001 mm"))).map(
        lambda two: Quantity.of(str(two[0]), two[1])
    )
    torques = st.tuples(st.integers(0, 9_999), st.sampled_from(("N·m", "lb-in", "lb-ft"))).map(
        lambda two: Quantity.of(f"{Decimal(two[0]).scaleb(-1):f}", two[1])
    )
    counts = st.tuples(st.integers(0, 360), st.sampled_from(("deg", "notch", "lb-in", "lb-ft", "N·m"))).map(
        lambda two: Quantity.of(str(two[0]), two[1])
    )
    halves = st.integers(0, 60).map(lambda count: Quantity.of(f"{count}.5", "notch"))
    return st.one_of(inches, millimetres, etches, torques, counts, halves)


@by_name
@given(quantity=sizes(), form=st.sampled_from(FORMS), style=st.sampled_from(("long", "digits")))
def test_every_quantity_that_is_said_is_understood_as_itself(tongue: Tongue, quantity: Quantity, form: str, style: str) -> None:
    signed = quantity.unit in ("0.001 in", "0.01 mm", "0.001 mm")
    name = "etch_new" if signed else EXPECTED[quantity.unit]
    expected = Expectation(name, quantity.unit, signed=signed, tongue=tongue)
    for words in (say(quantity, style, tongue), read_back(quantity, form, tongue)):  # type: ignore[arg-type]  # one of two texts
        heard = understand(words, expected)
        assert isinstance(heard, Value), (words, heard)
        assert heard.quantity == quantity, words


@pytest.mark.parametrize("language", TONGUES)
def test_a_quantity_is_corrected_by_the_name_under_which_it_is_said(language: str) -> None:
    texts, tongue = phrases_for(language), TONGUES[language]
    for quantity in (*QUANTITIES, *PATTERNS):
        words = f"{tongue.commands['correct'][0]} {texts.name(quantity)}"
        assert understand(words, Expectation("backlash", "in", commands=("correct",), tongue=tongue)) == Command("correct", quantity), words


@by_name
@pytest.mark.parametrize(("quantity", "unit"), SPOKEN)
def test_every_phrase_that_can_be_heard_means_what_it_stands_for(tongue: Tongue, quantity: str, unit: str) -> None:
    values = heard_values(quantity, unit, LARGE_AROUND[unit] if quantity in LARGE_QUANTITIES else None)
    commands = ("take", "help", "why", "go back", "correct", "repeat", "undo", "stop", "hold", "change unit")
    expected = Expectation(
        quantity, unit, signed=values[0].value < 0, commands=commands, steps=("preload.drag",), step_words=("Reibmoment",), tongue=tongue
    )
    listed = phrases(expected, values)
    assert {meaning.quantity for _, meaning in listed if isinstance(meaning, Value)} == set(values)
    for words, meaning in listed:
        assert words == tongue.folded(words)
        assert understand(words, expected) == meaning, words


@by_name
def test_every_command_is_understood_in_each_of_its_words(tongue: Tongue) -> None:
    everything = Expectation(None, None, commands=tuple(tongue.commands), tongue=tongue)
    for name, spoken in tongue.commands.items():
        for words in spoken:
            heard = understand(words, everything)
            if name in ("correct", "change unit"):  # they ask for more
                assert not isinstance(heard, Command), words
            else:
                assert heard == Command(name), words


@by_name
def test_every_choice_is_understood_as_it_is_said(tongue: Tongue) -> None:
    texts = phrases_for(tongue.code)
    choices = (*every_choice(), *PATTERN_CHOICES, *ONE_OF_TWO)
    expected = Expectation(None, None, choices=choices, choice_words=tuple(map(texts.choice, choices)), tongue=tongue)
    for choice in choices:
        assert understand(texts.choice(choice), expected) == Choice(choice)
        assert understand(choice, expected) == Choice(choice)


@by_name
def test_no_word_of_a_language_is_a_word_of_the_interface_with_another_meaning(tongue: Tongue) -> None:
    for spoken, name in tongue.command_of.items():
        assert ENGLISH.command_of.get(spoken, name) == name, spoken
    texts = phrases_for(tongue.code)
    for choice in (*every_choice(), *PATTERN_CHOICES, *ONE_OF_TWO):
        assert texts.choice(choice).lower() not in set(ENGLISH.command_of) - {choice}, choice


@by_name
@given(
    text=st.lists(st.sampled_from(sorted(vocabulary(GERMAN) | vocabulary(ENGLISH) | {"0,20", "1.234", "½", "mm", ","})), max_size=7).map(
        " ".join
    ),
    at=st.sampled_from(SPOKEN),
)
def test_any_words_get_an_answer_and_never_a_value_of_another_unit(tongue: Tongue, text: str, at: tuple[str, str]) -> None:
    heard = understand(text, Expectation(*at, commands=("stop", "go back", "correct"), tongue=tongue))
    if isinstance(heard, Value):
        assert heard.quantity.unit == at[1]


@by_name
@pytest.mark.parametrize("typed", ["1 005", "1 000", "12 000", "1 050", "2 0,5"])
def test_figures_in_groups_are_never_put_together_without_their_zeros(tongue: Tongue, typed: str) -> None:
    for quantity, unit in (("nut_torque", "N·m"), ("nut_torque", "lb-ft"), ("pinion_drag", "lb-in")):
        for written in (typed, f"{typed} {unit}"):
            assert not isinstance(understand(written, Expectation(quantity, unit, tongue=tongue)), Value), written


@by_name
def test_a_change_is_said_without_its_sign(tongue: Tongue) -> None:
    for unit in ("in", "mm", "N·m", "notch", "deg"):
        assert say_change(Quantity.of("-2", unit), tongue) == say_change(Quantity.of("2", unit), tongue)


# ---- a whole job

# Words that no sentence of another language holds: of one that shares some of them, take those out for it.
ENGLISH_ONLY = re.compile(
    r"\b(the|and|or|of|is|are|with|your|thousandths?|inch(es)?|millimetres?|newton metres|left|right|toe|heel|yes|done)\b"
)


@pytest.mark.parametrize(("pinion", "preload", "carrier"), [*product(PINION_SHIMS, PRELOADS, CARRIERS)])
@translated
def test_a_whole_job_is_spoken_in_one_language_and_keeps_the_interfaces_words(
    tongue: Tongue, pinion: str, preload: str, carrier: str
) -> None:
    def change(data: dict[str, Any]) -> None:
        data["axle"] |= {"pinion_shims": pinion, "preload": preload, "carrier": carrier}
        if carrier != "adjusters":
            data["axle"].pop("notch_lead_in")
            data["spec"].pop("carrier_preload")
            data["parts"]["side_kit"] = [
                {"thickness": "0.0500", "count": 6},
                {"thickness": "0.0100", "count": 6},
                {"thickness": "0.0010", "count": 9},
            ]

    answers = {f"old_stack_thickness {side}": "0.150 in" for side in ("ring_side_shims", "opposite_shims")}
    tables = [Table(job_with(change), {**answers, "stack_thickness": "0.150 in"}, language=code) for code in ("en", tongue.code)]
    for table in tables:
        table.until(lambda table: table.end is not None)
    english, other = tables
    spoken = " ".join(line for line in other.all_lines("speak"))
    assert ENGLISH_ONLY.findall(spoken) == []
    assert "{" not in spoken
    assert not re.search(r"\d", spoken), "numbers are said in words"
    # What scripts rely on is the same in both, to the word.
    for kind, keys in (
        ("step", ("id", "phase", "kind")),
        ("recorded", ("quantity", "value", "unit", "spot")),
        ("caution", ("id", "before")),
    ):
        assert [[body[key] for key in keys] for body in other.all_lines(kind)] == [
            [body[key] for key in keys] for body in english.all_lines(kind)
        ]
    assert other.all_lines("wait") == english.all_lines("wait")
    assert other.end == english.end


def test_a_german_job_goes_on_in_german_from_its_events_alone() -> None:
    table = Table(job_with(), language="de").until("baseline.backlash")
    assert table.events[1].__class__.__name__ == "SpokenIn"
    table.resume()
    assert "Das Ritzel festhalten." in table.spoken


def test_an_english_job_has_the_events_it_always_had() -> None:
    assert [type(event).__name__ for event in Table(job_with()).events] == ["JobStarted", "StepBegan"]


# ---- what gauges say


def literals(node: ast.expr) -> Iterator[str]:
    """The texts that an expression can be, with a 7 for whatever is put into them; none for what is no text here."""
    if isinstance(node, ast.IfExp):
        yield from (*literals(node.body), *literals(node.orelse))
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.JoinedStr):
        yield "".join(str(part.value) if isinstance(part, ast.Constant) else "7" for part in node.values)


def gauge_troubles() -> list[str]:
    """Why a gauge gave no value, and what befell it or the microphone, as the code has it."""
    found: list[str] = []
    for name in ("movement", "settling", "live"):
        tree = ast.parse((Path(gauges.__file__).parent / f"{name}.py").read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("Void", "NotSettled", "Trouble"):
                found += [text for given in node.args[node.func.id == "Trouble" :] for text in literals(given)]
            elif isinstance(node, ast.Assign) and ast.unparse(node.targets[0]).endswith("_why_not"):
                found += literals(node.value)
    tree = ast.parse((HERE / "ears" / "microphone.py").read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "MicrophoneTrouble":
            found += literals(node.args[1])
    return [text for text in found if text != "7: 7"] + ["lost: it was unplugged", "stale: it sends nothing"]


@translated
def test_every_trouble_of_a_gauge_or_the_microphone_is_told_in_the_language(tongue: Tongue) -> None:
    troubles, texts = gauge_troubles(), phrases_for(tongue.code)
    assert len(troubles) >= 25
    untold = [text for text in troubles if texts.reason(text) == text]
    assert not untold, f"[reasons] of phrases/{tongue.code}.toml lacks {untold}"


def doctor_findings() -> list[str]:
    """What the doctor finds, and what it says to do, as the code has it."""
    found = ["recogniser", "microphone", "loudspeaker", "gauges", "store"]
    for file in ("doctor.py", "ears/recorder.py", "mouth/loudspeaker.py", "cli/doctor.py"):
        for node in ast.walk(ast.parse((HERE / file).read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                given = {"Finding": node.args[2:], "SoundLook": node.args[4:], "NoDeviceError": node.args, "wrong.append": node.args}
                texts = [*given.get(ast.unparse(node.func), ()), *(node.args if ast.unparse(node.func) in ("tell", "told") else ())]
            else:
                is_text = isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) in ("text", "remedy", "figures_told")
                texts = [node.value] if isinstance(node, ast.Assign) and is_text else []
            for each in texts:
                found += [text for part in (each.elts if isinstance(each, ast.Tuple) else (each,)) for text in literals(part)]
    return [text for text in found if text not in ("", "7", "7: 7")]


@translated
def test_everything_that_the_doctor_says_is_told_in_the_language(tongue: Tongue) -> None:
    findings, texts = doctor_findings(), phrases_for(tongue.code)
    assert len(findings) >= 45
    untold = [text for text in findings if texts.reason(text) == text]
    assert not untold, f"[reasons] of phrases/{tongue.code}.toml lacks {untold}"


@translated
def test_every_mistake_of_a_practice_is_told_in_the_language(tongue: Tongue) -> None:
    texts = phrases_for(tongue.code)
    told = [text for mistake in MISTAKES.values() for text in (mistake.reveals, mistake.lesson)]
    untold = [text for text in told if texts.reason(text) == text]
    assert not untold, f"[reasons] of phrases/{tongue.code}.toml lacks {untold}"


@translated
def test_a_trouble_fills_in_what_stands_there(tongue: Tongue) -> None:
    for known, said in read("phrases", tongue.code)["reasons"].items():
        assert names_in(known) == names_in(said), known


def test_a_trouble_in_german_has_its_figures_with_a_comma() -> None:
    told = phrases_for("de").reason("turned 1.25 times, expected at least 1.05: turn a little more than once round")
    assert told == "1,25-mal gedreht, erwartet mindestens 1,05: etwas mehr als einmal herum drehen"


def test_what_nobody_translated_is_told_as_it_is() -> None:
    assert phrases_for("de").reason("something new") == "something new"
    assert phrases_for().reason("no reading yet") == "no reading yet"
