"""A whole cohort assessed at once from weights alone: gain, return to birth weight, forecast.

Everything follows from one joint forecast an infant of the growth prior: the true weights at birth,
at the day by which birth weight should be regained, at the start of the gain's window, now, and at
the horizons. What weights cannot tell (intake, why) is not answered here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from suffice.inference.growth.forecast import LEVELS, WeightForecast, forecast
from suffice.inference.growth.prior import (
    Floats,
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
)

_BIRTH, _REGAIN, _BEFORE, _NOW, _AHEAD = range(5)
"""Where each asked age stands in the joint forecast; the horizons come last."""


@dataclass(frozen=True, kw_only=True)
class CohortQuestion:
    """What is asked of every infant.

    Attributes:
        horizons_d: Days from now at which the weight is forecast.
        gain_window_d: Days up to now over which the present gain is taken.
        regain_day: Age, days, by which birth weight should be regained.
    """

    horizons_d: tuple[float, ...]
    gain_window_d: float
    regain_day: float


@dataclass(frozen=True, eq=False, kw_only=True)
class CohortAnswer:
    """The answers; nan where there is none.

    Attributes:
        gain_g_per_day: Shape (n,): gain of the true weight over the window, g/day.
        gain_se_g_per_day: Its SD.
        gain_below_limit_probability: Shape (n,), 0 to 1; nan where no limit holds.
        not_regained_probability: Shape (n,): that the true weight on the regain day is below the
            true birth weight; nan where birth weight is not known.
        ahead_g: Shape (n, horizons, 7): quantiles at `LEVELS` of a reading then, g; nan beyond the
            reference.
        gross_probability: Shape (n, m): that each weight is a gross error.
    """

    gain_g_per_day: Floats
    gain_se_g_per_day: Floats
    gain_below_limit_probability: Floats
    not_regained_probability: Floats
    ahead_g: Floats
    gross_probability: Floats


def answer_cohort(
    weighed: Weighed,
    *,
    now_d: Floats,
    has_birth_weight: npt.NDArray[np.bool_],
    gain_limit_g_per_day: Floats,
    question: CohortQuestion,
    prior: GrowthPrior,
    reference: WeightReference,
    shift: SiteShift | None = None,
) -> CohortAnswer:
    """Answers for n infants, each as of its own age.

    Args:
        weighed: Weights up to now; birth weight is a weight at age 0.
        now_d: Shape (n,): age of each infant at the instant of the question, days.
        has_birth_weight: Shape (n,): whether its weight at age 0 is among them.
        gain_limit_g_per_day: Shape (n,): limit of the gain at that age; nan where none holds.
        question: What is asked.
        prior: The growth prior.
        reference: Median and SD of weight by age.
        shift: What is known of the site; None for a site without data.

    Raises:
        InputError: FORECAST-002, an age of now beyond the reference.
    """
    last = float(reference.last_day)
    ahead = now_d[:, None] + np.array(question.horizons_d)
    window_start = np.maximum(now_d - question.gain_window_d, 0.0)
    asked = np.column_stack(
        [
            np.zeros_like(now_d),
            np.full_like(now_d, question.regain_day),
            window_start,
            now_d,
            np.minimum(ahead, last),
        ]
    )
    fan = forecast(prior, reference, weighed, asked, shift=shift)
    gain, gain_se = _gain(fan, now_d - window_start)
    change, change_sd = fan.change_g(_BIRTH, _REGAIN)
    below = ndtr(-change / np.maximum(change_sd, 1.0))
    quantiles = fan.quantiles_g(ages=slice(_AHEAD, None))
    return CohortAnswer(
        gain_g_per_day=gain,
        gain_se_g_per_day=gain_se,
        gain_below_limit_probability=ndtr((gain_limit_g_per_day - gain) / gain_se),
        not_regained_probability=np.where(has_birth_weight, below, np.nan),
        ahead_g=np.where((ahead <= last)[..., None], quantiles, np.nan),
        gross_probability=fan.gross_probability,
    )


def _gain(fan: WeightForecast, span_d: Floats) -> tuple[Floats, Floats]:
    """Gain over the window and its SD, g/day; nan at birth, when there is no window yet."""
    change, sd = fan.change_g(_BEFORE, _NOW)
    days = np.where(span_d > 0, span_d, np.nan)
    return change / days, np.maximum(sd, 1.0) / days


__all__ = ["LEVELS", "CohortAnswer", "CohortQuestion", "answer_cohort"]
