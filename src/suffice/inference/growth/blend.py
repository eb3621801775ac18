"""The forecast fan of the energy model and that of the growth prior, made one.

The energy model knows the physiology of the first days, weighed feeds and milk given, and is too
sure of itself on real infants; the growth prior knows how infants of any feeding grow, covers what
it says, and gets better than the energy model from about the fourth week. Their errors are
correlated above .9, so precisions must not be added: the fans are pooled linearly,

    odds of the growth prior = (age / even_age)^power * (SD of energy model / SD of growth prior)^2
                               * likelihood of the weights by the growth prior / by the energy model
    mean = s growth + (1 - s) energy
    80 % interval as wide as that of the mixture of the two, s to 1 - s

with s = odds / (1 + odds), so disagreement widens the fan. The errors of the two being the same for the most part, the
narrower one narrows the pooled fan without making it any truer: from where odds of equally sure fans are two to one for
the growth prior, the fan is never narrower than the growth prior's own, and before that never than its share of it. The last ratio says which of the two knows this
infant's own course better; it counts up to a limit, since neither model is the truth. The numbers were chosen
among some (docs/validation/fan.md). Infants whom the energy model does not know (born before term, small
at birth, of a multiple birth) get the growth prior's fan alone. The fan is of the true weight; beside it stands what a scale
will show.

Milk given that stayed the same since before the last weight is in that weight already. Where it
began, rose, fell or was no longer written down after it, nobody has seen what came of it: the breast
(or milk that nobody wrote down) makes good anything from none to all of the change. The energy model
draws that share itself (:mod:`suffice.inference.infant.displaced`); the growth prior's fan is
moved by what is left of it in the middle, and widened by its spread (:func:`changed_g`). Such a fan is
never narrower than without the change, nor where the change brings the two together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import msgspec
import numpy as np
from scipy.special import ndtr, ndtri

from suffice.inference.estimate import WIDTH_80, Estimate, Forecast, Interval
from suffice.inference.evidence import Evidence
from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.predictive import one_step_ahead
from suffice.inference.growth.prior import (
    Floats,
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
    Worn,
    default_shift,
)
from suffice.inference.infant.birth_weight import UNFIT
from suffice.inference.infant.displaced import changed_kcal
from suffice.inference.infant.outlook import as_read

_TRUSTED_SHARE: Final = 2 / 3
"""Share of two equally sure fans from which the growth prior's width is the least that is shown.

Judged among even odds, two to one and none: with none 80 % intervals of term infants asked about on day 14 for day 21
cover .66 to .69, with two to one .70 to .74, with even odds .72 to .76, but then .86 to .92 of the energy model's own
infants after four weights or more instead of .84 to .90 (docs/validation/fan.md, 'How wide the pooled fan is').
"""
_FAR_SD: Final = 6.0
"""Beyond so many SDs nothing is looked for."""
_BISECTIONS: Final = 26
"""Halvings of some thousand grams: far below what is shown."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Growth:
    """What the growth prior needs for one infant besides the evidence.

    Attributes:
        prior: The prior.
        reference: Median and SD of weight by age.
        even_age_d: Age, days, at which two equally sure fans count alike.
        power: How fast the growth prior gains with age.
        most_log_ratio: How much the weights may say for either, log of the ratio of their likelihoods.
        slip_fraction: Share of weights that are slips of any size.
        slip_range_g: SD of such a slip, g.
        worn: What clothes and diapers weigh.
        given_milk_kcal_per_ml: Energy of milk given, where it is not said.
        tissue_kcal_per_g: Energy that a gram gained holds.
        displaced_fraction: Part of a change of milk given that the breast makes good, on average.
        displaced_sd_fraction: SD of that part.
        term_from_d: Gestation, days, from which the energy model knows an infant.
        birth_weight_from_g: Birth weight, g, from which it does.
        shift: The site's shift; None for a site without data.
    """

    prior: GrowthPrior
    reference: WeightReference
    even_age_d: float
    power: float
    most_log_ratio: float
    slip_fraction: float
    slip_range_g: float
    worn: Worn
    given_milk_kcal_per_ml: float
    tissue_kcal_per_g: float
    displaced_fraction: float
    displaced_sd_fraction: float
    term_from_d: float
    birth_weight_from_g: float
    shift: SiteShift | None = None


def weighed_of(evidence: Evidence, growth: Growth) -> Weighed:
    """The weights of one infant up to now, birth weight first, as the growth prior takes them."""
    readings = sorted(
        (r for r in evidence.weights if r.age_d <= evidence.now_d), key=lambda r: r.id
    )
    bias = {scale.name: (scale.bias_g, scale.bias_sd_g or 0.0) for scale in evidence.scales}
    rows = []
    for r in readings:
        off_g, off_sd_g = bias.get(r.scale or "", (0.0, 0.0))
        worn_g, worn_sd_g = growth.worn.taken_off(r.clothing)
        # What weighs less than what was worn is wrong; it stays a weight.
        rows.append((r.age_d, max(r.weight_g - off_g - worn_g, 1.0), np.hypot(off_sd_g, worn_sd_g)))
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


def weights_log_density(evidence: Evidence, growth: Growth) -> float:
    """How likely the growth prior finds the weights after birth, all together; 0 without any.

    Each one step ahead, the first from birth weight, or from the population where that is not known. A
    slip of any size is as seldom as the energy model has it, so that a typing error says little for either.
    """
    weighed = weighed_of(evidence, growth)
    steps = one_step_ahead(
        growth.prior,
        growth.reference,
        weighed,
        default_shift(growth.prior) if growth.shift is None else growth.shift,
    )[0, int(evidence.birth_weight_g is not None) :]
    slip = np.log(growth.slip_fraction) - np.log(np.sqrt(2 * np.pi) * growth.slip_range_g)
    return float(np.logaddexp(steps[~np.isnan(steps)], slip).sum())


def growth_share(
    growth: Growth,
    age_d: float,
    energy_sd_g: Floats,
    growth_sd_g: Floats,
    log_ratio: float = 0.0,
) -> Floats:
    """The part of the pooled fan that comes from the growth prior, 0 to 1, shape of the SDs.

    `log_ratio` is the log of how many times likelier the growth prior finds the weights.
    """
    bounded = np.clip(log_ratio, -growth.most_log_ratio, growth.most_log_ratio)
    odds = (age_d / growth.even_age_d) ** growth.power * np.exp(bounded)
    odds_at = odds * (np.maximum(energy_sd_g, 1.0) / np.maximum(growth_sd_g, 1.0)) ** 2
    share: Floats = odds_at / (1 + odds_at)
    return share


def is_unknown_to_energy_model(evidence: Evidence, growth: Growth) -> bool:
    """Whether the energy model was not made for this infant: preterm, small at birth, or a multiple."""
    days, weight_g = evidence.gestation_days, evidence.birth_weight_g
    return (
        (days is not None and days < growth.term_from_d)
        or (weight_g is not None and weight_g < growth.birth_weight_from_g)
        or (evidence.multiple_count or 1) > 1
    )


def changed_g(evidence: Evidence, fan: Forecast, growth: Growth) -> Floats:
    """What a change of milk given since the last weight would weigh at the ages of a fan, g.

    If all of it were gained: the energy given since the last weight, and from now on as the fan
    supposes, less what had been given had it gone on as in the days before that weight; by the energy
    of a gram. Negative where less is given, or written down, than before.
    """
    last = max((r.age_d for r in evidence.weights if r.age_d <= evidence.now_d), default=0.0)
    milk = growth.given_milk_kcal_per_ml
    supposed = fan.milk_given_ml_per_day * milk
    found: Floats = (
        changed_kcal(evidence, np.array(fan.age_d), last, supposed, milk) / growth.tissue_kcal_per_g
    )
    return found


def mixture_sd(share: Floats, apart: Floats, sd_g: Floats, other_sd_g: Floats) -> Floats:
    """SD of the normal as wide, in its 80 % interval, as a mixture of two, whose means lie `apart`.

    `share` is that of the first, whose mean lies `apart` above the other's; all of one shape (n,).
    """
    furthest = np.abs(apart) + _FAR_SD * np.maximum(sd_g, other_sd_g)
    levels = np.array([0.1, 0.9])[:, None]
    below, above = -np.stack([furthest, furthest]), np.stack([furthest, furthest])
    for _ in range(_BISECTIONS):
        at = (below + above) / 2
        reached = share * ndtr((at - apart) / sd_g) + (1 - share) * ndtr(at / other_sd_g)
        is_short = reached < levels
        below, above = np.where(is_short, at, below), np.where(is_short, above, at)
    low, high = (below + above) / 2
    found: Floats = (high - low) / WIDTH_80
    return found


def combine(evidence: Evidence, fan: Forecast, growth: Growth, log_ratio: float = 0.0) -> Forecast:
    """The fan of the energy model pooled with the growth prior's; ages and levels stay.

    `log_ratio` is that of :func:`growth_share`. The energy model's fan is returned as it is where the ages leave the reference.
    """
    ages = np.array([fan.age_d], dtype=np.float64)
    if float(ages.max()) > growth.reference.last_day:
        return fan
    levels = np.array(fan.levels)
    energy = np.array(fan.weight_g)
    low, middle, high = (int(np.argmin(np.abs(levels - at))) for at in (0.1, 0.5, 0.9))
    changed = changed_g(evidence, fan, growth)
    energy_mean = energy[:, middle]
    energy_sd = (energy[:, high] - energy[:, low]) / WIDTH_80
    grown = forecast(
        growth.prior, growth.reference, weighed_of(evidence, growth), ages, shift=growth.shift
    )
    mean = grown.mean_g[0] + (1 - growth.displaced_fraction) * changed
    unseen = growth.displaced_sd_fraction * np.abs(changed)
    sd = np.hypot(grown.sd_g[0], unseen)
    share = growth_share(growth, evidence.now_d, energy_sd, grown.sd_g[0], log_ratio)
    if is_unknown_to_energy_model(evidence, growth):
        share = np.ones_like(share)
    apart = mean - energy_mean
    # A change that brings the two together must not make the fan narrower than without it.
    alone = energy_mean + growth.displaced_fraction * changed
    furthest = np.maximum(np.abs(apart), np.abs(grown.mean_g[0] - alone))
    spread = mixture_sd(share, furthest, np.maximum(sd, 1.0), np.maximum(energy_sd, 1.0))
    trusted = growth_share(growth, evidence.now_d, np.ones(1), np.ones(1), log_ratio)
    spread = np.maximum(spread, np.minimum(trusted / _TRUSTED_SHARE, 1.0) * sd)
    pooled = (energy_mean + share * apart)[:, None] + spread[:, None] * ndtri(levels)
    shown = as_read(pooled, grown.noise_g[0])
    return msgspec.structs.replace(
        fan,
        weight_g=tuple(map(tuple, pooled.tolist())),
        reading_g=tuple(map(tuple, shown.tolist())),
    )


def with_growth(evidence: Evidence, estimate: Estimate, growth: Growth) -> Estimate:
    """The estimate with its forecast pooled with the growth prior's, and the present weight with it.

    The fan starts at the present weight. The age at which birth weight is back is read off the pooled
    fan too, beside which it is drawn. The rest stays the energy model's, the probability that it is not
    back by a day among it: that one is forecast better by the energy model while it is asked about
    (Brier .06 against .07 after four weights, on simulated infants). A birth weight that the energy model left
    out is none here either.
    """
    if estimate.is_refused:
        return estimate
    if any(one.code == UNFIT for one in estimate.cautions):
        evidence = msgspec.structs.replace(evidence, birth_weight_g=None)
    own, grown = estimate.diagnostics, weights_log_density(evidence, growth)
    fan = combine(evidence, estimate.forecast, growth, grown - own.weights_log_density)
    if fan is estimate.forecast:
        return estimate
    pooled = msgspec.structs.replace(
        estimate,
        forecast=fan,
        present_weight=_interval(fan.weight_g[0], estimate.present_weight.unit),
        diagnostics=msgspec.structs.replace(own, growth_log_density=grown),
    )
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
