"""A fold that remembers gives what a plain fold gives (functools.reduce is the judge), and takes as many steps as there is news."""

from functools import reduce

from hypothesis import given
from hypothesis import strategies as st

from assistant.core.folding import Folding

ROWS = st.lists(st.tuples(st.integers(0, 2), st.lists(st.integers(0, 3), max_size=60)), max_size=30)


@given(ROWS)
def test_it_gives_what_a_plain_fold_gives_whatever_was_asked_before(rows: list[tuple[int, list[int]]]) -> None:
    folding: Folding[int, tuple[int, ...]] = Folding()
    for key, items in rows:

        def step(value: tuple[int, ...], item: int, key: int = key) -> tuple[int, ...]:
            return (*value, item * 10 + key)

        assert folding.after(key, tuple, step, items) == reduce(step, items, ())


def test_one_item_more_is_one_step_and_taking_back_a_few_is_none() -> None:
    folding: Folding[int, int] = Folding()
    steps: list[int] = []

    def step(value: int, item: int) -> int:
        steps.append(item)
        return value + item

    row = list(range(1000))
    assert folding.after("a", int, step, row) == sum(row)
    steps.clear()
    assert folding.after("a", int, step, [*row, 7]) == sum(row) + 7
    assert folding.after("a", int, step, row[:-3]) == sum(row[:-3])
    assert steps == [7]
    assert folding.after("b", int, step, row[:5]) == 10
    assert len(steps) == 6


def test_what_is_forgotten_is_folded_again_and_an_empty_row_pushes_nothing_out() -> None:
    folding: Folding[int, int] = Folding()
    steps: list[int] = []

    def step(value: int, item: int) -> int:
        steps.append(item)
        return value + item

    row = (1, 2, 3)
    assert folding.after("a", int, step, row) == 6
    for key in range(100):
        assert folding.after(key, int, step, ()) == 0
    assert folding.after("a", int, step, row) == 6
    assert steps == [1, 2, 3]
    folding.forget()
    assert folding.after("a", int, step, row) == 6
    assert steps == [1, 2, 3, 1, 2, 3]
