"""Noise and rooms: the level that was asked for, and the same from the same seed."""

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.benchmarks.noises import NOISES, in_a_room, noise, with_noise
from assistant.ears import RATE


def dice(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


TALK = np.sin(np.arange(5 * RATE) / 5.0) * dice().random(5 * RATE)


def speech() -> NDArray[np.float64]:
    """A second of "speech" of known power (0.0002) between two of silence."""
    return np.concatenate([np.zeros(RATE), 0.02 * np.sin(2 * np.pi * 300 * np.arange(RATE) / RATE), np.zeros(RATE)])


@pytest.mark.parametrize("kind", NOISES)
@pytest.mark.parametrize("samples", [1, 700, 40_000])
def test_every_noise_has_its_length_and_power_one(kind: str, samples: int) -> None:
    made = noise(kind, samples, dice(), TALK)
    assert len(made) == samples
    assert np.sqrt(np.mean(made**2)) == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize("kind", NOISES)
def test_the_same_seed_makes_the_same_noise_and_another_another(kind: str) -> None:
    assert np.array_equal(noise(kind, 8_000, dice(3), TALK), noise(kind, 8_000, dice(3), TALK))
    assert not np.array_equal(noise(kind, 8_000, dice(3), TALK), noise(kind, 8_000, dice(4), TALK))


def test_an_unknown_noise_and_babble_of_nobody_are_refused() -> None:
    with pytest.raises(ValueError, match="noise 'rain': expected one of compressor"):
        noise("rain", 100, dice())
    with pytest.raises(ValueError, match="babble needs talk"):
        noise("babble", 100, dice())


@pytest.mark.parametrize("decibels", [0.0, 10.0, 20.0])
@pytest.mark.parametrize("kind", ["compressor", "fan", "hammer"])
def test_the_noise_is_as_far_below_the_speech_as_was_asked_for(decibels: float, kind: str) -> None:
    added = with_noise(speech(), decibels, kind, dice()) - speech()
    assert 10 * np.log10(0.0002 / np.mean(added**2)) == pytest.approx(decibels, abs=0.01)


def test_a_clean_clip_has_a_quiet_room_behind_it() -> None:
    added = with_noise(speech(), None, None, dice()) - speech()
    assert 10 * np.log10(0.0002 / np.mean(added**2)) == pytest.approx(45.0, abs=0.2)


def test_a_loud_mix_is_turned_down_and_not_clipped() -> None:
    assert np.abs(with_noise(speech() * 50, 0.0, "air", dice())).max() == pytest.approx(0.9)


def test_an_echo_falls_by_sixty_decibels_in_its_time() -> None:
    click = np.zeros(RATE)
    click[0] = 1.0
    echo = in_a_room(click, dice(), 0.4)
    # 6.9 nepers are 60 dB: over any tenth of a second of it, 15.
    early, late = (np.mean(echo[at : at + RATE // 20] ** 2) for at in (RATE // 20, RATE // 20 + RATE // 10))
    assert 10 * np.log10(early / late) == pytest.approx(15.0, abs=1.0)
