"""A clocked word of 24 bits.

Sources: the analysis "Harbor Freight Caliper Data Format" (yuriystoys.com, July 2013); scale protocol notes quoted in the model-engineer
forum ("Bin 6": bits 0 to 19 the reading, 0.01 mm a count); several public firmwares (value/100, value/2000 when bit 23 is set).
"""

import re
from decimal import Decimal

import pytest

from gauges.formats.bin24_caliper import Bin24Caliper
from gauges.reading import to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit, faults


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "bin24-caliper"
    opening = line_end = b"\r\n"
    clean = (
        (b"0004D2\r\n", [{"value": "12.34", "unit": "mm"}]),
        (b"1004D2\r\n", [{"value": "-12.34", "unit": "mm"}]),
        (b"100000\r\n", [{"value": "0.00", "unit": "mm"}]),
        # 300 mm is the longest beam: 30000 counts.
        (b"007530\r\n", [{"value": "300.00", "unit": "mm"}]),
    )
    damaged = (
        (b"4004D2\r\n", "reserved-bits"),
        (b"2004D2\r\n", "reserved-bits"),
        (b"004D2\r\n", "shape"),
        (b"0004d2\r\n", "shape"),
        (b"0FFFFF\r\n", "implausible"),
        (b"007531\r\n", "implausible"),
        (b"0004D2\n", "bad-terminator"),
        (b"E\r\n", "adapter-error"),
    )
    other_unit = (b"8003E8\r\n", {"value": "0.5000", "unit": "in"}, "unit-change")
    exact = re.compile(rb"[0189][0-9A-F]{5}")


@pytest.mark.parametrize(("word", "value"), [("805DC0", "12.0000"), ("800001", "0.0005"), ("900001", "-0.0005")])
def test_inches_are_counts_over_2000(word: str, value: str) -> None:
    (event,) = Bin24Caliper().feed(f"\r\n{word}\r\n".encode())
    assert to_json(event) == {"value": value, "unit": "in"}


def test_a_longer_beam_is_a_setting() -> None:
    long_frame = b"\r\n00C350\r\n"
    assert faults(Bin24Caliper().feed(long_frame)) == ["implausible"]
    (event,) = Bin24Caliper(longest_mm=Decimal(600)).feed(long_frame)
    assert to_json(event) == {"value": "500.00", "unit": "mm"}
