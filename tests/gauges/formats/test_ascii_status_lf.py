"""Mode, sign, number, unit letter, tolerance. Source: electronic indicator manual 2239028 Rev D, p. 51, 8.2.1."""

import re

import pytest

from gauges.formats import decode
from gauges.reading import Reading
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "ascii-status-lf"
    opening = line_end = b"\n"
    clean = (
        (bytes.fromhex("61 2B 20 31 2E 39 39 30 4D 20 20 0A"), [{"value": "1.990", "unit": "mm"}]),
        (b"a- 0.020M  \n", [{"value": "-0.020", "unit": "mm"}]),
        # Hold is a mark, not another mode.
        (b"A+ 1.000MU \n", [{"value": "1.000", "unit": "mm"}]),
        # The sheet's row "s SP ? DD DC DB SP M": no digit before the point, one blank after the last.
        (b"a+ .199 MO \n", [{"value": "0.199", "unit": "mm"}]),
    )
    damaged = (
        (b"a+ 1.99 M  \n", "decimals-change"),
        (b"m+ 1.990M  \n", "mode-change"),
        (b" + 1.990M  \n", "mode-change"),
        (b"a+ 1. 90M  \n", "shape"),
        (b"a+ 1990 M  \n", "shape"),
        (b"a+ 1.990M \n", "shape"),
        (b"a+ 1.990C  \n", "shape"),
        (b"x+ 1.990M  \n", "shape"),
        (b"a  1.990M  \n", "shape"),
        (b"a+ 1.990M  \r\n", "shape"),
    )
    # ".0395" of the manual's 0.040in row, written to 0.0001 in.
    other_unit = (bytes.fromhex("61 2D 20 2E 30 33 39 35 49 20 20 0A"), {"value": "-0.0395", "unit": "in"}, "unit-change")
    exact = re.compile(rb"[aAmMlLtT ][+-](?=[ 0-9.]{6}[MI]) *[0-9]*\.[0-9]+ ?[MI][O0U ] ")


@pytest.mark.parametrize(
    ("line", "marks"), [("a+ 1.990M  ", ()), ("A+ 1.990M  ", ("hold",)), ("a+ 1.990MO ", ("over",)), ("A+ 1.990MU ", ("hold", "under"))]
)
def test_hold_and_tolerance_are_marks(line: str, marks: tuple[str, ...]) -> None:
    (value,) = decode("ascii-status-lf").feed(f"\n{line}\n".encode())
    assert isinstance(value, Reading)
    assert value.marks == marks
