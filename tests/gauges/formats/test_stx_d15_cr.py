"""Sixteen characters with the decimals as a digit. Source: vibration meter VB-8213 operation manual, p. 20 (D15 … D0, codes 94 mm, 96 inch)."""

import re

from gauges.formats.stx_d15_cr import LENGTH_CODES, StxD15Cr
from gauges.reading import to_json
from tests.suites.decoder import OpenedInMidFrame, ShowsUnit, faults


class TestSuite(OpenedInMidFrame, ShowsUnit):
    key = "stx-d15-cr"
    clean = (
        (bytes.fromhex("02 34 31 39 34 30 33 30 30 30 31 32 33 34 35 0D"), [{"value": "12.345", "unit": "mm", "channel": "1"}]),
        (b"\x0241941300000500\r", [{"value": "-0.500", "unit": "mm", "channel": "1"}]),
        # The manual's "if the display reading is 1234, then D8 to D1 is 00001234".
        (b"\x0242940000001234\r", [{"value": "1234", "unit": "mm", "channel": "2"}]),
        (b"\x0241941300000000\r", [{"value": "0.000", "unit": "mm", "channel": "1"}]),
    )
    damaged = (
        (b"\x024194030" + b"00A2345\r", "resync"),
        (b"\x0241940300012345", "resync"),
        (b"\x0241942300012345\r", "resync"),
        (b"\x0241940400012345\r", "resync"),
        (b"\x0243940300012345\r", "resync"),
        (b"\x0241990300012345\r", "unit"),
        (b"\x0241940200012345\r", "decimals-change"),
    )
    other_unit = (b"\x0241961300000500\r", {"value": "-0.500", "unit": "in", "channel": "1"}, "unit-change")
    exact = re.compile(rb"\x024[12]\d\d[01][0-3]\d{8}\r")


def test_a_code_from_the_instruments_own_sheet_can_be_added() -> None:
    frame = b"\x0241500200000480\r"
    assert faults(StxD15Cr().feed(frame)) == ["unit"]
    (value,) = StxD15Cr(unit_codes={**LENGTH_CODES, "50": "N.m"}).feed(frame)
    assert to_json(value) == {"value": "4.80", "unit": "N.m", "channel": "1"}
