"""Sign, zero-padded decimal, CR.

Source: column gauge C200, instruction manual, p. 39, 5.1 to 5.3 (ten digits fixed, the point shifts with unit and resolution, OV);
OPTO-RS cable user's manual, p. 13 (a blank for plus, ERR0 to ERR3).
"""

import re

import pytest

from gauges.formats import decode
from gauges.reading import to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit, even7


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "ascii-signed-cr"
    unit = "mm"
    opening = line_end = b"\x8d"
    clean = (
        # +0012.345 CR and -0000.020 CR with even parity, worked out by hand: 1 2 4 and CR have an odd count of ones, so bit 8 is set.
        (bytes.fromhex("2B 30 30 B1 B2 2E 33 B4 35 8D"), [{"value": "12.345", "unit": "mm"}]),
        (bytes.fromhex("2D 30 30 30 30 2E 30 B2 30 8D"), [{"value": "-0.020", "unit": "mm"}]),
        (even7("+0123.456\r"), [{"value": "123.456", "unit": "mm"}]),
        (even7("-0000.000\r"), [{"value": "0.000", "unit": "mm"}]),
        (even7(" 0000.001\r"), [{"value": "0.001", "unit": "mm"}]),
    )
    damaged = (
        (bytes.fromhex("2B 30 30 B1 B2 2E 33 B5 35 8D"), "parity"),
        (bytes.fromhex("2B 30 30 B1 2E 33 B4 35 8D"), "width-change"),
        (even7("+00123.456\r"), "width-change"),
        (even7("+00123456\r"), "shape"),
        (even7("+0O12.345\r"), "shape"),
        (even7("+1234567.\r"), "shape"),
        (even7("+0012,345\r"), "shape"),
        (bytes.fromhex("CF 56 8D"), "over-range"),
        (even7("ERR0\r"), "gauge-error"),
        (even7("ERR1\r"), "gauge-error"),
        (even7("ERR2\r"), "gauge-error"),
        (even7("ERR3\r"), "over-range"),
    )
    other_unit = (even7("+012.3456\r"), {"value": "12.3456", "unit": "in"}, "decimals-change")
    exact = re.compile(rb"[+\- ](?=[0-9.]{8}$)[0-9]+\.[0-9]+")
    sees_every_bit = True


@pytest.mark.parametrize(
    ("line", "unit", "value"),
    [("+012.3456", "mm", "12.3456"), ("+0123.456", "mm", "123.456"), ("+01.23456", "in", "1.23456"), ("+012.3456", "in", "12.3456")],
)
def test_the_point_stands_where_the_manual_puts_it_for_each_resolution(line: str, unit: str, value: str) -> None:
    decoder = decode("ascii-signed-cr", unit=unit, parity="none")
    assert [to_json(event) for event in decoder.feed(f"\r{line}\r".encode())] == [{"value": value, "unit": unit}]


def test_without_parity_a_carriage_return_ends_the_line_and_eight_bit_bytes_are_refused() -> None:
    decoder = decode("ascii-signed-cr", unit="mm", parity="none")
    events = decoder.feed(b"\r+0012.345\r+0012\xb2345\r\n+0012.345\r\n")
    assert [to_json(event) for event in events] == [
        {"value": "12.345", "unit": "mm"},
        {"fault": "not-ascii"},
        {"value": "12.345", "unit": "mm"},
    ]


def test_with_even_parity_a_bare_0d_ends_no_line() -> None:
    decoder = decode("ascii-signed-cr", unit="mm")
    assert decoder.feed(b"+0012.345\r+0012.345\r+0012.345\r") == []
    assert [to_json(event) for event in decoder.finish()] == [{"fault": "no-frame"}]
