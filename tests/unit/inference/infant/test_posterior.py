from __future__ import annotations

import msgspec
import numpy as np
import pytest
from scipy.stats import multivariate_t

from engine_setting import POPULATION, STRUGGLING, THRIVING, weights
from suffice.inference.evidence import DiaperCount, Evidence, TestWeighing
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import find_modes
from suffice.inference.infant.posterior import (
    FARTHEST_CENTRE,
    _Fitted,
    _Sheared,
    even_noise,
    resample,
    sample,
)
from suffice.inference.infant.reading_error import wrong_transfer_density

change = msgspec.structs.replace
IN_DOUBT = change(
    THRIVING,
    now_d=11.0,
    birth_weight_g=3611.0,
    weights=weights((7.0, 3415.0), (9.0, 3450.0), (11.0, 3495.0)),
    test_weighings=(
        TestWeighing(id="t", age_d=11.0, transfer_g=150.0, feeds_count=8, whole_day=True),
    ),
)
"""150 mL a day beside 20 g gained: nearly as likely a slip as a slow gainer who needs little."""


def spoilt(k, grams):
    readings = list(THRIVING.weights)
    readings[k] = change(readings[k], weight_g=readings[k].weight_g + grams)
    return change(THRIVING, weights=tuple(readings))


def test_the_weights_of_draws_sum_to_one_and_enough_are_effective():
    draws = sample(
        Likelihood(THRIVING, POPULATION), np.random.default_rng(1), effective_least=400.0
    )
    assert draws.share.sum() == pytest.approx(1)
    assert draws.share.min() >= 0
    assert 400 <= draws.effective <= len(draws.z)


def test_more_draws_are_made_until_enough_are_effective():
    likelihood = Likelihood(STRUGGLING, POPULATION)
    few = sample(likelihood, np.random.default_rng(1), effective_least=0.0)
    many = sample(likelihood, np.random.default_rng(1), effective_least=3.0 * few.effective)
    assert len(many.z) > len(few.z)
    assert many.effective > 2 * few.effective


def test_the_mixture_keeps_the_posterior_of_its_parts():
    # With and without the second component the same posterior must come out.
    likelihood = Likelihood(spoilt(3, 170.0), POPULATION)
    modes = find_modes(likelihood)
    one, both = (
        sample(
            likelihood, np.random.default_rng(3), effective_least=3000.0, modes=m,
            most_draws=2**17,
        )
        for m in (modes[:1], modes)
    )  # fmt: skip
    last = [d.share @ d.predictors[:, 3] for d in (one, both)]
    spread = np.sqrt(both.share @ (both.predictors[:, 3] - last[1]) ** 2)
    # 0.2: over 20 seeds the truncated weights of the one component are 0.12 off, give or take 0.03.
    assert abs(last[0] - last[1]) < 0.2 * spread


def test_resampling_keeps_each_draw_about_as_often_as_it_weighs():
    draws = sample(
        Likelihood(THRIVING, POPULATION), np.random.default_rng(1), effective_least=400.0
    )
    counts = np.bincount(resample(draws, 50_000, np.random.default_rng(2)), minlength=len(draws.z))
    assert np.abs(counts - 50_000 * draws.share).max() <= 1


def test_without_any_reading_the_prior_is_drawn():
    draws = sample(
        Likelihood(Evidence(now_d=20.0), POPULATION), np.random.default_rng(1), effective_least=400
    )
    assert abs(draws.share @ draws.z[:, 0]) < 0.15
    assert draws.share @ draws.z[:, 0] ** 2 == pytest.approx(1, abs=0.15)


@pytest.mark.parametrize(("count", "is_whole"), [(40, True), (12, True), (11, False), (1, False)])
def test_even_noise_has_the_moments_of_the_normal_where_there_are_rows_enough(count, is_whole):
    noise, stretch = even_noise(count, 12)
    assert (noise.shape, stretch.shape) == ((count, 12), (count,))
    moments = noise.T @ noise / count
    assert np.allclose(moments, np.eye(12)) == is_whole
    assert (stretch > 0).all()
    np.testing.assert_array_equal(noise, even_noise(count, 12)[0])


def test_a_weighed_day_in_doubt_is_right_as_often_as_its_two_stories_have_mass():
    likelihood = Likelihood(IN_DOUBT, POPULATION)
    modes = find_modes(likelihood)
    assert [bool(mode.settled.wrong[0]) for mode in modes].count(True) == 1
    mass = []
    for mode in modes:
        # Each story alone: the weighed day right for certain, or wrong for certain.
        drawn = _Sheared(likelihood, mode, 2)
        rng = np.random.default_rng(3)
        z, proposed = drawn.draw(
            rng.standard_normal((20_000, len(mode.z))), rng.chisquare(5, 20_000)
        )
        predictors = likelihood.predictors(z)
        logs = likelihood.errors.contributions(likelihood.residual_g(predictors))[0]
        logs += mode.settled.log_likelihood(predictors[:, 3:])[:, 0]
        mass.append(np.exp(logs - 0.5 * np.vecdot(z, z) - proposed).mean())
    share_wrong = sum(m for m, mode in zip(mass, modes, strict=True) if mode.settled.wrong[0])
    share_wrong /= sum(mass)
    assert 0.1 < share_wrong < 0.9
    floor = wrong_transfer_density(POPULATION)
    for seed in range(5):
        draws = sample(likelihood, np.random.default_rng(seed), effective_least=400.0, modes=modes)
        wrong = draws.share @ (floor * np.exp(-draws.log_likelihood[:, 3]))
        assert wrong == pytest.approx(share_wrong, abs=0.1)


def test_a_fitted_proposal_is_a_students_t_with_the_moments_of_the_draws():
    rng = np.random.default_rng(4)
    z, share = (
        rng.standard_normal((500, 3)) @ np.array([[1, 0.4, 0], [0, 1, 0], [0, 0, 2]]),
        rng.random(500),
    )
    share /= share.sum()
    fitted = _Fitted(z, share, 1e12)
    mean = share @ z
    shape = 1.05**2 * ((z - mean).T * share) @ (z - mean)
    points = rng.standard_normal((20, 3))
    mine = fitted.log_density(points) - 1.5 * np.log(2 * np.pi)
    np.testing.assert_allclose(mine, multivariate_t(mean, shape, df=5).logpdf(points))
    drawn, density = fitted.draw(rng.standard_normal((40_000, 3)), rng.chisquare(5, 40_000))
    np.testing.assert_allclose(density[:9], fitted.log_density(drawn[:9]))
    # The variance of such a t is 5/3 of its shape; 0.1 is four of the standard errors.
    np.testing.assert_allclose(np.cov(drawn.T) * 3 / 5, shape, atol=0.1 * shape.max())


def test_a_proposal_fitted_to_few_effective_draws_is_near_the_prior():
    z = np.full((10, 4), 0.2)
    fitted = _Fitted(z, np.full(10, 0.1), 1e-9)
    wide = _Fitted(z, np.full(10, 0.1), 1e9)
    away = z[:1] + 3.0
    assert fitted.log_density(away)[0] > wide.log_density(away)[0]


SKEWED = change(
    THRIVING,
    now_d=16.1,
    birth_scale=None,
    sex="male",
    gestation_days=276,
    weights=weights((6.0, 3160.0), (11.0, 3215.0), (16.0, 3270.0), scale="scale"),
    test_weighings=(
        TestWeighing(id="t", age_d=16.0, transfer_g=320.0, feeds_count=8, whole_day=True),
    ),
    diapers=(
        DiaperCount(id="d1", kind="wet", age_d=16.0, count=5, span_d=1.0),
        DiaperCount(id="d2", kind="stool", age_d=16.0, count=3, span_d=1.0),
    ),
)
"""320 mL a day beside 11 g gained: what is possible has a long tail that its mode says nothing of."""


def test_where_the_mode_says_nothing_of_a_long_tail_enough_draws_are_effective_all_the_same():
    likelihood = Likelihood(SKEWED, POPULATION)
    modes = find_modes(likelihood)
    many = [
        sample(likelihood, np.random.default_rng(seed), effective_least=400.0, modes=modes)
        for seed in range(20)
    ]
    assert min(draws.effective for draws in many) >= 400
    # Without a fitted proposal two of these twenty have 11 and 37 of 17,496 effective.
    assert max(len(draws.z) for draws in many) < 16_384
    for draws in many:
        assert draws.share.sum() == pytest.approx(1)
        assert draws.predictors.shape == (len(draws.z), 6)
    level = [draws.share @ draws.predictors[:, 3] for draws in many]
    spread = np.sqrt(many[0].share @ (many[0].predictors[:, 3] - level[0]) ** 2)
    assert np.ptp(level) < 0.4 * spread


def test_a_centre_that_runs_away_is_held_and_every_density_stays_a_number():
    # Two weights of one hour, 500 g above what three others foretell: beside the mode that takes
    # them for right, the one that doubts them finds its points far off, where the course overflows.
    near = change(
        THRIVING,
        now_d=10.0,
        birth_weight_g=3000.0,
        weights=weights(
            (3.0, 2800.0), (7.0, 2950.0), (9.0, 3100.0), (9.98, 3600.0), (9.99, 3625.0)
        ),
    )
    likelihood = Likelihood(near, POPULATION)
    points = 6.0 * even_noise(2048, likelihood.latents_count)[0]
    for mode in find_modes(likelihood):
        proposal = _Sheared(likelihood, mode, 2)
        _, centre = proposal._centre(points[:, : proposal._weak])
        assert np.linalg.norm(centre, axis=1).max() <= FARTHEST_CENTRE * (1 + 1e-12)
        assert np.isfinite(proposal.log_density(points)).all()
