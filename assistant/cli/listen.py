"""`benchhand listen WAV…`: each clip recognised as one step would hear it."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from assistant.cli.run import Language
from assistant.core.errors import BadInputError

if TYPE_CHECKING:
    from assistant.core.phrases import Phrases
    from assistant.core.quantities import Quantity
    from assistant.core.tongue import Tongue
    from assistant.core.words import Expectation
    from assistant.ears import Ear, Heard, Samples


def register(app: typer.Typer) -> None:
    """Mount the command."""
    app.command("listen")(listen)


def listen(
    wavs: Annotated[list[Path], typer.Argument(metavar="WAV...", help="Clips of one utterance each; any rate, width and channels.")],
    expect: Annotated[
        str,
        typer.Option("--expect", metavar="QUANTITY", help="What the step waits for: a quantity, confirm, or command (done, understood …)."),
    ],
    unit: Annotated[
        str | None, typer.Option("--unit", metavar="U", help="The step's unit; default: the quantity's first, in inches.")
    ] = None,
    around: Annotated[
        str | None, typer.Option("--around", metavar="VALUE", help="The expected value; it only orders what was heard.")
    ] = None,
    spread: Annotated[str | None, typer.Option("--spread", metavar="VALUE", help="One standard deviation of the expected value.")] = None,
    language: Language = "en",
    vosk_model: Annotated[
        Path | None, typer.Option("--vosk-model", metavar="FOLDER", help="A Vosk model in place of our own ear: the folder, by its path.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a clip on standard output.")] = False,
) -> None:
    """Recognise each WAV as one step would hear it, one line each.

    A clip that cannot be read is not accepted, with its fault in "error"; the next still runs, and the exit status is 2.
    """
    try:
        from assistant.files import language_named, phrases_for

        phrases_of = phrases_for(language_named(language))
        asked = _asked(expect, unit, around, spread, phrases_of)
        ear = _ear(vosk_model, phrases_of.tongue)
    except BadInputError as error:
        typer.echo(f"listen: {error}", err=True)
        raise typer.Exit(2) from error
    from assistant.core.grammar import phrases
    from assistant.ears.audio import read
    from assistant.ears.prior import around as prior_around

    grammar = ear.load(phrases(asked.expectation, asked.values))
    prior = None if asked.expected is None or asked.deviation is None else prior_around(asked.expected, asked.deviation)
    all_read = True
    for wav in wavs:
        try:
            clip = read(wav)
        except BadInputError as error:
            all_read = False
            typer.echo(f"listen: {error}", err=True)
            line = _line(wav, None) | {"error": str(error)}
        else:
            if clip.warning:
                typer.echo(f"listen: {wav}: {clip.warning}", err=True)
            line = _line(wav, ear.hear(clip.samples, grammar, prior))
        typer.echo(json.dumps(line, ensure_ascii=False) if as_json else _shown(line))
    if not all_read:
        raise typer.Exit(2)


@dataclass(frozen=True)
class _Asked:
    """What was asked for: what the step expects, its values (None: no reading), and the prior's centre and deviation."""

    expectation: "Expectation"
    values: "tuple[Quantity, ...] | None" = None
    expected: "Quantity | None" = None
    deviation: "Quantity | None" = None


def _asked(expect: str, unit: str | None, around: str | None, spread: str | None, spoken: "Phrases") -> _Asked:
    """Read the options. Raises BadInputError for the first that is wrong, saying what was expected."""
    from assistant.core.axle import LARGE_QUANTITIES, PATTERN_CHOICES, PATTERNS
    from assistant.core.grammar import heard_values, units_of
    from assistant.core.waits import CONFIRM_COMMANDS, READING_COMMANDS, WAIT_COMMANDS
    from assistant.core.words import Expectation

    waits = {"confirm": CONFIRM_COMMANDS, "command": WAIT_COMMANDS} | dict.fromkeys(PATTERNS, READING_COMMANDS)
    if expect in waits:
        if unit or around or spread:
            raise BadInputError(f"--expect {expect} hears words, not values: leave out --unit, --around and --spread")
        choices = PATTERN_CHOICES if expect in PATTERNS else ()
        words = tuple(map(spoken.choice, choices))
        return _Asked(Expectation(None, None, choices=choices, commands=waits[expect], tongue=spoken.tongue, choice_words=words))
    try:
        units = units_of(expect)
    except BadInputError as error:
        raise BadInputError(f"--expect {error}, {', '.join(waits)}") from error
    if (around is None) != (spread is None):
        raise BadInputError("--around and --spread go together: the expected value, and one standard deviation of it")
    wanted = unit or units[0]
    expected, deviation = _quantity("--around", around, wanted), _quantity("--spread", spread, wanted)
    if deviation is not None and deviation.value <= 0:
        raise BadInputError(f"--spread {spread}: expected more than zero")
    if expect in LARGE_QUANTITIES and expected is None:
        raise BadInputError(f"{expect} has too many values to listen for all: give --around and --spread")
    values = heard_values(expect, wanted, expected, deviation)
    step = Expectation(expect, values[0].unit, signed=values[0].value < 0, commands=READING_COMMANDS, tongue=spoken.tongue)
    return _Asked(step, values, expected, deviation)


def _ear(vosk_model: Path | None, tongue: "Tongue") -> "Ear[Samples, Any]":
    """Our own ear, or a Vosk model of the user's. Raises BadInputError: our own hears English only."""
    if vosk_model is not None:
        from assistant.ears.vosk import VoskEar

        return VoskEar(vosk_model, tongue)
    from assistant.core.tongues import ENGLISH
    from assistant.hearing import NET_HEARS_ENGLISH

    if tongue is not ENGLISH:
        raise BadInputError(NET_HEARS_ENGLISH.format(name=tongue.name))
    from assistant.ears.net import NetEar

    return NetEar()


def _quantity(option: str, text: str | None, unit: str) -> "Quantity | None":
    """A value in the step's unit, or with a unit of its own that fits it."""
    from assistant.core.errors import DimensionError
    from assistant.core.quantities import Quantity, unit_named

    if text is None:
        return None
    has_unit = not text.strip()[-1:].isdigit()
    quantity = Quantity.parse(text) if has_unit else Quantity.of(text, unit)
    if quantity.dimension is not unit_named(unit).dimension:
        raise DimensionError(f"{option} {text} does not fit a step in {unit}")
    return quantity


def _line(wav: Path, heard: "Heard | None") -> dict[str, Any]:
    """What the interface prints of one clip; without a hearing, the line of a clip that could not be read."""
    from assistant.core.words import Choice, Command, Value
    from assistant.ears import Verdict

    line: dict[str, Any] = {
        "wav": str(wav), "accepted": False, "value": None, "unit": None, "command": None, "heard": None, "confidence": 0.0, "seconds": 0.0,
    }  # fmt: skip
    if heard is None:
        return line
    line["seconds"] = round(heard.seconds, 4)
    if heard.verdict is not Verdict.SILENT and heard.best is not None:
        line |= {"heard": heard.best.words, "confidence": round(heard.best.posterior, 6)}
    if heard.chosen is not None:
        line["accepted"] = True
        match heard.chosen.meaning:
            case Value(quantity=quantity):
                line |= {"value": quantity.text, "unit": quantity.unit}
            case Command(name=name):
                line["command"] = name
            case Choice(text=text):
                line["value"] = text
    else:
        line["reason"] = heard.reason
    if heard.is_surprise:
        line["expected_instead"] = heard.candidates[0].words
    return line


def _shown(line: dict[str, Any]) -> str:
    """The same for people."""
    if "error" in line:
        return f"{line['wav']}: not read"
    if not line["accepted"]:
        return f"{line['wav']}: not accepted, {line['reason']}"
    answer = line["command"] or " ".join(filter(None, (line["value"], line["unit"])))
    surprise = f", though {line['expected_instead']!r} was expected" if "expected_instead" in line else ""
    return f"{line['wav']}: {answer} (heard {line['heard']!r}, {line['confidence']:.4f}, {line['seconds']:.3f} s{surprise})"
