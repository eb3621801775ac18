"""What the infants of one site have in common: shift, spread and errors, from its own infants.

The shift is linear in its coefficients, so what any number of infants say about it adds up as
normal information (precision and precision times value). An infant is scored with its own
information taken out again (:func:`leave_one_out`): nobody helps to predict itself.

Spread, noise and share of gross errors are chosen by how well each weight is foretold from those before it, one
step ahead: an evidence of all weights at once is deceived by real misfit, which later weights let
pass for gross errors among quiet readings.

What the prior allows a site to differ in is in part each infant's own (`own_share`): the site is known the
better the more infants it has, an infant's own departure never. Without it the departure is taken for a wider
walk, and forecasts from a pooled site are worse than without. And only a part of what each infant tells is
counted (a power posterior), since the infants of one place are less alike than the model believes.

Selection on size (a study of small infants, say) must not look like a shift: every infant's own
level at birth is left free here, so a site speaks only through how weights change from there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from suffice.inference.growth.forecast import error_variance, invert, weigh_down
from suffice.inference.growth.predictive import one_step_ahead
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
_COARSE: Final = (-2.0, -1.0, 1.0, 2.0)
_FINE: Final = (-1.0, -0.5, -0.25, 0.25, 0.5, 1.0)
_GROSS_LOG_STEP: Final = 0.5
"""Step of the logarithm of the share of gross errors in which it is looked for."""


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
        own_share: Part of its covariance that is each infant's own.
    """

    precision: Floats
    weighted: Floats
    spread: float
    noise_g: float
    gross_share: float
    prior_shift: SiteShift
    own_share: float

    @property
    def infants_count(self) -> int:
        """How many infants it holds."""
        return int(self.precision.shape[0])


def pool_site(prior: GrowthPrior, reference: WeightReference, weighed: Weighed) -> SitePool:
    """All that the infants of a site say about its shift; its spread, noise and gross errors too.

    Infants with fewer than two weights add nothing. Spread, noise and share of gross errors are those
    that foretell each weight best from the ones before it; without infants all three are the defaults.
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
            own_share=prior.own_share,
        )
    local = _best_foretelling(prior, reference, weighed.rows(useful), belief)
    precision, weighted = _information(prior, reference, weighed, local)
    return SitePool(
        precision=prior.counted_share * precision,
        weighted=prior.counted_share * weighted,
        spread=local.spread,
        noise_g=local.noise_g,
        gross_share=local.gross_share,
        prior_shift=belief,
        own_share=prior.own_share,
    )


def settle(pool: SitePool) -> SiteShift:
    """The site's shift given all infants of the pool (for infants who are not in it)."""
    mean, covariance = _posterior(
        pool.prior_shift, pool.own_share, pool.precision.sum(axis=0), pool.weighted.sum(axis=0)
    )
    return _shift(pool, mean, covariance, pool.infants_count)


def leave_one_out(pool: SitePool) -> SiteShift:
    """For each infant of the pool, the shift given all the others: mean (n, q)."""
    mean, covariance = _posterior(
        pool.prior_shift,
        pool.own_share,
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


def _posterior(
    belief: SiteShift, own_share: float, precision: Floats, weighted: Floats
) -> tuple[Floats, Floats]:
    """Mean and covariance after information was added to the belief (whose mean is zero).

    The covariance is that of an infant: what is not known of the site, and what is the infant's own.
    """
    common = (1 - own_share) * belief.covariance
    # (P^-1 + A)^-1 = P (I + A P)^-1 needs no inverse of the nearly singular P.
    held = np.eye(len(common)) + precision @ common
    covariance = np.swapaxes(
        np.linalg.solve(np.swapaxes(held, -1, -2), np.broadcast_to(common, held.shape)), -1, -2
    )
    covariance = (covariance + np.swapaxes(covariance, -1, -2)) / 2
    mean = (covariance @ weighted[..., None])[..., 0]
    return mean, covariance + own_share * belief.covariance


def _information(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed, site: SiteShift
) -> tuple[Floats, Floats]:
    """Precision (n, q, q) and weighted value (n, q) of what each infant says of the shift."""
    seen = np.isfinite(weighed.weight_g)
    grid = lay_out(prior, reference, weighed, np.where(seen, weighed.age_d, 0.0))
    walk = walk_covariance(prior, grid, grid, site.spread)
    level = grid.unit_g * prior.correlation(grid.tau, np.zeros_like(grid.tau))
    free = walk + _FREE_LEVEL_VARIANCE * level[:, :, None] * level[:, None, :]
    residual = np.where(seen, weighed.weight_g - grid.mean_g, 0.0)
    noise, errors = error_variance(prior, weighed, site)
    free = free + errors
    shared = (grid.design_g @ site.covariance) @ np.swapaxes(grid.design_g, 1, 2)
    free = free + prior.own_share * shared
    site_g2 = (1 - prior.own_share) * shared
    effective, _ = weigh_down(prior, free + site_g2, residual, seen, noise, site.gross_share)
    inverse = invert(free, seen, effective)
    design = np.where(seen[..., None], grid.design_g, 0.0)
    carried = np.swapaxes(design, 1, 2) @ inverse
    precision = carried @ design
    weighted = np.einsum("nqm,nm->nq", carried, residual)
    return precision, weighted


def _foretold(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed, site: SiteShift
) -> float:
    """How well the site foretells its own weights, each from those before it: log density.

    The shift is that of the other infants, so nobody helps to foretell itself; the first weight of
    an infant is not foretold, since who was chosen for its size says nothing of growth. The beliefs
    about spread, noise and gross errors before any infant was seen are added.
    """
    precision, weighted = _information(prior, reference, weighed, site)
    belief = default_shift(prior)
    others = replace(
        belief,
        spread=site.spread,
        noise_g=site.noise_g,
        gross_share=site.gross_share,
    )
    mean, covariance = _posterior(
        belief,
        prior.own_share,
        prior.counted_share * (precision.sum(axis=0) - precision),
        prior.counted_share * (weighted.sum(axis=0) - weighted),
    )
    steps = one_step_ahead(
        prior, reference, weighed, replace(others, mean=mean, covariance=covariance)
    )
    share, usual = site.gross_share, prior.gross_share
    log_prior = (
        -0.5 * (np.log(site.spread) / prior.spread_log_sd) ** 2
        - 0.5 * (np.log(site.noise_g / prior.noise_g) / prior.noise_log_sd) ** 2
        + prior.gross_weights * (usual * np.log(share) + (1 - usual) * np.log1p(-share))
    )
    return float(np.nansum(steps[:, 1:]) + log_prior)


def _best_foretelling(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed, belief: SiteShift
) -> SiteShift:
    """The belief with the spread, noise and share of gross errors that foretell best.

    One of the three after the other, by a coarse and then by a fine grid of their logarithms.
    """
    steps = {
        "spread": prior.spread_log_sd,
        "noise_g": prior.noise_log_sd,
        "gross_share": _GROSS_LOG_STEP,
    }
    best, most = belief, _foretold(prior, reference, weighed, belief)
    for grid in (_COARSE, _FINE):
        for name in ("noise_g", "gross_share", "spread"):
            centre = getattr(best, name)
            for step in grid:
                tried = replace(best, **{name: centre * float(np.exp(step * steps[name]))})
                value = _foretold(prior, reference, weighed, tried)
                if value > most:
                    best, most = tried, value
    return best
