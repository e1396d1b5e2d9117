"""The table of families, and `decode`: the one door to a decoder."""

from dataclasses import dataclass, field
from typing import Literal

from gauges.errors import SettingError
from gauges.formats.ascii_signed_cr import AsciiSignedCr
from gauges.formats.base import Decoder, LineDecoder
from gauges.formats.bcd_13_nibble import Bcd13Nibble
from gauges.framing import Parity
from gauges.reading import UNITS

__all__ = ["FORMATS", "Decoder", "Format", "LineSettings", "decode", "unit_from"]


@dataclass(frozen=True)
class LineSettings:
    """How a serial line is set. parity: "E" is even parity on the wire; with 7 data bits it is checked here, not by the port."""

    baud: int
    data_bits: Literal[7, 8]
    parity: Literal["N", "E"]
    stop_bits: Literal[1, 2]

    def __str__(self) -> str:
        return f"{self.baud} {self.data_bits}{self.parity}{self.stop_bits}"

    @property
    def seconds_per_byte(self) -> float:
        """Start bit, data bits, parity bit and stop bits at this speed."""
        return (1 + self.data_bits + (self.parity != "N") + self.stop_bits) / self.baud


@dataclass(frozen=True)
class Format:
    """One row of the table.

    decoder: its class. lines: the line settings that its instruments use, the usual first; empty where no serial port is involved.
    needs_unit: its frames carry no unit. fixed_width: bytes per frame with the line end, None where they vary.
    questions: what may be asked for a value, parity not yet put on; never a command that sets, zeroes or deletes.
    period_seconds: usual time between two frames of a streaming gauge, None for one that only answers or sends by a button.
    needs_agreement: damage can pass as another value, so two frames must agree before a value is taken.
    """

    key: str
    decoder: type[Decoder]
    lines: tuple[LineSettings, ...]
    needs_unit: bool
    fixed_width: int | None
    needs_agreement: bool
    about: str
    parity: Parity = "none"
    questions: tuple[bytes, ...] = ()
    period_seconds: float | None = None
    takes_address: bool = field(default=False)


_4800_7E2 = LineSettings(4800, 7, "E", 2)
_9600_8N1 = LineSettings(9600, 8, "N", 1)

FORMATS: dict[str, Format] = {
    row.key: row
    for row in (
        Format("ascii-signed-cr", AsciiSignedCr, (_4800_7E2,), needs_unit=True, fixed_width=10, needs_agreement=False,
               about="sign, digits with a point, CR", parity="even7", questions=(b"?\r",), period_seconds=0.1),
        Format("bcd-13-nibble", Bcd13Nibble, (_9600_8N1,), needs_unit=False, fixed_width=15, needs_agreement=True,
               about="thirteen clocked digits, through the adapter", period_seconds=0.2),
    )
}  # fmt: skip

# Spellings of a unit that people type, beside the names themselves.
_UNIT_SPELLINGS = {
    "inch": "in", "µm": "um", "N·m": "N.m", "Nm": "N.m", "cN·m": "cN.m", "cNm": "cN.m", "lb-in": "lbf.in", "lb-ft": "lbf.ft",
    "kgf·cm": "kgf.cm", "ozf·in": "ozf.in",
}  # fmt: skip


def unit_from(text: str) -> str:
    """The unit that `text` names. Raises SettingError for any other text."""
    unit = _UNIT_SPELLINGS.get(text, text)
    if unit not in UNITS:
        raise SettingError(f"unit {text!r} is not known: expected one of {', '.join(UNITS)}")
    return unit


def decode(key: str, *, unit: str | None = None, parity: str | None = None, address: int | None = None) -> Decoder:
    """A fresh decoder of the family `key`.

    unit: needed where the frames carry none (see `Format.needs_unit`), else not looked at: the frame's own unit counts.
    parity: "even7" or "none"; left out, what the family's instruments are set to when new. address: of a polled instrument, 1 to 247.
    Raises SettingError that says what was given and what was expected.
    """
    row = FORMATS.get(key)
    if row is None:
        raise SettingError(f"format {key!r} is not known: expected one of {', '.join(FORMATS)}")
    if unit is not None:
        unit = unit_from(unit)
    if row.needs_unit and unit is None:
        raise SettingError(f"format {key} has no unit in its frames: give the unit the gauge is set to, such as mm or in")
    if parity not in (None, "even7", "none"):
        raise SettingError(f"parity {parity!r} is not known: expected even7 or none")
    if address is not None and not (row.takes_address and 1 <= address <= 247):
        expected = "expected 1 to 247" if row.takes_address else f"format {key} has no addresses"
        raise SettingError(f"address {address}: {expected}")
    settings: dict[str, object] = {"unit": unit if row.needs_unit else None}
    if issubclass(row.decoder, LineDecoder):
        settings["parity"] = parity or row.parity
    elif parity == "even7":
        raise SettingError(f"parity even7: format {key} uses all eight bits, expected none")
    if address is not None:
        settings["address"] = address
    return row.decoder(**settings)  # type: ignore[arg-type]  # the table, not the type checker, knows what this family takes
