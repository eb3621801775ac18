"""Infants differ in more than their course: some grow more evenly than others, some are weighed more quietly.

How widely an infant's own departure walks, and how noisy its weights are, nobody knows beforehand;
its weights tell. An infant is one of four kinds, equally likely before any weight is seen: even or
uneven growth, quiet or noisy weights. How well each kind foretells the weights one step ahead says
how likely the infant is of it. The first weight says nothing of that: it tells a size, not a course.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

from suffice.inference.growth.prior import Floats, GrowthPrior, SiteShift

_LOG_ROOT_2PI: Final = 0.5 * float(np.log(2 * np.pi))


def kinds_of(prior: GrowthPrior, site: SiteShift) -> tuple[SiteShift, ...]:
    """The belief about a site for each kind of its infants.

    The spread of all kinds together is the site's, since published SDs are those of all infants; the
    noise of the site lies in the middle (in its logarithm) of the quiet and the noisy.
    """
    wide = np.exp(prior.own_spread_log_sd * np.array([-1.0, 1.0]))
    wide /= np.sqrt(np.mean(wide**2))
    loud = np.exp(prior.own_noise_log_sd * np.array([-1.0, 1.0]))
    return tuple(
        replace(site, spread=site.spread * float(w), noise_g=site.noise_g * float(n))
        for w in wide
        for n in loud
    )


def _log_odds(steps: Floats) -> Floats:
    """Log of how likely each kind is before each weight and after the last, up to a constant, (k, n, m + 1).

    `steps` as in :func:`shares_of`; the likeliest kind has 0.
    """
    known = np.where(np.isnan(steps), 0.0, steps)
    known[..., 0] = 0.0
    log_share = np.concatenate(
        [np.zeros((*known.shape[:2], 1)), np.cumsum(known, axis=-1)], axis=-1
    )
    found: Floats = log_share - log_share.max(axis=0)
    return found


def shares_of(steps: Floats) -> Floats:
    """How likely each kind is before each weight and after the last, (k, n, m + 1).

    `steps` are the log densities of the weights one step ahead for each kind (k, n, m), in the order
    of age, nan where there is none.
    """
    share = np.exp(_log_odds(steps))
    found: Floats = share / share.sum(axis=0)
    return found


def of_all_kinds(steps: Floats) -> Floats:
    """Log density of each weight one step ahead, whatever kind the infant is; of `steps` (k, n, m).

    By logarithms throughout: of a kind that earlier weights all but rule out nothing would be left,
    and where the others find the next weight impossible the density would be nought.
    """
    log_odds = _log_odds(steps)[..., :-1]
    found: Floats = logsumexp(log_odds + steps, axis=0) - logsumexp(log_odds, axis=0)
    return found


def sweep(
    away: Floats,
    covariance: Floats,
    noise: Floats,
    seen: npt.NDArray[np.bool_],
    gross_share: float,
    gross_variance: float,
) -> Floats:
    """Weight after weight: its log density, the chance that it is gross, and what is then believed.

    Args:
        away: Weights less what the prior expects, in the order of age, (n, m), g.
        covariance: Of the true weights and of what errors share, (n, m, m), g2.
        noise: Variance of each weight's own error, (n, m), g2.
        seen: Where there is a weight, (n, m).
        gross_share: Share of weights that are gross errors.
        gross_variance: What a gross error adds, g2.
    """
    found = np.full(away.shape, np.nan)
    away, covariance = away.copy(), covariance.copy()
    for k in range(away.shape[1]):
        here = seen[:, k]
        column = np.where(here[:, None], covariance[:, k:, k], 0.0)
        own, error = covariance[:, k, k], away[:, k]
        usual = own + noise[:, k]
        wide = usual + gross_variance
        ordinary = np.log1p(-gross_share) - 0.5 * (np.log(usual) + error**2 / usual)
        gross = np.log(gross_share) - 0.5 * (np.log(wide) + error**2 / wide)
        either = np.logaddexp(ordinary, gross)
        found[:, k] = np.where(here, either - _LOG_ROOT_2PI, np.nan)
        chance = np.exp(gross - either)
        effective = 1.0 / ((1 - chance) / noise[:, k] + chance / (noise[:, k] + gross_variance))
        gain = column / (own + effective)[:, None]
        away[:, k:] -= gain * error[:, None]
        covariance[:, k:, k:] -= gain[:, :, None] * column[:, None, :]
    return found
