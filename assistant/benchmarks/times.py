"""What benchmarks say of many times."""

from collections.abc import Sequence


def at_share(seconds: Sequence[float], share: float) -> float:
    """The time that this share of the times stays below; there is one at least."""
    ordered = sorted(seconds)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]
