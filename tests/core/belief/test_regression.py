"""Bayesian regression, against numpy's solution of the normal equations and scipy's multivariate normal law."""

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import multivariate_normal

from assistant.core.belief.regression import READING_LEVELS, SEATING_LEVELS, Reading, Regression

PRIOR_MEAN = (3.0, 0.7, -1.0)
PRIOR_COVARIANCE = ((4.0, 0.3, 0.0), (0.3, 0.5, 0.1), (0.0, 0.1, 1.0))
ROWS = np.array([[1, 0, 0.5], [1, 2, -1], [1, -3, 0.2], [1, 1, 1], [1, 4, 0]], dtype=float)
VALUES = np.array([3.4, 5.9, 0.6, 2.9, 6.2])
ASSEMBLIES = (1, 1, 2, 2, 3)


def test_with_the_scatters_as_good_as_known_it_is_the_closed_form_posterior() -> None:
    """Posterior precision S0⁻¹ + XᵀX/σ², solved by numpy.linalg in one go; all in one assembly that brings next to nothing."""
    noise = 0.4
    belief = Regression(PRIOR_MEAN, PRIOR_COVARIANCE, noise, 1e-9)
    for row, value in zip(ROWS, VALUES, strict=True):
        belief = belief.observe(tuple(row), value, assembly=1)
    means, covariances, log_weights = [], [], []
    for factor, weight in READING_LEVELS:
        sigma = factor * noise
        prior_precision = np.linalg.inv(np.array(PRIOR_COVARIANCE))
        covariances.append(np.linalg.inv(prior_precision + ROWS.T @ ROWS / sigma**2))
        means.append(covariances[-1] @ (prior_precision @ np.array(PRIOR_MEAN) + ROWS.T @ VALUES / sigma**2))
        evidence = multivariate_normal(ROWS @ PRIOR_MEAN, ROWS @ np.array(PRIOR_COVARIANCE) @ ROWS.T + sigma**2 * np.eye(5))
        log_weights.append(np.log(weight) + evidence.logpdf(VALUES))
    weights = np.exp(np.array(log_weights) - logsumexp(log_weights))
    mean = weights @ np.array(means)
    off = np.array(means) - mean
    covariance = np.einsum("l,lij->ij", weights, np.array(covariances)) + np.einsum("l,li,lj->ij", weights, off, off)
    assert belief.same_assembly.mean[:3] == pytest.approx(mean, rel=1e-6)
    assert belief.same_assembly.covariance[:3, :3] == pytest.approx(covariance, rel=1e-6, abs=1e-9)


def test_assemblies_and_levels_are_the_exact_mixture() -> None:
    """The whole model written out as one covariance matrix per level: readings of one assembly share a shift."""
    noise, seating = 0.3, 0.5
    belief = Regression(PRIOR_MEAN, PRIOR_COVARIANCE, noise, seating)
    for row, value, assembly in zip(ROWS, VALUES, ASSEMBLIES, strict=True):
        belief = belief.observe(tuple(row), value, assembly=assembly)
    new = np.array([1.0, 2.0, 2.0])
    same = np.array([[a == b for a in ASSEMBLIES] for b in ASSEMBLIES], dtype=float)
    log_weights, means, variances, scatters = [], [], [], []
    for reading, reading_weight in READING_LEVELS:
        for seat, seat_weight in SEATING_LEVELS:
            cov = ROWS @ np.array(PRIOR_COVARIANCE) @ ROWS.T + (seat * seating) ** 2 * same + (reading * noise) ** 2 * np.eye(5)
            cross = ROWS @ np.array(PRIOR_COVARIANCE) @ new
            off = VALUES - ROWS @ PRIOR_MEAN
            means.append(new @ PRIOR_MEAN + cross @ np.linalg.solve(cov, off))
            variances.append(new @ np.array(PRIOR_COVARIANCE) @ new + (seat * seating) ** 2 - cross @ np.linalg.solve(cov, cross))
            scatters.append((reading * noise) ** 2)
            log_weights.append(np.log(reading_weight * seat_weight) + multivariate_normal(np.zeros(5), cov).logpdf(off))
    weights = np.exp(np.array(log_weights) - logsumexp(log_weights))
    mean = weights @ np.array(means)
    variance = weights @ (np.array(variances) + np.array(scatters) + (np.array(means) - mean) ** 2)
    found = belief.predict(tuple(new))
    assert found.mean == pytest.approx(mean, rel=1e-9)
    assert found.spread == pytest.approx(np.sqrt(variance), rel=1e-9)


def test_agreeing_repeats_narrow_the_scatter_and_disagreeing_ones_widen_it() -> None:
    start = Regression((0.0,), ((100.0,),), 1.0, 1.0)
    quiet, loud = start, start
    for turn in range(8):
        quiet = quiet.observe((1.0,), 5.0 + 0.2 * (-1) ** turn, assembly=1)
        loud = loud.observe((1.0,), 5.0 + 3.0 * (-1) ** turn, assembly=1)
    assert quiet.reading_factor < 0.7 < 1.5 < loud.reading_factor


def test_the_next_assembly_is_less_certain_than_this_one() -> None:
    belief = Regression((0.0,), ((100.0,),), 0.2, 3.0)
    for _ in range(4):
        belief = belief.observe((1.0,), 5.0, assembly=1)
    assert belief.predict((1.0,), assembly=1).spread < 0.5 < 2.0 < belief.predict((1.0,), assembly=2).spread


@pytest.mark.parametrize(("noise", "seating"), [(0.0, 1.0), (1.0, 0.0), (-1.0, 1.0)])
def test_a_scatter_of_nothing_is_refused(noise: float, seating: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        Regression((0.0,), ((1.0,),), noise, seating)


def test_built_reading_by_reading_or_all_at_once_it_is_the_same_to_the_last_bit() -> None:
    grown = Regression(PRIOR_MEAN, PRIOR_COVARIANCE, 0.3, 0.5)
    for row, value, assembly in zip(ROWS, VALUES, ASSEMBLIES, strict=True):
        grown = grown.observe(tuple(row), value, assembly=assembly)
    readings = tuple(Reading(tuple(row), value, 0.3, a) for row, value, a in zip(ROWS, VALUES, ASSEMBLIES, strict=True))
    made = Regression(PRIOR_MEAN, PRIOR_COVARIANCE, 0.3, 0.5, readings)
    assert grown == made
    assert grown.predict((1.0, 2.0, 2.0)) == made.predict((1.0, 2.0, 2.0))
