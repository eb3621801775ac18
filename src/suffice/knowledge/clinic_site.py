"""What a clinic's own infants say of growth there, kept as a part of its policy.

The clinic's site is learned at night from its own families, discharged ones too. It is a version of the policy
like every other setting: what was shown stays explicable, and rows of the caseload follow a new one.
It is used once enough infants are in it, and not where the clinic leaves it off. The numerical libraries are
imported only where something is computed: a policy is read by commands that start without them.
"""

from __future__ import annotations

import hashlib
from dataclasses import fields
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from suffice.inference.growth.prior import GrowthPrior, SiteShift
    from suffice.inference.growth.site import SitePool


class ClinicSite(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What was learned, and from how many.

    Attributes:
        learned_at: The instant as of which the record was read.
        infants_count: Infants it rests on.
        weights_count: Their weights.
        spread: Factor on the SD of growth.
        noise_g: SD of one weight of a newborn, g.
        gross_share: Share of weights that are gross errors.
        mean: The shift's coefficients, (q,).
        covariance: Their covariance, the lower triangle row by row.
        prior: Names the growth prior from which it departs; with another one it says nothing.
    """

    learned_at: datetime
    infants_count: int
    weights_count: int
    spread: float
    noise_g: float
    gross_share: float
    mean: tuple[float, ...]
    covariance: tuple[float, ...]
    prior: str


def clinic_site(
    pool: SitePool, prior: GrowthPrior, *, weights_count: int, learned_at: datetime
) -> ClinicSite:
    """What a pool says, in the form in which it is kept."""
    import numpy as np  # noqa: PLC0415 -- see the module docstring

    from suffice.inference.growth.site import settle  # noqa: PLC0415

    shift = settle(pool)
    lower = np.tril_indices(len(shift.mean))
    return ClinicSite(
        learned_at=learned_at,
        infants_count=pool.infants_count,
        weights_count=weights_count,
        spread=shift.spread,
        noise_g=shift.noise_g,
        gross_share=shift.gross_share,
        mean=tuple(shift.mean.tolist()),
        covariance=tuple(shift.covariance[lower].tolist()),
        prior=prior_name(prior),
    )


@lru_cache(maxsize=4)
def site_shift(site: ClinicSite) -> SiteShift:
    """The shift as the forecast takes it."""
    import numpy as np  # noqa: PLC0415 -- see the module docstring

    from suffice.inference.growth.prior import SiteShift  # noqa: PLC0415

    count = len(site.mean)
    covariance = np.zeros((count, count))
    covariance[np.tril_indices(count)] = site.covariance
    covariance += np.tril(covariance, -1).T
    return SiteShift(
        mean=np.array(site.mean),
        covariance=covariance,
        spread=site.spread,
        noise_g=site.noise_g,
        gross_share=site.gross_share,
        infants_count=site.infants_count,
    )


@lru_cache(maxsize=8)
def prior_name(prior: GrowthPrior) -> str:
    """A digest of every number of a growth prior."""
    import numpy as np  # noqa: PLC0415 -- see the module docstring

    digest = hashlib.sha256()
    for name in sorted(one.name for one in fields(prior)):
        digest.update(f"{name}\0{np.asarray(getattr(prior, name)).tolist()}\0".encode())
    return digest.hexdigest()[:12]
