"""What the growth prior supposes against what was published about infants.

Sources: WHO Child Growth Standards, growth velocity (2009), 1- and 2-month weight increments (their
SD is taken from L, M, S); correlation of successive gains of 194 Dutch infants (SMOCC) over 0 to 30,
30 to 58 and 58 to 90 days, .45 and .44, as given in docs/validation.md; van Dommelen 2007
(10.1136/adc.2006.104331) for the spread of newborn weight change; Paul 2016
(10.1542/peds.2016-2625) for the day of return to birth weight. Known faults: the SDs of WHO hold
measurement error, which the model adds (35 g a newborn's weight, 82 g after half a year); these figures are also what the
correlation was fitted to, so the test guards the fit and its content keys, it does not prove it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from growth_cohorts import PRIOR, REFERENCE, weighed
from suffice.inference.growth_forecast import forecast
from suffice.knowledge.tables import growth_standards

VELOCITY = growth_standards().velocity
ROWS = list(range(len(VELOCITY.end_day)))
HALF_A_YEAR_D = 185


def noise_variance(day: float) -> float:
    return float(PRIOR.reading_noise_g(np.array(day), PRIOR.noise_g)) ** 2


def covariance(sex: int, a: float, b: float) -> float:
    unit = [float(np.interp(day, np.arange(731), REFERENCE.sd_g[sex])) for day in (a, b)]
    tau = PRIOR.tau(np.array([a, b]))
    return unit[0] * unit[1] * float(PRIOR.correlation(tau[0], tau[1]))


def gain_covariance(sex: int, first: tuple[float, float], second: tuple[float, float]) -> float:
    a, b = first
    c, d = second
    both = covariance(sex, b, d) - covariance(sex, b, c) - covariance(sex, a, d)
    return both + covariance(sex, a, c)


def published_sd(sex: int, row: int) -> float:
    score = np.linspace(-3.5, 3.5, 701)
    weight = np.exp(-(score**2) / 2)
    skew, cv = VELOCITY.skew[sex, row], VELOCITY.cv[sex, row]
    gain = VELOCITY.shifted_median_g[sex, row] * np.maximum(1 + skew * cv * score, 1e-3) ** (
        1 / skew
    )
    mean = np.average(gain, weights=weight)
    return math.sqrt(np.average((gain - mean) ** 2, weights=weight))


@pytest.mark.parametrize("row", ROWS)
@pytest.mark.parametrize("sex", [0, 1])
def test_the_sd_of_gains_is_that_of_the_who_increments(sex, row):
    months = (float(VELOCITY.start_day[row]), float(VELOCITY.end_day[row]))
    noise = sum(noise_variance(day) for day in months)
    ours = math.sqrt(gain_covariance(sex, months, months) + noise)
    tolerance = 0.13 if months[1] <= HALF_A_YEAR_D else 0.25
    assert ours == pytest.approx(published_sd(sex, row), rel=tolerance)


@pytest.mark.parametrize(
    ("first", "second", "published"), [((0, 30), (30, 58), 0.45), ((30, 58), (58, 90), 0.44)]
)
def test_successive_gains_are_correlated_as_in_smocc(first, second, published):
    sds = [
        math.sqrt(gain_covariance(1, g, g) + sum(noise_variance(day) for day in g))
        for g in (first, second)
    ]
    ours = (gain_covariance(1, first, second) - noise_variance(second[0])) / (sds[0] * sds[1])
    assert ours == pytest.approx(published, abs=0.1)


@pytest.mark.parametrize(
    ("day", "lowest_percent"), [(2, -11.1), (3, -11.9), (4, -11.8), (7, -10.6), (10, -9.6)]
)
def test_very_few_lose_more_than_the_line_of_minus_two_and_a_half_sds(day, lowest_percent):
    """Van Dommelen's line at -2.5 SDS: 0.6 % of breastfed newborns lie below it."""
    born = weighed([[0]], [[3400]], male=[0.5])
    fan = forecast(PRIOR, REFERENCE, born, np.array([[float(day)]]))
    away = (3400 * (1 + lowest_percent / 100) - fan.mean_g[0, 0]) / fan.read_sd_g[0, 0]
    assert -3.6 < away < -1.8


def test_half_are_back_at_birth_weight_between_day_8_and_10_and_a_half():
    """Paul 2016: day 9 after vaginal birth; Macdonald 2003: 8.3 days."""
    days = np.arange(6.0, 14.0, 0.25)
    born = weighed([[0]], [[3400]], male=[0.5])
    fan = forecast(PRIOR, REFERENCE, born, days[None, :])
    back = days[np.argmax(fan.mean_g[0] >= 3400)]
    assert 7.5 <= back <= 10.5
