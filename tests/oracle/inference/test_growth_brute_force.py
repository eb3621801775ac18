"""The growth prior against one large joint Gaussian, written out entry by entry.

The oracle puts the site's coefficients and every weight of every infant into one vector, fills its
covariance with plain loops and conditions it with one solve. Four kinds of infants are four such vectors. Known faults of the oracle: it shares
the prior's numbers and its formula for the mean, and it knows nothing of gross errors, which are
switched off here. Tolerance 0.01 g: the solve has a condition number near 1e6.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import block_diag
from scipy.stats import multivariate_normal

from growth_cohorts import REFERENCE, made_up_site, three_infants, trusting, weighed
from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.predictive import one_step_ahead
from suffice.inference.growth.prior import default_shift, lay_out
from suffice.inference.growth.site import SitePool, _information, settle

PRIOR = trusting()


def walk(age_a: float, age_b: float) -> float:
    a, b = (math.log(1 + age / PRIOR.stretch_days) for age in (age_a, age_b))
    apart = abs(a - b) / PRIOR.walk_length
    smooth = (1 + math.sqrt(3) * apart) * math.exp(-math.sqrt(3) * apart)
    return PRIOR.smooth_share * smooth + (1 - PRIOR.smooth_share) * math.exp(-apart)


def joint(infants, ages, *, free_level: float):
    """Mean and covariance of (coefficients, then all weights infant by infant), and what is seen."""
    site = default_shift(PRIOR)
    q = len(site.mean)
    grid = lay_out(PRIOR, REFERENCE, infants, np.where(np.isnan(ages), 0.0, ages))
    places = [(i, j) for i in range(ages.shape[0]) for j in range(ages.shape[1])]
    size = q + len(places)
    mean, cov = np.zeros(size), np.zeros((size, size))
    cov[:q, :q] = site.covariance
    for s, (i, j) in enumerate(places):
        mean[q + s] = grid.mean_g[i, j]
        for c in range(q):
            cov[c, q + s] = cov[q + s, c] = grid.design_g[i, j] @ site.covariance[:, c]
        for t, (k, m) in enumerate(places):
            shared = grid.design_g[i, j] @ site.covariance @ grid.design_g[k, m]
            own = 0.0
            if i == k:
                own = walk(ages[i, j], ages[k, m])
                own += free_level * walk(ages[i, j], 0.0) * walk(ages[k, m], 0.0)
                own *= grid.unit_g[i, j] * grid.unit_g[k, m]
            cov[q + s, q + t] = shared + own
    return mean, cov, q


def noise_at(age: float) -> float:
    """35 g to day 5, 64 g on day 14, 82 g from day 183, straight in the logarithm over tau."""
    days, grams = (5, 14, 183), (35.0, 64.0, 82.0)
    tau = [math.log(1 + day / PRIOR.stretch_days) for day in (*days, age)]
    return math.exp(float(np.interp(tau[3], tau[:3], np.log(grams))))


def errors(ages, factor: float = 1.0) -> np.ndarray:
    """Covariance of the errors of one infant's weights, no two of one hour: 35 g each, and a wander."""
    found = np.zeros((len(ages), len(ages)))
    for i, a in enumerate(ages):
        for j, b in enumerate(ages):
            wander = [math.sqrt(max(noise_at(age) ** 2 - 35.0**2, 0.0)) for age in (a, b)]
            found[i, j] = wander[0] * wander[1] * math.exp(-abs(a - b) / 3) + 35.0**2 * (i == j)
    return factor**2 * found


def condition(mean, cov, seen, values, noise):
    inner = cov[np.ix_(seen, seen)] + noise
    gain = np.linalg.solve(inner, cov[seen]).T
    return mean + gain @ (values - mean[seen]), cov - gain @ cov[seen]


def errors_of_all(infants) -> np.ndarray:
    """The same for all infants in one matrix, one infant's errors telling nothing of another's."""
    return block_diag(*[errors(ages) for ages in infants.age_d])


def test_forecasts_agree_with_the_joint_gaussian_of_each_infant():
    infants = three_infants()
    ahead = np.repeat(np.array([[30.0, 45.0]]), 3, axis=0)
    fan = forecast(PRIOR, REFERENCE, infants, ahead)
    for i in range(3):
        one = infants.rows(np.array([i]))
        known = np.flatnonzero(~np.isnan(one.age_d[0]))
        ages = np.concatenate([one.age_d[:, known], ahead[i : i + 1]], axis=1)
        mean, cov, q = joint(one, ages, free_level=0.0)
        seen = list(range(q, q + len(known)))
        mean, cov = condition(mean, cov, seen, one.weight_g[0, known], errors(one.age_d[0, known]))
        np.testing.assert_allclose(fan.mean_g[i], mean[-2:], atol=0.01)
        np.testing.assert_allclose(fan.covariance_g2[i], cov[-2:, -2:], atol=0.5)


def test_the_pooled_shift_agrees_with_the_joint_gaussian_of_all_infants():
    # Nothing of the shift is an infant's own: then the joint Gaussian can be written down.
    prior = replace(PRIOR, own_share=0.0)
    infants = made_up_site(5, shift_g_per_day=6.0)
    belief = default_shift(prior)
    precision, weighted = _information(prior, REFERENCE, infants, belief)
    pool = SitePool(
        precision=precision,
        weighted=weighted,
        spread=1.0,
        noise_g=PRIOR.noise_g,
        gross_share=PRIOR.gross_share,
        prior_shift=belief,
        own_share=0.0,
    )
    mean, cov, q = joint(infants, infants.age_d, free_level=25.0)
    seen = list(range(q, len(mean)))
    mean, cov = condition(mean, cov, seen, infants.weight_g.ravel(), errors_of_all(infants))
    shift = settle(pool)
    np.testing.assert_allclose(shift.mean, mean[:q], atol=1e-4)
    np.testing.assert_allclose(shift.covariance, cov[:q, :q], atol=1e-4)


@pytest.mark.parametrize("spread", [0.9, 1.1])
def test_the_densities_one_step_ahead_add_up_to_the_joint_density_of_each_infant(spread):
    infants = made_up_site(4)
    site = replace(default_shift(PRIOR), spread=spread)
    found = one_step_ahead(PRIOR, REFERENCE, infants, site).sum(axis=1)
    for i in range(4):
        one = infants.rows(np.array([i]))
        mean, cov, q = joint(one, one.age_d, free_level=0.0)
        design = np.linalg.solve(cov[:q, :q], cov[:q, q:])
        shared = design.T @ cov[:q, :q] @ design
        full = spread**2 * (cov[q:, q:] - shared) + shared + errors(one.age_d[0])
        joint_density = multivariate_normal.logpdf(one.weight_g[0], mean[q:], full)
        assert found[i] == pytest.approx(joint_density, abs=1e-3)


def test_an_infant_is_of_each_kind_as_far_as_its_weights_say():
    """Four joint Gaussians, each as likely as it finds all weights given the first."""
    prior = replace(PRIOR, own_spread_log_sd=0.3, own_noise_log_sd=0.5)
    one = three_infants().rows(np.array([1]))
    ahead = np.array([[30.0]])
    ages = np.concatenate([one.age_d, ahead], axis=1)
    mean, cov, q = joint(one, ages, free_level=0.0)
    shared = cov[q:, :q] @ np.linalg.solve(cov[:q, :q], cov[:q, q:])
    together = math.sqrt(math.cosh(2 * 0.3))
    told = []
    for wide in (math.exp(-0.3), math.exp(0.3)):
        for loud in (math.exp(-0.5), math.exp(0.5)):
            true = (wide / together) ** 2 * (cov[q:, q:] - shared) + shared
            read = true[:-1, :-1] + errors(one.age_d[0], loud)
            known = one.weight_g[0], mean[q:-1], read
            density = multivariate_normal.logpdf(*known)
            density -= multivariate_normal.logpdf(known[0][0], known[1][0], read[0, 0])
            gain = np.linalg.solve(read, true[:-1, -1])
            middle = mean[-1] + gain @ (known[0] - known[1])
            told.append((density, middle, true[-1, -1] - gain @ true[:-1, -1], loud))
    densities, middles, variances, louds = (np.array(column) for column in zip(*told, strict=True))
    shares = np.exp(densities - densities.max())
    shares /= shares.sum()
    found = forecast(prior, REFERENCE, one, ahead)
    expected = shares @ middles
    assert 0.3 < shares.max() < 0.9
    assert found.mean_g[0, 0] == pytest.approx(expected, abs=0.01)
    variance = shares @ (variances + (middles - expected) ** 2)
    assert found.covariance_g2[0, 0, 0] == pytest.approx(variance, abs=0.5)
    assert found.noise_g[0, 0] == pytest.approx(noise_at(30.0) * math.sqrt(shares @ louds**2))
    steps = one_step_ahead(prior, REFERENCE, one, default_shift(prior))[0]
    assert steps[1:].sum() == pytest.approx(np.log(np.mean(np.exp(densities))), abs=1e-3)


def test_weights_of_one_hour_share_four_fifths_of_their_noise():
    """Two weights ten minutes apart in the first days, worked out by hand."""
    twice = weighed([[0.0, 3.0, 3.0 + 10 / 1440]], [[3300, 3100, 3140]])
    mean, cov, q = joint(twice, twice.age_d, free_level=0.0)
    noise = np.diag([35.0**2] * 3)
    noise[1, 2] = noise[2, 1] = 0.8 * 35.0**2
    seen = list(range(q, q + 3))
    told, _ = condition(mean, cov, seen, twice.weight_g[0], noise)
    found = forecast(PRIOR, REFERENCE, twice, twice.age_d[:, 1:2])
    assert found.mean_g[0, 0] == pytest.approx(told[q + 1], abs=0.01)
