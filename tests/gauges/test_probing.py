"""Which family explains some bytes, and what is likely wrong when none does."""

from decimal import Decimal

import pytest

from gauges.benchmark import frames_of
from gauges.formats import FORMATS, format_named
from gauges.probing import explain, families_at, hint_for, lines_to_listen_at

SENDING = [key for key, row in FORMATS.items() if row.lines and not row.takes_address]
# Frames of ten bytes with a sign are also answers of the command set: such a gauge must be asked about.
ALSO = {"ascii-signed-cr": {"ask-reply-cr"}}


@pytest.mark.parametrize("key", SENDING)
def test_a_gauge_is_found_by_its_own_bytes_opened_in_mid_frame(key: str) -> None:
    row = FORMATS[key]
    stream = b"".join(frames_of(key, list(range(1200, 1220))))[3:]
    found = {match.key: match for match in explain(stream, families_at(row.lines[0])) if match.is_found}
    assert set(found) == {key} | ALSO.get(key, set())
    assert found[key].parity == row.parity


def test_a_gauge_set_to_no_parity_is_found_as_such() -> None:
    stream = b"+0012.345\r" * 20
    assert {(match.key, match.parity) for match in explain(stream) if match.is_found} == {
        ("ascii-signed-cr", "none"),
        ("ask-reply-cr", "none"),
    }


def test_seven_frames_are_too_few_and_one_bad_frame_in_ten_is_too_many() -> None:
    frames = frames_of("bcd-13-nibble", list(range(1, 30)))
    assert not any(match.is_found for match in explain(b"".join(frames[:8])))
    assert any(match.is_found for match in explain(b"".join(frames[:9])))
    spoiled = [frame if turn % 10 else b"FFFE000123430\r\n" for turn, frame in enumerate(frames)]
    assert not any(match.is_found for match in explain(b"".join(spoiled)))


def test_noise_explains_nothing() -> None:
    assert explain(bytes(range(256)) * 20) == []


def test_every_line_setting_of_the_table_is_listened_at_once_and_no_polled_family_is_waited_for() -> None:
    lines = lines_to_listen_at()
    assert len(lines) == len(set(lines))
    assert {str(line) for line in lines} == {"4800 7E2", "9600 8N1", "2400 7N2", "9600 7E2", "38400 8N2"}
    assert all(not row.takes_address for line in lines for row in families_at(line))


@pytest.mark.parametrize(
    ("data", "hint"),
    [
        (
            b"+0012.345\r".translate(bytes(byte | (0x80 if byte.bit_count() % 2 and byte < 128 else 0) for byte in range(256))) * 10,
            "parity",
        ),
        (bytes(100), "plug"),
        (bytes([0xE0, 0xFF, 0x00, 0xF8]) * 25, "speed"),
        (b"perfectly readable text, but no frame at all, again and again\r\n" * 2, None),
        (b"\x00\xff", None),
    ],
)
def test_a_line_without_frames_gets_a_hint(data: bytes, hint: str | None) -> None:
    given = hint_for(data)
    assert given is None if hint is None else hint in str(given)


def test_the_unit_and_the_resolution_are_told_as_far_as_they_show() -> None:
    """bcd-13 says its unit; the first family says none. 0.0005 in steps end in 0 or 5 (gauge sheets; docs/gauges.md)."""
    halves = b"".join(b"FFFF0%06d41\r\n" % (turn * 5) for turn in range(12))
    (match,) = explain(halves, [format_named("bcd-13-nibble")])
    assert (match.unit, match.step) == ("in", Decimal("0.0005"))
    (match,) = explain(b"FFFF000500041\r\n" * 12, [format_named("bcd-13-nibble")])
    assert (match.unit, match.step) == ("in", Decimal("0.0001"))  # at rest nothing shows that it is coarser
    (match,) = explain(b"+0012.345\r" * 12, [format_named("ascii-signed-cr")])[-1:]
    assert (match.unit, match.step) == (None, Decimal("0.001"))
