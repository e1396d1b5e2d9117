"""The normal law, against scipy.stats.norm (scipy's own implementation)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from assistant.core.belief.normal import Normal

means = st.floats(-1e3, 1e3)
spreads = st.floats(0.01, 1e3)


@given(means, spreads, st.floats(-6, 6), st.floats(-6, 6))
def test_the_chance_between_two_limits_is_scipys(mean: float, spread: float, z_low: float, z_high: float) -> None:
    low, high = mean + spread * min(z_low, z_high), mean + spread * max(z_low, z_high)
    expected = norm.cdf(high, mean, spread) - norm.cdf(low, mean, spread)
    assert Normal(mean, spread).chance(low, high) == pytest.approx(expected, abs=1e-12)


def test_far_out_in_the_upper_tail_a_chance_is_small_and_not_zero() -> None:
    assert Normal(0, 1).chance(9, 10) == pytest.approx(norm.sf(9) - norm.sf(10), rel=1e-9)


@given(means, spreads, st.floats(0.001, 0.999))
def test_quantile_and_density_are_scipys(mean: float, spread: float, share: float) -> None:
    law = Normal(mean, spread)
    assert law.quantile(share) == pytest.approx(norm.ppf(share, mean, spread), rel=1e-9, abs=1e-9)
    assert law.log_density(law.quantile(share)) == pytest.approx(norm.logpdf(law.quantile(share), mean, spread), abs=1e-9)


def test_the_middle_nine_tenths_hold_nine_tenths() -> None:
    low, high = Normal(5, 2).interval(0.9)
    assert Normal(5, 2).chance(low, high) == pytest.approx(0.9)
    assert (low + high) / 2 == pytest.approx(5)


def test_a_sum_adds_variances_and_a_scale_keeps_the_spread_positive() -> None:
    assert Normal(1, 3).plus(Normal(2, 4)) == Normal(3, 5)
    assert Normal(1, 3).scaled(-2) == Normal(-2, 6)


@pytest.mark.parametrize("spread", [0.0, -1.0, float("nan"), float("inf")])
def test_a_spread_that_is_none_is_our_own_fault(spread: float) -> None:
    with pytest.raises(ValueError, match="spread above zero"):
        Normal(0.0, spread)


def test_limits_the_wrong_way_round_hold_nothing() -> None:
    assert Normal(0, 1).chance(1, -1) == 0.0
