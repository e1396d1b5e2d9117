"""Lines and packets: where they begin and end, in any chunks."""

import pytest

from gauges.framing import INCOMPLETE, NO_PACKET, Line, LineFramer, Packet, PacketFramer


def lines(framer: LineFramer, data: bytes) -> list[Line]:
    """All lines of the data fed byte by byte, and what is left."""
    found = [line for at in range(len(data)) for line in framer.feed(data[at : at + 1])]
    rest = framer.finish()
    return found if rest is None else [*found, rest]


def test_a_carriage_return_ends_a_line_and_a_line_feed_right_after_it_is_skipped() -> None:
    framer = LineFramer("cr", drop_first=False)
    assert lines(framer, b"ab\r\ncd\r\re\nf\r\n") == [Line(0, b"ab", None), Line(4, b"cd", None), Line(8, b"e\nf", None)]


def test_a_line_feed_without_carriage_return_is_a_bad_terminator_of_its_line_only() -> None:
    framer = LineFramer("crlf", drop_first=False)
    assert lines(framer, b"ab\r\ncd\n\nef\r\n") == [Line(0, b"ab", None), Line(4, b"cd", "bad-terminator"), Line(8, b"ef", None)]


def test_a_line_of_the_limit_counts_and_one_byte_more_is_dropped_once_up_to_the_next_end() -> None:
    framer = LineFramer("crlf", limit=4, drop_first=False)
    assert lines(framer, b"abcd\r\nabcde, and more\r\nx\r\n") == [
        Line(0, b"abcd", None),
        Line(6, b"abcd", "overlong"),
        Line(23, b"x", None),
    ]


def test_the_first_line_is_dropped_without_a_word_however_long_it_is() -> None:
    assert lines(LineFramer("lf", limit=4), b"x" * 1000 + b"\nab\n") == [Line(1001, b"ab", None)]


def test_after_a_restart_on_a_silent_line_the_first_line_counts() -> None:
    framer = LineFramer("lf")
    framer.feed(b"half")
    framer.restart(whole=True)
    assert framer.feed(b"ab\n") == [Line(4, b"ab", None)]


@pytest.mark.parametrize(
    ("data", "fault"),
    [(b"", None), (b"ab", "no-frame"), (b"ab\n", None), (b"ab\ncd", "partial-tail"), (b"\n" + b"x" * 80, "overlong")],
)
def test_what_is_left_at_the_end_is_one_fault(data: bytes, fault: str | None) -> None:
    found = lines(LineFramer("lf"), data)
    assert [line.fault for line in found if line.fault] == ([] if fault is None else [fault])


def test_with_even_parity_8d_ends_a_line_and_0d_does_not() -> None:
    assert lines(LineFramer("cr", parity="even7", drop_first=False), b"a\rb\x8dc\x8d") == [Line(0, b"a\rb", None), Line(4, b"c", None)]


def measure(buffer: bytes, at: int) -> int:
    """A packet is S, two bytes, E."""
    if len(buffer) - at < 4:
        return INCOMPLETE
    return 4 if buffer[at + 3] == ord("E") else NO_PACKET


def packets(data: bytes) -> list[Packet | str]:
    """All packets of the data fed byte by byte, and what is left."""
    framer = PacketFramer(ord("S"), measure)
    found: list[Packet | str] = [packet for at in range(len(data)) for packet in framer.feed(data[at : at + 1])]
    last, rest = framer.finish()
    return [*found, *last, *([] if rest is None else [str(rest.fault)])]


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"xxSabESSSE", [Packet(2, b"SabE"), Packet(6, b"SSSE")]),
        # A false start is skipped by one byte, and the true one inside it is found; one run, one report.
        (b"SabEyySxSabE", [Packet(0, b"SabE"), Packet(4, b""), Packet(8, b"SabE")]),
        (b"SabEyy", [Packet(0, b"SabE"), Packet(4, b"")]),
        (b"SabESa", [Packet(0, b"SabE"), "partial-tail"]),
        (b"SabEyySa", [Packet(0, b"SabE"), Packet(4, b""), "partial-tail"]),
        (b"xxyy", ["no-frame"]),
        (b"", []),
    ],
)
def test_packets_are_searched_byte_by_byte_and_a_run_of_skipped_bytes_is_reported_once(data: bytes, found: list[Packet | str]) -> None:
    assert packets(data) == found
