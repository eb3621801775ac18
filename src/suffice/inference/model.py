"""The course of weight and intake of one newborn, for many draws at once.

All is per kg of true birth weight; t is age in days; z are independent standard normal latents.

    w(t) = x(t) + F(t) + G(t),   W(t) = W0 w(t)
    F = f0 exp(-t/tau)                          excess fluid and meconium, f0 and tau log-normal
    G = kap I(t)/1000                           content of gut and bladder
    E = exp(lE + bW ln(W0/3.4) + bSex (boy-1/2) + sA g(z_supply) + bE se z_need + u(t)) L(t) M(t)
    g(z) = (1 - exp(-kA z))/kA                  long tail of low supply
    L = l0 + (1-l0) / (1 + exp(-(t-t50)/wd))    onset of lactation
    M = 1 - m1 exp(-t/tm)                       maturation
    u(t)                                        slow drift, AR(1) on knots, straight between them
    I = E/(rho1 rho) + supplements              mL per kg of birth weight and day
    dx/dt = (E r(t)/rho1 + s(t) - eps h(t) w)/(1000 c)

The last equation is linear in x, so with P = eps/(1000 c) int h and
q = (supply - eps h (F+G))/(1000 c):  x = exp(-P) (x(0) + int q exp(P)), by the trapezoid rule.

Source: equations and parameters of the topic `population` of the content store.
Limits: a term singleton's physiology; every other infant is an extrapolation.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from suffice.inference.evidence import Evidence, MilkGiven
from suffice.inference.population import Population

Floats = NDArray[np.float64]

SUPPLY, ONSET, WIDTH, EXCESS, EXCESS_TIME, NEED, DENSITY, COST, BIRTH = range(9)
LATENTS_COUNT = 9
"""Latents before the optional ones (scale offsets, diaper habits) and the drift's knots."""

_GRAMS = 1000.0  # g per kg
_FINE_UNTIL_D, _FINE_STEP_D = 6.0, 0.25  # the early days change fast
_MIDDLE_UNTIL_D, _MIDDLE_STEP_D = 9.0, 0.5


def time_grid(end_d: float) -> Floats:
    """Ages on which the course is reckoned, from 0 to just beyond `end_d`, shape (n_times,)."""
    middle = np.arange(_FINE_UNTIL_D, _MIDDLE_UNTIL_D, _MIDDLE_STEP_D)
    late = np.arange(_MIDDLE_UNTIL_D, max(end_d, _MIDDLE_UNTIL_D) + 1.0)
    grid = np.concatenate([np.arange(0.0, _FINE_UNTIL_D, _FINE_STEP_D), middle, late])
    return grid[: max(int(np.searchsorted(grid, end_d)), 1) + 1]


def between(grid_d: Floats, at_d: Floats) -> Floats:
    """Weights that interpolate grid values linearly at `at_d`, shape (n_times, n_at)."""
    right = np.clip(np.searchsorted(grid_d, at_d), 1, len(grid_d) - 1)
    share = (at_d - grid_d[right - 1]) / (grid_d[right] - grid_d[right - 1])
    weights = np.zeros((len(grid_d), len(at_d)))
    columns = np.arange(len(at_d))
    weights[right - 1, columns] = 1.0 - share
    weights[right, columns] = share
    return weights


def knots_count(end_d: float, population: Population) -> int:
    """How many knots the drift needs to reach `end_d`."""
    return max(int(np.ceil(end_d / population.drift_knot_d)), 1) + 1


def drift_matrix(grid_d: Floats, population: Population) -> Floats:
    """Loading of the drift u(t) on its independent innovations, shape (n_knots, n_times)."""
    count = knots_count(float(grid_d[-1]), population)
    knots = np.arange(count, dtype=np.float64) * population.drift_knot_d
    keep = np.exp(-population.drift_knot_d / population.drift_d)
    lag = np.arange(count)[None, :] - np.arange(count)[:, None]
    loading = np.where(lag >= 0, keep ** np.maximum(lag, 0), 0.0)
    loading[0] *= np.hypot(population.drift_sd, population.drift_start_sd)
    loading[1:] *= population.drift_sd * np.sqrt(1.0 - keep**2)
    return np.asarray(loading @ between(knots, grid_d))


def milk_given_rate(milk: tuple[MilkGiven, ...], grid_d: Floats, population: Population) -> Floats:
    """Milk given other than at the breast as rates on the grid, shape (2, n_times).

    Row 0 is mL/day, row 1 kcal/day. Each volume is spread evenly over the 24 h around it, so that
    the rate half a day before now is what was given in the last 24 h.
    """
    rates = np.zeros((2, len(grid_d)))
    if milk:
        age = np.array([given.age_d for given in milk])
        volume = np.array([given.volume_ml for given in milk])
        density = [
            population.given_milk_density if given.kcal_per_ml is None else given.kcal_per_ml
            for given in milk
        ]
        edges = np.concatenate([[grid_d[0]], (grid_d[1:] + grid_d[:-1]) / 2, [grid_d[-1]]])
        start = np.maximum(age - 0.5, 0.0)[:, None]
        spread = np.clip((edges[None, :] - start) / (age[:, None] + 0.5 - start), 0.0, 1.0)
        cell = np.diff(spread, axis=1) / np.maximum(np.diff(edges), 1e-9)
        rates[0] = volume @ cell
        rates[1] = (volume * np.array(density)) @ cell
    return rates


@dataclass(frozen=True, slots=True)
class Birth:
    """Birth facts as the model uses them: g, and fractions where a fact is not known."""

    weight_g: float | None
    boy_fraction: float
    caesarean_fraction: float

    @classmethod
    def of(cls, evidence: Evidence, population: Population) -> Birth:
        """The birth facts of the evidence; an unknown sex counts half, an unknown mode its share."""
        boy = {"male": 1.0, "female": 0.0, None: 0.5}[evidence.sex]
        caesarean = (
            population.caesarean_fraction
            if evidence.mode is None
            else float(evidence.mode == "caesarean")
        )
        return cls(evidence.birth_weight_g, boy, caesarean)


@dataclass(frozen=True, slots=True)
class Paths:
    """Courses of many draws; all arrays (n_draws, n_times) but `birth_kg` (n_draws,).

    Attributes:
        birth_kg: True birth weight.
        tissue: x(t), kg per kg of birth weight.
        total: w(t), kg per kg of birth weight.
        breast_ml_kg_d: Intake at the breast, mL per kg of birth weight and day.
        need_kcal_kg: eps, relative expenditure, shape (n_draws, 1).
        density: rho, relative milk energy, shape (n_draws, 1).
        cost_kcal_g: c, shape (n_draws, 1).
    """

    birth_kg: Floats
    tissue: Floats
    total: Floats
    breast_ml_kg_d: Floats
    need: Floats
    density: Floats
    cost_kcal_g: Floats


@dataclass(slots=True)
class Course:
    """The model on one grid for one infant: everything that does not depend on the latents.

    Attributes:
        population: The parameters.
        birth: Birth facts.
        grid_d: Ages, shape (n_times,).
        given: Milk given, mL/day and kcal/day, shape (2, n_times).
        first_knot: Index of the first drift latent among the columns of z.
    """

    population: Population
    birth: Birth
    grid_d: Floats
    given: Floats
    first_knot: int
    drift: Floats = field(init=False)
    expenditure: Floats = field(init=False)
    """h(t), kcal per kg of present weight and day, (n_times,)."""
    _need_integral: Floats = field(init=False)
    _supply_shape: Floats = field(init=False)
    energy_share: Floats = field(init=False)
    """r(t)/rho1, (n_times,)."""
    _steps: Floats = field(init=False)

    def __post_init__(self) -> None:
        p, t = self.population, self.grid_d
        self.drift = drift_matrix(t, p)
        decay = np.exp(-t / p.expenditure_d)
        rise = p.expenditure_later - p.expenditure_birth
        self.expenditure = p.expenditure_later - rise * decay
        self._need_integral = (
            p.expenditure_later * t - rise * p.expenditure_d * (1.0 - decay)
        ) / _GRAMS
        self._supply_shape = np.log1p(-p.maturation_fraction * np.exp(-t / p.maturation_d))
        density = p.density_birth + (p.density_later - p.density_birth) * (
            1.0 - np.exp(-t / p.density_d)
        )
        self.energy_share = density / p.density_later
        self._steps = np.diff(t) / 2

    def birth_kg(self, z: Floats) -> Floats:
        """True birth weight of each draw, kg, shape (n_draws,)."""
        p = self.population
        if self.birth.weight_g is None:
            return p.birth_weight_mean_kg * np.exp(p.birth_weight_log_sd * z[:, BIRTH])
        measured = self.birth.weight_g + p.noise_birth_weight_g * z[:, BIRTH]
        return np.maximum(measured, 0.1 * self.birth.weight_g) / _GRAMS

    def breast_energy(self, z: Floats, birth_kg: Floats) -> Floats:
        """Energy supplied at the breast, kcal/kg/day, shape (n_draws, n_times)."""
        p, born = self.population, self.birth
        lasting = (1.0 - np.exp(-p.supply_tail * z[:, SUPPLY])) / p.supply_tail
        level = (
            p.energy_log
            + p.supply_birth_weight_slope * np.log(birth_kg / p.birth_weight_reference_kg)
            + p.supply_boy * (born.boy_fraction - 0.5)
            + p.supply_sd * lasting
            + p.supply_follows_need * p.expenditure_log_sd * z[:, NEED]
        )
        knots = z[:, self.first_knot : self.first_knot + len(self.drift)]
        logs = knots @ self.drift
        logs += level[:, None]
        logs += self._supply_shape
        onset = p.onset_vaginal_d + born.caesarean_fraction * (
            p.onset_caesarean_d - p.onset_vaginal_d
        )
        t50 = onset * np.exp(p.onset_log_sd * z[:, ONSET])[:, None]
        width = p.onset_width_d * np.exp(p.onset_width_log_sd * z[:, WIDTH])[:, None]
        start = np.exp(np.minimum((t50 - self.grid_d) / width, 500.0))
        start += 1.0
        np.divide(1.0 - p.colostrum_fraction, start, out=start)
        start += p.colostrum_fraction
        np.exp(logs, out=logs)
        logs *= start
        return logs

    def paths(self, z: Floats) -> Paths:
        """Courses for the latents `z`, shape (n_draws, n_latents)."""
        p, born, t = self.population, self.birth, self.grid_d
        birth_kg = self.birth_kg(z)
        energy = self.breast_energy(z, birth_kg)
        density = np.exp(p.density_log_sd * z[:, DENSITY])[:, None]
        need = np.exp(p.expenditure_log_sd * z[:, NEED])[:, None]
        cost = p.tissue_cost * np.exp(p.tissue_cost_log_sd * z[:, COST])[:, None]
        excess = p.excess_vaginal + born.caesarean_fraction * (
            p.excess_caesarean - p.excess_vaginal
        )
        excess0 = excess * np.exp(p.excess_log_sd * z[:, EXCESS])[:, None]
        rate = np.exp(-p.excess_d_log_sd * z[:, EXCESS_TIME])[:, None] / p.excess_d
        fluid = np.exp(-rate * t)
        fluid *= excess0
        breast = energy / (p.density_later * density)
        fluid += (p.content_fraction / _GRAMS) * breast
        energy *= self.energy_share
        if self.given.any():
            given = self.given / birth_kg[:, None, None]
            fluid += (p.content_fraction / _GRAMS) * given[:, 0]
            energy += given[:, 1]
        grow = np.exp((need / cost) * self._need_integral)
        energy -= (need * self.expenditure) * fluid
        energy /= _GRAMS * cost
        energy *= grow
        tissue = np.empty_like(energy)
        tissue[:, 0] = 1.0 - fluid[:, 0]
        steps = (energy[:, 1:] + energy[:, :-1]) * self._steps
        np.cumsum(steps, axis=1, out=tissue[:, 1:])
        tissue[:, 1:] += tissue[:, :1]
        tissue /= grow
        return Paths(birth_kg, tissue, tissue + fluid, breast, need, density, cost)
