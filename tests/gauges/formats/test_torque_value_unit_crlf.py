"""Torque value and unit. Source: Series TT03 torque gauge user's guide, 9.3 (both example strings, *10); HELP: from memory of a related gauge."""

import re

import pytest

from gauges.formats import decode
from gauges.reading import to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "torque-value-unit-crlf"
    opening = line_end = b"\r\n"
    clean = (
        (b"-18.78 lbFin\r\n", [{"value": "-18.78", "unit": "lbf.in"}]),
        (b"18.80 lbFin\r\n", [{"value": "18.80", "unit": "lbf.in"}]),
        (b"-0.00 lbFin\r\n", [{"value": "0.00", "unit": "lbf.in"}]),
        (b"120.05 lbFin\r\n", [{"value": "120.05", "unit": "lbf.in"}]),
    )
    damaged = (
        (b"4,28 lbFin\r\n", "shape"),
        (b"4.28 N\r\n", "shape"),
        (b"4.28\r\n", "shape"),
        (b"+4.28 lbFin\r\n", "shape"),
        (b"4.28  lbFin\r\n", "shape"),
        (b"12345.28 lbFin\r\n", "shape"),
        (b"4.285 lbFin\r\n", "decimals-change"),
        (b"18.78 lbFft\r\n", "unit-change"),
        (b"HELP\r\n", "over-range"),
        (b"HELP lbFin\r\n", "over-range"),
        (b"*10\r\n", "gauge-error"),
        (b"18.78 lbFin\n", "bad-terminator"),
    )
    other_unit = (b"4.285 Nm\r\n", {"value": "4.285", "unit": "N.m"}, "unit-change")
    exact = re.compile(rb"-?\d{1,4}\.\d{1,4} (Nm|cNm|lbFin|lbFft|kgFcm|ozFin)")
    can_hide_a_cut_front = True


@pytest.mark.parametrize(
    ("sent", "unit"), [("Nm", "N.m"), ("cNm", "cN.m"), ("lbFin", "lbf.in"), ("lbFft", "lbf.ft"), ("kgFcm", "kgf.cm"), ("ozFin", "ozf.in")]
)
def test_units_are_told_by_their_name(sent: str, unit: str) -> None:
    (event,) = decode("torque-value-unit-crlf").feed(f"\r\n4.285 {sent}\r\n".encode())
    assert to_json(event) == {"value": "4.285", "unit": unit}
