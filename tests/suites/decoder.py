"""What every decoder must do, whatever its family: one suite, and a short subclass for each family.

A family names its clean frames (each with what the sheet says it means), its damaged frames with the fault that answers them, and what it
cannot do. The shape of a frame is stated a second time, by a pattern of its own, so that a reading must be explained by an exact frame.
"""

import re
from collections.abc import Sequence
from typing import ClassVar

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gauges.formats import FORMATS, decode
from gauges.formats.base import Decoder
from gauges.reading import FAULT_CODES, UNITS, Event, Fault, Reading, to_json

Says = dict[str, str]

# One test body is inherited by all families, which is just what this health check warns of.
_HYPOTHESIS = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.differing_executors])

_EVEN = bytes(value | (0x80 if value.bit_count() % 2 else 0) for value in range(128))


def even7(text: str) -> bytes:
    """Text as an instrument with 7 data bits and even parity sends it, seen as 8-bit bytes."""
    return text.encode("ascii").translate(_EVEN + bytes(range(128, 256)))


def readings(events: Sequence[Event]) -> list[Reading]:
    """The readings among these events."""
    return [event for event in events if isinstance(event, Reading)]


def faults(events: Sequence[Event]) -> list[str]:
    """The codes of the faults among these events."""
    return [event.code for event in events if isinstance(event, Fault)]


def chunked(data: bytes, sizes: Sequence[int]) -> list[bytes]:
    """The data in pieces of these sizes, in turn."""
    pieces, at, turn = [], 0, 0
    while at < len(data):
        size = sizes[turn % len(sizes)]
        pieces.append(data[at : at + size])
        at, turn = at + size, turn + 1
    return pieces


class DecoderSuite:
    """Subclass it (with the mixins that fit) as Test…; pytest then runs every test below on that family.

    unit: what the gauge is set to, where its frames carry none.
    clean: frames in the order a gauge would send them, line ends and all, each with its readings as `to_json` prints them; at least four.
    damaged: frames after two clean ones, with the one fault that answers each.
    exact: the shape of one frame without its line end, as the sheet states it, parity bits off.
    opening: what is sent before the first frame so that it counts (a line end), or nothing.
    line_end: of a family of lines; b"" for packets.
    sees_every_bit: whether no single wrong bit can pass as another value; if not, the table must ask for two frames that agree.
    """

    key: ClassVar[str]
    unit: ClassVar[str | None] = None
    clean: ClassVar[Sequence[tuple[bytes, list[Says]]]]
    damaged: ClassVar[Sequence[tuple[bytes, str]]]
    exact: ClassVar[re.Pattern[bytes]]
    opening: ClassVar[bytes] = b""
    line_end: ClassVar[bytes] = b""
    sees_every_bit: ClassVar[bool] = False

    def decoder(self) -> Decoder:
        """A fresh decoder, set to this family's unit."""
        return decode(self.key, unit=self.unit)

    def all_events(self, data: bytes, sizes: Sequence[int] = (1 << 20,)) -> list[Event]:
        """Everything a fresh decoder makes of the data, fed in pieces of these sizes."""
        decoder = self.decoder()
        events: list[Event] = []
        for piece in chunked(data, sizes):
            events += decoder.feed(piece)
        return events + decoder.finish()

    def said(self, data: bytes) -> list[Says]:
        """The same as public lines."""
        return [to_json(event) for event in self.all_events(data)]

    def values(self, data: bytes) -> list[Says]:
        """The readings among them."""
        return [to_json(event) for event in readings(self.all_events(data))]

    @property
    def stream(self) -> bytes:
        """All clean frames, the first of them whole."""
        return self.opening + b"".join(frame for frame, _ in self.clean)

    def without_parity(self, raw: bytes) -> bytes:
        """The bytes with the parity bits off, where the family has them."""
        return bytes(byte & 0x7F for byte in raw) if FORMATS[self.key].parity == "even7" else raw

    def test_the_sheets_frames_are_read_digit_for_digit(self) -> None:
        assert len(self.clean) >= 4
        assert self.said(self.stream) == [says for _, expected in self.clean for says in expected]

    def test_each_damaged_frame_gives_its_one_fault_and_the_next_frame_is_read(self) -> None:
        first, second, third, *_ = self.clean
        assert self.damaged
        for frame, code in self.damaged:
            data = self.opening + first[0] + second[0] + frame + third[0]
            assert faults(self.all_events(data)) == [code], frame
            assert self.values(data) == [*first[1], *second[1], *third[1]], frame

    def test_a_stream_that_ends_in_mid_frame_ends_with_one_fault(self) -> None:
        *most, last = self.clean
        whole = self.opening + b"".join(frame for frame, _ in most)
        for cut in range(1, len(last[0]) - max(1, len(self.line_end)) + 1):
            assert self.said(whole + last[0][:cut]) == [*(says for _, expected in most for says in expected), {"fault": "partial-tail"}], (
                cut
            )

    def test_bytes_without_any_frame_are_one_fault_and_no_bytes_are_none(self) -> None:
        first = self.clean[0][0]
        assert self.said(first[: len(first) - max(1, len(self.line_end))]) == [{"fault": "no-frame"}]
        assert self.said(b"") == []

    def test_no_single_wrong_bit_passes_as_another_value_or_two_frames_must_agree(self) -> None:
        first, second, third, *_ = self.clean
        right = [*first[1], *second[1], *third[1]]
        wrong = [
            frame
            for where in range(8 * len(second[0]))
            for frame in [flipped(second[0], where)]
            if any(value not in right for value in self.values(self.opening + first[0] + frame + third[0]))
        ]
        assert bool(wrong) is not self.sees_every_bit
        assert self.sees_every_bit or FORMATS[self.key].needs_agreement

    @_HYPOTHESIS
    @given(data=st.data())
    def test_the_result_is_the_same_for_any_chunking(self, data: st.DataObject) -> None:
        stream = data.draw(self._damaged_streams())
        sizes = data.draw(st.lists(st.integers(1, 7), min_size=1, max_size=12))
        whole = self.all_events(stream)
        assert self.all_events(stream, sizes) == whole
        assert self.all_events(stream, (1,)) == whole

    @_HYPOTHESIS
    @given(data=st.data())
    def test_every_reading_is_explained_by_an_exact_frame_at_its_place(self, data: st.DataObject) -> None:
        stream = data.draw(self._damaged_streams())
        for event in self.all_events(stream):
            assert stream[event.offset : event.offset + len(event.raw)] == event.raw
            if isinstance(event, Reading):
                assert self.exact.fullmatch(self.without_parity(event.raw)), event
                assert event.unit in UNITS
                assert event.value.is_finite()
                assert not (event.value.is_zero() and event.value.is_signed())
            elif isinstance(event, Fault):
                assert event.code in FAULT_CODES
                assert event.detail

    @_HYPOTHESIS
    @given(stream=st.binary(max_size=600))
    def test_random_bytes_raise_nothing_and_a_reset_leaves_nothing_behind(self, stream: bytes) -> None:
        decoder = self.decoder()
        decoder.feed(stream)
        decoder.reset(keep_lock=True)
        assert decoder.finish() == []

    def _damaged_streams(self) -> st.SearchStrategy[bytes]:
        """Clean frames among pieces, doubles, junk, stray line ends and flipped bits."""
        frames = st.sampled_from([frame for frame, _ in self.clean])
        bad = st.sampled_from([frame for frame, _ in self.damaged])
        cut = st.builds(lambda frame, at: frame[at % len(frame) :], frames, st.integers(0, 100))
        bit = st.builds(flipped, frames, st.integers(0, 10_000))
        junk = st.binary(max_size=12) | st.sampled_from([b"\r", b"\n", b"\x8d", b"\r\n", b"\x02", b"\xff", b"\x00" * 70, b"0" * 210])
        return st.lists(frames | bad | cut | bit | junk, max_size=14).map(b"".join)


class OpenedInMidFrame(DecoderSuite):
    """For all families but the typed lines, of which every line counts."""

    def test_a_stream_opened_in_mid_frame_gives_no_fault_and_no_value_of_the_cut_frame(self) -> None:
        first, *rest = self.clean
        for cut in range(1, len(first[0])):
            stream = first[0][cut:] + b"".join(frame for frame, _ in rest)
            assert self.said(stream) == [says for _, expected in rest for says in expected], cut

    def test_noise_before_the_first_frame_is_not_a_fault(self) -> None:
        noise = bytes(range(0x80, 0xFF)).replace(b"\x8d", b"") * 3
        assert self.said(noise + self.stream) == [says for _, expected in self.clean for says in expected]

    def test_after_a_silence_the_first_frame_is_whole_and_counts(self) -> None:
        decoder = self.decoder()
        decoder.reset(keep_lock=False, whole=True)
        assert [to_json(event) for event in decoder.feed(self.clean[0][0])] == self.clean[0][1]


class LineEnds(DecoderSuite):
    """For families of lines: what a lost or a false line end does."""

    longest: ClassVar[int] = 64

    def test_two_frames_joined_by_a_lost_line_end_are_one_fault_and_no_value(self) -> None:
        first, second, third, fourth, *_ = self.clean
        data = self.opening + first[0] + second[0][: -len(self.line_end)] + third[0] + fourth[0]
        assert len(faults(self.all_events(data))) == 1
        assert self.values(data) == [*first[1], *fourth[1]]

    def test_a_frame_cut_by_a_false_line_end_gives_no_wrong_value_unless_two_must_agree(self) -> None:
        first, second, third, *_ = self.clean
        right = [*first[1], *second[1], *third[1]]
        for cut in range(1, len(second[0]) - len(self.line_end)):
            data = self.opening + first[0] + second[0][:cut] + self.line_end + second[0][cut:] + third[0]
            assert faults(self.all_events(data)), cut
            wrong = [value for value in self.values(data) if value not in right]
            assert not wrong or self.can_hide_a_cut_front, (cut, wrong)

    # A free width lets the tail of a number stand for the whole.
    can_hide_a_cut_front: ClassVar[bool] = False

    def test_a_line_that_never_ends_is_dropped_up_to_the_next_line_end_as_one_fault(self) -> None:
        first, second, *_ = self.clean
        endless = even7("0") * (self.longest + 1) if self.line_end == b"\x8d" else b"0" * (self.longest + 1)
        data = self.opening + first[0] + endless + self.line_end + second[0]
        assert self.said(data) == [*first[1], {"fault": "overlong"}, *second[1]]
        shorter = self.opening + first[0] + endless[1:] + self.line_end + second[0]
        assert "overlong" not in faults(self.all_events(shorter))
        assert self.said(self.opening + first[0] + endless) == [*first[1], {"fault": "overlong"}]


class ShowsUnit(DecoderSuite):
    """For families whose frames change when the gauge's unit key is pressed.

    other_unit: a whole frame after that, what it says, and the fault while the first unit is locked.
    """

    other_unit: ClassVar[tuple[bytes, Says, str]]

    def test_the_other_unit_is_refused_until_the_first_one_is_back(self) -> None:
        first, second, *_ = self.clean
        other, _, code = self.other_unit
        data = self.opening + first[0] + other + other + second[0]
        assert faults(self.all_events(data)) == [code, code]
        assert self.values(data) == [*first[1], *second[1]]

    def test_a_wanted_change_of_unit_lets_only_that_unit_lock_again(self) -> None:
        other, says, _ = self.other_unit
        decoder = self.decoder()
        decoder.feed(self.opening + self.clean[0][0])
        decoder.change_unit(says["unit"])
        if not FORMATS[self.key].needs_unit:
            assert faults(decoder.feed(self.clean[1][0])) == ["unit-change"]
        assert [to_json(reading) for reading in readings(decoder.feed(other))] == [says]

    def test_a_replug_keeps_the_lock_and_a_full_reset_does_not(self) -> None:
        other, says, code = self.other_unit
        decoder = self.decoder()
        decoder.feed(self.opening + self.clean[0][0])
        decoder.reset(keep_lock=True, whole=True)
        assert faults(decoder.feed(other)) == [code]
        decoder.reset(keep_lock=False, whole=True)
        assert [reading.text for reading in readings(decoder.feed(other))] == [says["value"]]


def flipped(frame: bytes, where: int) -> bytes:
    """The frame with one bit turned round: bit `where` modulo 8 of byte `where` over 8."""
    turned = bytearray(frame)
    turned[where // 8 % len(frame)] ^= 1 << where % 8
    return bytes(turned)
