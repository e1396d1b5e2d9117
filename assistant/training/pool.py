"""All clips of a training in one file, and the batches drawn from it: by source in fixed shares, clips of like length together."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.core.errors import BadInputError
from assistant.training.clips import SOURCES, Clip
from assistant.training.texts import labels

if TYPE_CHECKING:
    import numpy
    from numpy.random import Generator
    from numpy.typing import NDArray

SHARES = {"espeak": 0.32, "flite": 0.14, "people": 0.25, "joined": 0.29}
"""By draw, among the sources that are there."""
BATCHES_AT_ONCE = 12
_ARRAYS = ("samples", "lengths", "phones", "phone_counts", "sources", "noise")


@dataclass(frozen=True)
class Pool:
    """Clips one after another. samples: int16, lengths of each; phones: their labels, phone_counts of each; sources: numbers of SOURCES.

    noise: [noises, samples], int16.
    """

    samples: "NDArray[numpy.int16]"
    lengths: "NDArray[numpy.int64]"
    phones: "NDArray[numpy.int64]"
    phone_counts: "NDArray[numpy.int64]"
    sources: "NDArray[numpy.int64]"
    noise: "NDArray[numpy.int16]"

    def __len__(self) -> int:
        """Clips."""
        return len(self.lengths)

    def clip(self, number: int) -> "NDArray[numpy.int16]":
        """The samples of one clip."""
        begin = int(self.lengths[:number].sum())
        return self.samples[begin : begin + int(self.lengths[number])]

    def spelled(self, number: int) -> "NDArray[numpy.int64]":
        """The phones of one clip."""
        begin = int(self.phone_counts[:number].sum())
        return self.phones[begin : begin + int(self.phone_counts[number])]

    def save(self, path: Path) -> None:
        """Write it as one .npz file."""
        import numpy as np

        np.savez(path, **{name: getattr(self, name) for name in _ARRAYS})


def pooled(clips: Iterable[Clip], noise: "NDArray[numpy.int16]") -> Pool:
    """Put clips together. Raises BadInputError when there are none."""
    import numpy as np

    kept = list(clips)
    if not kept:
        raise BadInputError("no clip to learn from: name a folder of recordings, or ask for synthetic ones")
    spelled = [labels(clip.text) for clip in kept]
    return Pool(
        np.concatenate([clip.samples for clip in kept]),
        np.array([len(clip.samples) for clip in kept]),
        np.array([phone for one in spelled for phone in one]),
        np.array([len(one) for one in spelled]),
        np.array([SOURCES.index(clip.source) for clip in kept]),
        noise,
    )


def load_pool(path: Path) -> Pool:
    """Read a pool. Raises BadInputError for a file that is none."""
    import numpy as np

    try:
        with np.load(path) as kept:
            return Pool(**{name: kept[name] for name in _ARRAYS})
    except (OSError, ValueError, KeyError, EOFError) as error:
        raise BadInputError(f"{path} is no pool of clips: make one by `python -m assistant.training pool`") from error


def batches(pool: Pool, size: int, dice: "Generator") -> Iterator["NDArray[numpy.int64]"]:
    """Clip numbers, `size` a batch, for ever: each source by its share, sorted by length over twelve batches so that little is padded."""
    import numpy as np

    by_source = {name: np.flatnonzero(pool.sources == number) for number, name in enumerate(SOURCES)}
    there = {name: numbers for name, numbers in by_source.items() if len(numbers)}
    shares = np.array([SHARES[name] for name in there])
    while True:
        drawn = dice.choice(len(there), size * BATCHES_AT_ONCE, p=shares / shares.sum())
        numbers = np.array([dice.choice(list(there.values())[source]) for source in drawn])
        rows = numbers[np.argsort(pool.lengths[numbers], kind="stable")].reshape(BATCHES_AT_ONCE, size)
        dice.shuffle(rows)
        yield from rows


def rate_factor(step: int, steps: int, warm_up: int = 300) -> float:
    """Of the highest rate of learning at a step: up in a straight line, then down along a cosine to almost nothing."""
    from math import cos, pi

    return min(1.0, (step + 1) / warm_up) * (0.5 + 0.5 * cos(pi * min(1.0, step / steps))) + 1e-3
