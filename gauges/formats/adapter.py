"""The line that our clocked-output adapter sends: hex capitals of one frame, or E when the gauge's clock stopped.

The adapter is a convention of this project: it passes on the gauge's bits and judges nothing.
"""

import re
from abc import abstractmethod
from collections.abc import Sequence
from typing import ClassVar

from gauges.formats.base import LineDecoder
from gauges.reading import Event, Fault

# What six decimal digits show when the gauge is beyond its range.
ALL_NINES = "999999"
_HEX = re.compile(r"[0-9A-F]+")


class AdapterLine(LineDecoder):
    """A clocked family behind the adapter: a fixed count of hex digits in one line."""

    ends = "crlf"
    digits: ClassVar[int]

    def read_line(self, text: str, raw: bytes, offset: int) -> Sequence[Event]:
        """One reading, or one fault."""
        if text == "E":
            return (Fault("adapter-error", "the gauge's clock stopped in mid-frame: is it on, is the plug in?", raw, offset),)
        if len(text) != self.digits or not _HEX.fullmatch(text):
            return (Fault("shape", f"{text!r}, expected {self.digits} hex capitals", raw, offset),)
        return (self.read_frame(text, raw, offset),)

    @abstractmethod
    def read_frame(self, digits: str, raw: bytes, offset: int) -> Event:
        """The event of one frame: `digits` hex capitals, first sent first."""
