"""When to weigh again, and how far apart two weights must lie.

For each day to come, the gain then and a reading then are jointly almost normal over the draws:
the gain after the reading has the SD of the regression, and its mean varies with the reading by
what the regression explains. The question 'below the limit?' is settled when one side has the
asked certainty.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, ndtri

from suffice.inference.estimate import NextWeighing, Question
from suffice.inference.outlook import Outlook, fraction

_LEVEL_90 = 1.6448536269514722  # standard normal quantile of 0.95
_LEVEL_95 = 1.959963984540054
_EVEN = 0.5


def next_weighing(outlook: Outlook, question: Question, noise_g: float) -> NextWeighing:
    """The first day on which a weighing has the asked chance of settling the question."""
    limit = question.gain_limit_g_per_day
    count = min(question.weighing_days_max, outlook.later_gain_g_d.shape[1])
    gain = outlook.later_gain_g_d[:, :count]
    weight = outlook.later_weight_g[:, :count]
    gain_mean, weight_mean = gain.mean(axis=0), weight.mean(axis=0)
    spread = ((gain - gain_mean) ** 2).mean(axis=0)
    read = ((weight - weight_mean) ** 2).mean(axis=0) + noise_g**2
    joint = ((gain - gain_mean) * (weight - weight_mean)).mean(axis=0)
    told = joint**2 / read
    left = np.sqrt(np.maximum(spread - told, 1e-9))
    move = np.sqrt(np.maximum(told, 1e-12))
    reach = float(ndtri(question.settled_fraction)) * left
    chance = 1.0 - (
        ndtr((limit + reach - gain_mean) / move) - ndtr((limit - reach - gain_mean) / move)
    )
    half = _LEVEL_90 * left
    now = fraction(outlook.gain_g_d < limit)
    least = _LEVEL_95 * float(np.sqrt(2.0)) * noise_g
    days = [d for d in range(count) if chance[d] >= question.settling_chance_fraction]
    if max(now, 1.0 - now) >= question.settled_fraction:
        side = "below" if now > _EVEN else "at or above"
        in_days, place = 0, 0
        because = (
            f"It is settled already: the gain is {side} {limit:.0f} g a day"
            f" with {100 * max(now, 1 - now):.0f} % certainty."
        )
    elif days:
        in_days, place = days[0] + 1, days[0]
        because = (
            f"A weight then settles with {100 * chance[place]:.0f} % chance whether the gain is"
            f" below {limit:.0f} g a day; the gain is then known to {half[place]:.0f} g a day"
            " either way."
        )
    else:
        in_days, place = None, int(np.argmax(chance))
        because = (
            f"No single weight within {count} days is likely to settle whether the gain is below"
            f" {limit:.0f} g a day (best chance {100 * chance[place]:.0f} %); a test weighing over"
            " 24 hours tells more."
        )
    return NextWeighing(
        in_days=in_days,
        settling_chance_fraction=float(chance[place]),
        half_width_g_per_day=float(half[place]),
        candidates=tuple((d + 1, float(chance[d]), float(half[d])) for d in range(count)),
        least_difference_g=least,
        because=because,
    )
