"""The table of families, and the door to the decoders."""

import random

import pytest

from gauges.benchmark import bit_flips, frames_of, frames_per_second, random_bytes
from gauges.errors import SettingError
from gauges.formats import FORMATS, decode, unit_from
from gauges.framing import CR, EVEN_CR
from gauges.reading import Reading
from tests.gauges.simulated import DAMAGES, damaged

# Families whose frames carry their own check, or are checked against each other: no single fault may pass as a value.
SELF_CHECKING = [key for key, row in FORMATS.items() if not row.needs_agreement]


def test_carriage_return_with_even_parity_is_8d() -> None:
    # 0D has three ones: the eighth bit makes four.
    assert bin(CR).count("1") % 2 == 1
    assert EVEN_CR == CR | 0x80


def test_the_families_that_may_give_one_frame_are_those_with_parity_check_or_checksum() -> None:
    assert SELF_CHECKING == ["ascii-signed-cr", "multi-feature-cr", "stx-etx-bcc", "modbus-rtu-int32"]


@pytest.mark.parametrize("key", FORMATS)
def test_a_row_agrees_with_its_frames(key: str) -> None:
    row = FORMATS[key]
    assert row.key == key
    assert row.about
    widths = {len(frame) for frame in frames_of(key, [1, 1234, 9999])}
    assert row.fixed_width is None or widths == {row.fixed_width}


@pytest.mark.parametrize("key", FORMATS)
def test_no_question_is_a_command_that_sets_zeroes_or_deletes(key: str) -> None:
    for question in FORMATS[key].questions:
        assert question.strip() in (b"?", b"R", b"M?", b"READ", b"1")


@pytest.mark.parametrize("key", SELF_CHECKING)
def test_of_ten_thousand_seeded_faults_none_becomes_a_value_in_a_family_that_checks_itself(key: str) -> None:
    dice = random.Random(20)
    frames = frames_of(key, [1234, 2345, 3456, 4567, 5678])
    right = _values(key, b"".join(frames))
    for turn in range(10_000 // len(SELF_CHECKING)):
        stream = damaged(frames, DAMAGES[turn % len(DAMAGES)], dice)
        assert set(_values(key, stream)) <= set(right), stream


def _values(key: str, stream: bytes) -> list[tuple[str, str | None]]:
    decoder = decode(key, unit="mm")
    decoder.reset(keep_lock=False, whole=True)
    return [(event.text, event.channel) for event in decoder.feed(stream) if isinstance(event, Reading)]


@pytest.mark.parametrize("key", FORMATS)
def test_no_single_wrong_bit_is_taken_once_two_frames_must_agree(key: str) -> None:
    result = bit_flips(key)
    assert result.flips > 0
    assert result.agreed == 0
    if key in SELF_CHECKING:
        assert result.wrong == 0


@pytest.mark.parametrize("key", FORMATS)
def test_random_bytes_give_no_reading_that_an_exact_frame_does_not_explain(key: str) -> None:
    assert random_bytes(key, 50_000).unexplained == 0


def test_speed_is_measured_on_frames_that_are_read() -> None:
    assert frames_per_second("ascii-signed-cr", 1000) > 0


@pytest.mark.parametrize(("text", "unit"), [("inch", "in"), ("N·m", "N.m"), ("lb-in", "lbf.in"), ("mm", "mm")])
def test_units_are_named_as_people_type_them(text: str, unit: str) -> None:
    assert unit_from(text) == unit


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"key": "x"}, "format 'x' is not known"),
        ({"key": "ascii-signed-cr"}, "give the unit the gauge is set to"),
        ({"key": "ascii-signed-cr", "unit": "ell"}, "unit 'ell' is not known"),
        ({"key": "ascii-signed-cr", "unit": "mm", "parity": "odd"}, "parity 'odd' is not known"),
        ({"key": "rf-position-packet", "parity": "even7"}, "uses all eight bits"),
        ({"key": "ascii-fixed-unit", "address": 3}, "has no addresses"),
    ],
)
def test_a_wrong_setting_is_refused_with_what_was_expected(arguments: dict[str, str], message: str) -> None:
    with pytest.raises(SettingError, match=message):
        decode(**arguments)  # type: ignore[arg-type]


@pytest.mark.parametrize("key", [key for key, row in FORMATS.items() if not row.needs_unit])
def test_a_unit_for_frames_that_carry_their_own_is_not_looked_at(key: str) -> None:
    decoder = decode(key, unit="um")
    decoder.reset(keep_lock=False, whole=True)
    (reading, *_) = decoder.feed(frames_of(key, [1234])[0])
    assert isinstance(reading, Reading)
    assert reading.unit != "um"
