"""Fixed columns with the unit in the frame. Source: indicator sheets of this column layout, from memory; the two frames were worked out by hand."""

import re

import pytest

from gauges.formats import decode
from gauges.reading import to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "ascii-fixed-unit"
    opening = line_end = b"\r\n"
    clean = (
        (bytes.fromhex("2B 20 20 32 2E 31 33 38 30 2C 20 4D 4D 0D 0A"), [{"value": "2.1380", "unit": "mm"}]),
        (b"- 12.0842, MM\r\n", [{"value": "-12.0842", "unit": "mm"}]),
        (b"-  0.0000, MM\r\n", [{"value": "0.0000", "unit": "mm"}]),
        (b"+123.4567, MM\r\n", [{"value": "123.4567", "unit": "mm"}]),
    )
    damaged = (
        (b"+  2.1380 MM\r\n", "shape"),
        (b"+ 2 .1380, MM\r\n", "shape"),
        (b"+ 2. 1380, MM\r\n", "shape"),
        (b"+  2.1380, CM\r\n", "shape"),
        (b"   2.1380, MM\r\n", "shape"),
        (b"+  2,1380, MM\r\n", "shape"),
        (b"+  2.1380,  MM\r\n", "shape"),
        (b"+   2.138, MM\r\n", "decimals-change"),
        (b"+  2.1380, MM\n", "bad-terminator"),
        (b"NOT FOUND\r\n", "gauge-error"),
        (b"NO ACCESS\r\n", "gauge-error"),
        (b"OUT OF BOUNDS\r\n", "gauge-error"),
        (b"NON NUMERIC\r\n", "gauge-error"),
    )
    other_unit = (b"-  0.0842, IN\r\n", {"value": "-0.0842", "unit": "in"}, "unit-change")
    exact = re.compile(rb"[+-](?=[ 0-9.]{8},) *[0-9]+\.[0-9]+, (MM|IN)")


@pytest.mark.parametrize("text", ["SUCCESS"])
def test_an_accepted_command_is_a_status(text: str) -> None:
    assert [to_json(event) for event in decode("ascii-fixed-unit").feed(f"\r\n{text}\r\n".encode())] == [{"status": text}]
