from __future__ import annotations

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, STRUGGLING, THRIVING, weights
from suffice.inference.evidence import Evidence
from suffice.inference.infant import posterior
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.posterior import (
    even_noise,
    find_best_mode,
    find_mode,
    find_modes,
    last_weight_off,
    resample,
    sample,
    scatter,
)

change = msgspec.structs.replace


def spoilt(k, grams):
    readings = list(THRIVING.weights)
    readings[k] = change(readings[k], weight_g=readings[k].weight_g + grams)
    return change(THRIVING, weights=tuple(readings))


def test_the_mode_is_no_worse_than_its_neighbours():
    likelihood = Likelihood(STRUGGLING, POPULATION)
    mode, _ = find_best_mode(likelihood)

    def fit(z):
        predictors = likelihood.predictors(z[None])[0]
        return likelihood.scoring(predictors, mode.kinds, mode.quiet)[2] - 0.5 * float(z @ z)

    best = fit(mode.z)
    # 0.005: the search ends one step of 0.1 before the top, where the curve is flat.
    for axis in np.eye(len(mode.z)):
        assert fit(mode.z + 0.3 * axis) < best + 0.005
        assert fit(mode.z - 0.3 * axis) < best + 0.005


def test_sound_weights_are_taken_for_ordinary_ones():
    mode, odds = find_best_mode(Likelihood(THRIVING, POPULATION))
    assert not mode.kinds.any()
    assert odds.max() < 0


def test_a_weight_that_is_far_off_is_assigned_an_error():
    mode, _ = find_best_mode(Likelihood(spoilt(2, 400.0), POPULATION))
    assert mode.kinds.tolist() == [0, 0, 1, 0]


def test_a_doubtful_last_weight_leaves_two_stories():
    assert len(find_modes(Likelihood(spoilt(3, 170.0), POPULATION))) > 1


def test_an_unmentioned_cloth_is_found_only_where_clothing_is_not_known():
    known = Likelihood(spoilt(3, 230.0), POPULATION)
    bare = tuple(change(r, clothing=None) for r in spoilt(3, 230.0).weights)
    unknown = Likelihood(change(THRIVING, weights=bare), POPULATION)
    assert 2 not in find_best_mode(known)[0].kinds
    assert find_best_mode(unknown)[0].kinds[3] == 2


def test_no_weight_has_no_last_weight():
    likelihood = Likelihood(change(THRIVING, weights=()), POPULATION)
    assert last_weight_off(likelihood, find_best_mode(likelihood)[0]) is None


def test_calm_weights_speak_for_less_noise_than_scattered_ones():
    def quiet(zigzag):
        readings = weights(*((d, 3300.0 + 30.0 * d + zigzag * (-1) ** d) for d in range(2, 11)))
        return find_best_mode(Likelihood(change(THRIVING, weights=readings), POPULATION))[0].quiet

    assert quiet(0.0) > 1.0 > quiet(70.0)


def test_the_freedom_of_the_scatter_is_less_than_the_number_of_weights():
    likelihood = Likelihood(THRIVING, POPULATION)
    squares, freedom = scatter(likelihood, find_best_mode(likelihood)[0])
    assert 0 < freedom < 4
    assert squares > 0


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


class Downhill(Likelihood):
    """Says that the fit rises one way, and finds it worse wherever it looks again."""

    looks = 0

    def scoring(self, *asked):
        slope, curvature, _ = super().scoring(*asked)
        self.looks += 1
        return slope, curvature, -float(self.looks)


def test_where_no_shorter_step_helps_the_search_ends_where_it_stands():
    likelihood = Downhill(THRIVING, POPULATION)
    start = np.zeros(likelihood.latents_count)
    mode = find_mode(likelihood, start, np.zeros(4, dtype=np.intp))
    np.testing.assert_array_equal(mode.z, start)
    assert mode.iterations_count == 1
    assert likelihood.looks == 1 + posterior.HALVINGS


def test_the_search_ends_after_so_many_steps_at_most(monkeypatch):
    likelihood = Likelihood(STRUGGLING, POPULATION)
    start, kinds = np.zeros(likelihood.latents_count), np.zeros(4, dtype=np.intp)
    whole = find_mode(likelihood, start, kinds)
    assert whole.iterations_count > 1
    monkeypatch.setattr(posterior, "ITERATIONS_MAX", 1)
    cut = find_mode(likelihood, start, kinds)
    assert cut.iterations_count == 1
    assert cut.log_density < whole.log_density
