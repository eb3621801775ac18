"""When to weigh again, and how far apart two weights must lie.

For each day to come, the gain then and a reading then are jointly almost normal over the draws:
the gain after the reading has the SD of the regression, and its mean varies with the reading by
what the regression explains. The question 'below the limit?' is settled when one side has the
asked certainty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from suffice.inference.estimate import QUANTILE_95, NextWeighing, Question
from suffice.inference.infant.model import Floats
from suffice.inference.infant.outlook import Outlook, fraction
from suffice.message import Amount, Chance, message

_LEVEL_90 = 1.6448536269514722  # standard normal quantile of 0.95


@dataclass(frozen=True, slots=True)
class Candidates:
    """Each day from now on which one might weigh; arrays (n_days,).

    Attributes:
        days: Days from now.
        chance: Chance that a weighing then settles the question.
        half_width: 90 % half-width of the gain after it, g/day.
    """

    days: NDArray[np.intp]
    chance: Floats
    half_width: Floats

    @classmethod
    def from_outlook(
        cls, outlook: Outlook, question: Question, noise_g: float, from_day: int
    ) -> Candidates:
        """The days from `from_day` to the question's last; at least one."""
        last = outlook.later_gain_g_d.shape[1]
        stop = min(max(question.weighing_days_max, from_day), last)
        days = np.arange(min(from_day, stop), stop + 1)
        columns = slice(int(days[0]) - 1, stop)
        gain, weight = outlook.later_gain_g_d[:, columns], outlook.later_weight_g[:, columns]
        gain_mean = gain.mean(axis=0)
        gain, weight = gain - gain_mean, weight - weight.mean(axis=0)
        joint, gain_square, weight_square = (
            np.vecdot(a.T, b.T) / len(gain)
            for a, b in ((gain, weight), (gain, gain), (weight, weight))
        )
        explained = joint**2 / (weight_square + noise_g**2)
        left = np.sqrt(np.maximum(gain_square - explained, 1e-9))
        move = np.sqrt(np.maximum(explained, 1e-12))
        reach = float(ndtri(question.settled_fraction)) * left
        over = (question.gain_limit_g_per_day - gain_mean) / move
        chance = 1.0 - (ndtr(over + reach / move) - ndtr(over - reach / move))
        return cls(days, chance, _LEVEL_90 * left)


def next_weighing(
    outlook: Outlook,
    question: Question,
    noise_g: float,
    asked_from_d: float,
    *,
    may_be_settled: bool = True,
) -> NextWeighing:
    """The first day on which a weighing has the asked chance of settling the question.

    Before the age `asked_from_d` the gain is still the early loss: then only later days count,
    and nothing is settled yet.

    Args:
        outlook: What the draws foretell.
        question: The limit, and how sure an answer must be.
        noise_g: SD of one weight, g.
        asked_from_d: Age in days from which the gain is asked about.
        may_be_settled: False where the certainty is more the population's than this infant's: it
            is no reason not to weigh.
    """
    limit = question.gain_limit_g_per_day
    now = float(outlook.fan_d[0])
    from_day = max(1, int(np.ceil(asked_from_d - now)))
    ahead = Candidates.from_outlook(outlook, question, noise_g, from_day)
    slow = fraction(outlook.gain_g_d < limit)
    sure = max(slow, 1.0 - slow)
    good = np.flatnonzero(ahead.chance >= question.settling_chance_fraction)
    place = int(good[0]) if len(good) else int(np.argmax(ahead.chance))
    in_days = int(ahead.days[place]) if len(good) else None
    chance, half = float(ahead.chance[place]), float(ahead.half_width[place])
    if may_be_settled and now >= asked_from_d and sure >= question.settled_fraction:
        in_days = 0
        is_below = slow > 1.0 - slow
        because = message(
            "Another weight is not needed to decide: {sure} likely that the gain is {side}"
            " {limit}.",
            side=message("below") if is_below else message("at or above"),
            limit=Amount(limit, "g/d"),
            sure=Chance(sure),
        )
    elif in_days is not None:
        because = message(
            "A weight then has a chance of {chance} to show whether the gain is below {limit};"
            " the gain is then known to within {half} either way.",
            chance=Chance(chance),
            limit=Amount(limit, "g/d"),
            half=Amount(half, "g/d"),
        )
    else:
        because = message(
            "Weighing again in the next {days} days may not show whether the gain is below"
            " {limit} (chance at best {chance}). Test weights over 24 hours would tell more.",
            days=int(ahead.days[-1]),
            limit=Amount(limit, "g/d"),
            chance=Chance(chance),
        )
    return NextWeighing(
        in_days=in_days,
        settling_chance_fraction=chance,
        half_width_g_per_day=half,
        candidates=tuple(
            zip(ahead.days.tolist(), ahead.chance.tolist(), ahead.half_width.tolist(), strict=True)
        ),
        least_difference_g=QUANTILE_95 * float(np.sqrt(2.0)) * noise_g,
        because=because,
    )
