"""What a decoder gives: a Reading, a Status or a Fault, all frozen.

House rules: a value is a Decimal with every digit that was sent, never a float; a unit is always there; a refused frame is a Fault
with a code, never a missing result and never an exception.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, get_args

FaultCode = Literal[
    "parity", "shape", "not-ascii", "overlong", "bad-terminator", "partial-tail", "no-frame", "resync", "checksum", "header", "sign",
    "bcd-digit", "decimal-point", "unit", "reserved-bits", "implausible", "unit-change", "decimals-change", "width-change",
    "mode-change", "offset-change", "over-range", "gauge-error", "adapter-error", "tool-abnormal", "modbus-exception", "duplicate",
]  # fmt: skip
FAULT_CODES: tuple[str, ...] = get_args(FaultCode)

# The names of units that come out of this package. A gauge's own spelling (MM, lbFin, In.oz) never does.
UNITS = ("mm", "in", "um", "kg", "lb", "N.m", "cN.m", "lbf.in", "lbf.ft", "kgf.cm", "ozf.in")


@dataclass(frozen=True, slots=True)
class Reading:
    """One value that a gauge sent.

    value: exact, with the decimals that were sent (2.1380 keeps its last zero); minus zero is given as zero.
    unit: one of `UNITS`, from the frame or, where the frame has none, from the settings.
    channel: the gauge's own name for its channel as sent ("01", "1"); None where the frame has none.
    raw: the frame as it came in, parity bits and all, without the line end. offset: of its first byte in the stream.
    marks: what else the frame says: "hold", "over", "under", "high", "good", "low", a verdict.
    """

    value: Decimal
    unit: str
    channel: str | None = None
    raw: bytes = b""
    offset: int = 0
    marks: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The value as plain decimal text: no plus, no exponent, one digit at least before the point."""
        return format(self.value, "f")

    @property
    def decimals(self) -> int:
        """Digits after the point."""
        return decimals_of(self.value)

    @property
    def count(self) -> Decimal:
        """The size of one step of the last digit, in `unit`."""
        return Decimal(1).scaleb(-self.decimals)


@dataclass(frozen=True, slots=True)
class Status:
    """A line that is no value and no fault: a battery or unit report, an echo, a value that is still moving.

    text: as sent. moving: the value of a frame that the gauge itself marks as unstable, for a live display only, never to be taken.
    """

    text: str
    raw: bytes = b""
    offset: int = 0
    channel: str | None = None
    moving: Reading | None = None

    @property
    def is_battery_low(self) -> bool:
        """Whether the gauge reports a low battery; its values stay valid."""
        return not {"BAT0", "B0"}.isdisjoint(self.text.split(" "))

    @property
    def is_deletion(self) -> bool:
        """Whether whoever holds the gauge takes its last value back."""
        return self.text.startswith("delete last value")


@dataclass(frozen=True, slots=True)
class Fault:
    """A frame that was refused, or bytes that make no frame.

    code: one of `FAULT_CODES`. detail: what was seen and what was expected, for a person. raw, offset: as in `Reading`.
    """

    code: FaultCode
    detail: str
    raw: bytes = b""
    offset: int = 0


Event = Reading | Status | Fault


def exact_value(text: str) -> Decimal:
    """The Decimal of a sent number ("+0012.345", " .0395", "-12345E-3"), each digit kept and minus zero made zero.

    A blank for plus may stand in front. Raises decimal.InvalidOperation for anything else: the decoder must have checked the shape.
    """
    value = Decimal(text)
    return value if value else value.copy_abs()


def decimals_of(value: Decimal) -> int:
    """Digits after the point of a finite value."""
    exponent = value.as_tuple().exponent
    if not isinstance(exponent, int):
        raise ValueError(f"{value} is not a finite number")
    return max(0, -exponent)


def to_json(event: Event) -> dict[str, str]:
    """The public line of an event: value, unit and (where the frame has one) channel; or the fault's code; or the status text."""
    if isinstance(event, Reading):
        line = {"value": event.text, "unit": event.unit}
        return line if event.channel is None else {**line, "channel": event.channel}
    if isinstance(event, Status):
        return {"status": event.text}
    return {"fault": event.code}
