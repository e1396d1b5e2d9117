"""A long row of things folded into one value, the next time from where the last time ended.

What comes out is a function of what goes in: what is remembered saves time and changes nothing.
"""

from collections.abc import Callable, Hashable, Sequence
from typing import Generic, NamedTuple, TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

# How many rows are remembered at once, and of each how many of its last values: a job asks about a few, and takes back a few of the last.
_ROWS = 8
_VALUES = 32


class _Row(NamedTuple):
    """A row that was folded. values: after so many of its items, the last ones only."""

    key: Hashable
    items: tuple[object, ...]
    values: tuple[tuple[int, object], ...]


class Folding(Generic[Item, Result]):
    """Folds rows of items. Any thread may call it: a row that two of them fold at once is folded twice."""

    def __init__(self) -> None:
        self._rows: tuple[_Row, ...] = ()

    def forget(self) -> None:
        """Nothing is remembered any more."""
        self._rows = ()

    def after(self, key: Hashable, start: Callable[[], Result], step: Callable[[Result, Item], Result], items: Sequence[Item]) -> Result:
        """The value after `step` took each of `items`, beginning with `start()`. key: everything else that start and step depend on."""
        row = tuple(items)
        if not row:
            return start()
        known, values = self._begun(key, row)
        value: Result = values[-1][1] if values else start()  # type: ignore[assignment]  # this object alone put it there
        count = values[-1][0] if values else 0
        for item in row[count:]:
            value = step(value, item)
            count += 1
            values = (*values[-_VALUES:], (count, value))
        if known is None or known.items is not row:
            known, before = _Row(key, row, values), known
            self._rows = (known, *(other for other in self._rows if other is not before))[:_ROWS]
        elif known is not self._rows[0]:
            self._rows = (known, *(other for other in self._rows if other is not known))[:_ROWS]
        return value

    def _begun(self, key: Hashable, row: tuple[object, ...]) -> tuple[_Row | None, tuple[tuple[int, object], ...]]:
        """The remembered row that goes farthest along with this one, and its values up to there."""
        best: tuple[_Row | None, tuple[tuple[int, object], ...]] = (None, ())
        for known in self._rows:
            if known.key != key:
                continue
            if known.items is row:
                return known, known.values
            same = _in_common(known.items, row)
            values = known.values if known.values[-1][0] <= same else tuple(entry for entry in known.values if entry[0] <= same)
            if values and (not best[1] or values[-1][0] >= best[1][-1][0]):
                best = (known, values)
        return best


def _in_common(one: tuple[object, ...], other: tuple[object, ...]) -> int:
    """How many of their first items are equal. By halves of slices, for a slice of the same objects is compared without looking into them."""
    same, least = 0, min(len(one), len(other))
    if one[:least] == other[:least]:
        return least
    while least - same > 1:
        middle = (same + least) // 2
        if one[same:middle] == other[same:middle]:
            same = middle
        else:
            least = middle
    return same
