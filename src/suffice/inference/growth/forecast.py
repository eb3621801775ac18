"""Forecasts of weight from the growth prior: exact, for a whole cohort at once.

Every infant's weights are few, so each forecast is one small linear system; all infants are solved
together with arrays padded to the longest history. What a gross error is, is settled by a few
rounds of weighing each reading against the infant's other readings. How evenly an infant grows and
how noisy its weights are is not known: the forecast is that of four kinds of infants, each counting
as its weights say (:mod:`suffice.inference.growth.kind`), as one normal of the same mean and spread.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Self

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from suffice.clinical.units import HOURS_PER_DAY
from suffice.errors import InputError, Problem
from suffice.inference.growth.kind import kinds_of, shares_of, sweep
from suffice.inference.growth.prior import (
    Floats,
    Grid,
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
    default_shift,
    lay_out,
    walk_covariance,
)
from suffice.message import message

LEVELS: Final = (0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975)
"""The quantile levels of every fan: they bound the 50, 80 and 95 % intervals."""
_MIDDLE: Final = len(LEVELS) // 2
"""The median's place among them; the others lie evenly to its sides."""
_ALL: Final = slice(None)
_ROBUST_ROUNDS: Final = 4
_NEWTON_ROUNDS: Final = 6


@dataclass(frozen=True, eq=False, kw_only=True)
class WeightForecast:
    """Normal forecast of the true weight of n infants at h ages, and how a scale would read it.

    Attributes:
        age_d: Shape (n, h), days.
        mean_g: Shape (n, h), g.
        covariance_g2: Shape (n, h, h): covariance of the true weights, g2.
        noise_g: Shape (n, h): SD of one ordinary reading about the truth, g.
        gross_share: Share of readings that are gross errors.
        gross_sd_g: SD of a gross error, g.
        gross_probability: Shape (n, m): probability that each weight used is a gross error
            (0 where there is none).
    """

    age_d: Floats
    mean_g: Floats
    covariance_g2: Floats
    noise_g: Floats
    gross_share: float
    gross_sd_g: float
    gross_probability: Floats

    @property
    def sd_g(self) -> Floats:
        """SD of the true weight, shape (n, h), g."""
        found: Floats = np.sqrt(np.maximum(np.einsum("nhh->nh", self.covariance_g2), 0.0))
        return found

    @property
    def read_sd_g(self) -> Floats:
        """SD of an ordinary reading (gross errors left out), shape (n, h), g."""
        found: Floats = np.hypot(self.sd_g, self.noise_g)
        return found

    def quantiles_g(self, *, as_read: bool = True, ages: slice = _ALL) -> Floats:
        """Quantiles at `LEVELS`, shape (n, h, 7), g, of some of the ages; of a reading, or of the true weight.

        A reading may be a gross error, so its outer quantiles lie a little wider than normal.
        """
        mean = self.mean_g[:, ages, None]
        if not as_read:
            return mean + self.sd_g[:, ages, None] * ndtri(np.array(LEVELS))
        half = self.read_sd_g[:, ages, None]
        wide = np.hypot(half, self.gross_sd_g)
        upper = np.array(LEVELS[_MIDDLE + 1 :])
        at = half * ndtri(upper)
        for _ in range(_NEWTON_ROUNDS):
            share = (1 - self.gross_share) * ndtr(at / half) + self.gross_share * ndtr(at / wide)
            density = (1 - self.gross_share) * _bell(at / half) / half
            density = density + self.gross_share * _bell(at / wide) / wide
            at = at - (share - upper) / density
        found: Floats = mean + np.concatenate([-at[..., ::-1], np.zeros_like(half), at], axis=-1)
        return found

    def change_g(self, start: int, stop: int) -> tuple[Floats, Floats]:
        """Mean and SD (n,), g, of the true weight at age `stop` minus that at age `start`.

        Both are positions along the ages asked for.
        """
        spread = self.covariance_g2
        variance = spread[:, stop, stop] + spread[:, start, start] - 2 * spread[:, start, stop]
        change = self.mean_g[:, stop] - self.mean_g[:, start]
        return change, np.sqrt(np.maximum(variance, 0.0))


def _bell(x: Floats) -> Floats:
    """Density of the standard normal."""
    found: Floats = np.exp(-(x**2) / 2) / np.sqrt(2 * np.pi)
    return found


def forecast(
    prior: GrowthPrior,
    reference: WeightReference,
    weighed: Weighed,
    at_age_d: Floats,
    *,
    shift: SiteShift | None = None,
) -> WeightForecast:
    """Weights at `at_age_d` (n, h) days, given every weight in `weighed` and the site's shift.

    The ages may lie before, between or after the weights; an infant without weights gets the
    population. `shift` None is a site without data.

    Raises:
        InputError: FORECAST-002, an age outside the reference.
    """
    _check_ages(reference, at_age_d)
    site = default_shift(prior) if shift is None else shift
    ordered = weighed.in_order()
    joint = _Joint.of_weights(prior, reference, ordered, at_age_d, site)
    found = [_of_kind(prior, joint, kind) for kind in kinds_of(prior, site)]
    share = shares_of(np.array([one.steps for one in found]))[..., -1]
    mean = np.einsum("kn,knh->nh", share, np.array([one.mean_g for one in found]))
    covariance = np.zeros((*mean.shape, mean.shape[1]))
    noise, gross = np.zeros_like(mean), np.zeros_like(ordered.age_d)
    for mine, one in zip(share, found, strict=True):
        apart = one.mean_g - mean
        spread = one.covariance_g2 + apart[:, :, None] * apart[:, None, :]
        covariance += mine[:, None, None] * spread
        noise += mine[:, None] * one.noise_g2
        gross += mine[:, None] * one.gross_probability
    given = np.empty_like(gross)
    np.put_along_axis(given, weighed.order, np.minimum(gross, 1.0), axis=1)
    return WeightForecast(
        age_d=at_age_d,
        mean_g=mean,
        covariance_g2=covariance,
        noise_g=np.sqrt(noise),
        gross_share=site.gross_share,
        gross_sd_g=prior.gross_sd_g,
        gross_probability=given,
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class _OfKind:
    """What would be forecast if all infants were of one kind; `steps` say how well it foretold."""

    mean_g: Floats
    covariance_g2: Floats
    noise_g2: Floats
    gross_probability: Floats
    steps: Floats


@dataclass(frozen=True, eq=False)
class _Joint:
    """Weights seen and asked about, laid out together: what does not depend on the kind of infant.

    Attributes:
        away: Weights less what the site expects, (n, m), g.
        mean_g: What it expects at the ages asked about, (n, h).
        walk: Covariances of the walk, spread 1: of the weights, of the answers with them, of the answers.
        shared: The same of the site's shift.
        ahead_d: The ages asked about, days, (n, h).
    """

    weighed: Weighed
    seen: npt.NDArray[np.bool_]
    away: Floats
    mean_g: Floats
    walk: tuple[Floats, Floats, Floats]
    shared: tuple[Floats, Floats, Floats]
    ahead_d: Floats

    @classmethod
    def of_weights(
        cls,
        prior: GrowthPrior,
        reference: WeightReference,
        weighed: Weighed,
        ahead_d: Floats,
        site: SiteShift,
    ) -> Self:
        """Of weights in the order of age."""
        seen = np.isfinite(weighed.weight_g)
        here = lay_out(prior, reference, weighed, np.where(seen, weighed.age_d, 0.0))
        there = lay_out(prior, reference, weighed, ahead_d)
        pairs = (here, here), (there, here), (there, there)
        cross = np.where(seen[:, None, :], 1.0, 0.0)
        walk = [walk_covariance(prior, a, b, 1.0) for a, b in pairs]
        shared = [shared_covariance(a, b, site) for a, b in pairs]
        return cls(
            weighed,
            seen,
            np.where(seen, weighed.weight_g - mean_of(here, site), 0.0),
            mean_of(there, site),
            (walk[0], walk[1] * cross, walk[2]),
            (shared[0], shared[1] * cross, shared[2]),
            ahead_d,
        )


def _of_kind(prior: GrowthPrior, joint: _Joint, site: SiteShift) -> _OfKind:
    """The forecast if all infants were of the kind of which this is believed."""
    here, cross, variance = (
        site.spread**2 * walk + shared
        for walk, shared in zip(joint.walk, joint.shared, strict=True)
    )
    plain, together = error_variance(prior, joint.weighed, site)
    here += together
    gross_share, gross_g2 = site.gross_share, prior.gross_sd_g**2
    noise, gross = weigh_down(prior, here, joint.away, joint.seen, plain, gross_share)
    gain = cross @ invert(here, joint.seen, noise)
    return _OfKind(
        mean_g=joint.mean_g + np.einsum("nhm,nm->nh", gain, joint.away),
        covariance_g2=variance - gain @ np.swapaxes(cross, 1, 2),
        noise_g2=prior.reading_noise_g(joint.ahead_d, site.noise_g) ** 2,
        gross_probability=gross,
        steps=sweep(joint.away, here, plain, joint.seen, gross_share, gross_g2),
    )


def _check_ages(reference: WeightReference, at_age_d: Floats) -> None:
    """Refuse ages at which there is no reference."""
    if not (np.isfinite(at_age_d).all() and (at_age_d >= 0).all()) or (
        at_age_d.size and float(at_age_d.max()) > reference.last_day
    ):
        raise InputError(
            Problem(
                code="FORECAST-002",
                what=message("A forecast was asked for an age at which there is no reference."),
                why=message(
                    "The reference runs from birth to {days} days.", days=reference.last_day
                ),
                fix=message("Ask for an age within it."),
            )
        )


def error_variance(prior: GrowthPrior, weighed: Weighed, site: SiteShift) -> tuple[Floats, Floats]:
    """Variance of each weight's own error (n, m), and covariance of what they share (n, m, m), g2.

    What is shared is the wander of neighbouring days and, in weighings of one hour, most of the
    rest: how full the infant was, what it wore, the scale. Both together are the noise of a reading.
    """
    age = np.where(np.isnan(weighed.age_d), np.inf, weighed.age_d)
    seen = np.isfinite(age)
    total_g = prior.reading_noise_g(np.where(seen, age, 0.0), site.noise_g)
    own: Floats = np.full(age.shape, site.noise_g**2)
    wander_g = np.sqrt(np.maximum(total_g**2 - own, 0.0))
    days = np.where(seen, age, 0.0)
    apart_d = np.abs(days[:, :, None] - days[:, None, :])
    shared = wander_g[:, :, None] * wander_g[:, None, :] * np.exp(-apart_d / prior.wander_days)
    together = _of_one_hour(age, prior.sitting_h / HOURS_PER_DAY)
    if together.any():
        in_one = prior.sitting_shared_fraction * site.noise_g**2 * together
        own = own - np.einsum("nmm->nm", in_one)
        shared = shared + in_one
    if weighed.extra_noise_g is not None:
        own = own + weighed.extra_noise_g**2
    return own, shared


def _of_one_hour(age_d: Floats, hour_d: float) -> Floats:
    """1 for each pair of weights of one sitting (n, m, m), and for each of them with itself.

    A sitting goes on as long as the next weight follows within the hour; a weight alone has zeros.
    """
    order = np.argsort(age_d, axis=1, kind="stable")
    ages = np.take_along_axis(age_d, order, axis=1)
    with np.errstate(invalid="ignore"):
        starts = ~(np.diff(ages, axis=1, prepend=-np.inf) <= hour_d)
    sitting = np.empty_like(order)
    np.put_along_axis(sitting, order, np.cumsum(starts, axis=1), axis=1)
    same = sitting[:, :, None] == sitting[:, None, :]
    alone = same.sum(axis=2) < 2
    found: Floats = np.where(alone[:, :, None], 0.0, same.astype(np.float64))
    return found


def mean_of(a: Grid, site: SiteShift) -> Floats:
    """What a site's infants weigh on average, shape (n, m), g."""
    how = "nmq,...q->nm" if site.mean.ndim == 1 else "nmq,nq->nm"
    found: Floats = a.mean_g + np.einsum(how, a.design_g, site.mean)
    return found


def shared_covariance(a: Grid, b: Grid, site: SiteShift) -> Floats:
    """Covariance of `a` with `b` by what is not known of the site's shift, (n, ma, mb), g2."""
    found: Floats = (a.design_g @ site.covariance) @ np.swapaxes(b.design_g, 1, 2)
    return found


def invert(covariance: Floats, seen: npt.NDArray[np.bool_], noise: Floats) -> Floats:
    """Inverse of covariance plus noise (n, m, m), with 1 on the diagonal where nothing was seen."""
    both = seen[:, :, None] & seen[:, None, :]
    m = covariance.shape[-1]
    filled = np.where(both, covariance, 0.0)
    filled[:, np.arange(m), np.arange(m)] += np.where(seen, noise, 1.0)
    found: Floats = np.linalg.inv(filled)
    return found


def weigh_down(
    prior: GrowthPrior,
    covariance: Floats,
    residual: Floats,
    seen: npt.NDArray[np.bool_],
    noise: Floats,
    gross_share: float,
) -> tuple[Floats, Floats]:
    """Effective noise variance of each weight, and the probability that it is a gross error.

    Each weight is compared with what the infant's other weights and the prior expect of it; the
    two explanations (ordinary noise; ordinary noise plus a gross error) are weighed by Bayes' rule
    and the weight keeps the expected precision. A few rounds of this settle.
    """
    gross_variance = noise + prior.gross_sd_g**2
    gross = np.where(seen, gross_share, 0.0)
    effective = noise
    for _ in range(_ROBUST_ROUNDS):
        inverse = invert(covariance, seen, effective)
        own = np.einsum("nmm->nm", inverse)
        surprise = np.einsum("nmk,nk->nm", inverse, residual) / own
        rest = np.maximum(1.0 / own - effective, 0.0)
        log_ratio = 0.5 * (
            surprise**2 / (rest + noise)
            - surprise**2 / (rest + gross_variance)
            + np.log((rest + noise) / (rest + gross_variance))
        )
        odds = gross_share / (1 - gross_share) * np.exp(np.minimum(log_ratio, 50.0))
        gross = np.where(seen, odds / (1 + odds), 0.0)
        effective = 1.0 / ((1 - gross) / noise + gross / gross_variance)
    return effective, gross
