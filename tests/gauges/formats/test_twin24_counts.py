"""Two clocked counts of 24 bits.

Sources: the page "Chinese Scales" (shumatech.com) and scale protocol notes in the model-engineer forum: absolute first, relative second,
least significant bit first, two's complement, 20480 counts per inch. One page (robotroom.com, caliper data port 2) has the second group
inverted: such a gauge is refused by the difference, not read wrongly.
"""

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gauges.formats import decode
from gauges.formats.twin24_counts import Twin24Counts
from gauges.reading import Reading, to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, faults


class TestSuite(LineEnds, OpenedInMidFrame):
    key = "twin24-counts"
    opening = line_end = b"\r\n"
    clean = (
        # Relative 5000 hex = 20480 counts = one inch.
        (b"018D52005000\r\n", [{"value": "25.40", "unit": "mm"}]),
        # Relative −806 counts: −806 · 25.4 / 20480 = −0.99961 mm.
        (b"013A2CFFFCDA\r\n", [{"value": "-1.00", "unit": "mm"}]),
        (b"013D52000000\r\n", [{"value": "0.00", "unit": "mm"}]),
        # The absolute group runs round: 013D52 + FFFFFF = 013D51 modulo 2^24.
        (b"013D51FFFFFF\r\n", [{"value": "0.00", "unit": "mm"}]),
    )
    damaged = (
        (b"018D53005000\r\n", "offset-change"),
        (b"018D52005001\r\n", "offset-change"),
        (b"018D5300500\r\n", "shape"),
        (b"018D52005000\n", "bad-terminator"),
        (b"E\r\n", "adapter-error"),
    )
    exact = re.compile(rb"[0-9A-F]{12}")
    sees_every_bit = True


@given(counts=st.integers(-(2**23), 2**23 - 1))
def test_millimetres_are_counts_by_the_exact_inch_rounded_half_up(counts: int) -> None:
    exact = Fraction(counts) * Fraction(254, 10) / 20480
    (event,) = Twin24Counts().feed(f"\r\n000000{counts % 2**24:06X}\r\n".encode())
    assert isinstance(event, Reading)
    error = abs(Fraction(event.value)) - abs(exact)
    assert -Fraction(1, 200) < error <= Fraction(1, 200)


@pytest.mark.parametrize(("counts", "value"), [(512, "0.64"), (-512, "-0.64"), (511, "0.63")])
def test_an_exact_half_is_rounded_away_from_zero(counts: int, value: str) -> None:
    # 512 · 25.4 / 20480 = 0.635 exactly.
    (event,) = Twin24Counts().feed(f"\r\n000000{counts % 2**24:06X}\r\n".encode())
    assert to_json(event) == {"value": value, "unit": "mm"}


def test_after_a_wanted_zero_the_session_locks_anew() -> None:
    decoder = decode("twin24-counts")
    decoder.feed(b"\r\n018D52005000\r\n")
    assert faults(decoder.feed(b"018D52000000\r\n")) == ["offset-change"]
    decoder.reset(keep_lock=False, whole=True)
    assert [to_json(event) for event in decoder.feed(b"018D52000000\r\n")] == [{"value": "0.00", "unit": "mm"}]


def test_the_groups_may_come_in_the_other_order() -> None:
    (event,) = Twin24Counts(relative_first=True).feed(b"\r\n005000018D52\r\n")
    assert to_json(event) == {"value": "25.40", "unit": "mm"}
