"""Stability, gross or net, value, unit. Source: weighing controller AD2017D manual, p. 50; indicator SL-7516 manual, p. 18."""

import re

from gauges.formats import decode
from gauges.reading import Status, to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "status-csv-crlf"
    opening = line_end = b"\r\n"
    clean = (
        (bytes.fromhex("53 54 2C 47 53 2C 2B 30 31 31 2E 31 32 30 6B 67 0D 0A"), [{"value": "11.120", "unit": "kg"}]),
        (b"ST,GS,-000.005kg\r\n", [{"value": "-0.005", "unit": "kg"}]),
        (b"ST,GS,-000.000kg\r\n", [{"value": "0.000", "unit": "kg"}]),
        (b"ST,GS,+  2.500kg\r\n", [{"value": "2.500", "unit": "kg"}]),
    )
    damaged = (
        (b"ST,GS,+011.12kg\r\n", "shape"),
        (b"OL,GS,+999.999kg\r\n", "over-range"),
        (b"OL,GS,+-------kg\r\n", "over-range"),
        (b"ST,NT,+011.120kg\r\n", "mode-change"),
        (b"ST,GS,+0111.20kg\r\n", "decimals-change"),
        (b"ST,GS,+01 .120kg\r\n", "shape"),
        (b"ST,GS,+011.120oz\r\n", "unit"),
        (b"ST,GS,+0111120kg\r\n", "shape"),
        (b"XX,GS,+011.120kg\r\n", "shape"),
        (b"ST,GS,+011.120kg\n", "bad-terminator"),
    )
    other_unit = (b"ST,GS,+024.515lb\r\n", {"value": "24.515", "unit": "lb"}, "unit-change")
    exact = re.compile(rb"ST,(GS|NT),[+-](?=[ 0-9.]{7}[kl]) *\d+\.\d+(kg|lb)")


def test_an_unstable_value_is_a_status_that_shows_it_and_locks_nothing() -> None:
    decoder = decode("status-csv-crlf")
    unstable, stable = decoder.feed(b"\r\nUS,NT,+011.12lb\r\nUS,NT,+011.120lb\r\nST,GS,+011.120kg\r\n")[1:]
    assert isinstance(unstable, Status)
    assert unstable.moving is not None
    assert to_json(unstable.moving) == {"value": "11.120", "unit": "lb"}
    assert "status" in to_json(unstable)
    assert to_json(stable) == {"value": "11.120", "unit": "kg"}
