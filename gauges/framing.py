"""A stream of bytes → frames with their offsets; knows line ends and headers, and nothing of what stands between them.

House rules: the frames are the same for any chunking of the stream; nothing here looks at the clock; memory stays bounded.
"""

from collections.abc import Callable
from typing import Literal, NamedTuple

from gauges.reading import FaultCode

LineEnd = Literal["cr", "crlf", "lf", "key"]
Parity = Literal["even7", "none"]

CR, LF, TAB = 0x0D, 0x0A, 0x09
# Carriage return sent with 7 data bits and even parity: 0D has three ones, so the eighth bit is set.
EVEN_CR = 0x8D


class Line(NamedTuple):
    """One line of a stream: its bytes without the line end, where it began, and what is wrong with it as a line (or None)."""

    offset: int
    data: bytes
    fault: FaultCode | None


class LineFramer:
    """Cuts a stream into lines.

    ends: "cr" (a line feed right after it is skipped), "crlf" (a bare line feed is a fault of that line), "lf", or "key" (any of
    return, line feed and tab: what a keyboard-type cable sends). parity "even7" moves the carriage return to 8D.
    limit: bytes that a line may have at most; a longer one is reported once, dropped up to the next line end.
    drop_first: the stream was opened in mid-line, so what comes before the first line end is thrown away without a word.
    """

    def __init__(self, ends: LineEnd, *, parity: Parity = "none", limit: int = 64, drop_first: bool = True) -> None:
        self._carriage_return = bytes([EVEN_CR if parity == "even7" else CR])
        self._ends = ends
        self._separator = self._carriage_return if ends == "cr" else b"\n"
        self._limit = limit
        self._position = 0
        self.restart(whole=not drop_first)

    def restart(self, *, whole: bool) -> None:
        """Forget the bytes that wait. whole: the next byte begins a line, so the first line counts."""
        self._rest = b""
        # True while bytes up to the next line end are thrown away (after opening in mid-line, or after an overlong line).
        self._dropping = not whole
        self._seen_end = False
        self._seen_bytes = False
        self._after_end = False
        self._overlong = False

    def feed(self, data: bytes) -> list[Line]:
        """The lines that `data` completes, empty ones left out."""
        if not data:
            return []
        self._seen_bytes = True
        if self._ends == "key":
            # Same length, so offsets stay true: every end becomes the one that is searched.
            data = data.replace(self._carriage_return, b"\n").replace(b"\t", b"\n")
        pieces = (self._rest + data).split(self._separator)
        start = self._position - len(self._rest)
        self._position += len(data)
        self._rest = pieces.pop()
        lines: list[Line] = []
        for piece in pieces:
            line = self._finished(piece, start)
            if line is not None:
                lines.append(line)
            start += len(piece) + 1
        if self._dropping:
            self._rest = b""
        elif len(self._rest) > self._limit:
            skipped = 1 if self._skips_line_feed(self._rest) else 0
            waiting = 1 if self._ends == "crlf" and self._rest.endswith(self._carriage_return) else 0
            if len(self._rest) - skipped - waiting > self._limit:
                lines.append(Line(start + skipped, self._rest[skipped : skipped + self._limit], "overlong"))
                self._dropping, self._overlong, self._rest = True, True, b""
        return lines

    def finish(self) -> Line | None:
        """What is left at the end of the stream, as one faulty line; None when it ended with a line end."""
        if not self._seen_end and self._seen_bytes and not self._overlong:
            return Line(self._position - len(self._rest), self._rest, "no-frame")
        rest = self._rest
        if self._skips_line_feed(rest):
            rest = rest[1:]
        if rest:
            return Line(self._position - len(rest), rest, "partial-tail")
        return None

    def _skips_line_feed(self, piece: bytes) -> bool:
        return self._ends == "cr" and self._after_end and piece.startswith(b"\n")

    def _finished(self, piece: bytes, start: int) -> Line | None:
        if self._dropping:
            self._dropping = self._overlong = False
            self._seen_end = self._after_end = True
            return None
        if self._skips_line_feed(piece):
            piece, start = piece[1:], start + 1
        self._seen_end = self._after_end = True
        if self._ends == "crlf":
            is_whole = piece.endswith(self._carriage_return)
            piece = piece[:-1] if is_whole else piece
        else:
            is_whole = True
        if not piece:
            return None
        if len(piece) > self._limit:
            return Line(start, piece[: self._limit], "overlong")
        return Line(start, piece, None if is_whole else "bad-terminator")


# What a packet's shape says of the bytes at the head of the buffer: its length when it is whole, 0 when it may become whole
# with more bytes, -1 when it can't begin here.
Measure = Callable[[bytes, int], int]
INCOMPLETE = 0
NO_PACKET = -1


class Packet(NamedTuple):
    """A whole packet, or (data empty) one run of bytes that were skipped to find the next."""

    offset: int
    data: bytes


class PacketFramer:
    """Cuts a stream into packets that begin with a known byte and are cut by count, never by a byte inside.

    header: the first byte. measure: see `Measure`. Where no packet fits, one byte is skipped and the search goes on; a run of skipped
    bytes is reported once, when it ends, and only after the first whole packet.
    """

    def __init__(self, header: int, measure: Measure) -> None:
        self._header = bytes([header])
        self._measure = measure
        self._position = 0
        self.restart()

    def restart(self) -> None:
        """Forget the bytes that wait; the next packet is searched as if it were the first."""
        self._rest = b""
        self._found = False
        self._skipped_from: int | None = None
        self._seen_bytes = False

    def feed(self, data: bytes) -> list[Packet]:
        """The packets that `data` completes, with the runs of skipped bytes between them."""
        if not data:
            return []
        self._seen_bytes = True
        buffer = self._rest + data
        base = self._position - len(self._rest)
        self._position += len(data)
        packets: list[Packet] = []
        at = 0
        while True:
            found = buffer.find(self._header, at)
            if found != at and at < len(buffer):
                self._skip(base + at)
            if found < 0:
                at = len(buffer)
                break
            at = found
            length = self._measure(buffer, at)
            if length == INCOMPLETE:
                break
            if length == NO_PACKET:
                self._skip(base + at)
                at += 1
                continue
            self._report_skipped(packets)
            packets.append(Packet(base + at, buffer[at : at + length]))
            self._found = True
            at += length
        self._rest = buffer[at:]
        return packets

    def finish(self) -> tuple[list[Packet], Line | None]:
        """The last run of skipped bytes, if one is open, and what is left as one faulty line."""
        packets: list[Packet] = []
        if not self._found:
            return packets, Line(self._position - len(self._rest), self._rest, "no-frame") if self._seen_bytes else None
        if self._rest:
            self._report_skipped(packets)
            return packets, Line(self._position - len(self._rest), self._rest, "partial-tail")
        self._report_skipped(packets)
        return packets, None

    def _skip(self, offset: int) -> None:
        if self._skipped_from is None:
            self._skipped_from = offset

    def _report_skipped(self, packets: list[Packet]) -> None:
        if self._skipped_from is not None and self._found:
            packets.append(Packet(self._skipped_from, b""))
        self._skipped_from = None
