"""When to weigh again: the first day on which one more weight has the asked chance of settling it."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from engine_setting import QUESTION
from spoken import text
from suffice.inference.infant.outlook import Outlook
from suffice.inference.infant.weighing import Candidates, next_weighing

NOISE_G = 30.0
LIMIT = QUESTION.gain_limit_g_per_day
COUNT, DAYS = 4000, 14


def outlook(gain=LIMIT, sd=8.0, now_d=10.0, days=DAYS, tied=True):
    """Infants who gain `gain` a day, give or take `sd`; the later weight follows the gain, or not."""
    quantiles = ndtri((np.arange(COUNT) + 0.5) / COUNT)
    rate = gain + sd * quantiles
    ahead = np.arange(1, days + 1)
    follows = rate if tied else np.random.default_rng(1).permutation(rate)
    later = 3400.0 + follows[:, None] * ahead
    nothing = np.zeros(COUNT)
    return Outlook(
        breast_ml_d=nothing,
        total_ml_d=nothing,
        given_ml_d=0.0,
        requirement_ml_d=nothing,
        share=nothing,
        least_share=nothing,
        gain_g_d=rate,
        weight_g=np.full(COUNT, 3400.0),
        regained_d=nothing,
        regain_day_ratio=nothing,
        fan_d=now_d + np.arange(days + 1),
        fan_g=np.concatenate([np.full((COUNT, 1), 3400.0), later], axis=1),
        later_gain_g_d=np.repeat(rate[:, None], days, axis=1),
        later_weight_g=later,
        future_ml_d=0.0,
    )


def asked(found=None, question=QUESTION, asked_from_d=5.0, **more):
    return next_weighing(found or outlook(), question, NOISE_G, asked_from_d, **more)


def question(**more):
    return msgspec.structs.replace(QUESTION, **more)


def test_the_gain_after_a_weighing_has_the_sd_of_the_regression():
    ahead = Candidates.from_outlook(outlook(), QUESTION, NOISE_G, 1)
    assert ahead.days.tolist() == list(range(1, QUESTION.weighing_days_max + 1))
    # gain ~ N(20, 8); weight on day k = gain k + noise of 30: left = 8 / sqrt(1 + (8 k / 30)^2).
    left = 8.0 / np.sqrt(1 + (8.0 * ahead.days / NOISE_G) ** 2)
    assert ahead.half_width == pytest.approx(1.6448536 * left, rel=1e-3)


def test_the_chance_is_that_the_gain_then_lies_far_enough_from_the_limit():
    gain, sd = LIMIT - 5.0, 8.0
    ahead = Candidates.from_outlook(outlook(gain, sd), QUESTION, NOISE_G, 1)
    left = sd / np.sqrt(1 + (sd * ahead.days / NOISE_G) ** 2)
    move = np.sqrt(sd**2 - left**2)
    reach = float(ndtri(QUESTION.settled_fraction)) * left
    low, high = (LIMIT - gain - reach) / move, (LIMIT - gain + reach) / move
    assert ahead.chance == pytest.approx(1 - (ndtr(high) - ndtr(low)), abs=2e-3)
    assert (np.diff(ahead.chance) > 0).all()


def test_a_weight_that_tells_nothing_of_the_gain_settles_nothing():
    ahead = Candidates.from_outlook(outlook(tied=False), QUESTION, NOISE_G, 1)
    assert ahead.chance.max() < 0.01
    assert ahead.half_width == pytest.approx(1.6448536 * 8.0, rel=0.01)


@pytest.mark.parametrize(
    ("from_day", "days_max", "horizon", "days"),
    [
        (1, 10, 14, range(1, 11)),
        (4, 10, 14, range(4, 11)),
        (12, 10, 14, range(12, 13)),  # later than any day asked about: that day alone
        (1, 10, 6, range(1, 7)),  # no further than the forecast
        (9, 10, 6, range(6, 7)),
    ],
)
def test_the_days_lie_between_the_first_that_counts_and_the_last_that_is_asked(
    from_day, days_max, horizon, days
):
    made = question(weighing_days_max=days_max)
    ahead = Candidates.from_outlook(outlook(days=horizon), made, NOISE_G, from_day)
    assert ahead.days.tolist() == list(days)


def test_the_first_day_with_the_asked_chance_is_named():
    found = asked(question=question(settling_chance_fraction=0.5))
    days, chances, widths = zip(*found.candidates, strict=True)
    first = next(k for k, chance in enumerate(chances) if chance >= 0.5)
    assert first > 0
    assert found.in_days == days[first]
    assert (found.settling_chance_fraction, found.half_width_g_per_day) == (
        chances[first],
        widths[first],
    )
    assert "A weight then has a chance of" in text(found.because)


def test_where_no_day_reaches_the_chance_none_is_named_and_the_best_is_said():
    found = asked(outlook(sd=1.0))
    assert found.in_days is None
    assert found.settling_chance_fraction == max(chance for _, chance, _ in found.candidates)
    assert f"in the next {QUESTION.weighing_days_max} days" in text(found.because)


@pytest.mark.parametrize(("gain", "side"), [(LIMIT + 20, "at or above"), (LIMIT - 20, "below")])
def test_what_is_settled_already_asks_for_no_day_and_says_the_side(gain, side):
    found = asked(outlook(gain))
    assert found.in_days == 0
    assert f"the gain is {side} 20 g/day" in text(found.because)


@pytest.mark.parametrize(("beyond", "is_settled"), [(1.29, True), (1.27, False)])
@pytest.mark.parametrize("side", [1, -1])
def test_it_is_settled_from_the_asked_certainty_on(beyond, is_settled, side):
    # 90 % of a normal lie on one side of its mean minus 1.2816 SDs.
    assert QUESTION.settled_fraction == 0.9
    found = asked(outlook(LIMIT + side * beyond * 8.0))
    assert (found.in_days == 0) is is_settled


def test_a_gain_exactly_at_the_limit_is_not_below_it():
    found = asked(outlook(LIMIT, sd=0.0))
    assert found.in_days == 0
    assert "at or above" in text(found.because)


def test_what_is_more_the_populations_certainty_is_no_reason_not_to_weigh():
    found = asked(outlook(LIMIT + 20), may_be_settled=False)
    assert found.in_days != 0
    assert "not needed to decide" not in text(found.because)


@pytest.mark.parametrize(
    ("now_d", "first_day", "may_be_now"),
    [(3.0, 2, False), (3.5, 2, False), (4.5, 1, False), (5.0, 1, True), (8.0, 1, True)],
)
def test_before_the_gain_is_asked_about_only_later_days_count_and_nothing_is_settled(
    now_d, first_day, may_be_now
):
    found = asked(outlook(LIMIT + 20, now_d=now_d))
    assert found.candidates[0][0] == first_day
    assert (found.in_days == 0) is may_be_now


def test_two_weights_differ_by_more_than_noise_from_the_least_difference_on():
    assert asked().least_difference_g == pytest.approx(1.959964 * math.sqrt(2) * NOISE_G)
