"""German readings, commands and questions: by the same suite as English where it holds for any language (tests/test_tongues.py), here its own."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.quantities import Quantity
from assistant.core.saying import read_back, say, say_range
from assistant.core.tongues import GERMAN
from assistant.core.words import Choice, Command, Expectation, Unclear, Value, understand

COMMANDS = ("done", "take", "repeat", "why", "help", "undo", "go back", "correct", "hold", "stop", "change unit")


def at(quantity: str, unit: str, **more: object) -> Expectation:
    return Expectation(quantity, unit, commands=COMMANDS, tongue=GERMAN, **more)  # type: ignore[arg-type]


BACKLASH_MM, BACKLASH_IN = at("backlash", "mm"), at("backlash", "in")


@pytest.mark.parametrize(
    ("text", "expected", "value"),
    [
        ("null Komma eins vier", BACKLASH_MM, "0.14"),
        ("null Komma vierzehn Millimeter", BACKLASH_MM, "0.14"),
        ("0,20 mm", BACKLASH_MM, "0.20"),
        ("0.20", BACKLASH_MM, "0.20"),
        ("0,2", BACKLASH_MM, "0.2"),
        ("1,234 mm", BACKLASH_MM, "1.234"),
        ("vierzehn Hundertstel", BACKLASH_MM, "0.14"),
        ("20 Hundertstel Millimeter", BACKLASH_MM, "0.20"),
        ("zwei Zehntel", BACKLASH_MM, "0.20"),
        ("acht Tausendstel", BACKLASH_MM, "0.008"),
        ("ein Hundertstel", BACKLASH_MM, "0.01"),
        ("sechseinhalb Hundertstel", BACKLASH_MM, "0.065"),
        ("120 µm", BACKLASH_MM, "0.120"),
        ("acht Tausendstel Zoll", BACKLASH_IN, "0.008"),
        ("acht Tausendstel", BACKLASH_IN, "0.008"),
        ("sechs Komma fünf Tausendstel Zoll", BACKLASH_IN, "0.0065"),
        ("null Komma null null sechs fünf", BACKLASH_IN, "0.0065"),
        ("0,0065", BACKLASH_IN, "0.0065"),
        ("ein halbes Tausendstel Zoll", BACKLASH_IN, "0.0005"),
        ("sechseinhalb Tausendstel Zoll", BACKLASH_IN, "0.0065"),
        ("zwölf Tausendstel Zoll", BACKLASH_IN, "0.012"),
        ("zwei Komma fünf Newtonmeter", at("pinion_drag", "N·m"), "2.5"),
        ("2,5 Nm", at("pinion_drag", "N·m"), "2.5"),
        ("hundertfünfundzwanzig Newtonmeter", at("nut_torque", "N·m"), "125"),
        ("eins zwei fünf Newtonmeter", at("nut_torque", "N·m"), "125"),
        ("achtzehn Zollpfund", at("pinion_drag", "lb-in"), "18"),
        ("eins acht", at("pinion_drag", "lb-in"), "18"),
        ("fünfundsiebzig Fußpfund", at("cap_torque", "lb-ft"), "75"),
        ("keine Rasten", at("notches", "notch"), "0"),
        ("eine Raste", at("notches", "notch"), "1"),
        ("neunzig Grad", at("angle", "deg"), "90"),
        ("plus zwei", at("etch_new", "0.01 mm", signed=True), "2"),
        ("minus drei Hundertstel", at("etch_new", "0.01 mm", signed=True), "-3"),
    ],
)
def test_a_reading_is_understood(text: str, expected: Expectation, value: str) -> None:
    heard = understand(text, expected)
    assert isinstance(heard, Value), heard
    assert heard.quantity == Quantity.of(value, expected.unit or "")


@pytest.mark.parametrize(
    ("text", "expected", "reason"),
    [
        ("1.234", BACKLASH_MM, "decimal comma"),
        ("1.234 mm", BACKLASH_MM, "decimal comma"),
        ("1.234,5 mm", BACKLASH_MM, "decimal comma"),
        ("20", BACKLASH_MM, "bare number"),
        ("vierzehn", BACKLASH_MM, "bare number"),
        ("null Komma drei", BACKLASH_MM, "fixed length"),
        ("acht Tausendstel Zoll", BACKLASH_MM, "other unit"),
        ("vier Hundertstel", BACKLASH_IN, "off by ten"),
        ("zwei Zehntel", BACKLASH_IN, "off by ten"),
        ("0,2 mm", BACKLASH_IN, "other unit"),
        ("null Komma null null acht", BACKLASH_IN, "fixed length"),
        ("fünf zehn Hundertstel", BACKLASH_MM, "run-on"),
        ("sechs, nein, sieben Hundertstel", BACKLASH_MM, "correction"),
        ("drei Strich", BACKLASH_MM, "two meanings"),
        ("ein halbes", BACKLASH_MM, "half alone"),
        ("zwei", at("etch_new", "0.01 mm", signed=True), "no sign"),
        ("zwei eins", at("pinion_drag", "N·m"), "fixed length"),
        ("1.250 Nm", at("nut_torque", "N·m"), "decimal comma"),
        ("drei Hundertstel vier", BACKLASH_MM, "two numbers"),
    ],
)
def test_what_can_be_read_in_two_ways_is_asked_about(text: str, expected: Expectation, reason: str) -> None:
    heard = understand(text, expected)
    assert isinstance(heard, Unclear)
    assert heard.reason == reason


@pytest.mark.parametrize(
    "text",
    ["zehn Tausendstel Zoll", "vierzehn Tausendstel Zoll", "vier Zehntausendstel Zoll", "hundert Tausendstel Zoll", "vierzehn Tausendstel"],
)
def test_thousandths_that_sound_like_ten_thousandths_are_asked_about(text: str) -> None:
    heard = understand(text, BACKLASH_IN)
    assert isinstance(heard, Unclear)
    assert heard.reason == "ten-thousandths"


def test_the_same_count_with_its_figures_is_taken() -> None:
    heard = understand("eins vier, vierzehn Tausendstel Zoll", BACKLASH_IN)
    assert isinstance(heard, Value)
    assert heard.quantity == Quantity.of("0.014", "in")


@given(st.integers(0, 99), st.integers(0, 999), st.sampled_from((",", ".")))
def test_typed_millimetres_are_exactly_what_was_typed_or_asked_about(whole: int, thousandths: int, mark: str) -> None:
    typed = f"{whole}{mark}{thousandths:03d}"
    heard = understand(f"{typed} mm", BACKLASH_MM)
    if mark == "." and whole:
        assert isinstance(heard, Unclear)
        assert heard.reason == "decimal comma"
    else:
        assert isinstance(heard, Value)
        assert heard.quantity.value == Decimal(f"{whole}.{thousandths:03d}")


@pytest.mark.parametrize(
    ("text", "command"),
    [
        ("stopp", Command("stop")),
        ("Halt!", Command("stop")),
        ("stop", Command("stop")),
        ("stopp, stopp, stopp", Command("stop")),
        ("fertig", Command("done")),
        ("rückgängig", Command("undo")),
        ("rueckgaengig", Command("undo")),
        ("wie war das", Command("repeat")),
        ("bitte wiederholen", Command("repeat")),
        ("korrigiere Zahnflankenspiel", Command("correct", "backlash")),
        ("berichtige das Spiel", Command("correct", "backlash")),
        ("Einheit wechseln auf Zoll", Command("change unit", "in")),
        ("Einheit der Messuhr auf Millimeter", Command("change unit", "mm", "dial")),
    ],
)
def test_a_command_is_understood(text: str, command: Command) -> None:
    assert understand(text, BACKLASH_MM) == command


def test_going_back_names_a_step_by_its_title_or_enough_of_it() -> None:
    expected = at("backlash", "mm", steps=("a", "b"), step_words=("Zahnflankenspiel rundum", "Einstelltiefe des Ritzels"))
    assert understand("zurück zu Einstelltiefe", expected) == Command("go back", "b")
    assert understand("zurück zum Zahnflankenspiel rundum", expected) == Command("go back", "a")
    unclear = understand("zurück zu Lager", expected)
    assert isinstance(unclear, Unclear)
    assert "einstelltiefe des ritzels" in unclear.question


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("undo", Command("undo")),
        ("correct backlash", Command("correct", "backlash")),
        ("toe root", Choice("toe root")),
        ("zehe fuß", Choice("toe root")),
    ],
)
def test_the_words_of_the_interface_are_taken_too(text: str, meant: object) -> None:
    expected = Expectation(None, None, choices=("toe root",), choice_words=("Zehe Fuß",), commands=COMMANDS, tongue=GERMAN)
    assert understand(text, expected) == meant


@pytest.mark.parametrize("text", ["six and a half thou", "point zero zero six five", "eighteen inch pounds"])
def test_english_numbers_are_not_german_ones(text: str) -> None:
    assert isinstance(understand(text, BACKLASH_IN), Unclear)


@pytest.mark.parametrize(
    ("quantity", "said"),
    [
        ("0.0065 in", "sechs Komma fünf Tausendstel Zoll"),
        ("0.0004 in", "null Komma vier Tausendstel Zoll"),
        ("0.0005 in", "ein halbes Tausendstel Zoll"),
        ("0.014 in", "eins vier, vierzehn Tausendstel Zoll"),
        ("0.035 in", "drei fünf, fünfunddreißig Tausendstel Zoll"),
        ("0.001 in", "ein Tausendstel Zoll"),
        ("2.6250 in", "zwei Komma sechs zwei fünf null Zoll"),
        ("0.14 mm", "null Komma eins vier Millimeter"),
        ("66.68 mm", "sechs sechs, sechsundsechzig Komma sechs acht Millimeter"),
        ("2.1 N·m", "zwei Komma eins Newtonmeter"),
        ("180 N·m", "eins acht null, einhundertachtzig Newtonmeter"),
        ("18 lb-in", "eins acht, achtzehn Zollpfund"),
        ("118 lb-in", "eins eins acht Zollpfund"),
        ("1 notch", "eine Raste"),
        ("1.5 notch", "eineinhalb Rasten"),
        ("0.5 notch", "eine halbe Raste"),
        ("-3 0.01 mm", "minus drei Hundertstel Millimeter"),
    ],
)
def test_a_quantity_is_said_with_its_unit_and_where_it_could_be_swapped_with_its_figures(quantity: str, said: str) -> None:
    value, _, unit = quantity.partition(" ")
    assert say(Quantity.of(value, unit), tongue=GERMAN) == said


def test_a_read_back_is_in_another_form() -> None:
    assert read_back(Quantity.of("0.14", "mm"), "digits", GERMAN) == "eins vier, vierzehn Hundertstel Millimeter"
    assert read_back(Quantity.of("0.14", "mm"), "hundredths", GERMAN) == "null Komma eins vier Millimeter"
    assert read_back(Quantity.of("0.008", "in"), "thou", GERMAN) == "null Komma null null acht null Zoll"


def test_a_range_is_said_once_with_its_unit() -> None:
    assert (
        say_range(Quantity.of("0.15", "mm"), Quantity.of("0.25", "mm"), GERMAN)
        == "null Komma eins fünf bis null Komma zwei fünf Millimeter"
    )
