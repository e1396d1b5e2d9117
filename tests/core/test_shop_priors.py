"""What a shop's own builds teach: the normal law's own arithmetic, held against numpy and scipy; and a job that was taught stays so."""

import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from assistant.core import events as ev
from assistant.core import predictions as pr
from assistant.core.belief.normal import Normal
from assistant.core.decide import start
from assistant.core.evolve import replay
from assistant.core.shop_priors import NAMES, Seen, alone, learned, pooled, seen
from assistant.files import phrases_for, procedure_for
from tests.conftest import job_with
from tests.table import Table

BEFORE = Normal(0.7, 0.15)


@given(st.floats(-2, 2), st.floats(0.01, 0.4))
def test_what_the_readings_alone_said_put_together_with_what_was_supposed_is_the_belief(mean: float, spread: float) -> None:
    """The product of two normal densities, by scipy on a grid: its peak and curvature are those of `after`."""
    own = Normal(mean, spread)
    precision = BEFORE.spread**-2 + own.spread**-2
    after = Normal((BEFORE.mean * BEFORE.spread**-2 + own.mean * own.spread**-2) / precision, precision**-0.5)
    grid = np.linspace(-4, 4, 20_001)
    density = stats.norm.pdf(grid, BEFORE.mean, BEFORE.spread) * stats.norm.pdf(grid, mean, spread)
    if density.sum() > 1e-200:
        assert grid @ density / density.sum() == pytest.approx(after.mean, abs=1e-3)
    back = alone(BEFORE, after, 0.5)
    assert back is not None
    assert (back.mean, back.spread) == (pytest.approx(mean, abs=1e-6), pytest.approx(spread, rel=1e-6))


def test_a_build_that_moved_nothing_said_nothing() -> None:
    assert alone(BEFORE, BEFORE, 0.6) is None
    assert alone(BEFORE, Normal(0.701, 0.1499), 0.6) is None


def test_without_builds_what_was_supposed_stays() -> None:
    assert pooled(BEFORE, []) == BEFORE


def test_many_sharp_builds_give_their_own_middle_and_scatter() -> None:
    """The law of large numbers: numpy's mean and standard deviation of the builds themselves."""
    drawn = np.random.default_rng(5).normal(0.82, 0.03, 4000)
    law = pooled(BEFORE, [Normal(float(one), 0.001) for one in drawn])
    assert law.mean == pytest.approx(float(drawn.mean()), abs=1e-3)
    assert law.spread == pytest.approx(float(drawn.std()), rel=0.03)


@given(st.lists(st.floats(0.5, 0.9), min_size=1, max_size=12), st.floats(0.005, 0.3))
def test_the_middle_lies_between_what_was_supposed_and_the_builds_and_nobody_is_sure_after_a_few(means: list[float], spread: float) -> None:
    law = pooled(BEFORE, [Normal(mean, spread) for mean in means])
    lowest, highest = min(BEFORE.mean, *means), max(BEFORE.mean, *means)
    assert lowest - 1e-9 <= law.mean <= highest + 1e-9
    # Three supposed builds hold the spread up: after n it cannot be less than the root of 3 / (3 + n) of what was supposed.
    assert law.spread >= BEFORE.spread * math.sqrt(3 / (3 + len(means)))


def test_one_odd_build_widens_and_does_not_carry_the_others_away() -> None:
    alike = [Normal(0.7, 0.01)] * 6
    assert pooled(BEFORE, [*alike, Normal(1.4, 0.01)]).spread > pooled(BEFORE, alike).spread
    assert pooled(BEFORE, [*alike, Normal(1.4, 0.01)]).mean < 0.82


def test_builds_that_say_little_count_little() -> None:
    sharp, dull = pooled(BEFORE, [Normal(0.9, 0.01)]), pooled(BEFORE, [Normal(0.9, 0.5)])
    assert abs(dull.mean - 0.7) < abs(sharp.mean - 0.7)


def changed_twice() -> Table:
    """A job whose backlash and drag were brought in by a change each."""
    table = Table(job_with(), {"pinion_drag": ["40 lb-in", "22 lb-in"], "backlash": ["0.0150 in"] * 3 + ["0.0082 in"]})
    table.finish(600)
    return table


def test_a_finished_build_says_what_it_changed_and_the_next_one_is_foretold_by_it() -> None:
    state = changed_twice().state
    said = seen(state)
    assert {one.name for one in said} <= set(NAMES)
    assert "k_ring" in {one.name for one in said}
    taught = learned([said] * 6)
    job = job_with()
    procedure, phrases = procedure_for(job.axle), phrases_for()
    events = start(job, "next", procedure, phrases, taught)
    assert ev.ShopTaught(taught) in events
    after = replay([ev.from_json(ev.to_json(event)) for event in events], procedure, phrases)
    assert after.learned == taught
    k_ring = next(one for one in taught if one.name == "k_ring")
    assert pr.k_ring_before(after) == Normal(float(k_ring.mean), float(k_ring.spread))
    assert pr.k_ring_before(after).spread < Normal(0.7, 0.15).spread


def test_a_build_that_was_taught_says_what_it_would_have_said_untaught() -> None:
    plain = changed_twice().state
    assert seen(plain)
    assert seen(replace(plain, learned=(ev.Learned("k_ring", Decimal("0.9"), Decimal("0.05"), 9),))) == seen(plain)


def test_where_the_notch_is_not_told_backlash_teaches_nothing() -> None:
    table = Table(job_with(lambda data: data["axle"].pop("notch_lead_in")), {"backlash": ["0.0150 in"] * 3 + ["0.0082 in"]})
    table.finish(600)
    assert "k_ring" not in {one.name for one in seen(table.state)}


def test_what_is_learned_goes_into_the_journal_as_decimals() -> None:
    taught = learned([[Seen("reach", Normal(math.log(40.0), 0.1), Normal(math.log(48.0), math.log(1.35)))]])
    (one,) = taught
    assert (one.name, one.builds) == ("reach", 1)
    assert 40 < one.mean < 48
    assert 1 < one.spread < Decimal("1.5")
    assert ev.from_json(ev.to_json(ev.ShopTaught(taught))) == ev.ShopTaught(taught)
