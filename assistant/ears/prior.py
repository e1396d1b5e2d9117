"""How likely each reading is before it is heard: for ordering what was heard, never for choosing it (see `assistant.ears`)."""

import math
from collections.abc import Callable, Hashable

from assistant.core.quantities import Quantity
from assistant.core.words import Value

FLOOR = 0.05
"""Of the most likely value's chance, for any value however far off. Readings that have nothing to do with what was expected are why one
measures: taken as 15 in 100, spread over a range of some ten deviations, they come to about this."""


def around(expected: Quantity, deviation: Quantity) -> Callable[[Hashable], float]:
    """A bell round `expected` on a floor; a command is as likely as the floor.

    deviation: one standard deviation, above zero, of the same dimension. Raises DimensionError when it is of another, ValueError for zero
    or less: the caller is at fault.
    """
    if deviation.number_in(expected.unit) <= 0:
        raise ValueError(f"a deviation of {deviation}: expected more than zero")

    def likely(meaning: Hashable) -> float:
        if not isinstance(meaning, Value) or meaning.quantity.dimension is not expected.dimension:
            return FLOOR
        deviations = float((meaning.quantity.base - expected.base) / deviation.base)
        return FLOOR + (1 - FLOOR) * math.exp(-0.5 * deviations**2)

    return likely
