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
from suffice.inference.growth.prior import GrowthPrior, SiteShift, Weighed, WeightReference
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
                    ([ids[i] for i in mine], part.weighed.rows(np.array(mine)))
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
    pool = pool_site(prior, reference, _stacked([weighed for _, weighed in kept]))
    return SiteBelief(
        whole=settle(pool),
        place_of={one: i for i, one in enumerate(ids)},
        left_out=leave_one_out(pool),
    )


def _stacked(some: list[Weighed]) -> Weighed:
    """Infants of several parts one below the other."""
    width = max(weighed.age_d.shape[1] for weighed in some)

    def wide(values: np.ndarray, empty: float) -> np.ndarray:
        room = np.full((len(values), width - values.shape[1]), empty)
        return np.concatenate([values, room], axis=1)

    extra = [np.zeros_like(w.age_d) if w.extra_noise_g is None else w.extra_noise_g for w in some]
    return Weighed(
        age_d=np.concatenate([wide(w.age_d, np.nan) for w in some]),
        weight_g=np.concatenate([wide(w.weight_g, np.nan) for w in some]),
        male_share=np.concatenate([w.male_share for w in some]),
        gestation_days=np.concatenate([w.gestation_days for w in some]),
        caesarean_share=np.concatenate([w.caesarean_share for w in some]),
        extra_noise_g=np.concatenate([wide(e, 0.0) for e in extra]),
    )


def sites_told(sites: Sites) -> pl.DataFrame:
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
