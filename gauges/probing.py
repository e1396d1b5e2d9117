"""Which family explains these bytes, and what is likely wrong when none does. Only listens: `C`, `Z`, `ZERO`, `CLRMEM` exist."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from gauges.formats import FORMATS, Format, LineSettings, decode
from gauges.framing import EVEN_CR, Parity
from gauges.reading import Fault, Reading

FEWEST_FRAMES = 8
FEWEST_SHARE = 0.95
_FEWEST_VALUES = 8
_SILENT_BYTES = 64
# Decoders of families without a unit in their frames want one; which one is of no importance for counting frames.
_ANY_UNIT = "mm"
_SENDING = tuple(row for row in FORMATS.values() if row.lines and not row.takes_address)


@dataclass(frozen=True)
class Match:
    """How well a family explains some bytes.

    share: exact frames among all frames, 0 to 1. frames: exact ones. unit: what the frames say; None where they say none, or several.
    step: the resolution as far as it shows: one count, or five where every value that came ends in 0 or 5.
    """

    key: str
    parity: Parity
    frames: int
    share: float
    unit: str | None = None
    step: Decimal | None = None

    @property
    def is_exact(self) -> bool:
        """Whether the share is high enough; `frames` may still be too few."""
        return self.share >= FEWEST_SHARE

    @property
    def is_found(self) -> bool:
        """Whether this family explains the bytes: enough frames, nearly all of them exact."""
        return self.is_exact and self.frames >= FEWEST_FRAMES


def families_at(line: LineSettings) -> list[Format]:
    """The families whose instruments use these line settings and send of themselves."""
    return [row for row in _SENDING if line in row.lines]


def lines_to_listen_at() -> list[LineSettings]:
    """Every line setting of the table, each once, the usual first."""
    return list(dict.fromkeys(line for row in _SENDING for line in row.lines))


def explain(data: bytes, rows: Iterable[Format] | None = None) -> list[Match]:
    """The families that make at least one exact frame of the bytes, best first; with and without parity for families of lines."""
    matches = []
    for row in _SENDING if rows is None else rows:
        parities: tuple[Parity, ...] = ("even7", "none") if row.parity == "even7" else ("none",)
        for parity in parities:
            decoder = decode(row.key, unit=_ANY_UNIT, parity=parity)
            events = decoder.feed(data)
            faults = sum(isinstance(event, Fault) for event in events)
            exact = [event for event in events if isinstance(event, Reading)]
            if exact:
                units = {reading.unit for reading in exact}
                unit = units.pop() if len(units) == 1 and not row.needs_unit else None
                frames = len(exact)
                matches.append(Match(row.key, parity, frames, frames / (frames + faults), unit, step_of(exact)))
    return sorted(matches, key=lambda match: (-match.share, -match.frames))


def step_of(readings: Sequence[Reading]) -> Decimal | None:
    """The resolution that values show (one count, or five of them); None for none, or for values of several decimals.

    Five counts need eight different values that all end in 0 or 5, both seen: by chance that happens once in 5**8.
    """
    counts = {reading.count for reading in readings}
    if len(counts) != 1:
        return None
    (count,) = counts
    values = {abs(reading.value) for reading in readings}
    ends = {int(value / count) % 10 for value in values}
    return 5 * count if len(values) >= _FEWEST_VALUES and ends == {0, 5} else count


def hint_for(data: bytes) -> str | None:
    """What is likely wrong with a line that gives no frames, from its last bytes; None when they look like text, or are few."""
    if len(data) < _SILENT_BYTES:
        return None
    zeros = data.count(0)
    if zeros > len(data) * 9 // 10:
        return "nothing but zeros: is the plug in all the way?"
    if EVEN_CR in data and all(byte.bit_count() % 2 == 0 for byte in data) and max(data) > 0x7F:
        return "every byte has even parity: set parity even7"
    printable = sum(32 <= byte < 127 or byte in (9, 10, 13) for byte in data)
    if printable < len(data) // 10 * 9:
        return "hardly any readable character: is the speed right?"
    return None
