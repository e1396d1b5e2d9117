"""Thirteen clocked digits: the manuals' own frames, and what is refused."""

import pytest

from gauges.formats import decode
from gauges.reading import Event, to_json


def read(*lines: str) -> list[Event]:
    """The events of whole lines; the first one is only there to be dropped."""
    decoder = decode("bcd-13-nibble")
    return decoder.feed("".join(f"{line}\r\n" for line in ("", *lines)).encode()) + decoder.finish()


@pytest.mark.parametrize(
    ("digits", "value", "unit", "source"),
    [
        ("FFFF021076540", "21.0765", "mm", "99MBC095A, 6.2.1.5, example"),
        ("FFFF801234530", "-12.345", "mm", "99MBA043A, p. 6-12, example"),
    ],
)
def test_the_manuals_own_frames_are_read_digit_for_digit(digits: str, value: str, unit: str, source: str) -> None:
    assert [to_json(event) for event in read(digits)] == [{"value": value, "unit": unit}], source
