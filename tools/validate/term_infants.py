"""Simulated term infants drawn from the published WHO increments, as a second examiner.

No Gaussian process here: an infant's monthly gains are drawn one after the other from the skewed
LMS distributions of the WHO velocity standard, each tied to the gain before it (correlation as
published for Dutch infants) and to the weight at its start (so that weights keep the WHO SD).
Between the months the departure from the median runs straight with some wandering, so much that the
gains of fortnights vary as published (`WANDER_G`); newborns lose and regain by the published curves. Then readings are made with noise and gross errors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from suffice.inference.growth.prior import Floats, WeightReference
from suffice.knowledge.tables import growth_standards

MONTHS_D = np.array([0, 28, 61, 91, 122, 152, 183])
GAIN_CORRELATION = (0.45, 0.44, 0.35, 0.30, 0.25)
"""Of a month's gain with the month before: the first two as observed in SMOCC, then as the 1- and
2-month WHO SDs imply (their correlations fall from .4 to .15)."""
WANDER_G = 140.0
"""Wandering within a month, g: its SD in the middle is half of this. Of the multiples of 10 the one
with which the SDs of gain over 14 to 28, 28 to 42 and 42 to 60 days come nearest those of the WHO
increments (tests/oracle/inference/test_growth_published.py)."""
SLOW_WANDER_G = 70.0
"""SD of a wandering that lasts two weeks, g: the gains of fortnights then vary as much as with the other
(179, 159 and 190 g over 14 to 28, 28 to 42 and 42 to 60 days)."""


@dataclass(frozen=True)
class TermPopulation:
    """A population: growth z of its mean at some ages, days."""

    name: str
    says: str
    at_d: tuple[float, ...]
    mean_z: tuple[float, ...]


POPULATIONS = (
    TermPopulation(
        "WHO-like",
        "back at the WHO median by 4 weeks",
        (0, 1, 2, 3, 5, 7, 10, 14, 21, 28, 200),
        (0, -0.2, -0.35, -0.38, -0.3, -0.24, -0.17, -0.1, -0.05, 0, 0),
    ),
    TermPopulation(
        "slow start",
        "back at birth weight on day 9 to 10 and a third of an SD below the WHO median at 4 weeks",
        (0, 1, 2, 3, 5, 7, 10, 14, 21, 28, 60, 90, 200),
        (0, -0.23, -0.42, -0.46, -0.42, -0.4, -0.42, -0.42, -0.38, -0.33, -0.2, -0.12, 0),
    ),
    TermPopulation(
        "heavy at birth",
        "a quarter of an SD above the WHO median at birth, at it from the second week",
        (0, 1, 2, 3, 5, 7, 10, 14, 21, 28, 60, 200),
        (0.25, 0.03, -0.12, -0.15, -0.1, -0.05, -0.03, 0, 0, 0.02, 0.05, 0.05),
    ),
)


@dataclass(frozen=True)
class TermInfants:
    """True weights and readings (n, m) of simulated infants at the ages `age_d` (m,)."""

    male: Floats
    age_d: Floats
    true_g: Floats
    read_g: Floats


def simulate(
    population: TermPopulation,
    reference: WeightReference,
    age_d: Floats,
    *,
    count: int,
    seed: int,
    noise_g: float = 35.0,
    gross_share: float = 0.02,
    gross_sd_g: float = 250.0,
    wander_days: float | None = None,
) -> TermInfants:
    """`count` infants, half of them boys, read at the same ages.

    Wandering within a month is forgotten from one weight to the next, or in `wander_days`.
    """
    rng = np.random.default_rng(seed)
    male = np.repeat([1.0, 0.0], [count - count // 2, count // 2])
    monthly = _monthly_departures(reference, male, rng)
    between = np.array([np.interp(age_d, MONTHS_D, row) for row in monthly])
    between += _wander(age_d, rng, count, wander_days)
    median_g, sd_g = reference.at(male, np.broadcast_to(age_d, (count, len(age_d))))
    shape = np.interp(
        np.log1p(age_d / 5), np.log1p(np.array(population.at_d) / 5), population.mean_z
    )
    true = median_g + sd_g * shape + between
    read = true + noise_g * rng.normal(size=true.shape)
    gross = rng.random(true.shape) < gross_share
    read = read + gross * gross_sd_g * rng.normal(size=true.shape)
    return TermInfants(male=male, age_d=age_d, true_g=true, read_g=np.maximum(read, 500.0))


def _monthly_departures(
    reference: WeightReference, male: Floats, rng: np.random.Generator
) -> Floats:
    """Departure from the WHO median at each month, (n, months), g."""
    n = len(male)
    _, sd_g = reference.at(male, np.broadcast_to(MONTHS_D.astype(float), (n, len(MONTHS_D))))
    departure = np.zeros((n, len(MONTHS_D)))
    departure[:, 0] = sd_g[:, 0] * rng.normal(size=n)
    before = np.zeros(n)
    tied_before = np.zeros(n)  # correlation of the last gain with the weight at its end
    for k in range(len(MONTHS_D) - 1):
        gain_g, gain_sd = _gains(male, k)
        start, stop = sd_g[:, k], sd_g[:, k + 1]
        with_start = (stop**2 - start**2 - gain_sd**2) / (2 * start * gain_sd)
        with_before = np.full(n, GAIN_CORRELATION[k - 1] if k else 0.0)
        free = 1 - tied_before**2
        on_before = (with_before - with_start * tied_before) / free
        on_start = (with_start - with_before * tied_before) / free
        left = 1 - on_before * with_before - on_start * with_start
        score = (
            on_before * before
            + on_start * departure[:, k] / start
            + np.sqrt(np.maximum(left, 0.0)) * rng.normal(size=n)
        )
        departure[:, k + 1] = departure[:, k] + gain_g(score) - gain_g(np.zeros(n))
        tied_before = (with_start * start + gain_sd) / stop
        before = score
    return departure


def _gains(male: Floats, month: int):
    """The WHO gain of a month as a function of a standard normal score, and its SD (n,), g."""
    table = growth_standards().velocity
    row = int(np.flatnonzero((table.months == 1) & (table.start_day == MONTHS_D[month]))[0])
    sex = male.astype(int)
    median, cv = table.shifted_median_g[sex, row], table.cv[sex, row]
    skew, shift = table.skew[sex, row], float(table.shift_g[row])

    def gain_g(score: Floats) -> Floats:
        return median * np.maximum(1 + skew * cv * score, 1e-3) ** (1 / skew) - shift

    grid = np.linspace(-3.5, 3.5, 401)
    weight = np.exp(-(grid**2) / 2)
    spread = np.empty(len(male))
    for one in (0, 1):
        values = table.shifted_median_g[one, row] * np.maximum(
            1 + table.skew[one, row] * table.cv[one, row] * grid, 1e-3
        ) ** (1 / table.skew[one, row])
        mean = np.average(values, weights=weight)
        spread[sex == one] = np.sqrt(np.average((values - mean) ** 2, weights=weight))
    return gain_g, spread


def _wander(
    age_d: Floats, rng: np.random.Generator, count: int, wander_days: float | None
) -> Floats:
    """Newborn loss that differs between infants (SD 70 g on day 3), and wandering within months."""
    early = 70.0 * (age_d / 3) * np.exp(1 - age_d / 3)
    own = rng.normal(size=(count, 1)) * early
    if wander_days is not None:
        alike = np.exp(-np.abs(age_d[:, None] - age_d) / wander_days)
        root = np.linalg.cholesky(alike + 1e-9 * np.eye(len(age_d)))
        slow_g = SLOW_WANDER_G * np.sqrt(np.clip(wander_days / 14, 0.75, 1.5))
        from_birth = np.clip(age_d / 14, 0, 1)
        return own + slow_g * from_birth * (rng.normal(size=(count, len(age_d))) @ root.T)
    last = MONTHS_D[np.clip(np.searchsorted(MONTHS_D, age_d, side="right") - 1, 0, None)]
    following = MONTHS_D[np.clip(np.searchsorted(MONTHS_D, age_d, side="right"), 0, 6)]
    width = np.maximum(following - last, 1)
    part = np.clip((age_d - last) / width, 0, 1)
    bridge = WANDER_G * np.sqrt(part * (1 - part))
    return own + bridge * rng.normal(size=(count, len(age_d)))
