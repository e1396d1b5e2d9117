"""Labelled clips for the recogniser: what is said, by whom, in what noise; and the score of what was heard.

One clip at several levels of noise is the same speech. Chatter is talk that is not for the assistant: the right answer is not to accept it.
silent-wrong: accepted, and not what was said. ask-again: not accepted, though it was for us. Each rate comes with its 95 % interval, for none
wrong of sixty still allows six in a hundred.
"""

import math
import random
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any

from assistant.benchmarks import noises, voices
from assistant.core import english
from assistant.core.grammar import spoken_forms, value_set
from assistant.core.quantities import Quantity
from assistant.ears import RATE

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

READINGS = {
    ("backlash", "in"): 6.0, ("ring_runout", "in"): 2.0, ("backlash", "mm"): 3.0, ("pinion_drag", "lb-in"): 3.0, ("pinion_drag", "N·m"): 1.0,
    ("nut_torque", "lb-ft"): 1.5,
}  # fmt: skip
"""What is read, with how often: the units and sizes of a whole job."""
WORDS = {
    "command": ("done", "understood", "repeat", "undo", "stop", "hold"),
    "confirm": ("yes", "no", "repeat", "undo", "stop", "hold"),
    "reading": ("take", "help", "why", "go back", "repeat", "undo", "stop", "hold"),
}
"""The commands that are said at each kind of wait, by the names that `listen` prints."""
CHATTER = (
    "hand me the big hammer would you", "did you see the game last night", "the parts van comes at four", "who left the door open",
    "tell him i will call back later", "that radio is too loud", "put the kettle on please", "it was eleven hundred dollars with the tax",
    "turn left at the second light", "my truck needs two new tires", "he said about half past six maybe", "where is the other glove",
    "this gasket is no good at all", "you can stop by after lunch", "that is the wrong bolt for this one", "no i do not think so",
    "give it another quarter turn then wait", "and now the weather for tomorrow morning",
)  # fmt: skip
SHARE_OF_CHATTER, SHARE_OF_COMMANDS = 0.06, 0.2
SHARE_IN_A_ROOM = 0.4
PITCHES = (35, 43, 50, 50, 58, 65)


@dataclass(frozen=True)
class Item:
    """One thing said.

    kind: reading, command or chatter. expect, unit: the step it is said at, as `listen` takes them (unit "" for words). form: how a value
    is said. value: exact decimal text. command: the name that `listen` should print.
    """

    number: int
    kind: str
    text: str
    expect: str
    unit: str
    form: str = ""
    value: str = ""
    command: str = ""
    voice: str = "espeak:en-us"
    speed: float = 1.0
    pitch: int = 50


@dataclass(frozen=True)
class Clip:
    """An item in its noise. samples: 16 kHz, −1 to 1. snr_db, noise: None in a quiet room."""

    item: Item
    snr_db: float | None
    noise: str | None
    samples: "NDArray[numpy.float64]"


def planned(count: int, seed: int, among: Sequence[str]) -> list[Item]:
    """`count` things to say, each voice of `among` in turn: three readings to every command, and some chatter."""
    dice = random.Random(seed)
    said_commands = _every_command(dice)
    items = []
    for number in range(count):
        said = _said_somehow(number, among[number % len(among)], dice)
        drawn = dice.random()
        expect, unit = dice.choices(list(READINGS), list(READINGS.values()))[0]
        if drawn < SHARE_OF_CHATTER:
            items.append(replace(said, kind="chatter", text=dice.choice(CHATTER), expect=expect, unit=unit))
        elif drawn < SHARE_OF_CHATTER + SHARE_OF_COMMANDS:
            wait, name, text = next(said_commands)
            at, its_unit = (expect, unit) if wait == "reading" else (wait, "")
            items.append(replace(said, kind="command", text=text, expect=at, unit=its_unit, command=name))
        else:
            value = dice.choice(value_set(expect, unit))
            form, text = dice.choice(spoken_forms(value, expect))
            items.append(replace(said, kind="reading", text=text, expect=expect, unit=unit, form=form, value=value.text))
    return items


def _said_somehow(number: int, voice: str, dice: random.Random) -> Item:
    """An item of this voice at a speed and pitch of its own; what is said comes later."""
    return Item(number, "", "", "", "", voice=voice, speed=round(dice.uniform(0.85, 1.2), 2), pitch=dice.choice(PITCHES))


def _every_command(dice: random.Random) -> Iterator[tuple[str, str, str]]:
    """(wait, name, words) of every way to give every command, again and again, in an order of its own each time."""
    ways = [(wait, name, text) for wait, names in WORDS.items() for name in names for text in english.COMMANDS[name]]
    ways = [way for way in ways if way[0] != "confirm" or way[2] not in english.NOT_HEARD_AT_CONFIRM]
    while True:
        dice.shuffle(ways)
        yield from ways


def confirms(count: int, seed: int, among: Sequence[str]) -> list[Item]:
    """`count` answers to a read-back, half of them a yes, half a no, in all their words."""
    dice = random.Random(seed)
    items = []
    for number in range(count):
        name = ("yes", "no")[number % 2]
        said = _said_somehow(number, among[number // 2 % len(among)], dice)
        items.append(replace(said, kind="command", text=dice.choice(english.COMMANDS[name]), expect="confirm", command=name))
    return items


def recorded(
    items: Iterable[Item], levels: Sequence[float | None], kinds: Sequence[str], seed: int, room: float = SHARE_IN_A_ROOM
) -> Iterator[Clip]:
    """Each item said, and put into its noise by `in_noise`.

    espeak never says a thing twice in quite the same number of samples, so that a run is repeated to the last sample only from its start.
    """
    return in_noise(((item, voices.spoken(item.voice, item.text, item.speed, item.pitch)) for item in items), levels, kinds, seed, room)


def in_noise(
    said: "Iterable[tuple[Item, NDArray[numpy.float64]]]",
    levels: Sequence[float | None],
    kinds: Sequence[str],
    seed: int,
    room: float = SHARE_IN_A_ROOM,
) -> Iterator[Clip]:
    """Each item at each level of noise: a kind of `kinds` drawn for each; None is a quiet room. Four in ten are said in a room.

    Item number and seed decide all that is drawn.
    """
    import numpy as np

    babble = talk()
    for item, speech in said:
        dice = np.random.default_rng([seed, item.number])
        drawn = [kinds[int(dice.integers(len(kinds)))] for _ in levels]
        if dice.random() < room:
            speech = noises.in_a_room(speech, dice, dice.uniform(0.2, 0.45))
        clip = np.concatenate([np.zeros(int(RATE * (0.5 + dice.uniform(0.0, 0.2)))), speech, np.zeros(int(RATE * 0.7))])
        for level, its_noise in zip(levels, drawn, strict=True):
            kind = None if level is None else its_noise
            yield Clip(item, level, kind, noises.with_noise(clip, level, kind, dice, babble))


@cache
def talk() -> "NDArray[numpy.float64]":
    """All the chatter, one line after another in several voices: what babble is made of."""
    import numpy as np

    espeaks = [voice for voice in voices.HEARD_IN_TRAINING if voice.startswith("espeak:")]
    return np.concatenate([voices.spoken(espeaks[number % len(espeaks)], text) for number, text in enumerate(CHATTER)])


def outcome(item: Item, line: Mapping[str, Any] | None) -> str:
    """right, wrong (silently), again, quiet (chatter refused) or taken (chatter accepted). line: what `listen` printed; None is none."""
    accepted = bool(line and line["accepted"])
    if item.kind == "chatter":
        return "taken" if accepted else "quiet"
    if line is None or not accepted:
        return "again"
    if item.kind == "command":
        return "right" if line["command"] == item.command and line["value"] is None else "wrong"
    if line["command"] is not None or line["value"] is None:
        return "wrong"
    heard, said = Quantity(Decimal(line["value"]), line["unit"]), Quantity(Decimal(item.value), item.unit)
    return "right" if heard == said and heard.unit == said.unit else "wrong"


@dataclass(frozen=True)
class Score:
    """Counts over some clips.

    seconds: from the end of each clip to its result, sorted. at_once: how many of those for us had what was said as their likeliest, over the
    bars or not.
    """

    right: int
    wrong: int
    again: int
    quiet: int
    taken: int
    seconds: tuple[float, ...]
    at_once: int = 0

    @property
    def spoken(self) -> int:
        """Clips that were for us."""
        return self.right + self.wrong + self.again

    @property
    def chatter(self) -> int:
        """Clips that were not."""
        return self.quiet + self.taken

    def quantile(self, share: float) -> float:
        """The time within which `share` of the clips were answered; 0 without clips."""
        return self.seconds[max(0, math.ceil(share * len(self.seconds)) - 1)] if self.seconds else 0.0


def score(outcomes: Iterable[tuple[str, float]], at_once: int = 0) -> Score:
    """Count (outcome, seconds) pairs. at_once: see `Score`."""
    pairs = list(outcomes)
    counts = Counter(found for found, _ in pairs)
    seconds = tuple(sorted(seconds for _, seconds in pairs))
    return Score(counts["right"], counts["wrong"], counts["again"], counts["quiet"], counts["taken"], seconds, at_once)


def interval(hits: int, tries: int) -> tuple[float, float]:
    """The 95 % interval of a rate by Wilson's score (E. B. Wilson, Journal of the American Statistical Association 22, 1927)."""
    if tries == 0:
        return 0.0, 1.0
    z, rate = 1.959964, hits / tries
    middle, half = rate + z * z / (2 * tries), z * math.sqrt(rate * (1 - rate) / tries + z * z / (4 * tries * tries))
    return max(0.0, (middle - half) / (1 + z * z / tries)), min(1.0, (middle + half) / (1 + z * z / tries))
