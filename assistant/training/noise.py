"""A bank of noises to learn in: the workshop kinds that the benchmarks allow for training, and bands, hums, ticks and slopes at random."""

from typing import TYPE_CHECKING

from assistant.benchmarks.noises import HEARD_IN_TRAINING
from assistant.benchmarks.noises import noise as workshop
from assistant.ears import RATE

if TYPE_CHECKING:
    import numpy
    from numpy.random import Generator
    from numpy.typing import NDArray

SAMPLES = 129_600
KINDS = (*HEARD_IN_TRAINING, "band", "hum", "ticks", "slope")
LEVEL = 3000
"""Root mean square of a noise, of 32767."""


def bank(count: int, seed: int) -> "NDArray[numpy.int16]":
    """[count, SAMPLES]: the kinds in turn, each drawn anew."""
    import numpy as np

    made = []
    for number in range(count):
        dice = np.random.default_rng([seed, number])
        sound = one(KINDS[number % len(KINDS)], dice)
        sound = sound / (np.sqrt(np.mean(sound**2)) + 1e-9)
        made.append(np.clip(sound * LEVEL, -32767, 32767).astype(np.int16))
    return np.stack(made)


def one(kind: str, dice: "Generator") -> "NDArray[numpy.float64]":
    """A noise of this kind. Raises ValueError for a kind that is not known."""
    import numpy as np

    t = np.arange(SAMPLES) / RATE
    if kind == "band":
        low = dice.uniform(40, 2500)
        swell = 1 + dice.uniform(0, 0.9) * np.sin(2 * np.pi * dice.uniform(0.2, 9) * t)
        return band(low, low * dice.uniform(1.5, 20), dice) * swell
    if kind == "hum":
        hertz = dice.uniform(40, 600) * (1 + dice.uniform(0, 0.05) * np.sin(2 * np.pi * dice.uniform(0.1, 2) * t))
        turns = 2 * np.pi * np.cumsum(hertz) / RATE
        parts = [dice.uniform(0, 1) / k ** dice.uniform(0.2, 1.2) * np.sin(k * turns + dice.uniform(0, 6)) for k in range(1, 12)]
        hum = np.sum(parts, axis=0)
        made: NDArray[numpy.float64] = hum + dice.uniform(0, 1) * np.std(hum) * band(80, 5000, dice)
        return made
    if kind == "ticks":
        return _ticks(dice)
    if kind == "slope":
        spectrum = np.fft.rfft(dice.standard_normal(SAMPLES)) * (np.arange(SAMPLES // 2 + 1) + 20.0) ** -dice.uniform(-0.2, 1.2)
        return np.fft.irfft(spectrum, SAMPLES)
    return workshop(kind, SAMPLES, dice)


def band(low: float, high: float, dice: "Generator") -> "NDArray[numpy.float64]":
    """White noise between two frequencies in hertz, root mean square 1."""
    import numpy as np

    spectrum = np.fft.rfft(dice.standard_normal(SAMPLES))
    hertz = np.fft.rfftfreq(SAMPLES, 1 / RATE)
    spectrum[(hertz < low) | (hertz > high)] = 0.0
    sound = np.fft.irfft(spectrum, SAMPLES)
    made: NDArray[numpy.float64] = sound / (np.sqrt(np.mean(sound**2)) + 1e-12)
    return made


def _ticks(dice: "Generator") -> "NDArray[numpy.float64]":
    """Things that fall, latch and ring."""
    import numpy as np

    sound = dice.uniform(0.02, 0.1) * band(80, 6000, dice)
    for begin in np.cumsum(dice.exponential(dice.uniform(0.08, 0.9), 150)):
        at, m = int(begin * RATE), np.arange(int(dice.uniform(800, 6000)))
        if at + len(m) >= SAMPLES:
            break
        ring = dice.uniform(0, 1) * dice.standard_normal(len(m)) * np.exp(-m / RATE * dice.uniform(30, 300))
        for hertz in dice.uniform(200, 6000, dice.integers(1, 6)):
            ring = ring + np.sin(2 * np.pi * hertz * m / RATE) * np.exp(-m / RATE * dice.uniform(10, 120))
        sound[at : at + len(m)] += ring * dice.uniform(0.2, 1)
    return sound
