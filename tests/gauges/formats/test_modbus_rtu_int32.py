"""Registers of a polled instrument.

Sources: panel meter DPF20 manual, p. 29 (R0 = FBF1, R1 = 0009, R2 = 2 reads 6543.21; −199999 to 999999; 0 to 6 decimals); MODBUS over
Serial Line V1.02, 6.2.2 for the checksum, here compared with pymodbus.
"""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.framer import FramerRTU

from gauges.errors import SettingError
from gauges.formats import decode
from gauges.formats.modbus_rtu_int32 import ModbusRtuInt32, crc16, question
from gauges.reading import to_json
from tests.suites.decoder import OpenedInMidFrame, ShowsUnit, faults


def answer(number: int, decimals: int, *, address: int = 1) -> bytes:
    """An answer as pymodbus would frame it: low word first."""
    word = number % 2**32
    body = bytes([address, 3, 6]) + (word & 0xFFFF).to_bytes(2, "big") + (word >> 16).to_bytes(2, "big") + decimals.to_bytes(2, "big")
    return body + FramerRTU.compute_CRC(body).to_bytes(2, "big")


class TestSuite(OpenedInMidFrame, ShowsUnit):
    key = "modbus-rtu-int32"
    unit = "mm"
    clean = (
        (bytes.fromhex("01 03 06 FB F1 00 09 00 02 18 E8"), [{"value": "6543.21", "unit": "mm"}]),
        (answer(-199999, 2), [{"value": "-1999.99", "unit": "mm"}]),
        (answer(0, 2), [{"value": "0.00", "unit": "mm"}]),
        (answer(999999, 2), [{"value": "9999.99", "unit": "mm"}]),
    )
    damaged = (
        (bytes.fromhex("01 03 06 FB F0 00 09 00 02 18 E8"), "resync"),
        (bytes.fromhex("01 03 06 FB F1 00 09 00 02 18"), "resync"),
        (bytes.fromhex("01 83 02 C0 F1"), "modbus-exception"),
        (answer(1000000, 2), "over-range"),
        (answer(-200000, 2), "over-range"),
        (answer(1234, 7), "decimal-point"),
        (answer(1234, 3), "decimals-change"),
        (answer(1234, 2, address=2), "resync"),
    )
    other_unit = (answer(123456, 4), {"value": "12.3456", "unit": "in"}, "decimals-change")
    exact = re.compile(rb"\x01\x03\x06.{8}", re.DOTALL)
    sees_every_bit = True


def test_the_question_is_the_one_of_the_manual() -> None:
    assert question(1) == bytes.fromhex("01 03 00 00 00 03 05 CB")


@given(data=st.binary(max_size=40))
def test_the_checksum_is_pymodbuss(data: bytes) -> None:
    # pymodbus gives the checksum as it is sent, low byte first.
    assert crc16(data).to_bytes(2, "little") == FramerRTU.compute_CRC(data).to_bytes(2, "big")


def test_another_address_and_the_other_word_order_are_settings() -> None:
    (event,) = decode("modbus-rtu-int32", unit="mm", address=17).feed(answer(654321, 2, address=17))
    assert to_json(event) == {"value": "6543.21", "unit": "mm"}
    assert faults(ModbusRtuInt32(unit="mm", low_word_first=False).feed(answer(654321, 2))) == ["over-range"]


@pytest.mark.parametrize("address", [0, 248])
def test_an_address_that_no_instrument_has_is_refused(address: int) -> None:
    with pytest.raises(SettingError, match="expected 1 to 247"):
        decode("modbus-rtu-int32", unit="mm", address=address)
