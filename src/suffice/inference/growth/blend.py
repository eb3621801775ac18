"""The forecast fan of the energy model and that of the growth prior, made one.

The energy model knows the physiology of the first days, weighed feeds and milk given, and is too
sure of itself on real infants; the growth prior knows how infants of any feeding grow, covers what
it says, and gets better than the energy model from about the fourth week. Their errors are
correlated above .9, so precisions must not be added: the fans are pooled linearly,

    odds of the growth prior = (age / even_age)^power * (SD of energy model / SD of growth prior)^2
    mean = s growth + (1 - s) energy
    variance = s var_growth + (1 - s) var_energy + s (1 - s) (difference of the means)^2

with s = odds / (1 + odds), so disagreement widens the fan. The two numbers were chosen among twelve
pairs (docs/validation/real.md). Where milk is given, or every feed of a day was weighed, the energy
model stands alone: only it knows of that milk.
"""

from __future__ import annotations

from dataclasses import dataclass

import msgspec
import numpy as np
from scipy.special import ndtr, ndtri

from suffice.inference.estimate import WIDTH_80, Estimate, Forecast, Interval
from suffice.inference.evidence import Evidence
from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.prior import (
    Floats,
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
)


@dataclass(frozen=True, eq=False, kw_only=True)
class Growth:
    """What the growth prior needs for one infant besides the evidence.

    Attributes:
        prior: The prior.
        reference: Median and SD of weight by age.
        even_age_d: Age, days, at which two equally sure fans count alike.
        power: How fast the growth prior gains with age.
        clothed_sd_g: SD, g, added to a weight whose clothing is not 'naked' or 'dry diaper'.
        shift: The site's shift; None for a site without data.
    """

    prior: GrowthPrior
    reference: WeightReference
    even_age_d: float
    power: float
    clothed_sd_g: float
    shift: SiteShift | None = None


def weighed_of(evidence: Evidence, growth: Growth) -> Weighed:
    """The weights of one infant up to now, birth weight first, as the growth prior takes them."""
    readings = sorted(
        (r for r in evidence.weights if r.age_d <= evidence.now_d), key=lambda r: r.id
    )
    bias = {scale.name: (scale.bias_g, scale.bias_sd_g or 0.0) for scale in evidence.scales}
    rows = [
        (
            r.age_d,
            r.weight_g - bias.get(r.scale or "", (0.0, 0.0))[0],
            np.hypot(
                bias.get(r.scale or "", (0.0, 0.0))[1],
                growth.clothed_sd_g if r.clothing == "clothed" else 0.0,
            ),
        )
        for r in readings
    ]
    if evidence.birth_weight_g is not None:
        rows.insert(0, (0.0, evidence.birth_weight_g, 0.0))
    table = np.array(rows or [(np.nan, np.nan, 0.0)], dtype=np.float64)
    sex = {"male": 1.0, "female": 0.0, None: 0.5}[evidence.sex]
    caesarean = growth.prior.caesarean_share
    if evidence.mode is not None:
        caesarean = 1.0 if evidence.mode == "caesarean" else 0.0
    days = np.nan if evidence.gestation_days is None else float(evidence.gestation_days)
    return Weighed(
        age_d=table[None, :, 0],
        weight_g=table[None, :, 1],
        male_share=np.array([sex]),
        gestation_days=np.array([days]),
        caesarean_share=np.array([caesarean]),
        extra_noise_g=table[None, :, 2],
    )


def growth_share(growth: Growth, age_d: float, energy_sd_g: Floats, growth_sd_g: Floats) -> Floats:
    """The part of the pooled fan that comes from the growth prior, 0 to 1, shape of the SDs."""
    odds = (age_d / growth.even_age_d) ** growth.power
    odds_at = odds * (np.maximum(energy_sd_g, 1.0) / np.maximum(growth_sd_g, 1.0)) ** 2
    share: Floats = odds_at / (1 + odds_at)
    return share


def combine(evidence: Evidence, fan: Forecast, growth: Growth) -> Forecast:
    """The fan of the energy model pooled with the growth prior's; ages and levels stay.

    The energy model's fan is returned as it is where milk is given, where every feed of a day was
    weighed, or where the ages leave the reference.
    """
    ages = np.array([fan.age_d], dtype=np.float64)
    knows_milk = evidence.milk_given or any(one.whole_day for one in evidence.test_weighings)
    if knows_milk or float(ages.max()) > growth.reference.last_day:
        return fan
    levels = np.array(fan.levels)
    energy = np.array(fan.weight_g)
    low, middle, high = (int(np.argmin(np.abs(levels - at))) for at in (0.1, 0.5, 0.9))
    energy_mean = energy[:, middle]
    energy_sd = (energy[:, high] - energy[:, low]) / WIDTH_80
    grown = forecast(
        growth.prior, growth.reference, weighed_of(evidence, growth), ages, shift=growth.shift
    )
    mean, sd = grown.mean_g[0], grown.sd_g[0]
    share = growth_share(growth, evidence.now_d, energy_sd, sd)
    apart = mean - energy_mean
    spread = np.sqrt(share * sd**2 + (1 - share) * energy_sd**2 + share * (1 - share) * apart**2)
    pooled = (energy_mean + share * apart)[:, None] + spread[:, None] * ndtri(levels)
    return msgspec.structs.replace(fan, weight_g=tuple(map(tuple, pooled.tolist())))


def with_growth(evidence: Evidence, estimate: Estimate, growth: Growth) -> Estimate:
    """The estimate with its forecast pooled with the growth prior's.

    The age at which birth weight is back is then read off the pooled fan, beside which it is drawn.
    The rest stays the energy model's, the probability that it is not back by a day among it: that
    one is forecast better by the energy model while it is asked about (Brier .06 against .07 after four
    weights, on simulated infants).
    """
    if estimate.is_refused:
        return estimate
    fan = combine(evidence, estimate.forecast, growth)
    if fan is estimate.forecast:
        return estimate
    pooled = msgspec.structs.replace(estimate, forecast=fan)
    if evidence.birth_weight_g is None:
        return pooled
    return _with_regain(pooled, evidence.birth_weight_g)


def _with_regain(estimate: Estimate, birth_weight_g: float) -> Estimate:
    """The estimate with the age of regain of its fan, unless birth weight is likely back already."""
    fan = estimate.forecast
    age_d, levels, weight_g = (np.array(one) for one in (fan.age_d, fan.levels, fan.weight_g))
    low, middle, high = (int(np.argmin(np.abs(levels - at))) for at in (0.1, 0.5, 0.9))
    sd_g = np.maximum((weight_g[:, high] - weight_g[:, low]) / WIDTH_80, 1.0)
    back = ndtr((weight_g[:, middle] - birth_weight_g) / sd_g)
    if back[0] >= 0.5:
        return estimate
    by_then = np.maximum.accumulate(back)
    regain = None
    if by_then[-1] >= levels[0]:
        regain = _interval(tuple(np.interp(levels, by_then, age_d).tolist()), "d")
    return msgspec.structs.replace(estimate, regain_age_d=regain)


def _interval(ordered: tuple[float, ...], unit: str) -> Interval:
    """The interval of the quantiles at the levels of a fan."""
    a, b, c, m, d, e, f = ordered
    return Interval(
        unit=unit, median=m, low_50=c, high_50=d, low_80=b, high_80=e, low_95=a, high_95=f
    )
