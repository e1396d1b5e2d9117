"""Two builds side by side: what they were to be, what they came to, and what it took."""

from collections.abc import Iterator
from dataclasses import dataclass

from assistant.report import FinalLine, Sheet
from assistant.report.sections import layout, moment


@dataclass(frozen=True)
class Line:
    """One line of the comparison. group: `job`, `limit`, `final`, `fitted` or `effort`.

    one and other: as they are read, empty where there is none.
    """

    group: str
    what: str
    one: str
    other: str

    @property
    def differs(self) -> bool:
        """Whether the two are not the same to the letter."""
        return self.one != self.other


def compared(one: Sheet, other: Sheet) -> tuple[Line, ...]:
    """Every line, in the order of the sheet; a quantity that only one of them has is there too."""
    return tuple(_lines(one, other))


def _lines(one: Sheet, other: Sheet) -> Iterator[Line]:
    for what, of in (
        ("title", lambda sheet: sheet.job.title),
        ("began", lambda sheet: moment(sheet.began)),
        ("layout", layout),
        ("verdict", lambda sheet: sheet.verdict),
    ):
        yield Line("job", what, of(one), of(other))
    yield from _paired("limit", {s.name: s.limits for s in one.specs}, {s.name: s.limits for s in other.specs})
    yield from _paired("final", {f.name: _final(f) for f in one.finals}, {f.name: _final(f) for f in other.finals})
    yield from _paired("fitted", _fitted(one), _fitted(other))
    yield from _paired("effort", _effort(one), _effort(other))


def _paired(group: str, one: dict[str, str], other: dict[str, str]) -> Iterator[Line]:
    for what in dict.fromkeys((*one, *other)):
        yield Line(group, what, one.get(what, ""), other.get(what, ""))


def _final(line: FinalLine) -> str:
    figures = f"{', '.join(line.values)} {line.unit}".strip()
    return f"{figures or 'not read'} ({line.verdict})"


def _fitted(sheet: Sheet) -> dict[str, str]:
    return {item.part.replace("_", " "): str(item.total) for item in sheet.fitted}


def _effort(sheet: Sheet) -> dict[str, str]:
    void = sum(bool(line.void) for line in sheet.readings)
    corrections = sum(line.made and not line.move.start for line in sheet.moves)
    return {
        "readings": f"{len(sheet.readings)}, {void} of them void",
        "corrections made": str(corrections),
        "things that did not add up": str(len(sheet.alarms)),
        "cautions accepted": str(len(sheet.cautions)),
    }
