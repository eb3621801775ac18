import math
from dataclasses import replace

import numpy as np
import pytest

from growth_cohorts import NAN, PRIOR, REFERENCE, made_up_site, weighed
from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.prior import default_shift, lay_out
from suffice.inference.growth.site import leave_one_out, pool_site, settle


def at_28(shift):
    fan = forecast(PRIOR, REFERENCE, weighed([[0]], [[3300]]), np.array([[28.0]]), shift=shift)
    return float(fan.mean_g[0, 0]), float(fan.sd_g[0, 0])


def test_a_site_without_usable_infants_is_the_default():
    pool = pool_site(PRIOR, REFERENCE, weighed([[0], [5]], [[3300], [3000]]))
    assert (pool.spread, pool.noise_g) == (1.0, PRIOR.noise_g)
    assert pool.gross_share == PRIOR.gross_share
    assert at_28(settle(pool)) == pytest.approx(at_28(None))


def test_a_site_that_gains_more_is_found_and_pulls_the_forecast():
    pool = pool_site(PRIOR, REFERENCE, made_up_site(120, shift_g_per_day=8.0))
    default, sd = at_28(None)
    found, surer = at_28(settle(pool))
    assert 130 < found - default < 300  # 8 g/d for 28 days is 224 g
    assert surer < sd


def test_few_infants_pull_less_than_many():
    far = made_up_site(120, shift_g_per_day=8.0)
    few = settle(pool_site(PRIOR, REFERENCE, far.rows(np.arange(4))))
    many = settle(pool_site(PRIOR, REFERENCE, far))
    assert 0 < at_28(few)[0] - at_28(None)[0] < at_28(many)[0] - at_28(None)[0]


def test_spread_and_noise_of_a_site_like_the_default_are_found():
    pool = pool_site(PRIOR, REFERENCE, made_up_site(200))
    assert 0.93 < pool.spread < 1.07
    assert 25 < pool.noise_g < 48


def test_a_noisy_site_is_found_out():
    rng = np.random.default_rng(3)
    site = made_up_site(150)
    noisy = replace(site, weight_g=site.weight_g + 70 * rng.normal(size=site.weight_g.shape))
    found = pool_site(PRIOR, REFERENCE, noisy)
    of_weekly = PRIOR.reading_noise_g(np.array([28.0]), found.noise_g)
    usual = PRIOR.reading_noise_g(np.array([28.0]), PRIOR.noise_g)[0]
    assert of_weekly[0] == pytest.approx(math.hypot(usual, 70), rel=0.15)


def test_a_site_that_slips_often_is_found_out_and_its_slips_cost_it_no_noise():
    rng = np.random.default_rng(3)
    site = made_up_site(150)
    is_slip = rng.random(site.weight_g.shape) < 0.1
    slips = PRIOR.gross_sd_g * rng.normal(size=is_slip.shape) * is_slip
    careful = pool_site(PRIOR, REFERENCE, site)
    careless = pool_site(PRIOR, REFERENCE, replace(site, weight_g=site.weight_g + slips))
    assert careful.gross_share < 1.2 * PRIOR.gross_share  # few weights tell little of seldom slips
    # Small slips pass for noise, and many of one infant for noisy weights.
    assert 1.4 * PRIOR.gross_share < careless.gross_share < 0.1
    assert careless.noise_g < 60


def test_where_slips_are_frequent_a_reading_is_less_certain():
    careless = replace(default_shift(PRIOR), gross_share=0.1)
    one, other = (
        forecast(PRIOR, REFERENCE, weighed([[0]], [[3300]]), np.array([[28.0]]), shift=shift)
        for shift in (None, careless)
    )
    wider = other.quantiles_g()[0, 0] - one.quantiles_g()[0, 0]
    assert wider[0] < 0 < wider[-1]


def test_selection_on_size_at_birth_is_not_mistaken_for_a_shift():
    site = made_up_site(2000)
    heavy = site.rows(np.flatnonzero(site.weight_g[:, 0] > 3700))
    assert heavy.count > 60
    shift = settle(pool_site(PRIOR, REFERENCE, heavy.rows(np.arange(60))))
    assert at_28(shift)[0] == pytest.approx(at_28(None)[0], abs=110)


def test_leaving_one_out_is_pooling_without_that_infant():
    site = made_up_site(12, shift_g_per_day=5.0)
    pool = pool_site(PRIOR, REFERENCE, site)
    without = leave_one_out(pool)
    others = np.arange(12) != 4
    alone = settle(replace(pool, precision=pool.precision[others], weighted=pool.weighted[others]))
    np.testing.assert_allclose(without.mean[4], alone.mean, rtol=1e-7, atol=1e-9)
    np.testing.assert_allclose(without.covariance[4], alone.covariance, rtol=1e-6, atol=1e-9)


def test_an_infant_does_not_help_to_predict_itself():
    site = made_up_site(12)
    moved = site.weight_g.copy()
    moved[4, 2:] += 600
    pool, other = (
        replace(pool_site(PRIOR, REFERENCE, one), spread=1.0, noise_g=35.0)
        for one in (site, replace(site, weight_g=moved))
    )
    before, after = leave_one_out(pool), leave_one_out(other)
    # Spread and noise are the site's; with those held, only the other infants' answers move.
    assert abs(before.mean[4] - after.mean[4]).max() < 0.02
    assert abs(before.mean[3] - after.mean[3]).max() > 0.02


def test_infants_with_one_weight_add_nothing():
    site = made_up_site(6)
    one = weighed([[3, NAN, NAN, NAN, NAN]], [[3100, NAN, NAN, NAN, NAN]])
    joined = replace(
        site,
        age_d=np.vstack([site.age_d, one.age_d]),
        weight_g=np.vstack([site.weight_g, one.weight_g]),
        male_share=np.append(site.male_share, 0.0),
        gestation_days=np.append(site.gestation_days, 280.0),
        caesarean_share=np.append(site.caesarean_share, 0.25),
    )
    a, b = pool_site(PRIOR, REFERENCE, site), pool_site(PRIOR, REFERENCE, joined)
    assert (a.spread, a.noise_g) == (b.spread, b.noise_g)
    # A single weight tells its infant's level, which is left free, and so nothing of the site.
    assert np.linalg.norm(b.precision[-1]) < 0.05 * np.linalg.norm(b.precision[0])


def test_an_infant_s_own_part_stays_however_many_tell_of_the_site():
    belief = default_shift(PRIOR)
    for count in (5, 120):
        known = settle(pool_site(PRIOR, REFERENCE, made_up_site(count)))
        left = known.covariance - PRIOR.own_share * belief.covariance
        assert np.linalg.eigvalsh(left).min() > -1e-9
    assert np.trace(left) < 0.5 * (1 - PRIOR.own_share) * np.trace(belief.covariance)


def test_without_infants_the_two_parts_are_the_whole_belief():
    nobody = settle(pool_site(PRIOR, REFERENCE, weighed([[0], [5]], [[3300], [3000]])))
    np.testing.assert_allclose(nobody.covariance, default_shift(PRIOR).covariance, rtol=1e-12)


def test_what_is_the_infants_own_is_not_taken_for_a_wider_walk():
    """Infants who differ as the prior lets sites differ: with no own part the spread would make it good."""
    rng = np.random.default_rng(11)
    site, belief = made_up_site(150), default_shift(PRIOR)
    own = rng.multivariate_normal(belief.mean, belief.covariance, size=150)
    design_g = lay_out(PRIOR, REFERENCE, site, site.age_d).design_g
    differing = replace(site, weight_g=site.weight_g + np.einsum("nmq,nq->nm", design_g, own))
    without = pool_site(replace(PRIOR, own_share=0.0), REFERENCE, differing)
    assert pool_site(PRIOR, REFERENCE, differing).spread < without.spread
