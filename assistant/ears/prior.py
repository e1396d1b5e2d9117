"""How likely each reading is before it is heard: for ordering what was heard, never for choosing it (see `assistant.ears`)."""

import math
from collections.abc import Callable, Hashable

from assistant.core.quantities import Quantity
from assistant.core.words import Value

FLOOR = 0.05
"""Of the most likely value's chance, for any value however far off. Chosen by figures (docs/benchmarks.md): if the prior chose, surprising values
would be misheard 1.2 times as often as expected ones; at .02 it were 1.6 times, at .001 3.6 times."""


def bell(deviations: float, floor: float = FLOOR) -> float:
    """How likely a value is that lies so many standard deviations from what is expected: 1 at most, `floor` at least."""
    return floor + (1 - floor) * math.exp(-0.5 * deviations**2)


def around(expected: Quantity, deviation: Quantity, floor: float = FLOOR) -> Callable[[Hashable], float]:
    """A bell round `expected` on a floor; a command is as likely as the floor.

    deviation: one standard deviation, above zero, of the same dimension. Raises DimensionError when it is of another, ValueError for zero
    or less: the caller is at fault.
    """
    if deviation.number_in(expected.unit) <= 0:
        raise ValueError(f"a deviation of {deviation}: expected more than zero")

    def likely(meaning: Hashable) -> float:
        if not isinstance(meaning, Value) or meaning.quantity.dimension is not expected.dimension:
            return floor
        return bell(float((meaning.quantity.base - expected.base) / deviation.base), floor)

    return likely
