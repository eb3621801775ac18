"""The named formulas by which a derived value follows from others.

A derived entry names one of these and the keys of its arguments; it is recomputed whenever the
store is loaded, and again whenever a clinic's policy changes one of its arguments.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

KJ_PER_KCAL = 4.184
HOURS_PER_DAY = 24.0
DAYS_PER_WEEK = 7.0
GRAMS_PER_OUNCE = 28.349523125
GRAMS_PER_POUND = 453.59237
DAYS_PER_MONTH = 30.4375

JOINED = "joined"
"""The one formula that takes another argument at each point: a series made of single values."""


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula in words and as a function of its arguments in the order of `uses`."""

    words: str
    compute: Callable[..., float]


def _sd_from_limits(low: float, high: float) -> float:
    return (high - low) / (2 * NormalDist().inv_cdf(0.975))


FORMULAS: dict[str, Formula] = {
    "same": Formula("the same value", lambda value: value),
    "difference": Formula("a − b", lambda a, b: a - b),
    "ratio": Formula("a / b", lambda a, b: a / b),
    "sum": Formula("a + b", lambda a, b: a + b),
    "product": Formula("a × b", lambda a, b: a * b),
    "plus_multiple_of_sd": Formula(
        "median + factor × SD", lambda median, factor, sd: median + factor * sd
    ),
    "single_weight_sd": Formula(
        "SD of a difference / √2", lambda difference_sd: difference_sd / math.sqrt(2)
    ),
    "sd_from_95_limits": Formula("(upper − lower) / (2 × 1.96)", _sd_from_limits),
    "sd_from_95_half_width": Formula(
        "half width / 1.96", lambda half_width: half_width / NormalDist().inv_cdf(0.975)
    ),
    "kcal_per_ml_of_milk": Formula(
        "kJ/g × g/mL / 4.184", lambda kj_per_g, g_per_ml: kj_per_g * g_per_ml / KJ_PER_KCAL
    ),
    JOINED: Formula("each point is a value of its own", lambda value: value),
    "kcal_per_dl_to_ml": Formula("kcal/dL / 100", lambda kcal_per_dl: kcal_per_dl / 100),
    "ounces_to_grams": Formula("oz × 28.35", lambda ounces: ounces * GRAMS_PER_OUNCE),
    "pounds_a_month_to_grams_a_day": Formula(
        "lb × 453.6 / 30.44 d", lambda pounds: pounds * GRAMS_PER_POUND / DAYS_PER_MONTH
    ),
    "weeks_to_days": Formula("weeks × 7", lambda weeks: weeks * DAYS_PER_WEEK),
    "per_minute_to_per_hour": Formula("g/kg/min × 60", lambda per_minute: per_minute * 60),
    "evaporation_from_day": Formula(
        "g a day / (weight × hours at the breast a day)",
        lambda g_per_day, weight_kg, hours: g_per_day / (weight_kg * hours),
    ),
    "growth_share_of_gain": Formula(
        "energy deposited / gain", lambda kcal_per_day, g_per_day: kcal_per_day / g_per_day
    ),
}
"""Every formula a derived entry may name."""
