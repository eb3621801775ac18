"""Made-up weighings for the tests of the growth prior."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from suffice.inference.growth.prior import GrowthPrior, Weighed
from suffice.knowledge.growth_forecast import default_growth

NAN = np.nan
PRIOR, REFERENCE = default_growth()


def trusting(prior: GrowthPrior = PRIOR) -> GrowthPrior:
    """The prior without gross errors, and all infants of one kind: then everything is exactly Gaussian."""
    return replace(prior, gross_share=1e-300, own_spread_log_sd=0.0, own_noise_log_sd=0.0)


def weighed(
    age_d: list[list[float]],
    weight_g: list[list[float]],
    *,
    male: list[float] | None = None,
    gestation_days: list[float] | None = None,
) -> Weighed:
    """Infants with lists of ages and weights; girls and term unless said otherwise."""
    n = len(age_d)
    return Weighed(
        age_d=np.array(age_d, dtype=np.float64).reshape(n, -1),
        weight_g=np.array(weight_g, dtype=np.float64).reshape(n, -1),
        male_share=np.array(male or [0.0] * n),
        gestation_days=np.array(gestation_days or [280.0] * n),
        caesarean_share=np.full(n, 0.25),
    )


def three_infants() -> Weighed:
    """A term girl, a boy weighed often, and a small girl born at 36 weeks."""
    return weighed(
        [[0, 3, 10, NAN, NAN], [0, 2, 5, 9, 20], [0, 7, 28, NAN, NAN]],
        [
            [3300, 3100, 3350, NAN, NAN],
            [3600, 3390, 3450, 3580, 3990],
            [2300, 2250, 2800, NAN, NAN],
        ],
        male=[0.0, 1.0, 0.0],
        gestation_days=[280.0, 284.0, 252.0],
    )


def made_up_site(count: int, *, shift_g_per_day: float = 0.0, seed: int = 5) -> Weighed:
    """Infants drawn from the prior itself, all of them gaining `shift_g_per_day` more or less."""
    rng = np.random.default_rng(seed)
    age = np.broadcast_to(np.array([0.0, 7, 14, 28, 42]), (count, 5))
    male = (rng.random(count) < 0.5).astype(float)
    median, unit = REFERENCE.at(male, age)
    tau = PRIOR.tau(age[0])
    walk = np.linalg.cholesky(PRIOR.correlation(tau[:, None], tau[None, :]) + 1e-9 * np.eye(5))
    mean = np.interp(tau, PRIOR.tau(PRIOR.knots_days), PRIOR.mean_z)
    weight = median + unit * (mean + rng.normal(size=(count, 5)) @ walk.T)
    wander_g = np.sqrt(PRIOR.reading_noise_g(age[0], PRIOR.noise_g) ** 2 - PRIOR.noise_g**2 + 1e-9)
    alike = np.exp(-np.abs(age[0][:, None] - age[0]) / PRIOR.wander_days)
    wander = wander_g * (rng.normal(size=(count, 5)) @ np.linalg.cholesky(alike).T)
    weight = weight + shift_g_per_day * age + PRIOR.noise_g * rng.normal(size=age.shape) + wander
    return Weighed(
        age_d=age,
        weight_g=weight,
        male_share=male,
        gestation_days=np.full(count, 280.0),
        caesarean_share=np.zeros(count),
    )
