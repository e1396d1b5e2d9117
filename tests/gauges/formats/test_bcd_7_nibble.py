"""Seven clocked digits. Source: robotroom.com, "BCD Digital Caliper Data Format": the trace of a display of 9.8015 inches, and the flags ?MHN."""

import re

import pytest

from gauges.formats import decode
from gauges.reading import to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "bcd-7-nibble"
    opening = line_end = b"\r\n"
    clean = (
        (b"1089002\r\n", [{"value": "9.8015", "unit": "in"}]),
        (b"1089001\r\n", [{"value": "-9.8010", "unit": "in"}]),
        (b"0000001\r\n", [{"value": "0.0000", "unit": "in"}]),
        (b"5000003\r\n", [{"value": "-0.0055", "unit": "in"}]),
    )
    damaged = (
        (b"10A9002\r\n", "bcd-digit"),
        (b"1089008\r\n", "reserved-bits"),
        (b"1089006\r\n", "reserved-bits"),
        (b"108900\r\n", "shape"),
        (b"1089002\n", "bad-terminator"),
        (b"9999990\r\n", "over-range"),
        (b"E\r\n", "adapter-error"),
    )
    other_unit = (b"4321005\r\n", {"value": "-12.34", "unit": "mm"}, "unit-change")
    exact = re.compile(rb"\d{6}[0-5]")


@pytest.mark.parametrize(("line", "code"), [("43A1005", "bcd-digit"), ("432100D", "reserved-bits")])
def test_the_first_bad_digit_is_named_in_metric_frames_too(line: str, code: str) -> None:
    (event,) = decode("bcd-7-nibble").feed(f"\r\n{line}\r\n".encode())
    assert to_json(event) == {"fault": code}
