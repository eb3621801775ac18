"""How well the growth prior foretells each weight from those before it: one step ahead.

The sum of these log densities says which spread, noise and share of gross errors foretell weights
best. A weight that does not fit is weighed down when it comes, by what came before it alone; later
weights never excuse it, so that real misfit cannot pass for many gross errors.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from suffice.inference.growth.forecast import error_variance, with_shift
from suffice.inference.growth.prior import (
    Floats,
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
    lay_out,
)

_LOG_ROOT_2PI: Final = 0.5 * float(np.log(2 * np.pi))


def one_step_ahead(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed, site: SiteShift
) -> Floats:
    """Log density of each weight given those before it, shape (n, m); nan where there is none.

    The first weight of an infant is foretold from the population. The weights of an infant may stand
    in any order; what is of the same age is taken in the order of the columns.
    """
    ordered = in_order(weighed)
    seen = np.isfinite(ordered.weight_g)
    here = lay_out(prior, reference, ordered, np.where(seen, ordered.age_d, 0.0))
    mean, covariance = with_shift(prior, here, here, site)
    noise, shared = error_variance(prior, ordered, site)
    covariance = covariance + shared
    away = np.where(seen, ordered.weight_g - mean, 0.0)
    return _sweep(away, covariance, noise, seen, site.gross_share, prior.gross_sd_g**2)


def in_order(weighed: Weighed) -> Weighed:
    """The same weights of each infant in the order of age, missing ones last."""
    order = np.argsort(
        np.where(np.isnan(weighed.age_d), np.inf, weighed.age_d), axis=1, kind="stable"
    )

    def sorted_rows(values: Floats) -> Floats:
        return np.take_along_axis(values, order, axis=1)

    extra = weighed.extra_noise_g
    return Weighed(
        age_d=sorted_rows(weighed.age_d),
        weight_g=sorted_rows(weighed.weight_g),
        male_share=weighed.male_share,
        gestation_days=weighed.gestation_days,
        caesarean_share=weighed.caesarean_share,
        extra_noise_g=None if extra is None else sorted_rows(extra),
    )


def _sweep(
    away: Floats,
    covariance: Floats,
    noise: Floats,
    seen: np.ndarray,
    gross_share: float,
    gross_variance: float,
) -> Floats:
    """Weight after weight: its density, the chance that it is gross, and what is then believed."""
    found = np.full(away.shape, np.nan)
    away, covariance = away.copy(), covariance.copy()
    for k in range(away.shape[1]):
        here = seen[:, k]
        column = np.where(here[:, None], covariance[:, :, k], 0.0)
        own, error = covariance[:, k, k], away[:, k]
        usual, wide = own + noise[:, k], own + noise[:, k] + gross_variance
        logs = np.stack(
            [
                np.log1p(-gross_share) - 0.5 * (np.log(usual) + error**2 / usual),
                np.log(gross_share) - 0.5 * (np.log(wide) + error**2 / wide),
            ]
        )
        either = np.logaddexp(logs[0], logs[1])
        found[:, k] = np.where(here, either - _LOG_ROOT_2PI, np.nan)
        gross = np.exp(logs[1] - either)
        effective = 1.0 / ((1 - gross) / noise[:, k] + gross / (noise[:, k] + gross_variance))
        gain = column / (own + effective)[:, None]
        away -= gain * error[:, None]
        covariance -= gain[:, :, None] * column[:, None, :]
    return found
