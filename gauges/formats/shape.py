"""Shapes of packets: which bytes may stand at each place, so that a start that can't become a packet is seen at its first wrong byte."""

from collections.abc import Iterable

from gauges.framing import INCOMPLETE, NO_PACKET

Shape = tuple[frozenset[int], ...]


def one_of(values: Iterable[int]) -> frozenset[int]:
    """A place where one of these bytes stands."""
    return frozenset(values)


def any_byte() -> frozenset[int]:
    """A place where any byte may stand."""
    return frozenset(range(256))


def measured(shape: Shape, buffer: bytes, at: int) -> int:
    """The shape's length if all its bytes fit at `at`, INCOMPLETE if those that are there fit, else NO_PACKET."""
    available = buffer[at : at + len(shape)]
    for allowed, byte in zip(shape, available, strict=False):
        if byte not in allowed:
            return NO_PACKET
    return len(shape) if len(available) == len(shape) else INCOMPLETE
