from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from growth_cohorts import PRIOR, REFERENCE, three_infants, weighed
from suffice.inference.growth.cohort import CohortQuestion, answer_cohort
from suffice.inference.growth.forecast import forecast

QUESTION = CohortQuestion(horizons_d=(7.0, 14.0), gain_window_d=3.0, regain_day=14.0)


def answered(infants, now_d, **more):
    n = infants.count
    given = {
        "now_d": np.array(now_d, dtype=np.float64),
        "has_birth_weight": np.full(n, True),
        "gain_limit_g_per_day": np.full(n, 20.0),
        "question": QUESTION,
        "prior": PRIOR,
        "reference": REFERENCE,
    }
    return answer_cohort(infants, **(given | more))


def test_gain_is_the_change_over_the_window_divided_by_its_days():
    infants = three_infants()
    found = answered(infants, [10, 20, 28])
    fan = forecast(PRIOR, REFERENCE, infants, np.array([[7.0, 10], [17, 20], [25, 28]]))
    change, sd = fan.change_g(0, 1)
    np.testing.assert_allclose(found.gain_g_per_day, change / 3, rtol=1e-9)
    np.testing.assert_allclose(found.gain_se_g_per_day, sd / 3, rtol=1e-9)
    below = ndtr((20 - change / 3) / (sd / 3))
    np.testing.assert_allclose(found.gain_below_limit_probability, below, rtol=1e-9)


def test_a_window_never_starts_before_birth_and_at_birth_there_is_no_gain():
    found = answered(weighed([[0, 2], [0, np.nan]], [[3300, 3150], [3300, np.nan]]), [2, 0])
    assert found.gain_g_per_day[0] < -30
    assert np.isnan(found.gain_g_per_day[1])


def test_not_regained_is_sure_when_it_has_happened_or_cannot_any_more():
    infants = weighed([[0, 10, 14], [0, 10, 14]], [[3300, 3500, 3700], [3300, 2900, 2950]])
    found = answered(infants, [14, 14]).not_regained_probability
    assert found[0] < 0.001
    assert found[1] > 0.999


def test_without_a_birth_weight_or_a_limit_nothing_is_said_of_them():
    infants = weighed([[5, 9]], [[3100, 3200]])
    none = np.array([False])
    found = answered(infants, [9], has_birth_weight=none, gain_limit_g_per_day=np.array([np.nan]))
    assert np.isnan(found.not_regained_probability[0])
    assert np.isnan(found.gain_below_limit_probability[0])
    assert np.isfinite(found.gain_g_per_day[0])


def test_beyond_the_reference_there_is_no_forecast():
    found = answered(weighed([[700, 720]], [[11000, 11200]]), [720])
    assert np.isfinite(found.ahead_g[0, 0]).all()
    assert np.isnan(found.ahead_g[0, 1]).all()


def test_the_chance_of_not_regaining_falls_as_the_newborn_recovers():
    chances = [
        float(answered(weighed([[0, 5]], [[3300, w]]), [5]).not_regained_probability[0])
        for w in (2950, 3100, 3250)
    ]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.5 > chances[2]


def test_a_noisier_scale_makes_the_gain_less_sure():
    plain = weighed([[0, 7, 10]], [[3300, 3200, 3300]])
    rough = replace(plain, extra_noise_g=np.full((1, 3), 80.0))
    assert answered(rough, [10]).gain_se_g_per_day[0] > answered(plain, [10]).gain_se_g_per_day[0]


@pytest.mark.parametrize("order", [[0, 1, 2], [2, 0, 1]])
def test_infants_are_answered_independently(order):
    infants, now = three_infants(), np.array([10.0, 20.0, 28.0])
    found = answered(infants, now).ahead_g[order]
    again = answered(infants.rows(np.array(order)), now[order]).ahead_g
    np.testing.assert_allclose(again, found, rtol=1e-10)
