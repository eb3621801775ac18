"""What the sites of a cohort have in common, learned from a sample of each site's infants.

Nobody helps to predict itself: an infant of the sample is assessed with the site's shift as the
other infants tell it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from suffice.cohort.infants import Part
from suffice.cohort.part import BatchSetting, Sites
from suffice.inference.growth.prior import (
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
    stacked,
)
from suffice.inference.growth.site import leave_one_out, pool_site, settle


@dataclass(frozen=True, eq=False, kw_only=True)
class SiteBelief:
    """What is known of one site.

    Attributes:
        whole: The shift given the whole sample.
        place_of: Position of each infant of the sample.
        left_out: The shifts given the others, one for each infant of the sample.
    """

    whole: SiteShift
    place_of: dict[str, int]
    left_out: SiteShift

    @classmethod
    def of_all(cls, shift: SiteShift) -> SiteBelief:
        """A belief to which none of the infants has helped."""
        return cls(whole=shift, place_of={}, left_out=shift)

    def member_shift(self, infant_ids: list[str]) -> SiteShift:
        """The shifts for infants of the sample, each left out."""
        at = np.array([self.place_of[one] for one in infant_ids])
        return replace(
            self.left_out, mean=self.left_out.mean[at], covariance=self.left_out.covariance[at]
        )


class Sample:
    """Infants of each site, gathered part by part until there are enough."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: dict[str, list[tuple[list[str], Weighed]]] = {}

    def add(self, part: Part) -> None:
        """Take what is still needed from a part: infants with at least two weights."""
        has_two = np.isfinite(part.weighed.weight_g).sum(axis=1) >= 2
        names = part.infants["site"].to_list()
        ids = part.infants["infant_id"].to_list()
        for site in sorted({name for name in names if name}):
            room = self._most - self.count(site)
            mine = [i for i, name in enumerate(names) if name == site and has_two[i]][:room]
            if mine:
                self._kept.setdefault(site, []).append(
                    ([ids[i] for i in mine], part.naked.rows(np.array(mine)))
                )

    def count(self, site: str) -> int:
        """How many infants of a site were taken."""
        return sum(len(ids) for ids, _ in self._kept.get(site, []))

    def learn(self, setting: BatchSetting) -> Sites:
        """The belief about every site."""
        return {
            site: _learned(setting.prior, setting.reference, kept)
            for site, kept in sorted(self._kept.items())
        }


def _learned(
    prior: GrowthPrior, reference: WeightReference, kept: list[tuple[list[str], Weighed]]
) -> SiteBelief:
    ids = [one for some, _ in kept for one in some]
    pool = pool_site(prior, reference, stacked([weighed for _, weighed in kept]))
    return SiteBelief(
        whole=settle(pool),
        place_of={one: i for i, one in enumerate(ids)},
        left_out=leave_one_out(pool),
    )


def sites_table(sites: Sites) -> pl.DataFrame:
    """One row a site: from how many infants, its spread, noise and share of gross errors."""
    return pl.DataFrame(
        [
            {
                "site": name,
                "infants_count": one.whole.infants_count,
                "spread_factor": one.whole.spread,
                "noise_sd_g": one.whole.noise_g,
                "gross_errors_fraction": one.whole.gross_share,
            }
            for name, one in sites.items()
        ],
        schema={
            "site": pl.String,
            "infants_count": pl.Int64,
            "spread_factor": pl.Float64,
            "noise_sd_g": pl.Float64,
            "gross_errors_fraction": pl.Float64,
        },
    )
