"""`modbus-rtu-int32`: the answers of a polled instrument: three registers, of which two hold a whole number and one its decimals.

Frames are found by address, function, count and checksum, never by the gap of 3.5 characters, which USB bridges destroy. Here the low
word comes first; the order is a setting, to be proved once against the display.
Source of frame and checksum: MODBUS over Serial Line, Specification and Implementation Guide V1.02, 2.5.1 and 6.2.2 (CRC generation).
"""

from collections.abc import Sequence

from gauges.errors import SettingError
from gauges.formats.base import PacketDecoder
from gauges.framing import INCOMPLETE, NO_PACKET
from gauges.reading import Event, Fault, exact_value

_READ_HOLDING, _EXCEPTION, _BYTES = 0x03, 0x83, 6
_ANSWER, _EXCEPTION_ANSWER = 11, 5
_LOWEST, _HIGHEST = -199999, 999999
_MOST_DECIMALS = 6


def crc16(data: bytes) -> int:
    """The checksum of a frame: polynomial A001 (reflected), start FFFF; sent low byte first."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return crc


def question(address: int) -> bytes:
    """What asks this instrument for its three registers, from register 0."""
    body = bytes([address, _READ_HOLDING, 0, 0, 0, 3])
    return body + crc16(body).to_bytes(2, "little")


class ModbusRtuInt32(PacketDecoder):
    """Reads the answers of one address; those of others are skipped.

    address: 1 to 247. low_word_first: the order of the two registers.
    """

    def __init__(self, *, unit: str | None = None, address: int = 1, low_word_first: bool = True) -> None:
        if not 1 <= address <= 247:
            raise SettingError(f"address {address}: expected 1 to 247")
        super().__init__(header=address, unit=unit)
        self._low_word_first = low_word_first

    def measure(self, buffer: bytes, at: int) -> int:
        """See `PacketDecoder`."""
        head = buffer[at + 1 : at + 3]
        if head[:1] == bytes([_EXCEPTION]):
            length = _EXCEPTION_ANSWER
        elif bytes([_READ_HOLDING, _BYTES]).startswith(head):
            length = _ANSWER
        else:
            return NO_PACKET
        if len(buffer) - at < length:
            return INCOMPLETE
        # A frame followed by its own checksum, low byte first, has the checksum zero.
        return length if crc16(buffer[at : at + length]) == 0 else NO_PACKET

    def read_packet(self, packet: bytes, offset: int) -> Sequence[Event]:
        """One reading or one fault."""
        if packet[1] == _EXCEPTION:
            return (self.exception(packet[2], packet, offset),)
        first, second, decimals = (int.from_bytes(packet[at : at + 2], "big") for at in (3, 5, 7))
        return (self.read_registers(first, second, decimals, packet, offset),)

    def read_registers(self, first: int, second: int, decimals: int, raw: bytes, offset: int = 0) -> Event:
        """The event of three registers of 16 bits, however they were asked for."""
        low, high = (first, second) if self._low_word_first else (second, first)
        if decimals > _MOST_DECIMALS:
            return Fault("decimal-point", f"{decimals} decimals, expected 0 to {_MOST_DECIMALS}", raw, offset)
        number = high << 16 | low
        number = number - 2**32 if number & 0x80000000 else number
        if not _LOWEST <= number <= _HIGHEST:
            return Fault("over-range", f"{number}, expected {_LOWEST} to {_HIGHEST}: is the word order right?", raw, offset)
        return self._accept(exact_value(f"{number}E-{decimals}"), self._set_unit, raw, offset)

    def exception(self, number: int, raw: bytes, offset: int = 0) -> Fault:
        """The fault of an exception answer."""
        return Fault("modbus-exception", f"exception {number}: the instrument refuses the question", raw, offset)
