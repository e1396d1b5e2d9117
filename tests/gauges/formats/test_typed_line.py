"""What a keyboard-type cable types. Composed from memory; the shape is this project's rule."""

import re

import pytest

from gauges.formats import decode
from gauges.reading import to_json
from tests.suites.decoder import LineEnds, ShowsUnit


class TestSuite(LineEnds, ShowsUnit):
    key = "typed-line"
    unit = "mm"
    line_end = b"\n"
    longest = 40
    clean = (
        (bytes.fromhex("31 32 2E 33 34 35 0A"), [{"value": "12.345", "unit": "mm"}]),
        (b"-0.020\n", [{"value": "-0.020", "unit": "mm"}]),
        (b"+0.000\n", [{"value": "0.000", "unit": "mm"}]),
        (b"1234.567\n", [{"value": "1234.567", "unit": "mm"}]),
    )
    damaged = (
        (b"1112345\n", "shape"),
        (b"1.2.3\n", "shape"),
        (b"12345.678\n", "shape"),
        (b"12.345 \n", "shape"),
        (b".345\n", "shape"),
        (b"12,345\n", "mode-change"),
        (b"12.34\n", "decimals-change"),
        (b"12.34\xb5\n", "not-ascii"),
    )
    other_unit = (b"0.4860\n", {"value": "0.4860", "unit": "in"}, "decimals-change")
    exact = re.compile(rb"[+-]?\d{1,4}[.,]\d{1,5}")
    can_hide_a_cut_front = True


@pytest.mark.parametrize("end", [b"\n", b"\r", b"\t", b"\r\n"])
def test_return_tab_and_line_feed_end_a_line_and_the_first_line_counts(end: bytes) -> None:
    decoder = decode("typed-line", unit="in")
    assert [to_json(event) for event in decoder.feed(b"0,1234" + end + b"-0,0005" + end)] == [
        {"value": "0.1234", "unit": "in"},
        {"value": "-0.0005", "unit": "in"},
    ]
