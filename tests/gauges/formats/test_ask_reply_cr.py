"""One answer per question.

Source: OPTO-RS cable user's manual, p. 13 (sign, integer, point, decimals, CR at 4800 7E2; ERR0 to ERR3; DTR low for 110 ms asks);
status words and tolerance marks: common to sheets of this command set, from memory.
"""

import re

import pytest

from gauges.formats import decode
from gauges.reading import Event, Status, to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit, even7


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "ask-reply-cr"
    unit = "mm"
    opening = line_end = b"\x8d"
    clean = (
        (bytes.fromhex("2D B2 2E 33 B4 35 BD 8D"), [{"value": "-2.345", "unit": "mm"}]),
        (even7("-12.345<\r"), [{"value": "-12.345", "unit": "mm"}]),
        (even7("+0.000\r"), [{"value": "0.000", "unit": "mm"}]),
        (even7("+1234.567>\r"), [{"value": "1234.567", "unit": "mm"}]),
    )
    damaged = (
        (bytes.fromhex("2D B2 2E 33 34 35 8D"), "parity"),
        (even7("-2..345\r"), "shape"),
        (even7("2.345\r"), "shape"),
        (even7("-2.345==\r"), "shape"),
        (even7("-2,345\r"), "shape"),
        (even7("+12345.678\r"), "shape"),
        (even7("-2.34\r"), "decimals-change"),
        (even7("OV\r"), "over-range"),
        (even7("ERR0\r"), "gauge-error"),
        (even7("ERR3\r"), "over-range"),
        (even7("BATTERY1\r"), "shape"),
    )
    other_unit = (even7("+0.1234\r"), {"value": "0.1234", "unit": "in"}, "decimals-change")
    exact = re.compile(rb"[+-][0-9]{1,4}\.[0-9]+[<=>]?")
    sees_every_bit = True
    can_hide_a_cut_front = True


def said(*lines: str) -> list[Event]:
    """The events of these lines after a first one that is dropped."""
    return decode("ask-reply-cr", unit="mm", parity="none").feed("".join(f"{line}\r" for line in ("", *lines)).encode())


@pytest.mark.parametrize("text", ["BAT1", "BAT0", "?", "SET?", "MM RES2 REF1 KEY0 B1", "MOD?", "PRI", "STO1"])
def test_words_of_the_command_set_and_echoes_are_statuses(text: str) -> None:
    assert [to_json(event) for event in said(text)] == [{"status": text}]


def test_after_the_other_units_word_values_are_refused_until_the_set_unit_is_back() -> None:
    events = said("+2.345", "IN", "+2.345", "MM RES2 REF1 KEY0 B1", "+2.345")
    assert [to_json(event) for event in events] == [
        {"value": "2.345", "unit": "mm"},
        {"status": "IN"},
        {"fault": "unit-change"},
        {"status": "MM RES2 REF1 KEY0 B1"},
        {"value": "2.345", "unit": "mm"},
    ]


@pytest.mark.parametrize(("text", "is_low"), [("BAT0", True), ("MM RES2 REF1 KEY0 B0", True), ("BAT1", False)])
def test_a_low_battery_is_told_and_values_stay_valid(text: str, is_low: bool) -> None:
    status, value = said(text, "+2.345")
    assert isinstance(status, Status)
    assert status.is_battery_low is is_low
    assert to_json(value) == {"value": "2.345", "unit": "mm"}


@pytest.mark.parametrize(("mark", "meaning"), [("<", ("under",)), ("=", ("good",)), (">", ("over",)), ("", ())])
def test_the_tolerance_mark_is_kept_beside_the_value(mark: str, meaning: tuple[str, ...]) -> None:
    (value,) = said(f"+2.345{mark}")
    assert value.marks == meaning  # type: ignore[union-attr]
