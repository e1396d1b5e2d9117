"""Packets of a wireless scale. Source: RF receiver user manual, p. 16: the position packet of 8.537 in and the delete packet, byte by byte."""

import re

from gauges.formats import decode
from gauges.reading import Status, to_json
from tests.suites.decoder import OpenedInMidFrame, ShowsUnit


def packet(number: int, text: str = "  8.537", *, sender: int = 1, sign: str = " ", inch: int = 1) -> bytes:
    """A position packet as in the manual's table."""
    return bytes([0xFF, sender]) + b"A5" + bytes([number]) + b"\x0d\x01\x00\x01\x01" + bytes([inch]) + sign.encode() + text.encode()


# The manual's second table: display 1, signal 7, message 21.
DELETE = bytes([255, 1]) + b"I7" + bytes([21, 0])


class TestSuite(OpenedInMidFrame, ShowsUnit):
    key = "rf-position-packet"
    clean = (
        (bytes.fromhex("FF 01 41 35 22 0D 01 00 01 01 01 20 20 20 38 2E 35 33 37"), [{"value": "8.537", "unit": "in", "channel": "1"}]),
        (packet(0x23, "123.456", sign="-"), [{"value": "-123.456", "unit": "in", "channel": "1"}]),
        (packet(0x24, "  0.000", sign="-"), [{"value": "0.000", "unit": "in", "channel": "1"}]),
        (packet(7, "   1.25", sender=99, inch=0), [{"value": "1.25", "unit": "mm", "channel": "99"}]),
    )
    damaged = (
        (packet(0x24, inch=7), "resync"),
        (packet(0x24)[:8], "resync"),
        (packet(0x24, "  8 537"), "resync"),
        (packet(0x24, " 8. 537"), "resync"),
        (packet(0x24, sender=100), "resync"),
        (b"12345", "resync"),
        (packet(0x23, "123.456", sign="-"), "duplicate"),
    )
    other_unit = (packet(0x24, " 216.84", inch=0), {"value": "216.84", "unit": "mm", "channel": "1"}, "unit-change")
    exact = re.compile(rb"\xff[\x01-\x63]A[0-9].\r\x01\x00\x01\x01[\x00\x01][ -](?=[ 0-9.]{7}$) *\d+\.\d+", re.DOTALL)

    def test_the_other_unit_is_refused_until_the_first_one_is_back(self) -> None:
        # The same packet twice would be a duplicate: each press has a number of its own.
        events = self.all_events(packet(1) + packet(2, " 216.84", inch=0) + packet(3, " 216.84", inch=0) + packet(4))
        first = {"value": "8.537", "unit": "in", "channel": "1"}
        assert [to_json(event) for event in events] == [first, {"fault": "unit-change"}, {"fault": "unit-change"}, first]

    def test_a_replug_keeps_the_lock_and_a_full_reset_does_not(self) -> None:
        decoder = self.decoder()
        decoder.feed(packet(1))
        decoder.reset(keep_lock=True)
        assert [to_json(event) for event in decoder.feed(packet(2, " 216.84", inch=0))] == [{"fault": "unit-change"}]
        decoder.reset(keep_lock=False)
        assert [to_json(event)["value"] for event in decoder.feed(packet(3, " 216.84", inch=0))] == ["216.84"]


def test_a_delete_packet_is_a_status_for_the_voice_to_confirm() -> None:
    decoder = decode("rf-position-packet")
    reading, status = decoder.feed(packet(20) + DELETE)
    assert to_json(reading)["value"] == "8.537"
    assert isinstance(status, Status)
    assert (status.channel, status.text) == ("1", "delete last value of sender 1")
    assert [to_json(event) for event in decoder.feed(DELETE)] == [{"fault": "duplicate"}]


def test_a_jump_of_the_number_is_told_before_the_reading_and_the_count_runs_round() -> None:
    events = decode("rf-position-packet").feed(packet(253) + packet(255) + packet(0))
    value = {"value": "8.537", "unit": "in", "channel": "1"}
    assert [to_json(event) for event in events] == [value, {"status": "packets lost"}, value, value]


def test_a_carriage_return_as_number_does_not_cut_the_packet() -> None:
    assert [to_json(event)["value"] for event in decode("rf-position-packet").feed(packet(0x0D) + packet(0x0E))] == ["8.537", "8.537"]
