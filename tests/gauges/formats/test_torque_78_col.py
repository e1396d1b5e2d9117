"""A telegram of fixed columns.

Source: micro nutrunner operations manual (Rev 2), p. 3-6, 3.3.3, the byte table (its hex row; the column of byte 16 is printed 20), and
p. 3-7, 3.3.4, the columns.
"""

import re

import pytest

from gauges.formats import decode
from gauges.reading import Reading, to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame

# Bytes 1 to 78 of the table, in rows of sixteen.
TABLE = bytes.fromhex(
    "30 30 30 31 20 20 30 31 20 20 20 20 31 20 20 20"
    "2E 32 33 34 4C 20 20 31 32 33 4C 20 20 2E 32 33"
    "34 20 20 20 20 20 20 20 20 20 20 20 20 20 20 20"
    "20 20 20 20 20 20 20 20 20 31 30 2E 30 4C 20"
    "20 20 32 2E 30 20 20 20 20 58 20 20 20 0D 0A"
)


def telegram(cycle: int, peak: str = " 12.5", total: str = "O", spindle: str = "01", verdict: str = " ") -> bytes:
    """A telegram with the table's other columns, filled with what the column list allows."""
    return f"{cycle:04d}  {spindle}    1  {peak}{verdict} 0123   12.4{' ' * 23}001.0  002.0    {total}   \r\n".encode()


class TestSuite(LineEnds, OpenedInMidFrame):
    key = "torque-78-col"
    unit = "N.m"
    opening = line_end = b"\r\n"
    longest = 160
    clean = (
        (TABLE, [{"value": "0.234", "unit": "N.m"}]),
        (TABLE.replace(b"0001  01", b"0002  01"), [{"value": "0.234", "unit": "N.m"}]),
        (TABLE.replace(b"0001  01", b"0003  01").replace(b" .234L", b"0.999 "), [{"value": "0.999", "unit": "N.m"}]),
        (TABLE.replace(b"0001  01", b"0004  01").replace(b" .234L", b"1.000H"), [{"value": "1.000", "unit": "N.m"}]),
    )
    damaged = (
        (TABLE[:40] + b"\r\n", "shape"),
        (TABLE.replace(b"X   ", b"X    "), "shape"),
        (TABLE.replace(b"X   ", b"X . "), "shape"),
        (TABLE.replace(b" .234L", b" .2 4L"), "shape"),
        (TABLE.replace(b" .234L", b"     L"), "shape"),
        (TABLE.replace(b"0001  01", b"0002  01"), "duplicate"),
        (TABLE.replace(b"X   ", b"A   "), "tool-abnormal"),
        (TABLE.replace(b"X   ", b"S   "), "tool-abnormal"),
        (TABLE.replace(b"X   ", b"S   ").replace(b" .234L", b"      "), "tool-abnormal"),
        (TABLE.replace(b"0001  01", b"0002  01").replace(b" .234L", b" 2.34L"), "decimals-change"),
        (TABLE[:-2] + b"\n", "bad-terminator"),
    )
    exact = re.compile(
        rb"[ 0-9]{4}  [ 0-9]{2}   [ 0-9]{2}  [ 0-9.]{5}[HL ] [ 0-9.]{4}[HL ] [ 0-9.]{5}[HL ] {22}"
        rb"[ 0-9.]{5}[HL ] [ 0-9.]{5}[HL ] {3}[OX] {3}"
    )


def test_the_table_is_78_bytes_long() -> None:
    assert len(TABLE) == len(telegram(1)) == 78


@pytest.mark.parametrize(
    ("total", "verdict", "marks"), [("O", " ", ("accept",)), ("X", "H", ("reject", "high")), ("X", "L", ("reject", "low"))]
)
def test_a_rejected_fastening_is_a_reading_with_its_verdict(total: str, verdict: str, marks: tuple[str, ...]) -> None:
    (event,) = decode("torque-78-col", unit="N.m").feed(b"\r\n" + telegram(1, total=total, verdict=verdict))
    assert isinstance(event, Reading)
    assert (event.text, event.marks) == ("12.5", marks)


def test_a_cycle_that_does_not_follow_is_told_before_the_reading_and_the_count_runs_round() -> None:
    decoder = decode("torque-78-col", unit="N.m")
    events = decoder.feed(b"\r\n" + telegram(9997) + telegram(9999) + telegram(0) + telegram(1, total="A") + telegram(2))
    value = {"value": "12.5", "unit": "N.m"}
    assert [to_json(event) for event in events] == [
        value,
        {"status": "cycle 9999 after 9997"},
        value,
        value,
        {"fault": "tool-abnormal"},
        value,
    ]


def test_each_spindle_has_its_own_cycles_and_decimals() -> None:
    decoder = decode("torque-78-col", unit="N.m")
    events = decoder.feed(b"\r\n" + telegram(1) + telegram(7, " 3.25", spindle="02") + telegram(2) + telegram(8, " 3.50", spindle="02"))
    assert [to_json(event)["value"] for event in events] == ["12.5", "3.25", "12.5", "3.50"]
