"""Channel prefix. Source: height gauge manual 99MAF600B, 6.3.2 and 6.3.4 (the examples below); classes 1 and 9: from memory of public programs."""

import re

import pytest

from gauges.formats import decode
from gauges.reading import to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "mux-prefix-cr"
    unit = "mm"
    opening = line_end = b"\r"
    clean = (
        (bytes.fromhex("30 31 41 2B 30 30 30 30 2E 31 32 33 0D"), [{"value": "0.123", "unit": "mm", "channel": "1"}]),
        (b"01A+0000.125\r", [{"value": "0.125", "unit": "mm", "channel": "1"}]),
        (b"01A-0000.000\r", [{"value": "0.000", "unit": "mm", "channel": "1"}]),
        # Another channel has decimals of its own.
        (b"02A-00001.23\r", [{"value": "-1.23", "unit": "mm", "channel": "2"}]),
    )
    damaged = (
        (b"01A+000.123\r", "shape"),
        (b"911\r", "gauge-error"),
        (b"912\r", "gauge-error"),
        (b"01A+00000123\r", "shape"),
        (b"00A+0000.123\r", "shape"),
        (b"01B+0000.123\r", "shape"),
        (b"11A+0000.123\r", "shape"),
        (b"21A+0000.123\r", "shape"),
        (b"01A+000.1234\r", "decimals-change"),
        (b"01A+0000.12\xb3\r", "not-ascii"),
    )
    other_unit = (b"01A+000.1234\r", {"value": "0.1234", "unit": "in", "channel": "1"}, "decimals-change")
    exact = re.compile(rb"0[1-9]A[+-](?=[0-9.]{8}$)\d+\.\d+")


@pytest.mark.parametrize(("line", "value"), [("01A+00.12345", "0.12345"), ("01A+000.1234", "0.1234")])
def test_the_manuals_inch_frames_are_read(line: str, value: str) -> None:
    (event,) = decode("mux-prefix-cr", unit="in").feed(f"\r{line}\r".encode())
    assert to_json(event) == {"value": value, "unit": "in", "channel": "1"}


def test_an_identity_is_a_status() -> None:
    (event,) = decode("mux-prefix-cr", unit="in").feed(b"\r1V2.0\r")
    assert to_json(event) == {"status": "1V2.0"}
