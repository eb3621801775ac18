"""One step ahead: each weight from those before it, and no excuse from those after it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from growth_cohorts import NAN, PRIOR, REFERENCE, three_infants, trusting, weighed
from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.predictive import one_step_ahead
from suffice.inference.growth.prior import default_shift

SITE = default_shift(PRIOR)


def steps(infants, prior=PRIOR, **site):
    shift = replace(default_shift(prior), **site)
    return one_step_ahead(prior, REFERENCE, infants, shift)


def test_each_weight_is_foretold_as_the_forecast_foretells_it():
    """Far enough apart that no wander is left between them."""
    ages, grams = [0.0, 30.0, 90.0], [3300.0, 4100.0, 5600.0]
    prior = trusting()
    found = steps(weighed([ages], [grams]), prior)
    fan = forecast(prior, REFERENCE, weighed([ages[:2]], [grams[:2]]), np.array([[90.0]]))
    by_fan = norm.logpdf(grams[2], fan.mean_g[0, 0], fan.read_sd_g[0, 0])
    assert found[0, 2] == pytest.approx(by_fan, abs=1e-3)


def test_missing_weights_have_no_density_and_the_order_of_columns_does_not_matter():
    plain = steps(three_infants())
    assert np.isfinite(plain).sum() == np.isfinite(three_infants().weight_g).sum()
    turned = three_infants()
    turned = replace(turned, age_d=turned.age_d[:, ::-1], weight_g=turned.weight_g[:, ::-1])
    np.testing.assert_allclose(np.nansum(steps(turned)), np.nansum(plain), atol=1e-9)


def test_a_later_weight_changes_no_density_of_an_earlier_one():
    first = [3300.0, 3150.0, 3700.0]
    calm, wild = (steps(weighed([[0, 5, 12, 20]], [[*first, last]])) for last in (3600.0, 4700.0))
    np.testing.assert_array_equal(calm[0, :3], wild[0, :3])
    assert calm[0, 3] > wild[0, 3] + 2


def test_a_gross_error_hardly_spoils_what_comes_after_it():
    ages = [[0, 3, 6, 9, 12]]
    right = steps(weighed(ages, [[3300, 3100, 3200, 3320, 3430]]))
    wrong = steps(weighed(ages, [[3300, 3100, 3900, 3320, 3430]]))
    assert wrong[0, 2] < right[0, 2] - 4
    assert wrong[0, 3:].sum() > right[0, 3:].sum() - 2.5


def test_noise_that_is_there_is_preferred():
    rng = np.random.default_rng(4)
    ages = np.array([0.0, 7, 14, 28, 42, 56])
    grams = 3300 + 25 * ages + 110 * rng.normal(size=(60, 6))
    infants = weighed([list(ages)] * 60, grams.tolist())
    totals = [np.nansum(steps(infants, noise_g=noise)) for noise in (15.0, 40.0)]
    assert totals[1] > totals[0] + 20


def test_an_infant_without_weights_says_nothing():
    assert np.isnan(steps(weighed([[NAN]], [[NAN]]))).all()
