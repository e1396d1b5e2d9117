"""The table of families, and `decode`: the one door to a decoder."""

from dataclasses import dataclass
from typing import Literal, TypedDict

from gauges.errors import SettingError
from gauges.formats.ascii_fixed_unit import AsciiFixedUnit
from gauges.formats.ascii_signed_cr import AsciiSignedCr
from gauges.formats.ascii_status_lf import AsciiStatusLf
from gauges.formats.ask_reply_cr import AskReplyCr
from gauges.formats.base import Decoder, LineDecoder
from gauges.formats.bcd_7_nibble import Bcd7Nibble
from gauges.formats.bcd_13_nibble import Bcd13Nibble
from gauges.formats.bin24_caliper import Bin24Caliper
from gauges.formats.modbus_rtu_int32 import ModbusRtuInt32
from gauges.formats.multi_feature_cr import MultiFeatureCr
from gauges.formats.mux_prefix_cr import MuxPrefixCr
from gauges.formats.rf_position_packet import RfPositionPacket
from gauges.formats.status_csv_crlf import StatusCsvCrlf
from gauges.formats.stx_d15_cr import StxD15Cr
from gauges.formats.stx_etx_bcc import StxEtxBcc
from gauges.formats.torque_78_col import Torque78Col
from gauges.formats.torque_csv_peak import TorqueCsvPeak
from gauges.formats.torque_value_unit_crlf import TorqueValueUnitCrlf
from gauges.formats.twin24_counts import Twin24Counts
from gauges.formats.typed_line import TypedLine
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
    needs_agreement: damage can pass as another value, so two frames must agree before a value is taken. (twin24-counts checks every frame
    against its first one, but nothing checks the first.)
    parity: of an instrument as it comes new. is_event: every frame is one pull or one press, so the next one is another value.
    takes_address: it is polled by an address. is_counting: after a loss of power its counts may begin at another zero.
    dtr, rts: how the control lines must stand before the port is opened. Both on suits most; some cables live on them, and on adapter
    boards they would press the reset. deaf_seconds: what comes in for so long after opening is thrown away.
    """

    key: str
    decoder: type[Decoder]
    lines: tuple[LineSettings, ...]
    about: str
    needs_unit: bool
    fixed_width: int | None
    needs_agreement: bool
    parity: Parity = "none"
    questions: tuple[bytes, ...] = ()
    period_seconds: float | None = None
    is_event: bool = False
    takes_address: bool = False
    is_counting: bool = False
    dtr: bool = True
    rts: bool = True
    deaf_seconds: float = 0.3


_4800_7E2 = LineSettings(4800, 7, "E", 2)
_9600_7E2 = LineSettings(9600, 7, "E", 2)
_9600_8N1 = LineSettings(9600, 8, "N", 1)
_2400_7N2 = LineSettings(2400, 7, "N", 2)
_38400_8N2 = LineSettings(38400, 8, "N", 2)
_19200_8E1 = LineSettings(19200, 8, "E", 1)


class _Board(TypedDict):
    """What all families behind our own adapter board share."""

    lines: tuple[LineSettings, ...]
    dtr: bool
    rts: bool
    deaf_seconds: float


# A board may reboot when it is opened, and then sends its banner.
_ADAPTER = _Board(lines=(_9600_8N1,), dtr=False, rts=False, deaf_seconds=2.0)

FORMATS: dict[str, Format] = {
    row.key: row
    for row in (
        Format("ascii-signed-cr", AsciiSignedCr, (_4800_7E2,), "sign, digits with a point, CR",
               needs_unit=True, fixed_width=10, needs_agreement=False, parity="even7", questions=(b"?\r",), period_seconds=0.1),
        Format("ask-reply-cr", AskReplyCr, (_4800_7E2,), "one answer per question: sign, digits, tolerance mark, CR",
               needs_unit=True, fixed_width=None, needs_agreement=True, parity="even7", questions=(b"?\r",), rts=False),
        Format("ascii-fixed-unit", AsciiFixedUnit, (_9600_8N1,), "fixed columns with a unit, CR LF",
               needs_unit=False, fixed_width=15, needs_agreement=True, questions=(b"R\r",)),
        Format("ascii-status-lf", AsciiStatusLf, (_9600_8N1, _2400_7N2), "mode, sign, number, unit letter, tolerance, LF",
               needs_unit=False, fixed_width=12, needs_agreement=True),
        Format("multi-feature-cr", MultiFeatureCr, (_9600_7E2,), "several features in one line, CR",
               needs_unit=False, fixed_width=None, needs_agreement=False, parity="even7", questions=(b"M?\r",)),
        Format("stx-etx-bcc", StxEtxBcc, (_9600_8N1,), "framed by 02 and 03, with a block check",
               needs_unit=False, fixed_width=17, needs_agreement=False, period_seconds=0.1),
        Format("stx-d15-cr", StxD15Cr, (_9600_8N1,), "02, fifteen digits, CR",
               needs_unit=False, fixed_width=16, needs_agreement=True, period_seconds=0.2),
        Format("status-csv-crlf", StatusCsvCrlf, (_9600_8N1,), "stability, gross or net, value, unit, CR LF",
               needs_unit=False, fixed_width=18, needs_agreement=True, questions=(b"READ\r\n",), period_seconds=0.2),
        Format("mux-prefix-cr", MuxPrefixCr, (_9600_8N1,), "channel prefix, sign, digits with a point, CR",
               needs_unit=True, fixed_width=13, needs_agreement=True, questions=(b"1\r",)),
        Format("bcd-13-nibble", Bcd13Nibble, about="thirteen clocked digits, through the adapter", **_ADAPTER,
               needs_unit=False, fixed_width=15, needs_agreement=True, period_seconds=0.2),
        Format("bin24-caliper", Bin24Caliper, about="a clocked word of 24 bits, through the adapter", **_ADAPTER,
               needs_unit=False, fixed_width=8, needs_agreement=True, period_seconds=0.18, is_counting=True),
        Format("twin24-counts", Twin24Counts, about="two clocked counts of 24 bits, through the adapter", **_ADAPTER,
               needs_unit=False, fixed_width=14, needs_agreement=True, period_seconds=0.33, is_counting=True),
        Format("bcd-7-nibble", Bcd7Nibble, about="seven clocked digits, through the adapter", **_ADAPTER,
               needs_unit=False, fixed_width=9, needs_agreement=True, period_seconds=0.32, is_counting=True),
        Format("modbus-rtu-int32", ModbusRtuInt32, (_19200_8E1, _9600_8N1), "registers of a polled instrument",
               needs_unit=True, fixed_width=11, needs_agreement=False, takes_address=True),
        Format("torque-value-unit-crlf", TorqueValueUnitCrlf, (_9600_8N1,), "torque value, blank, unit, CR LF",
               needs_unit=False, fixed_width=None, needs_agreement=True, questions=(b"?\r",)),
        Format("torque-csv-peak", TorqueCsvPeak, (_9600_8N1,), "a record of eleven fields per pull, CR LF",
               needs_unit=False, fixed_width=None, needs_agreement=True, is_event=True),
        Format("torque-78-col", Torque78Col, (_38400_8N2,), "a telegram of fixed columns per fastening, CR LF",
               needs_unit=True, fixed_width=78, needs_agreement=True, is_event=True),
        Format("rf-position-packet", RfPositionPacket, (_9600_8N1,), "packets of a wireless scale, one per press",
               needs_unit=False, fixed_width=19, needs_agreement=True, is_event=True),
        Format("typed-line", TypedLine, (), "a keyboard-type cable: digits, then return or tab",
               needs_unit=True, fixed_width=None, needs_agreement=True, is_event=True),
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


def format_named(key: str) -> Format:
    """The row of the table. Raises SettingError for any other key."""
    row = FORMATS.get(key)
    if row is None:
        raise SettingError(f"format {key!r} is not known: expected one of {', '.join(FORMATS)}")
    return row


def decode(key: str, *, unit: str | None = None, parity: str | None = None, address: int | None = None) -> Decoder:
    """A fresh decoder of the family `key`.

    unit: needed where the frames carry none (see `Format.needs_unit`), else not looked at: the frame's own unit counts.
    parity: "even7" or "none"; left out, what the family's instruments are set to when new. address: of a polled instrument, 1 to 247.
    Raises SettingError that says what was given and what was expected.
    """
    row = format_named(key)
    unit = None if unit is None else unit_from(unit)
    if row.needs_unit and unit is None:
        raise SettingError(f"format {key} has no unit in its frames: give the unit the gauge is set to, such as mm or in")
    if parity not in (None, "even7", "none"):
        raise SettingError(f"parity {parity!r} is not known: expected even7 or none")
    if address is not None and not row.takes_address:
        raise SettingError(f"address {address}: format {key} has no addresses")
    settings: dict[str, object] = {"unit": unit if row.needs_unit else None}
    if issubclass(row.decoder, LineDecoder):
        settings["parity"] = parity or row.parity
    elif parity == "even7":
        raise SettingError(f"parity even7: format {key} uses all eight bits, expected none")
    if address is not None:
        settings["address"] = address
    return row.decoder(**settings)  # type: ignore[arg-type]  # the table, not the type checker, knows what this family takes
