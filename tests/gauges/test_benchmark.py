"""The benchmark: it can fail, and its rows are what it says they are."""

import pytest

from gauges import benchmark
from gauges.benchmark import BitFlipResult, RandomBytesResult, alphabet_of, bit_flips, frames_of, main, random_bytes
from gauges.formats import FORMATS


def test_the_table_has_one_row_for_each_family_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(2000, frames=200, keys=("ascii-signed-cr", "modbus-rtu-int32")) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines[2:]] == ["ascii-signed-cr", "modbus-rtu-int32"]


def test_a_reading_that_no_frame_explains_and_a_wrong_value_that_is_taken_fail_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(benchmark, "random_bytes", lambda *_, **__: RandomBytesResult(1, 1, 1, 0, 1.0))
    assert main(1000, frames=100, keys=("bin24-caliper",)) == 1
    monkeypatch.undo()
    monkeypatch.setattr(benchmark, "bit_flips", lambda _: BitFlipResult(8, 1, 1))
    assert main(1000, frames=100, keys=("bin24-caliper",)) == 1


def test_a_decoder_that_searches_for_numbers_anywhere_would_be_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the check of the block check, wrong bits come through: the measure sees them."""
    assert bit_flips("stx-etx-bcc").wrong == 0
    monkeypatch.setattr("gauges.formats.stx_etx_bcc.reduce", lambda _, __: 0x36)
    monkeypatch.setattr(benchmark, "_with_check", lambda body: b"\x02" + body + b"\x0336")
    assert bit_flips("stx-etx-bcc").wrong > 0


@pytest.mark.parametrize("key", FORMATS)
def test_the_alphabet_is_that_of_clean_frames_and_far_smaller_than_all_bytes(key: str) -> None:
    assert 3 <= len(alphabet_of(key)) <= 48
    assert set(frames_of(key, [1234])[0]) <= set(alphabet_of(key))


def test_random_bytes_are_all_fed_and_the_same_seed_gives_the_same_result() -> None:
    first, second = (
        random_bytes("typed-line", 50_000, alphabet=b"0123456789.\n"),
        random_bytes("typed-line", 50_000, alphabet=b"0123456789.\n"),
    )
    assert first.count >= 50_000
    assert first.readings == second.readings > 0
    assert first.unexplained == 0
