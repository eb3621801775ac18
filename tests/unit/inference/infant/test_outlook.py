"""What may come: the milk supposed from now on, and when birth weight is back."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, QUESTION, THRIVING
from suffice.inference.evidence import MilkGiven
from suffice.inference.infant.outlook import _prolonged, regain_ages, supposed_rate

change = msgspec.structs.replace


def given(*ages_and_ml, milk="formula"):
    return tuple(
        MilkGiven(id=f"m{n}", age_d=age, volume_ml=ml, milk=milk)
        for n, (age, ml) in enumerate(ages_and_ml)
    )


def test_the_milk_of_the_last_two_days_is_supposed_to_go_on():
    evidence = change(THRIVING, milk_given=given((9.5, 60.0), (8.5, 40.0), (7.0, 500.0)))
    now_d, rate, energy = supposed_rate(evidence, QUESTION, POPULATION)
    assert (now_d, rate) == (THRIVING.now_d, pytest.approx(50.0))
    assert energy > 0


def test_without_milk_none_is_supposed_unless_it_is_asked_about():
    assert supposed_rate(THRIVING, QUESTION, POPULATION)[1:] == (0.0, 0.0)
    asked = change(QUESTION, future_milk_given_ml_per_day=100.0)
    _, rate, energy = supposed_rate(THRIVING, asked, POPULATION)
    assert rate == 100.0
    assert energy == pytest.approx(100.0 * POPULATION.given_milk_density)


def test_in_the_first_day_of_life_milk_is_spread_over_a_day():
    evidence = change(THRIVING, now_d=0.5, weights=(), milk_given=given((0.4, 20.0)))
    assert supposed_rate(evidence, QUESTION, POPULATION)[1] == pytest.approx(20.0)


def test_regain_is_the_age_from_which_a_draw_stays_above():
    days = np.array([0.0, 1.0, 2.0, 3.0])
    ratio = np.array(
        [
            [1.0, 1.0, 1.1, 1.2],  # never below
            [0.9, 0.95, 1.05, 1.1],  # half way between day 1 and day 2
            [1.0, 0.9, 1.1, 0.99],  # below at the last
            [0.9, 1.1, 0.9, 1.1],  # for good only the second time
        ]
    )
    assert regain_ages(days, ratio).tolist() == pytest.approx([0.0, 1.5, np.inf, 2.5])


def test_news_of_the_drift_are_appended_and_what_is_known_stays():
    z = np.arange(6.0).reshape(2, 3)
    assert _prolonged(z, 3, None) is z
    assert _prolonged(z, 2, None) is z
    calm = _prolonged(z, 5, None)
    np.testing.assert_array_equal(calm, np.hstack([z, np.zeros((2, 2))]))
    drawn = _prolonged(z, 5, np.random.default_rng(1))
    np.testing.assert_array_equal(drawn[:, :3], z)
    assert (drawn[:, 3:] != 0).all()
