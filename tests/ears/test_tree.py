"""The tree's sums against brute force and a hand's sum: the definition of connectionist temporal classification (Graves 2006, section 3)."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from assistant.ears.tree import PhoneTree


def collapsed(path: tuple[int, ...]) -> tuple[int, ...]:
    """The string a path spells: repeats merged, then blanks taken out."""
    merged = [label for at, label in enumerate(path) if at == 0 or label != path[at - 1]]
    return tuple(label for label in merged if label != 0)


def by_brute_force(frames: NDArray[np.float64], string: tuple[int, ...]) -> float:
    """The probability of `string`: every path there is, one by one."""
    paths = product(range(frames.shape[1]), repeat=len(frames))
    return sum(float(np.prod([frames[t, label] for t, label in enumerate(path)])) for path in paths if collapsed(path) == string)


def random_frames(seed: int, frames: int, labels: int) -> NDArray[np.float64]:
    drawn: NDArray[np.float64] = np.random.default_rng(seed).random((frames, labels)) + 1e-3
    drawn /= drawn.sum(axis=1, keepdims=True)
    return drawn


STRINGS = st.lists(st.lists(st.integers(1, 3), max_size=4).map(tuple), min_size=1, max_size=6)


@given(strings=STRINGS, frames=st.integers(1, 6), seed=st.integers(0, 2**32 - 1))
def test_the_tree_equals_the_sum_over_every_path(strings: list[tuple[int, ...]], frames: int, seed: int) -> None:
    drawn = random_frames(seed, frames, 4)
    found = PhoneTree(strings).log_probabilities(np.log(drawn))
    assert np.exp(found) == pytest.approx([by_brute_force(drawn, string) for string in strings], rel=1e-12, abs=1e-300)


def test_a_doubled_phone_needs_a_blank_between() -> None:
    # Two frames cannot hold the same phone twice; three can in one way: phone, blank, phone.
    even = np.log(np.full((3, 2), 0.5))
    tree = PhoneTree([(1, 1), (1,)])
    assert np.exp(tree.log_probabilities(even[:2])) == pytest.approx([0.0, 0.75])  # 1-, -1, 11 of four
    assert np.exp(tree.log_probabilities(even)) == pytest.approx([0.125, 0.75])  # 1-1 of eight; all but that and --- spell 1


def test_all_strings_together_have_probability_one() -> None:
    drawn = random_frames(3, 4, 3)
    strings = [s for length in range(5) for s in product((1, 2), repeat=length)]
    assert np.exp(PhoneTree(strings).log_probabilities(np.log(drawn))).sum() == pytest.approx(1.0, rel=1e-12)


def test_a_tree_of_nothing_gives_nothing() -> None:
    assert PhoneTree([]).log_probabilities(np.log(random_frames(1, 5, 4))).shape == (0,)


def test_shared_beginnings_are_stored_once() -> None:
    assert len(PhoneTree([(1, 2, 3), (1, 2, 4), (1, 2)])) == 5  # root, 1, 2, 3, 4


def test_six_seconds_of_improbable_labels_do_not_underflow() -> None:
    # 300 frames at 1e-30: 1e-9000 in all, far below the least double.
    sure = np.full((300, 3), 1e-30)
    found = PhoneTree([(1,)]).log_probabilities(np.log(sure))
    # The number of paths that spell one phone in 300 frames: choose where it begins and where it ends.
    assert found[0] == pytest.approx(300 * np.log(1e-30) + np.log(300 * 301 / 2), rel=1e-12)


def test_labels_that_cannot_be_give_impossible_strings() -> None:
    with np.errstate(divide="ignore"):
        nothing = np.log(np.zeros((9, 3)))
    assert PhoneTree([(1,), (2, 1)]).log_probabilities(nothing).tolist() == [-np.inf, -np.inf]
