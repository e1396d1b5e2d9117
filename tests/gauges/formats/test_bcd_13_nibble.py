"""Thirteen clocked digits. Sources: 99MBC095A, 6.2.1.5; 99MBA043A, p. 6-12; 99MAF600B, 6.2.1 (d1 to d13 as the manuals print them)."""

import re

import pytest

from gauges.formats import decode
from gauges.formats.bcd_13_nibble import Bcd13Nibble
from gauges.reading import Event, Fault, Reading, to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "bcd-13-nibble"
    opening = line_end = b"\r\n"
    clean = (
        (b"FFFF801234530\r\n", [{"value": "-12.345", "unit": "mm"}]),
        (b"FFFF000012330\r\n", [{"value": "0.123", "unit": "mm"}]),
        (b"FFFF800000030\r\n", [{"value": "0.000", "unit": "mm"}]),
        (b"FFFF099999830\r\n", [{"value": "999.998", "unit": "mm"}]),
    )
    damaged = (
        (b"FFFE000123430\r\n", "header"),
        (b"FFFF000A23430\r\n", "bcd-digit"),
        (b"FFFF100123430\r\n", "sign"),
        (b"FFFF000123460\r\n", "decimal-point"),
        (b"FFFF000123438\r\n", "unit"),
        (b"FFFF00012343\r\n", "shape"),
        (b"ffff000123430\r\n", "shape"),
        (b"FFFF000123440\r\n", "decimals-change"),
        (b"FFFF000123430*36\r\n", "checksum"),
        (b"FFFF000123430\n", "bad-terminator"),
        (b"FFFF099999930\r\n", "over-range"),
        (b"E\r\n", "adapter-error"),
        # The newer frame of 99MAF600B, 6.2.1, "Digimatic 2": two more digits in d3 and d4.
        (b"8F00000012330\r\n", "header"),
    )
    other_unit = (b"FFFF000500041\r\n", {"value": "0.5000", "unit": "in"}, "unit-change")
    exact = re.compile(rb"F{4}[08]\d{6}[0-5][0-7](\*[0-9A-F]{2})?")


def read(line: str) -> Event:
    """The one event of a whole line."""
    (event,) = decode("bcd-13-nibble").feed(f"\r\n{line}\r\n".encode())
    return event


@pytest.mark.parametrize(
    ("digits", "value", "unit", "source"),
    [
        ("FFFF021076540", "21.0765", "mm", "99MBC095A, 6.2.1.5, example"),
        ("FFFF801234530", "-12.345", "mm", "99MBA043A, p. 6-12, example"),
        ("FFFF000012330", "0.123", "mm", "99MAF600B, 6.2.1, example"),
    ],
)
def test_the_manuals_own_frames_are_read_digit_for_digit(digits: str, value: str, unit: str, source: str) -> None:
    assert to_json(read(digits)) == {"value": value, "unit": unit}, source


@pytest.mark.parametrize(
    ("unit_digit", "unit", "mark"),
    [("2", "mm", "high"), ("3", "mm", "good"), ("4", "mm", "low"), ("5", "in", "high"), ("6", "in", "good"), ("7", "in", "low")],
)
def test_the_judgement_of_99mbc095a_is_kept_beside_the_value(unit_digit: str, unit: str, mark: str) -> None:
    event = read(f"FFFF00012343{unit_digit}")
    assert isinstance(event, Reading)
    assert (event.unit, event.marks) == (unit, (mark,))


def test_a_check_of_the_thirteen_characters_is_verified() -> None:
    # XOR of the characters: the four F cancel out, nine digits leave 30, and 1^2^3^4^3 = 07.
    assert to_json(read("FFFF000123430*37")) == {"value": "1.234", "unit": "mm"}


def test_a_fault_names_the_first_bad_digit() -> None:
    event = read("FFFF000A2B430")
    assert isinstance(event, Fault)
    assert event.detail == "d8 is A, expected 0 to 9"


def test_the_inch_digit_8_of_one_manual_is_read_only_when_set() -> None:
    (event,) = Bcd13Nibble(inch_is_8=True).feed(b"\r\nFFFF000500048\r\n")
    assert to_json(event) == {"value": "0.5000", "unit": "in"}
