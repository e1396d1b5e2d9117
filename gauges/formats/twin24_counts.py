"""`twin24-counts`: two clocked 24-bit counts, passed on by the adapter as twelve hex capitals: absolute, then relative to the zero key.

20480 counts make an inch, so mm = counts · 25.4 / 20480, rounded half up to 0.01. The gauge's unit key doesn't change the counts: the
unit is always mm. Writers disagree on the order of the groups: press zero and see which one becomes 0.
"""

from decimal import ROUND_HALF_UP, Decimal

from gauges.formats.adapter import AdapterLine
from gauges.framing import Parity
from gauges.reading import Event, Fault, exact_value

_COUNTS_PER_INCH = 20480
_MM_PER_INCH = Decimal("25.4")
_STEP = Decimal("0.01")


class Twin24Counts(AdapterLine):
    """Reads the relative count. The difference between the two groups is constant between zero presses, so it is locked.

    relative_first: the order of the groups is the other one.
    """

    digits = 12

    def __init__(self, *, unit: str | None = None, parity: Parity = "none", relative_first: bool = False) -> None:
        super().__init__(unit=unit, parity=parity)
        self._relative_first = relative_first
        self._difference: int | None = None

    def reset(self, *, keep_lock: bool, whole: bool = False) -> None:
        """As in `Decoder`; the difference is part of the lock. After a wanted zero, call it with keep_lock False."""
        super().reset(keep_lock=keep_lock, whole=whole)
        if not keep_lock:
            self._difference = None

    def read_frame(self, digits: str, raw: bytes, offset: int) -> Event:
        """The event of two groups."""
        first, second = int(digits[:6], 16), int(digits[6:], 16)
        absolute, relative = (second, first) if self._relative_first else (first, second)
        difference = (absolute - relative) % 2**24
        if self._difference not in (None, difference):
            detail = f"absolute − relative is {difference:06X}, expected {self._difference:06X}: was zero pressed?"
            return Fault("offset-change", detail, raw, offset)
        self._difference = difference
        counts = relative - 2**24 if relative & 0x800000 else relative
        millimetres = (Decimal(counts) * _MM_PER_INCH / _COUNTS_PER_INCH).quantize(_STEP, ROUND_HALF_UP)
        return self._accept(exact_value(str(millimetres)), "mm", raw, offset)
