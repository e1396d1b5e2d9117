"""Means, deviations and capability, against numpy, scipy and a handbook's own figures."""

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from assistant.core.capability import D2, summary


def fractions(*texts: str) -> list[Fraction]:
    return [Fraction(text) for text in texts]


@pytest.mark.parametrize("size", list(D2))
def test_the_mean_range_of_a_subgroup_is_that_of_a_normal_process(size: int) -> None:
    # The expected range of n normal readings: the integral of 1 - F^n - (1 - F)^n. It settled a doubt about a table from memory.
    expected, _ = integrate.quad(lambda x: 1 - stats.norm.cdf(x) ** size - stats.norm.sf(x) ** size, -np.inf, np.inf)
    assert float(D2[size]) == pytest.approx(expected, abs=0.0006)


READINGS = st.lists(st.integers(24_000, 26_000), min_size=3, max_size=60).filter(lambda values: len(set(values)) > 2)


@given(READINGS)
def test_mean_and_deviation_are_those_of_numpy(thousandths: list[int]) -> None:
    found = summary([Fraction(value, 1000) for value in thousandths])
    array = np.array(thousandths, dtype=float) / 1000
    assert float(found.mean) == pytest.approx(array.mean())
    assert found.deviation is not None
    assert float(found.deviation) == pytest.approx(array.std(ddof=1))
    assert float(found.range) == pytest.approx(np.ptp(array))


@given(READINGS)
def test_capability_of_all_readings_is_the_tolerance_over_the_spread_that_scipy_gives_for_a_normal_process(thousandths: list[int]) -> None:
    # ISO 22514-2 (from memory): the spread holds 99.73 % of the process, between its 0.135 % and 99.865 % points.
    found = summary([Fraction(value, 1000) for value in thousandths], low=Fraction(24), high=Fraction(26))
    array = np.array(thousandths, dtype=float) / 1000
    process = stats.norm(array.mean(), array.std(ddof=1))
    lowest, highest = process.ppf(stats.norm.cdf(-3)), process.ppf(stats.norm.cdf(3))
    assert found.pp is not None
    assert found.ppk is not None
    assert float(found.pp) == pytest.approx(2 / (highest - lowest))
    nearer = min((26 - array.mean()) / (highest - array.mean()), (array.mean() - 24) / (array.mean() - lowest))
    assert float(found.ppk) == pytest.approx(nearer, abs=1e-9)


def test_the_handbooks_example_comes_out() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6 (from memory): limits 8 and 20, mean 16, deviation 2: Cp 1.0, Cpk 0.67.
    values = fractions("14", "18", "14", "18", "16")  # mean 16, variance (4·4)/4 = 4
    found = summary(values, low=Fraction(8), high=Fraction(20))
    assert found.mean == 16
    assert found.deviation == 2
    assert found.pp == 1
    assert found.ppk is not None
    assert round(found.ppk, 2) == Decimal("0.67")


def test_the_deviation_within_subgroups_is_the_mean_range_over_d2() -> None:
    # By hand: ranges .004 and .002, mean .003, over 1.693; the last reading makes no whole subgroup.
    found = summary(fractions("1.000", "1.004", "1.001", "1.003", "1.002", "1.001", "1.009"), subgroup=3)
    assert found.within is not None
    assert round(found.within, 6) == round(Decimal("0.003") / Decimal("1.693"), 6)


def test_single_readings_go_by_their_moving_range() -> None:
    # By hand: ranges 1, 3, 2, mean 2, over 1.128.
    found = summary(fractions("5", "6", "3", "5"), low=Fraction(0), high=Fraction(10))
    assert found.within is not None
    assert round(found.within, 6) == round(2 / Decimal("1.128"), 6)
    assert found.cp is not None
    assert round(found.cp, 4) == round(10 / (6 * 2 / Decimal("1.128")), 4)


def test_one_limit_gives_the_nearer_index_alone_and_none_gives_neither() -> None:
    one_sided = summary(fractions("1", "2", "3"), high=Fraction(5))
    assert (one_sided.cp, one_sided.pp) == (None, None)
    assert one_sided.ppk == 1  # (5 - 2) / (3 · 1), by hand
    free = summary(fractions("1", "2", "3"))
    assert (free.cp, free.cpk, free.pp, free.ppk) == (None, None, None, None)


def test_a_handful_is_called_one_and_what_does_not_vary_has_no_index() -> None:
    assert summary(fractions("1")).is_of_few
    assert not summary(fractions(*["1", "2"] * 25)).is_of_few
    alone = summary(fractions("1"), low=Fraction(0), high=Fraction(2))
    assert (alone.deviation, alone.within, alone.pp) == (None, None, None)
    assert summary(fractions("1", "1"), low=Fraction(0), high=Fraction(2)).ppk is None


@pytest.mark.parametrize(("values", "subgroup"), [([], 1), (["1"], 0), (["1"], 11)])
def test_no_reading_and_an_odd_subgroup_are_the_callers_fault(values: list[str], subgroup: int) -> None:
    with pytest.raises(ValueError, match="expected one or more"):
        summary(fractions(*values), subgroup=subgroup)
