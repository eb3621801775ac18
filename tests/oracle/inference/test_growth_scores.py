"""The measures by which forecasts of weight are judged, against plain computation.

Oracle: the CRPS as the integral of (distribution - step)^2, by a sum over a fine grid; the chance of a
coverage by drawing it. Known faults: steps of half a gram.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from growth_cohorts import NAN, PRIOR, REFERENCE, weighed
from suffice.inference.growth.forecast import forecast
from tool_modules import tool_module

FORECASTS = tool_module("validate.weight_forecasts")
STUDY = tool_module("validate.study")


def forecast_of(gross_share: float):
    return FORECASTS.Spread(
        mean_g=np.array([3000.0, 3000.0]),
        sd_g=np.array([120.0, 60.0]),
        gross_share=np.full(2, gross_share),
        gross_sd_g=250.0,
        quantiles_g=np.zeros((2, 7)),
    )


@pytest.mark.parametrize("gross_share", [0.0, 0.02, 0.1])
def test_crps_is_the_integral_over_the_distribution(gross_share):
    truth = np.array([3150.0, 2700.0])
    one = forecast_of(gross_share)
    grid = np.arange(1000.25, 5000.0, 0.5)
    for i in range(2):
        away = grid - one.mean_g[i]
        below = (1 - gross_share) * ndtr(away / one.sd_g[i])
        below = below + gross_share * ndtr(away / np.hypot(one.sd_g[i], 250.0))
        expected = ((below - (grid >= truth[i])) ** 2).sum() * 0.5
        assert one.crps_g(truth)[i] == pytest.approx(expected, rel=1e-5)


def test_a_told_fan_is_the_forecast_of_a_reading():
    fan = forecast(PRIOR, REFERENCE, weighed([[0]], [[3300]]), np.array([[28.0]]))
    one = FORECASTS.Spread.from_fan(fan)
    assert one.sd_g[0] == fan.read_sd_g[0, 0]
    assert one.gross_share[0] == PRIOR.gross_share
    np.testing.assert_array_equal(one.quantiles_g, fan.quantiles_g()[:, 0])


def test_what_an_interval_that_is_just_right_covers_by_chance():
    n = 131
    score = FORECASTS.Score(
        name="",
        rows=np.arange(n),
        rule_error=np.ones((2, n)),
        rate_error=np.full(n, 2.0),
        error=np.ones(n),
        inside=np.zeros((n, 3), dtype=bool),
        crps=1.0,
        rule_crps=1.0,
        is_slip=np.zeros(n, dtype=bool),
    )
    drawn = np.random.default_rng(0).binomial(n, 0.8, size=40_000) / n
    assert score.chance == pytest.approx(tuple(np.quantile(drawn, [0.025, 0.975])), abs=1 / n)
    assert score.is_beyond_chance
    assert score.ratio_to_rate == 0.5


def test_the_last_rate_is_that_of_the_last_two_weights_in_time():
    task = FORECASTS.Task(
        name="",
        rows=np.arange(2),
        known=weighed([[0, 14, 7], [0, NAN, NAN]], [[3300, 3500, 3250], [3300, NAN, NAN]]),
        last_d=np.array([14.0, 0.0]),
        last_g=np.array([3500.0, 3300.0]),
        at_d=np.array([21.0, 21.0]),
        truth_g=np.array([3700.0, 3700.0]),
        is_slip=np.zeros(2, dtype=bool),
    )
    np.testing.assert_allclose(FORECASTS.last_rate(task), [3750.0, 3300.0])


@pytest.mark.parametrize(
    ("weights", "wrong"),
    [
        ([2340, 2318, 3505, 3058, 3505, 4243], [2]),  # the weight of week 6 entered at week 2
        ([2330, 2450, 3300, 2850, 3100, 3900], [2]),  # far above both neighbours
        ([2330, 2450, 2700, 2200, 3310, 3900], [3]),  # far below both
        ([1800, 1800, 2130, 2850, 3450, NAN], []),  # equal, with nothing between
        ([2390, 2080, 2400, 2900, NAN, 4100], []),  # loss of a newborn
        ([2390, NAN, 2400, 3900, 4100, 4900], []),  # a leap that stays
    ],
)
def test_certain_slips_are_found_without_any_forecast(weights, wrong):
    found = STUDY.certain_slips(np.array([weights], dtype=np.float64))
    assert list(np.flatnonzero(found[0])) == wrong
