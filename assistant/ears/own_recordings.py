"""Phrases read aloud at this bench and kept on purpose, so that a shop can measure its own voices and noise.

A folder holds one WAV a phrase and `phrases.jsonl`, one line each with what was said and at which step. Nothing leaves the folder. Who gives
it away later needs the speaker's consent in writing; the folder's README says so.
"""

import json
import random
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.core import english
from assistant.core.errors import BadInputError
from assistant.core.grammar import phrases, spoken_forms, value_set
from assistant.core.quantities import Quantity
from assistant.core.words import Command, Expectation, Value
from assistant.ears import READ_BACK, Verdict

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    from assistant.ears.net import NetEar

COUNT = 120
TRIES = 3
LIST, README = "phrases.jsonl", "README.txt"
# What is read, with how many phrases: the units and sizes of a whole job.
_READINGS = {
    ("backlash", "in"): 28, ("ring_runout", "in"): 10, ("backlash", "mm"): 12, ("pinion_drag", "lb-in"): 14, ("pinion_drag", "N·m"): 6,
    ("nut_torque", "lb-ft"): 10, ("shim_thickness", "in"): 10,
}  # fmt: skip
_WAITS = {
    "reading": ("take", "help", "why", "go back", "repeat", "undo", "stop", "hold"),
    "confirm": ("yes", "no", "repeat", "undo", "stop", "hold"),
    "done": ("done", "understood", "repeat", "why", "what do you have", "help", "undo", "go back", "stop", "hold"),
}
_NOTICE = """Recordings for measuring how well benchhand hears at this bench. They stay here.
Give them to nobody without the speaker's consent in writing: a voice tells who somebody is.
Measure them again: benchhand doctor --record THIS-FOLDER
"""


@dataclass(frozen=True)
class Phrase:
    """One phrase to read aloud. wait: reading, confirm or done; quantity, unit and value: of a reading; command: else."""

    number: int
    text: str
    wait: str
    quantity: str = ""
    unit: str = ""
    value: str = ""
    command: str = ""

    @property
    def wav(self) -> str:
        """The file's name in the folder."""
        return f"{self.number:03d}.wav"

    def expectation(self) -> Expectation:
        """What is expected at its step."""
        return Expectation(self.quantity or None, self.unit or None, commands=_WAITS[self.wait])

    def means(self, meaning: object) -> bool:
        """Whether a meaning is that of this phrase."""
        if isinstance(meaning, Value):
            return bool(self.value) and meaning.quantity == Quantity.of(self.value, self.unit)
        return isinstance(meaning, Command) and meaning.name == self.command


def phrase_list(seed: int = 1) -> tuple[Phrase, ...]:
    """120 phrases: readings in every form, and the commands; the same for the same seed."""
    dice = random.Random(seed)
    found: list[Phrase] = []
    for (quantity, unit), count in _READINGS.items():
        values = value_set(quantity, unit)
        listened_for = dict(phrases(Expectation(quantity, unit), values))
        for value in dice.sample(values, count):
            text = dice.choice([words for _, words in spoken_forms(value, quantity) if words in listened_for])
            found.append(Phrase(0, text, "reading", quantity, unit, value.text))
    commands = [
        (wait, name, words) for wait, names in _WAITS.items() if wait != "reading" for name in names for words in english.COMMANDS[name]
    ]
    commands = [one for one in commands if one[0] != "confirm" or one[2] not in english.NOT_HEARD_AT_CONFIRM]
    answers = [one for one in commands if one[0] == "confirm" and one[1] in ("yes", "no")]
    while len(commands) < COUNT - len(found):
        commands.append(dice.choice(answers))
    found += [Phrase(0, words, wait, command=name) for wait, name, words in commands[: COUNT - len(found)]]
    dice.shuffle(found)
    return tuple(Phrase(**{**asdict(phrase), "number": number}) for number, phrase in enumerate(found, start=1))


def record_all(
    folder: Path, listen: "Callable[[float], NDArray[numpy.int16]]", tell: Callable[[str], None], agreed: Callable[[str], bool]
) -> Iterator[Phrase]:
    """Walk through the phrases that the folder does not hold yet, one at a time; gives each as it is kept.

    listen: records so many seconds. tell: shows a line. agreed: asks a question that is answered by yes or no. Raises BadInputError when
    consent is not given, or the folder cannot be used; NoDeviceError when the microphone goes.
    """
    from assistant.ears.audio import write
    from assistant.ears.crop import Endpointer
    from assistant.ears.recorder import looked_at

    missing = [phrase for phrase in phrase_list() if phrase.number not in {kept.number for kept in kept_in(folder)}]
    if not missing:
        return
    if not agreed(f"{len(missing)} phrases will be recorded and kept in {folder}. Do you, the speaker, agree?"):
        raise BadInputError("nothing was recorded: the speaker did not agree")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / README).write_text(_NOTICE, encoding="utf-8")
    except OSError as error:
        raise BadInputError(f"{folder} cannot be written: {error.strerror or error}") from error
    endpointer = Endpointer()
    for phrase in missing:
        for _ in range(TRIES):
            tell(f"{phrase.number} of {COUNT}: {phrase.text}")
            samples = listen(2.0 + 0.45 * len(phrase.text.split()))
            if looked_at(samples, endpointer).speech_seconds:
                break
            tell("Nothing was heard; once more.")
        else:
            raise BadInputError(f"three times nothing was heard at phrase {phrase.number}: try the microphone by `benchhand doctor` first")
        write(folder / phrase.wav, samples / 32768.0)
        with (folder / LIST).open("a", encoding="utf-8") as listed:
            listed.write(json.dumps(asdict(phrase), ensure_ascii=False) + "\n")
        yield phrase


def kept_in(folder: Path) -> list[Phrase]:
    """The phrases that a folder holds, with their files. Raises BadInputError, naming the line, for a list that is damaged."""
    path = folder / LIST
    if not path.is_file():
        return []
    found = []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        try:
            phrase = Phrase(**json.loads(line))
        except (ValueError, TypeError) as error:
            raise BadInputError(f"{path}, line {number}: expected what `doctor --record` writes, not {line[:60]!r}") from error
        if (folder / phrase.wav).is_file():
            found.append(phrase)
    return found


@dataclass(frozen=True)
class Figures:
    """How the phrases of a folder are heard. wrong: accepted and not what was read; each with what was heard."""

    count: int
    right: int
    again: int
    wrong: tuple[tuple[Phrase, str], ...]
    snr_db: float | None


def figures(folder: Path, ear: "NetEar") -> Figures:
    """Let the ear hear every phrase of the folder, each as its step would. Raises BadInputError for a damaged list or file."""
    from assistant.ears.audio import read

    right, again, wrong, snrs = 0, 0, [], []
    kept = kept_in(folder)
    for phrase in kept:
        heard = ear.hear(read(folder / phrase.wav).samples, ear.load(phrases(phrase.expectation()), READ_BACK))
        snrs += [heard.snr_db] if heard.snr_db is not None else []
        if heard.verdict is not Verdict.ACCEPT or heard.chosen is None:
            again += 1
        elif phrase.means(heard.chosen.meaning):
            right += 1
        else:
            wrong.append((phrase, heard.chosen.words))
    return Figures(len(kept), right, again, tuple(wrong), sorted(snrs)[len(snrs) // 2] if snrs else None)
