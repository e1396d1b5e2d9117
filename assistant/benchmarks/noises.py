"""Rooms and workshop noise, made by formula, so that every clip can be made again from its seed.

Signal to noise is that of the frames that hold speech (within 30 dB of the loudest) over the whole noise.
"""

from typing import TYPE_CHECKING

from assistant.ears import RATE

if TYPE_CHECKING:
    import numpy
    from numpy.random import Generator
    from numpy.typing import NDArray

    Sound = NDArray[numpy.float64]

HEARD_IN_TRAINING = ("compressor", "impact", "air", "grinder")
NEVER_HEARD = ("hammer", "fan", "diesel", "babble")
NOISES = (*HEARD_IN_TRAINING, *NEVER_HEARD)
QUIET_ROOM_DB = 45.0
"""A "clean" clip still has a quiet room behind it."""


def noise(kind: str, samples: int, dice: "Generator", talk: "Sound | None" = None) -> "Sound":
    """`samples` of a workshop sound, root mean square 1. talk: what babble is made of. Raises ValueError for an unknown kind."""
    import numpy as np

    makers = {
        "compressor": _compressor, "impact": _impact_wrench, "air": _air, "grinder": _grinder, "hammer": _hammer, "fan": _fan, "diesel": _diesel,
    }  # fmt: skip
    if kind == "babble":
        if talk is None or not len(talk):
            raise ValueError("babble needs talk to be made of")
        made: Sound = np.sum([np.resize(np.roll(talk, -int(dice.integers(len(talk)))), samples) for _ in range(3)], axis=0)
    elif kind in makers:
        made = makers[kind](samples, dice)
    else:
        raise ValueError(f"noise {kind!r}: expected one of {', '.join(NOISES)}")
    made /= np.sqrt(np.mean(made**2)) + 1e-12
    return made


def in_a_room(speech: "Sound", dice: "Generator", fades_in: float) -> "Sound":
    """`speech` with the echo of a room whose sound falls by 60 dB in `fades_in` seconds."""
    import numpy as np

    length = int(RATE * fades_in)
    echo = dice.standard_normal(length) * np.exp(-6.9 * np.arange(length) / length)
    echo[: RATE // 250] = 0.0
    echo *= 0.55 / (np.sqrt(np.sum(echo**2)) + 1e-9)
    echo[0] = 1.0
    whole = len(speech) + length - 1
    return np.fft.irfft(np.fft.rfft(speech, whole) * np.fft.rfft(echo, whole), whole)


def with_noise(clip: "Sound", snr_db: float | None, kind: str | None, dice: "Generator", talk: "Sound | None" = None) -> "Sound":
    """`clip` with noise `snr_db` below its speech, or in a quiet room for None; peak 0.9 at most."""
    import numpy as np

    level = _speech_level(clip)
    if snr_db is None or kind is None:
        mixed = clip + dice.standard_normal(len(clip)) * level * 10 ** (-QUIET_ROOM_DB / 20)
    else:
        mixed = clip + noise(kind, len(clip), dice, talk) * level * 10 ** (-snr_db / 20)
    loudest = float(np.abs(mixed).max())
    return mixed * (0.9 / loudest) if loudest > 0.9 else mixed


def _speech_level(clip: "Sound") -> float:
    import numpy as np

    frame = RATE // 50
    power = np.mean(clip[: len(clip) // frame * frame].reshape(-1, frame) ** 2, axis=1)
    return float(np.sqrt(np.mean(power[power > power.max() * 1e-3])))


def _band(samples: int, dice: "Generator", low: float, high: float) -> "Sound":
    """Noise between two frequencies in hertz, root mean square 1."""
    import numpy as np

    spectrum = np.fft.rfft(dice.standard_normal(samples))
    hertz = np.fft.rfftfreq(samples, 1 / RATE)
    spectrum *= 1 / (1 + (low / np.maximum(hertz, 1.0)) ** 6) / (1 + (hertz / high) ** 6)
    made: Sound = np.fft.irfft(spectrum, samples)
    return made / (np.std(made) + 1e-12)


def _harmonics(turns: "Sound", count: int, slope: float, dice: "Generator") -> "Sound":
    """A tone and its overtones, root mean square 1. turns: its phase in radians."""
    import numpy as np

    made: Sound = np.sum(
        [dice.uniform(0.3, 1.0) / k**slope * np.sin(k * turns + dice.uniform(0.0, 6.0)) for k in range(1, count + 1)], axis=0
    )
    return made / (np.std(made) + 1e-12)


def _compressor(samples: int, dice: "Generator") -> "Sound":
    import numpy as np

    t = np.arange(samples) / RATE
    turns = 2 * np.pi * np.cumsum(dice.choice([24.0, 29.0, 49.0, 59.0]) * (1 + 0.003 * np.sin(2 * np.pi * 0.7 * t))) / RATE
    return _harmonics(turns, 25, 0.7, dice) + 0.35 * _band(samples, dice, 100, 3_000) * (1 + 0.6 * np.sin(turns))


def _impact_wrench(samples: int, dice: "Generator") -> "Sound":
    """Bursts of 18 to 26 blows a second that ring, over the hiss of the motor."""
    import numpy as np

    made = 0.08 * _band(samples, dice, 200, 6_000)
    at = dice.uniform(0.0, 0.3)
    while at < samples / RATE:
        length, blows = dice.uniform(0.5, 1.6), dice.uniform(18.0, 26.0)
        for second in np.arange(at, min(at + length, samples / RATE), 1 / blows):
            _strike(made, int((second + dice.uniform(-0.002, 0.002)) * RATE), dice.uniform(0.7, 1.2), (930.0, 2_100.0, 3_400.0), 90.0, dice)
        first, last = int(at * RATE), min(samples, int((at + length) * RATE))
        made[first:last] += 0.25 * _band(max(last - first, 8), dice, 500, 5_000)[: last - first]
        at += length + dice.uniform(0.3, 1.2)
    return made


def _strike(into: "Sound", at: int, loudness: float, hertz: tuple[float, ...], fades: float, dice: "Generator") -> None:
    """Add one blow on metal: a burst of noise and its ringing, which falls by e in 1/`fades` seconds."""
    import numpy as np

    t = np.arange(min(RATE // 4, len(into) - at)) / RATE
    if at < 0 or not len(t):
        return
    blow = dice.standard_normal(len(t)) * np.exp(-t * 140)
    for tone in hertz:
        blow += np.sin(2 * np.pi * tone * dice.uniform(0.97, 1.03) * t) * np.exp(-t * fades)
    into[at : at + len(t)] += loudness * blow


def _air(samples: int, dice: "Generator") -> "Sound":
    import numpy as np

    at = np.arange(0, samples / RATE + 0.5, 0.25)
    opened: Sound = np.interp(np.arange(samples) / RATE, at, dice.choice([0.15, 0.5, 1.0], len(at)))
    return _band(samples, dice, 1_500, 7_500) * opened + 0.05 * dice.standard_normal(samples)


def _grinder(samples: int, dice: "Generator") -> "Sound":
    import numpy as np

    t = np.arange(samples) / RATE
    hertz = dice.uniform(150.0, 330.0) * (1 + 0.02 * np.sin(2 * np.pi * dice.uniform(0.2, 0.6) * t + dice.uniform(0.0, 6.0)))
    turns = 2 * np.pi * np.cumsum(hertz) / RATE
    return _harmonics(turns, 15, 0.5, dice) + 0.9 * _band(samples, dice, 1_200, 7_000) * (1 + 0.4 * np.sin(2 * np.pi * 3 * t))


def _hammer(samples: int, dice: "Generator") -> "Sound":
    """A hammer on a drift, once or twice a second, over the murmur of the shop."""
    made = 0.03 * _band(samples, dice, 60, 2_000)
    at = dice.uniform(0.0, 0.5)
    while at < samples / RATE:
        _strike(made, int(at * RATE), dice.uniform(0.7, 1.3), (640.0, 1_480.0, 2_750.0, 4_300.0), 25.0, dice)
        at += dice.uniform(0.45, 1.0)
    return made


def _fan(samples: int, dice: "Generator") -> "Sound":
    import numpy as np

    t = np.arange(samples) / RATE
    blades = 2 * np.pi * dice.uniform(60.0, 120.0) * t
    return 0.5 * _harmonics(blades, 6, 1.0, dice) + _band(samples, dice, 80, 1_500) * (1 + 0.3 * np.sin(blades / 5))


def _diesel(samples: int, dice: "Generator") -> "Sound":
    """Four cylinders at idle: a knock for each, none quite like the last, over a rumble."""
    import numpy as np

    made = 0.5 * _harmonics(2 * np.pi * dice.uniform(24.0, 30.0) * np.arange(samples) / RATE, 12, 0.8, dice)
    at, knocks = 0.0, dice.uniform(24.0, 30.0)
    while at < samples / RATE:
        _strike(made, int(at * RATE), dice.uniform(0.5, 1.5), (410.0, 1_150.0, 1_900.0), 160.0, dice)
        at += dice.uniform(0.92, 1.08) / knocks
    return made + 0.3 * _band(samples, dice, 60, 900)
