"""The growth prior against one large joint Gaussian, written out entry by entry.

The oracle puts the site's coefficients and every weight of every infant into one vector, fills its
covariance with plain loops and conditions it with one solve. Known faults of the oracle: it shares
the prior's numbers and its formula for the mean, and it knows nothing of gross errors, which are
switched off here. Tolerance 0.01 g: the solve has a condition number near 1e6.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from growth_cohorts import REFERENCE, made_up_site, three_infants, trusting
from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.prior import default_shift, lay_out
from suffice.inference.growth.site import SitePool, _information, _log_evidence, settle

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
    """35 g to day 28, 82 g from day 183, between them straight in the logarithm over tau."""
    low, high = (math.log(1 + day / PRIOR.stretch_days) for day in (28, 183))
    part = (math.log(1 + age / PRIOR.stretch_days) - low) / (high - low)
    return 35.0 * (82.0 / 35.0) ** min(max(part, 0.0), 1.0)


def condition(mean, cov, seen, values, ages):
    noise = np.diag([noise_at(age) ** 2 for age in ages])
    inner = cov[np.ix_(seen, seen)] + noise
    gain = np.linalg.solve(inner, cov[seen]).T
    return mean + gain @ (values - mean[seen]), cov - gain @ cov[seen]


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
        mean, cov = condition(mean, cov, seen, one.weight_g[0, known], one.age_d[0, known])
        np.testing.assert_allclose(fan.mean_g[i], mean[-2:], atol=0.01)
        np.testing.assert_allclose(fan.covariance_g2[i], cov[-2:, -2:], atol=0.5)


def test_the_pooled_shift_agrees_with_the_joint_gaussian_of_all_infants():
    infants = made_up_site(5, shift_g_per_day=6.0)
    belief = default_shift(PRIOR)
    precision, weighted, _ = _information(PRIOR, REFERENCE, infants, belief)
    pool = SitePool(
        precision=precision,
        weighted=weighted,
        spread=1.0,
        noise_g=PRIOR.noise_g,
        gross_share=PRIOR.gross_share,
        prior_shift=belief,
    )
    mean, cov, q = joint(infants, infants.age_d, free_level=25.0)
    seen = list(range(q, len(mean)))
    mean, cov = condition(mean, cov, seen, infants.weight_g.ravel(), infants.age_d.ravel())
    shift = settle(pool)
    np.testing.assert_allclose(shift.mean, mean[:q], atol=1e-4)
    np.testing.assert_allclose(shift.covariance, cov[:q, :q], atol=1e-4)


@pytest.mark.parametrize("spread", [0.9, 1.1])
def test_the_marginal_likelihood_agrees_with_the_joint_gaussian(spread):
    """Up to a constant that does not depend on spread and noise."""
    infants = made_up_site(4)

    def ours(factor: float) -> float:
        site = replace(default_shift(PRIOR), spread=factor)
        charged = (math.log(factor) / PRIOR.spread_log_sd) ** 2 / 2
        return _log_evidence(PRIOR, REFERENCE, infants, site) + charged

    def brute(factor: float) -> float:
        mean, cov, q = joint(infants, infants.age_d, free_level=25.0 / factor**2)
        shared = cov[q:, q:].copy()
        site = joint(infants, infants.age_d, free_level=25.0 / factor**2)[1]
        design = site[:q, q:]
        across = design.T @ np.linalg.solve(site[:q, :q], design)
        full = factor**2 * (shared - across) + across
        full += np.diag([noise_at(age) ** 2 for age in infants.age_d.ravel()])
        off = infants.weight_g.ravel() - mean[q:]
        return -0.5 * (np.linalg.slogdet(full)[1] + off @ np.linalg.solve(full, off))

    assert ours(spread) - ours(1.0) == pytest.approx(brute(spread) - brute(1.0), abs=1e-3)
