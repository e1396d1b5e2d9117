"""The exact probability of every legal phrase, given what the net makes of the sound: one pass over a prefix tree of phones.

A path of the net gives one of 40 labels to each frame; a phrase's probability is the sum over all paths that, with repeats and then
blanks taken out, spell it (connectionist temporal classification: Graves and others, ICML 2006, section 3). Phrases with a common
beginning share its sums, so thousands cost hardly more than the longest. The sums are over all phone strings, legal or not, which makes
their total a measure of how far the sound is from anything legal.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

BLANK = 0
_RESCALED_EVERY = 4  # frames: four of the least probabilities of single precision, 1e-38 each, still fit a double


class PhoneTree:
    """Strings of phones that share their beginnings."""

    def __init__(self, strings: Sequence[Sequence[int]]) -> None:
        """strings: phones as label numbers of 1 and more; the same string may come twice. An empty string is the root: nothing said."""
        import numpy as np

        labels, parents = [BLANK], [0]
        children: list[dict[int, int]] = [{}]
        ends = []
        for string in strings:
            node = 0
            for phone in string:
                below = children[node].get(phone)
                if below is None:
                    below = children[node][phone] = len(labels)
                    labels.append(phone)
                    parents.append(node)
                    children.append({})
                node = below
            ends.append(node)
        self._labels = np.array(labels, dtype=np.intp)
        self._parents = np.array(parents, dtype=np.intp)
        self._ends = np.array(ends, dtype=np.intp)
        # A phone after itself ("six six") needs a blank between, else the two are one.
        self._doubled = np.flatnonzero(self._labels == self._labels[self._parents])
        self._doubled = self._doubled[self._doubled > 0]

    def __len__(self) -> int:
        """Nodes, with the root."""
        return len(self._labels)

    def log_probabilities(self, log_labels: "NDArray[numpy.float32]") -> "NDArray[numpy.float64]":
        """Natural log of P(string | sound) for each string, in their order; minus infinity for an impossible one.

        log_labels: [frames, labels], the natural log of the probability of each label in each frame; label 0 is the blank.
        """
        import numpy as np

        frames = np.exp(log_labels.astype(np.float64))
        in_phone = np.zeros(len(self))  # the path so far ends in the node's phone
        in_blank = np.zeros(len(self))  # it ends in a blank after it
        in_blank[0] = 1.0
        doubled, doubled_parents = self._doubled, self._parents[self._doubled]
        scale = 0.0
        for at, frame in enumerate(frames):
            either = in_phone + in_blank
            entering = either.take(self._parents)
            entering[doubled] = in_blank[doubled_parents]
            in_phone += entering
            in_phone *= frame.take(self._labels)
            in_phone[0] = 0.0
            in_blank = np.multiply(either, frame[BLANK], out=either)
            if at % _RESCALED_EVERY == _RESCALED_EVERY - 1:
                largest = max(in_phone.max(), in_blank.max())
                if largest == 0.0:
                    break
                in_phone /= largest
                in_blank /= largest
                scale += float(np.log(largest))
        with np.errstate(divide="ignore"):
            return np.log(in_phone[self._ends] + in_blank[self._ends]) + scale
