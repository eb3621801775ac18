from __future__ import annotations

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, STRUGGLING, THRIVING, weights
from suffice.inference.evidence import Evidence, TestWeighing
from suffice.inference.infant import mode as of_modes
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import (
    find_best_mode,
    find_mode,
    find_modes,
    last_weight_off,
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


def of_a_day(ml, *pairs, feeds=8, birth_g=3400.0):
    """A slow gainer, and one day of which every feed was weighed, up to the last weight."""
    day = TestWeighing(
        id="day", age_d=pairs[-1][0], transfer_g=ml, feeds_count=feeds, whole_day=True
    )
    evidence = change(
        THRIVING,
        now_d=pairs[-1][0],
        birth_weight_g=birth_g,
        weights=weights(*pairs),
        test_weighings=(day,),
    )
    return Likelihood(evidence, POPULATION)


LITTLE = of_a_day(208.0, (4.0, 2850.0), (6.0, 2820.0), birth_g=2979.0)
"""208 mL a day beside 15 g a day lost: little, but no other course fits better."""


def test_a_weighed_day_that_fits_is_not_argued_about():
    for evidence in (THRIVING, change(THRIVING, test_weighings=())):
        assert find_best_mode(Likelihood(evidence, POPULATION))[0].settled is None
    usual = of_a_day(480.0, (1.0, 3260.0), (3.0, 3170.0), (6.0, 3290.0), (10.0, 3450.0))
    assert find_best_mode(usual)[0].settled is None


@pytest.mark.parametrize("quickly", [False, True])
def test_a_weighed_day_is_not_left_out_because_that_top_lies_nearer(quickly):
    kinds = np.zeros(2, dtype=np.intp)
    near = find_mode(LITTLE, np.zeros(LITTLE.latents_count), kinds)
    found, odds = find_best_mode(LITTLE, quickly=quickly)
    assert not found.settled.wrong.any()
    assert odds.max() < 0
    assert found.log_mass > near.log_mass + 5
    shown = np.exp(found.predictors[2])
    assert shown == pytest.approx(208, rel=0.25)
    assert np.exp(near.predictors[2]) > 1.4 * shown


@pytest.mark.parametrize("quickly", [False, True])
def test_a_weighed_day_that_nothing_explains_is_settled_as_wrong(quickly):
    weighed = ((1.0, 3260.0), (3.0, 3170.0), (6.0, 3290.0), (10.0, 3450.0))
    found, odds = find_best_mode(of_a_day(90.0, *weighed), quickly=quickly)
    assert found.settled.wrong.tolist() == [True]
    assert odds.max() < 0
    without = Likelihood(change(THRIVING, weights=weights(*weighed)), POPULATION)
    np.testing.assert_allclose(
        found.predictors[:4], find_best_mode(without, quickly=quickly)[0].predictors, atol=10.0
    )


def test_a_weighed_day_in_doubt_leaves_two_stories():
    modes = find_modes(
        of_a_day(150.0, (7.0, 3415.0), (9.0, 3450.0), (11.0, 3495.0), birth_g=3611.0)
    )
    assert {bool(mode.settled.wrong[0]) for mode in modes} == {False, True}
    right, wrong = sorted(modes, key=lambda mode: bool(mode.settled.wrong[0]))[:2]
    assert right.predictors[3] < wrong.predictors[3]


def test_weights_that_are_not_worth_a_component_take_no_place_from_a_test_weighing(monkeypatch):
    likelihood = of_a_day(150.0, (7.0, 3415.0), (9.0, 3450.0), (11.0, 3495.0), birth_g=3611.0)
    best, odds, _ = of_modes._search(likelihood, quickly=False)
    weights_count = odds.size - 1
    unworthy = np.full(odds.size, -np.inf)
    unworthy[weights_count - 3 : weights_count] = -3.5  # a weight is worth one above -3
    unworthy[-1] = -4.0  # a test weighing above -6
    monkeypatch.setattr(of_modes, "_search", lambda *_, **__: (best, unworthy, ()))
    other = [bool(mode.settled.wrong[0]) for mode in find_modes(likelihood)]
    assert other == [bool(best.settled.wrong[0]), not best.settled.wrong[0]]


def test_of_feeds_weighed_one_by_one_the_one_that_does_not_fit_is_left_out():
    fed = tuple(
        TestWeighing(id=f"t{k}", age_d=9.5 + k / 10, transfer_g=grams, feeds_count=1)
        for k, grams in enumerate((62.0, 900.0, 58.0))
    )
    found, _ = find_best_mode(Likelihood(change(THRIVING, test_weighings=fed), POPULATION))
    assert found.settled.wrong.tolist() == [False, True, False]


def test_two_feeds_that_uphold_each_others_error_are_doubted_together():
    fed = tuple(
        TestWeighing(id=f"t{k}", age_d=0.05, transfer_g=grams)
        for k, grams in enumerate((59.0, 52.0))
    )
    evidence = change(
        THRIVING,
        now_d=0.6,
        birth_weight_g=2414.0,
        weights=weights((0.5, 2386.0), (0.6, 2384.0)),
        test_weighings=fed,
    )
    modes = find_modes(Likelihood(evidence, POPULATION))
    told = [tuple(mode.settled.wrong.tolist()) for mode in modes]
    # Nobody takes 50 mL in its first hour; that two did is a story, that both are slips another.
    assert {(False, False), (True, True)} <= set(told)


def test_without_a_weight_a_test_weighing_that_cannot_be_is_left_out():
    day = TestWeighing(id="t", age_d=9.0, transfer_g=3000.0, feeds_count=8, whole_day=True)
    alone = Evidence(now_d=10.0, birth_weight_g=3400.0, test_weighings=(day,))
    assert find_best_mode(Likelihood(alone, POPULATION))[0].settled.wrong.all()


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
    assert likelihood.looks == 1 + of_modes.HALVINGS


def test_the_search_ends_after_so_many_steps_at_most(monkeypatch):
    likelihood = Likelihood(STRUGGLING, POPULATION)
    start, kinds = np.zeros(likelihood.latents_count), np.zeros(4, dtype=np.intp)
    whole = find_mode(likelihood, start, kinds)
    assert whole.iterations_count > 1
    monkeypatch.setattr(of_modes, "ITERATIONS_MAX", 1)
    cut = find_mode(likelihood, start, kinds)
    assert cut.iterations_count == 1
    assert cut.log_density < whole.log_density
