"""The fit of `forecast.small_slope_z` against the prior's own infants and against brute force.

Sources: infants drawn from the prior with a slope that is known, and the likelihood computed by
scipy's multivariate normal. Known faults: infants of the prior have no shift of a site in common.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import multivariate_normal

from growth_cohorts import PRIOR, REFERENCE, trusting, weighed
from suffice.inference.growth.forecast import error_variance, mean_of, shared_covariance
from suffice.inference.growth.prior import default_shift, lay_out, walk_covariance
from tool_modules import tool_module

AGES = (0.0, 7.0, 14.0, 42.0, 90.0, 180.0)
TRUE = np.array([0.0, 0.2, 0.4, 0.3, 0.5])
WIDE = 100.0
NONE = np.zeros(5)
ORDINARY = trusting()


@pytest.fixture(scope="module")
def tool():
    return tool_module("fit_small_slope")


def grown(tool, count: int, seed: int, slope=TRUE):
    """Infants of 1.6 to 2.6 kg whose later weights come from the prior with this slope."""
    rng = np.random.default_rng(seed)
    born_g = rng.uniform(1600, 2600, count)
    born = weighed([list(AGES)] * count, [[first, *[3000.0] * 5] for first in born_g])
    weights = born.weight_g.copy()
    for i, (mean, covariance) in enumerate(zip(*laid_out(tool, born, slope), strict=True)):
        gain = covariance[1:, 0] / covariance[0, 0]
        rest = covariance[1:, 1:] - np.outer(gain, covariance[0, 1:])
        expected = mean[1:] + gain * (weights[i, 0] - mean[0])
        weights[i, 1:] = rng.multivariate_normal(expected, rest)
    return replace(born, weight_g=weights)


def laid_out(tool, infants, slope):
    """Mean and covariance of the readings of each infant, with the site unknown."""
    prior, site = tool.with_slope(ORDINARY, slope), default_shift(ORDINARY)
    grid = lay_out(prior, REFERENCE, infants, infants.age_d)
    walk = walk_covariance(prior, grid, grid, site.spread)
    covariance = walk + shared_covariance(grid, grid, site)
    noise, together = error_variance(prior, infants, site)
    return mean_of(grid, site), covariance + together + noise[:, :, None] * np.eye(len(AGES))


def test_a_slope_that_is_known_is_found_again(tool):
    found = tool.fit(ORDINARY, REFERENCE, grown(tool, 3000, seed=1), WIDE)
    np.testing.assert_allclose(found, TRUE, atol=0.05)


def test_without_width_there_is_no_term(tool):
    np.testing.assert_array_equal(tool.fit(PRIOR, REFERENCE, grown(tool, 5, seed=2), 0.0), 0.0)


def test_a_narrow_prior_holds_the_numbers_nearer_to_zero(tool):
    infants = grown(tool, 30, seed=3)
    sizes = [np.abs(tool.fit(PRIOR, REFERENCE, infants, f)).sum() for f in (0.1, 0.5, 2.0)]
    assert sizes == sorted(sizes)


def test_the_fit_is_the_most_likely_given_the_first_weight(tool):
    """Minimised numerically: joint density of an infant's weights over that of its first."""
    infants = grown(tool, 12, seed=4)

    def surprise(numbers) -> float:
        mean, covariance = laid_out(tool, infants, np.concatenate([[0.0], numbers]))
        return -sum(
            multivariate_normal.logpdf(w, m, c) - multivariate_normal.logpdf(w[0], m[0], c[0, 0])
            for w, m, c in zip(infants.weight_g, mean, covariance, strict=True)
        )

    least = minimize(surprise, np.zeros(4), tol=1e-10).x
    found = tool.fit(ORDINARY, REFERENCE, infants, WIDE)[1:]
    np.testing.assert_allclose(found, least, atol=0.01)


def test_infants_of_the_plain_prior_get_hardly_a_term(tool):
    """The width is chosen by what is left out: where there is nothing to find, little is found."""
    found = tool.fitted(ORDINARY, REFERENCE, grown(tool, 400, seed=5, slope=NONE))
    assert np.abs(found.small_slope_z).max() < 0.06
