"""Framed by 02 and 03 with a block check. Composed from memory of several sheets; the checks below were summed by hand."""

import re

from gauges.formats.stx_etx_bcc import StxEtxBcc
from gauges.reading import Reading, to_json
from tests.suites.decoder import OpenedInMidFrame, ShowsUnit, faults


def packet(body: str, check: str) -> bytes:
    """02, the body, 03 and the two characters of the check."""
    return b"\x02" + body.encode() + b"\x03" + check.encode()


class TestSuite(OpenedInMidFrame, ShowsUnit):
    key = "stx-etx-bcc"
    clean = (
        # 30^31=01 ^2B=2A ^20^20=2A ^31=1B ^32=29 ^2E=07 ^33=34 ^34=00 ^35=35 ^4D^4D=35 ^03=36.
        (bytes.fromhex("02 30 31 2B 20 20 31 32 2E 33 34 35 4D 4D 03 33 36"), [{"value": "12.345", "unit": "mm", "channel": "01"}]),
        # As above with sign 2D for 2B: 36^06=30.
        (packet("01-  12.345MM", "30"), [{"value": "-12.345", "unit": "mm", "channel": "01"}]),
        # Channel 02: 36^03=35; it may have decimals of its own.
        (packet("02+  12.345MM", "35"), [{"value": "12.345", "unit": "mm", "channel": "02"}]),
        # Last digit 35 → 30: 36^05=33.
        (packet("01+  12.340MM", "33"), [{"value": "12.340", "unit": "mm", "channel": "01"}]),
    )
    damaged = (
        (packet("01+  12.346MM", "36"), "resync"),
        (packet("01+  12.345MM", "3"), "resync"),
        (packet("01+  12.345MM", "36")[1:], "resync"),
        (packet("01+ 1 2.345MM", "36"), "resync"),
        # Eight dashes for 20 20 31 32 2E 33 34 35 (XOR 1F): 36^1F=29.
        (packet("01+--------MM", "29"), "over-range"),
        # Two decimals: 20 20 20 31 32 2E 33 34 has XOR 0A for 1F, so 36^15=23.
        (packet("01+   12.34MM", "23"), "decimals-change"),
    )
    # MM → IN: 4D^4D=00, 49^4E=07, so 36^07=31.
    other_unit = (packet("01+  12.345IN", "31"), {"value": "12.345", "unit": "in", "channel": "01"}, "unit-change")
    exact = re.compile(rb"\x02\d\d[+-](?=[ 0-9.]{8}[MI]) *\d+\.\d+(MM|IN)\x03[0-9A-F]{2}")
    sees_every_bit = True


def test_the_check_may_leave_out_03_be_one_raw_byte_and_be_followed_by_a_carriage_return() -> None:
    decoder = StxEtxBcc(check_covers_etx=False, raw_check=True, ends_with_cr=True)
    # Without the 03 the check is 35, which is the character 5; 02 37 … gives a check of 02, the header itself.
    first = b"\x02" + b"01+  12.345MM" + b"\x03\x35\r"
    second = b"\x02" + b"31+  12.342MM" + b"\x03" + bytes([0x35 ^ 0x03 ^ 0x07]) + b"\r"
    events = decoder.feed(first + second)
    assert [to_json(event) for event in events if isinstance(event, Reading)] == [
        {"value": "12.345", "unit": "mm", "channel": "01"},
        {"value": "12.342", "unit": "mm", "channel": "31"},
    ]
    assert faults(StxEtxBcc().feed(first + second) + StxEtxBcc().finish()) == []
