"""How well the growth prior foretells each weight from those before it: one step ahead.

The sum of these log densities says which spread, noise and share of gross errors foretell weights
best. A weight that does not fit is weighed down when it comes, by what came before it alone; later
weights never excuse it, so that real misfit cannot pass for many gross errors.
"""

from __future__ import annotations

import numpy as np

from suffice.inference.growth.forecast import error_variance, mean_of, shared_covariance
from suffice.inference.growth.kind import kinds_of, of_all_kinds, sweep
from suffice.inference.growth.prior import (
    Floats,
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
    lay_out,
    walk_covariance,
)


def one_step_ahead(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed, site: SiteShift
) -> Floats:
    """Log density of each weight given those before it, shape (n, m); nan where there is none.

    The first weight of an infant is foretold from the population. The weights of an infant may stand
    in any order; what is of the same age is taken in the order of the columns.
    """
    ordered = weighed.in_order()
    seen = np.isfinite(ordered.weight_g)
    here = lay_out(prior, reference, ordered, np.where(seen, ordered.age_d, 0.0))
    away = np.where(seen, ordered.weight_g - mean_of(here, site), 0.0)
    walk, shift = walk_covariance(prior, here, here, 1.0), shared_covariance(here, here, site)
    steps = []
    for kind in kinds_of(prior, site):
        noise, together = error_variance(prior, ordered, kind)
        covariance = kind.spread**2 * walk + shift + together
        steps.append(sweep(away, covariance, noise, seen, kind.gross_share, prior.gross_sd_g**2))
    return of_all_kinds(np.array(steps))
