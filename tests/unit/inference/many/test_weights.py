from __future__ import annotations

import numpy as np
import pytest

from many_infants import POPULATION, drawn, gathered
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.many.weights import ManyErrors, Weighings, sittings_count

INFANTS = drawn(60, seed=4, most=30)


def of(infant, places=None):
    """The errors of one infant among the many, and one by one."""
    weighings = gathered([infant]).weighings
    weighings = weighings.places(places or weighings.age_d.shape[1])
    count = int(sittings_count(weighings, POPULATION)[0])
    return ManyErrors.of_weighings(weighings, POPULATION, count), Likelihood(infant, POPULATION)


def test_kinds_shares_and_spreads_are_those_of_each_infant():
    for infant in INFANTS:
        errors, likelihood = of(infant)
        np.testing.assert_array_equal(errors.log_share[0], likelihood.errors.log_share)
        np.testing.assert_array_equal(errors.shift_g[0], likelihood.errors.shift_g)
        np.testing.assert_array_equal(errors.sd_g[0], likelihood.errors.sd_g)


def test_the_weights_of_a_sitting_share_an_offset_as_one_by_one():
    seen = 0
    for infant in INFANTS:
        errors, likelihood = of(infant)
        np.testing.assert_array_equal(errors.offsets[0].T, likelihood._offsets)
        seen += errors.offsets.shape[2]
    assert seen > 5


@pytest.mark.parametrize("places", [None, 40])
def test_the_likelihood_is_that_of_one_by_one_and_empty_places_add_nothing(places):
    rng = np.random.default_rng(5)
    for infant in INFANTS[:20]:
        errors, likelihood = of(infant, places)
        w = len(infant.weights)
        expected = np.zeros((1, errors.observed_g.shape[1], 40))
        expected[0, :w] = likelihood.observed_g[:, None] + rng.normal(0, 80, (w, 40))
        found = errors.log_likelihood(expected)[0]
        whole = likelihood.errors.contributions(likelihood.residual_g(expected[0, :w].T))[0]
        np.testing.assert_allclose(found, whole, rtol=1e-10)


def test_scoring_and_noise_are_those_of_one_by_one():
    rng = np.random.default_rng(6)
    for infant in INFANTS[:20]:
        errors, likelihood = of(infant, 40)
        w = len(infant.weights)
        kinds = np.zeros((1, 40), dtype=np.intp)
        kinds[0, :w] = rng.integers(0, 4, w)
        expected = np.zeros((1, 40))
        expected[0, :w] = likelihood.observed_g + rng.normal(0, 60, w)
        found = errors.scoring(expected, kinds, np.array([1.3]))
        slope, curvature, value = likelihood.scoring(expected[0, :w], kinds[0, :w], 1.3)
        np.testing.assert_allclose(found[0][0, :w], slope, rtol=1e-11)
        np.testing.assert_allclose(found[1][0, :w], curvature, rtol=1e-11)
        assert found[2][0] == pytest.approx(value, rel=1e-11)
        assert not found[1][0, w:].any()
        quiet = errors.quietness(np.array([3.0]), np.array([2.5]))[0]
        assert quiet == pytest.approx(likelihood.errors.quietness(3.0, 2.5), rel=1e-12)


def test_weighings_know_their_last_and_how_many_they_are():
    some = Weighings(
        age_d=np.array([[1.0, 4.0, np.nan], [2.0, np.nan, np.nan]]),
        weight_g=np.array([[3200.0, 3300.0, np.nan], [3000.0, np.nan, np.nan]]),
        clothing=np.zeros((2, 3), dtype=np.intp),
    )
    assert some.counts.tolist() == [2, 1]
    assert some.last_d.tolist() == [4.0, 2.0]
    assert some.places(2).age_d.shape == (2, 2)
    assert some.places(5).age_d.shape == (2, 5)
    assert np.isnan(some.places(5).weight_g[:, 3:]).all()
