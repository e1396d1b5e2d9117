"""Several features in one line. Source: column gauge C1202 manual, p. 82, 7.2 (examples 1 and 2, with units and marks filled in)."""

import re

import pytest

from gauges.formats import decode
from gauges.reading import Reading, to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit, even7


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "multi-feature-cr"
    opening = line_end = b"\x8d"
    longest = 128
    clean = (
        (
            even7("1 +012.34 mm =;2 -006.17 mm;3 ERR6\r"),
            [{"value": "12.34", "unit": "mm", "channel": "1"}, {"value": "-6.17", "unit": "mm", "channel": "2"}],
        ),
        (even7("1 +012.35 mm\r"), [{"value": "12.35", "unit": "mm", "channel": "1"}]),
        (even7("2 +000.00 mm = <\r"), [{"value": "0.00", "unit": "mm", "channel": "2"}]),
        (
            even7("1 -000.00 mm;3 +001.000 um\r"),
            [{"value": "0.00", "unit": "mm", "channel": "1"}, {"value": "1.000", "unit": "um", "channel": "3"}],
        ),
    )
    damaged = (
        (even7("1 +012.34 mm;2 +1.00 mm\r"), "shape"),
        (even7("1 +012.34 inch\r"), "unit-change"),
        (even7("1 +012.34 mm;2 +001.00 inch\r"), "unit-change"),
        (even7("1 +012.345 mm;2 +001.00 mm\r"), "decimals-change"),
        (even7("2 +012.34 mm;1 +001.00 mm\r"), "shape"),
        (even7("1 +012.34 mm;1 +012.34 mm\r"), "shape"),
        (even7("1 +012.34 mm;\r"), "shape"),
        (even7("1 +012.34 deg\r"), "shape"),
        (even7("1 +012.34 mm;2 ERR0\r"), "gauge-error"),
        (even7("1 +012.34 mm;2 OV\r"), "over-range"),
        (even7("1 +012.34 mm\r").replace(b"\xed\x8d", b"\x6d\x8d"), "parity"),
    )
    other_unit = (even7("1 +001.2345 inch\r"), {"value": "1.2345", "unit": "in", "channel": "1"}, "unit-change")
    exact = re.compile(rb"(?:\d\d? (?:[+-]\d{3}\.\d+ (?:mm|um|inch)(?: [<=>](?: ?[<=>])?)?|ERR6)(?:;(?!$)|$))+")
    sees_every_bit = True


@pytest.mark.parametrize("text", ["M?", "M1?", "ID?", "3 ERR6", "1 ERR6;2 ERR6"])
def test_echoes_and_a_line_of_features_that_are_off_are_statuses(text: str) -> None:
    decoder = decode("multi-feature-cr", parity="none")
    assert [to_json(event) for event in decoder.feed(f"\r{text}\r".encode())] == [{"status": text}]


def test_the_first_mark_is_the_tolerance_and_the_second_the_warning() -> None:
    (value,) = decode("multi-feature-cr", parity="none").feed(b"\r2 +001.00 mm = <\r")
    assert isinstance(value, Reading)
    assert value.marks == ("good", "under")
