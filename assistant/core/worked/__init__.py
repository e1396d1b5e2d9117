"""The sums of the trade by hand: a kind and its keys as text → the answer, with its working in sentences.

KINDS     every kind by name, in the order of the work
solve     kind and `key=value` texts → Answer; BadInputError names each key that is wrong and what was expected
"""

from collections.abc import Sequence
from difflib import get_close_matches

from assistant.core.errors import BadInputError
from assistant.core.worked import carrier, depth, drag, figures, mesh
from assistant.core.worked.keys import Answer, Key, Kind, read

__all__ = ["KINDS", "Answer", "Key", "Kind", "kind_named", "solve"]

KINDS: dict[str, Kind] = {kind.name: kind for group in (depth, drag, carrier, mesh, figures) for kind in group.KINDS}


def kind_named(name: str) -> Kind:
    """The kind of that name. Raises BadInputError with the nearest one."""
    if name not in KINDS:
        near = get_close_matches(name, KINDS, 1)
        raise BadInputError(
            f"kind {name!r} is not known: " + (f"did you mean {near[0]}?" if near else f"expected one of {', '.join(KINDS)}")
        )
    return KINDS[name]


def solve(name: str, pairs: Sequence[str]) -> Answer:
    """Work one sum. Raises BadInputError for an unknown kind or key, a missing sign or unit, or a value that cannot be."""
    kind = kind_named(name)
    return kind.solve(read(kind, pairs))
