"""What the infants of one site have in common: shift, spread and errors, by empirical Bayes.

The shift is linear in its coefficients, so what any number of infants say about it adds up as
normal information (precision and precision times value). An infant is scored with its own
information taken out again (:func:`leave_one_out`): nobody helps to predict itself.

The infants of one place are less alike than the model believes, so only a part of what each tells
is counted (a power posterior); without this, forecasts from a pooled site are too sure.

Selection on size (a study of small infants, say) must not look like a shift: every infant's own
level at birth is left free here, so a site speaks only through how weights change from there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from suffice.inference.growth.forecast import invert, noise_variance, weigh_down, with_shift
from suffice.inference.growth.prior import (
    Floats,
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
    default_shift,
    lay_out,
    walk_covariance,
)

_FREE_LEVEL_VARIANCE: Final = 25.0
_GROSS_ROUNDS: Final = 8
_GRID: Final = np.linspace(-2.0, 2.0, 7)
_FINE: Final = np.linspace(-0.6, 0.6, 5)


@dataclass(frozen=True, eq=False, kw_only=True)
class SitePool:
    """Normal information about a site's shift, infant by infant.

    Attributes:
        precision: Shape (n, q, q): what each infant adds to the precision of the coefficients.
        weighted: Shape (n, q): precision times value that each adds.
        spread: Factor on the SD of the walk at this site.
        noise_g: SD of one weight of a newborn at this site, g.
        gross_share: Share of weights that are gross errors at this site.
        prior_shift: The belief before any infant.
    """

    precision: Floats
    weighted: Floats
    spread: float
    noise_g: float
    gross_share: float
    prior_shift: SiteShift

    @property
    def infants_count(self) -> int:
        """How many infants it holds."""
        return int(self.precision.shape[0])


def pool_site(prior: GrowthPrior, reference: WeightReference, weighed: Weighed) -> SitePool:
    """All that the infants of a site say about its shift; its spread, noise and gross errors too.

    Infants with fewer than two weights add nothing. Spread and noise are the most probable ones
    given the prior on their logarithms, then the share of gross errors is counted; without infants
    all three are the defaults.
    """
    belief = default_shift(prior)
    useful = np.isfinite(weighed.weight_g).sum(axis=1) >= 2
    if not useful.any():
        size = len(belief.mean)
        empty = np.zeros((weighed.count, size, size))
        return SitePool(
            precision=empty,
            weighted=empty[:, 0],
            spread=1.0,
            noise_g=prior.noise_g,
            gross_share=prior.gross_share,
            prior_shift=belief,
        )
    spread, noise = _most_probable(prior, reference, weighed.rows(useful), belief)
    local = replace(belief, spread=spread, noise_g=noise)
    precision, weighted, _ = _information(prior, reference, weighed, local)
    pool = SitePool(
        precision=prior.counted_share * precision,
        weighted=prior.counted_share * weighted,
        spread=spread,
        noise_g=noise,
        gross_share=prior.gross_share,
        prior_shift=belief,
    )
    share = _gross_share(prior, reference, weighed.rows(useful), settle(pool))
    return replace(pool, gross_share=share)


def settle(pool: SitePool) -> SiteShift:
    """The site's shift given all infants of the pool (for infants who are not in it)."""
    mean, covariance = _posterior(
        pool.prior_shift, pool.precision.sum(axis=0), pool.weighted.sum(axis=0)
    )
    return _shift(pool, mean, covariance, pool.infants_count)


def leave_one_out(pool: SitePool) -> SiteShift:
    """For each infant of the pool, the shift given all the others: mean (n, q)."""
    mean, covariance = _posterior(
        pool.prior_shift,
        pool.precision.sum(axis=0) - pool.precision,
        pool.weighted.sum(axis=0) - pool.weighted,
    )
    return _shift(pool, mean, covariance, max(pool.infants_count - 1, 0))


def _shift(pool: SitePool, mean: Floats, covariance: Floats, count: int) -> SiteShift:
    return SiteShift(
        mean=mean,
        covariance=covariance,
        spread=pool.spread,
        noise_g=pool.noise_g,
        gross_share=pool.gross_share,
        infants_count=count,
    )


def _gross_share(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed, site: SiteShift
) -> float:
    """The share of gross errors that the weights themselves tell.

    Each round counts the probabilities that weights are gross errors and takes the share again,
    the default share counting as `prior.gross_weights` weights.
    """
    seen = np.isfinite(weighed.weight_g)
    here = lay_out(prior, reference, weighed, np.where(seen, weighed.age_d, 0.0))
    mean, covariance = with_shift(prior, here, here, site)
    residual = np.where(seen, weighed.weight_g - mean, 0.0)
    noise = noise_variance(prior, weighed, site)
    share = prior.gross_share
    for _ in range(_GROSS_ROUNDS):
        _, gross = weigh_down(prior, covariance, residual, seen, noise, share)
        held = prior.gross_weights * prior.gross_share
        share = float((gross.sum() + held) / (seen.sum() + prior.gross_weights))
    return share


def _posterior(belief: SiteShift, precision: Floats, weighted: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance after information was added to the belief (whose mean is zero)."""
    size = belief.covariance.shape[-1]
    # (P^-1 + A)^-1 = P (I + A P)^-1 needs no inverse of the nearly singular P.
    held = np.eye(size) + precision @ belief.covariance
    covariance = np.swapaxes(
        np.linalg.solve(np.swapaxes(held, -1, -2), np.broadcast_to(belief.covariance, held.shape)),
        -1,
        -2,
    )
    covariance = (covariance + np.swapaxes(covariance, -1, -2)) / 2
    mean = (covariance @ weighted[..., None])[..., 0]
    return mean, covariance


def _information(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed, site: SiteShift
) -> tuple[Floats, Floats, float]:
    """Precision (n, q, q), weighted value (n, q), and log likelihood with the shift left out."""
    seen = np.isfinite(weighed.weight_g)
    grid = lay_out(prior, reference, weighed, np.where(seen, weighed.age_d, 0.0))
    walk = walk_covariance(prior, grid, grid, site.spread)
    level = grid.unit_g * prior.correlation(grid.tau, np.zeros_like(grid.tau))
    free = walk + _FREE_LEVEL_VARIANCE * level[:, :, None] * level[:, None, :]
    residual = np.where(seen, weighed.weight_g - grid.mean_g, 0.0)
    noise = noise_variance(prior, weighed, site)
    shared = (grid.design_g @ site.covariance) @ np.swapaxes(grid.design_g, 1, 2)
    effective, _ = weigh_down(prior, free + shared, residual, seen, noise, site.gross_share)
    inverse = invert(free, seen, effective)
    design = np.where(seen[..., None], grid.design_g, 0.0)
    carried = np.swapaxes(design, 1, 2) @ inverse
    precision = carried @ design
    weighted = np.einsum("nqm,nm->nq", carried, residual)
    _, log_det = np.linalg.slogdet(inverse)
    plain = 0.5 * float(log_det.sum() - np.einsum("nm,nmk,nk->", residual, inverse, residual))
    # A gross error costs what the mixture charges for it; without this the noise could grow freely.
    plain += 0.5 * float(np.where(seen, np.log(effective / noise), 0.0).sum())
    return precision, weighted, plain


def _log_evidence(
    prior: GrowthPrior,
    reference: WeightReference,
    weighed: Weighed,
    site: SiteShift,
) -> float:
    """Log posterior of a site's spread and noise, with its shift integrated out."""
    precision, weighted, plain = _information(prior, reference, weighed, site)
    total, value = precision.sum(axis=0), weighted.sum(axis=0)
    mean, _ = _posterior(site, total, value)
    size = len(value)
    _, log_det = np.linalg.slogdet(np.eye(size) + total @ site.covariance)
    log_prior = -0.5 * (
        (np.log(site.spread) / prior.spread_log_sd) ** 2
        + (np.log(site.noise_g / prior.noise_g) / prior.noise_log_sd) ** 2
    )
    return plain + 0.5 * float(value @ mean) - 0.5 * float(log_det) + float(log_prior)


def _most_probable(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed, belief: SiteShift
) -> tuple[float, float]:
    """Spread and noise (g) of the highest posterior, by a coarse and then a fine grid."""
    best = (0.0, 0.0)
    for grid in (_GRID, _FINE):
        tried = [
            (
                _log_evidence(
                    prior,
                    reference,
                    weighed,
                    replace(
                        belief,
                        spread=float(np.exp(a * prior.spread_log_sd)),
                        noise_g=float(prior.noise_g * np.exp(b * prior.noise_log_sd)),
                    ),
                ),
                a,
                b,
            )
            for a in best[0] + grid
            for b in best[1] + grid
        ]
        best = max(tried)[1:]
    return (
        float(np.exp(best[0] * prior.spread_log_sd)),
        float(prior.noise_g * np.exp(best[1] * prior.noise_log_sd)),
    )
