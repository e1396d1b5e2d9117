"""Sound files of every width and rate, written here byte by byte after the RIFF WAVE format (Microsoft and IBM, 1991)."""

import struct
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from assistant.ears import RATE
from assistant.ears.audio import BadSoundError, read, resampled, write

PCM, FLOAT = 1, 3


def tone(rate: int, hertz: float = 440.0, seconds: float = 0.5) -> NDArray[np.float64]:
    return 0.5 * np.sin(2 * np.pi * hertz * np.arange(round(rate * seconds)) / rate)


def wav(samples: NDArray[np.float64], rate: int, bits: int, channels: int = 1, kind: int = PCM) -> bytes:
    """A WAV file with the same samples in each channel."""
    spread = np.repeat(samples, channels)
    if kind == FLOAT:
        data = spread.astype("<f4" if bits == 32 else "<f8").tobytes()
    elif bits == 8:
        data = np.rint(spread * 127 + 128).astype(np.uint8).tobytes()
    elif bits == 24:
        data = np.rint(spread * 8388607).astype("<i4").view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    else:
        data = np.rint(spread * (2 ** (bits - 1) - 1)).astype(f"<i{bits // 8}").tobytes()
    frame = channels * bits // 8
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, kind, channels, rate, rate * frame, frame, bits)
    body = b"WAVE" + form + struct.pack("<4sI", b"data", len(data)) + data
    return struct.pack("<4sI", b"RIFF", len(body)) + body


@pytest.mark.parametrize(("bits", "kind"), [(8, PCM), (16, PCM), (24, PCM), (32, PCM), (32, FLOAT), (64, FLOAT)])
@pytest.mark.parametrize("channels", [1, 2, 6])
def test_every_width_and_number_of_channels_is_converted(tmp_path: Path, bits: int, kind: int, channels: int) -> None:
    file = tmp_path / "a.wav"
    file.write_bytes(wav(tone(RATE), RATE, bits, channels, kind))
    clip = read(file)
    assert clip.samples == pytest.approx(tone(RATE), abs=0.012 if bits == 8 else 1e-4)
    assert clip.recorded_rate == RATE
    assert clip.warning == ""


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 48_000, 96_000])
def test_every_rate_is_brought_to_sixteen_kilohertz(tmp_path: Path, rate: int) -> None:
    file = tmp_path / "a.wav"
    file.write_bytes(wav(tone(rate), rate, 16))
    clip = read(file)
    inner = slice(RATE // 20, RATE // 2 - RATE // 20)
    assert clip.samples[inner] == pytest.approx(tone(RATE)[: len(clip.samples)][inner], abs=0.01)
    assert ("misheard" in clip.warning) == (rate < 16_000)


def test_a_sound_too_high_for_the_new_rate_does_not_fold_down() -> None:
    # 10 kHz would come back as 6 kHz at 16 kHz.
    assert np.abs(resampled(tone(48_000, 10_000.0), 48_000, RATE)[400:-400]).max() < 0.005


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("empty.wav", b"", "not a WAV file"),
        ("text.wav", b"six and a half thou\n" * 20, "not a WAV file"),
        ("cut.wav", wav(tone(RATE), RATE, 16)[:-1000], "cut off: 15000 bytes of samples, its header says 16000"),
        ("header.wav", wav(tone(RATE), RATE, 16)[:30], "not a WAV file"),
        ("slow.wav", wav(tone(4_000), 4_000, 16), "4000 Hz: expected 8000"),
        ("long.wav", wav(tone(8_000, seconds=61), 8_000, 8), "lasts 61 s"),
        ("nan.wav", wav(np.full(100, np.nan), RATE, 32, kind=FLOAT), "no numbers"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_by_name(tmp_path: Path, name: str, data: bytes, said: str) -> None:
    file = tmp_path / name
    file.write_bytes(data)
    with pytest.raises(BadSoundError, match=f"{name}.*{said}"):
        read(file)


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadSoundError, match="No such file"):
        read(tmp_path / "nowhere.wav")
    with pytest.raises(BadSoundError, match="cannot be read"):
        read(tmp_path)


def test_a_size_left_open_by_a_recorder_is_no_fault(tmp_path: Path) -> None:
    data = wav(tone(RATE), RATE, 16)
    file = tmp_path / "stream.wav"
    file.write_bytes(data[:40] + b"\xff\xff\xff\xff" + data[44:])
    assert read(file).samples == pytest.approx(tone(RATE), abs=1e-4)


def test_what_is_written_is_read_again(tmp_path: Path) -> None:
    write(tmp_path / "a.wav", tone(RATE))
    assert read(tmp_path / "a.wav").samples == pytest.approx(tone(RATE), abs=1e-4)


@settings(max_examples=60)
@given(cut=st.integers(0, 600), at=st.integers(0, 599), byte=st.integers(0, 255))
def test_any_damage_gives_a_clip_or_a_refusal(tmp_path_factory: pytest.TempPathFactory, cut: int, at: int, byte: int) -> None:
    data = bytearray(wav(tone(RATE)[:278], RATE, 16))
    data[at] = byte
    file = tmp_path_factory.getbasetemp() / "damaged.wav"
    file.write_bytes(bytes(data[:cut]))
    try:
        outcome = bool(np.isfinite(read(file).samples).all())
    except BadSoundError as refused:
        outcome = "damaged.wav" in str(refused)
    assert outcome
