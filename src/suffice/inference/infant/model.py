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
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from suffice.inference.evidence import Evidence, MilkGiven
from suffice.inference.infant.population import Population

Floats = NDArray[np.float64]
After = tuple[float, float, float]
"""An age in days, and the milk given from then on: mL and kcal per day."""
Supposed = tuple[tuple[MilkGiven, ...], After | None]
"""Milk given, and what is supposed from an age on."""

SUPPLY, ONSET, WIDTH, EXCESS, EXCESS_TIME, NEED, DENSITY, COST, BIRTH = range(9)
LATENTS_COUNT = 9
"""Latents before the optional ones (scale offsets, diaper habits) and the drift's knots."""
LEAST_BORN_FRACTION = 0.1
"""Part of the measured birth weight below which no draw of the true one goes."""

_GRAMS = 1000.0  # g per kg
_STEPS_D = ((5.0, 0.25), (8.0, 0.5), (14.0, 1.0), (400.0, 2.0))
"""Steps of the grid: until which day, how wide. The first days change fast."""
ONSET_OVER_D = 16.0  # lactogenesis is complete, even six SDs late
EXCESS_OVER_D = 20.0  # the excess left is below 1 g


def _grid() -> Floats:
    """The ages on which every course is computed, days."""
    starts = (0.0, *(until for until, _ in _STEPS_D[:-1]))
    pieces = [np.arange(a, until, step) for a, (until, step) in zip(starts, _STEPS_D, strict=True)]
    return np.concatenate(pieces)


_GRID_D = _grid()


def times_count(end_d: float) -> int:
    """How many ages of the grid reach to `end_d`, two at least."""
    return min(max(int(np.searchsorted(_GRID_D, end_d)), 1) + 1, len(_GRID_D))


def longest_grid(knots: int, population: Population) -> int:
    """How many ages the longest grid has that so many knots of the drift reach."""
    return int(np.searchsorted(_GRID_D, (knots - 1) * population.drift_knot_d, side="right"))


def time_grid(end_d: float) -> Floats:
    """Ages from 0 to just beyond `end_d`, shape (n_times,)."""
    return _GRID_D[: times_count(end_d)]


def between(grid_d: Floats, at_d: Floats) -> Floats:
    """Weights that interpolate grid values linearly at `at_d`, shape (n_times, n_at)."""
    right = np.minimum(np.maximum(grid_d.searchsorted(at_d), 1), len(grid_d) - 1)
    low = grid_d[right - 1]
    share = (at_d - low) / (grid_d[right] - low)
    weights = np.zeros((len(grid_d), len(at_d)))
    columns = np.arange(len(at_d))
    weights[right - 1, columns] = 1.0 - share
    weights[right, columns] = share
    return weights


def _whole_cells(grid_d: Floats) -> Floats:
    """Weights that integrate straight lines between grid values from 0 to the start of each cell.

    Shape (n_times, n_times - 1).
    """
    steps = np.diff(grid_d)
    cells = np.arange(len(steps))
    halves = np.where(cells[:, None] < cells, steps[:, None] / 2.0, 0.0)
    weights = np.zeros((len(grid_d), len(steps)))
    weights[:-1] += halves
    weights[1:] += halves
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
    """Birth facts as the model uses them: g, and fractions where a fact is not known.

    `excess_log` is what the fluids given in labour add to the log of the excess fluid.
    """

    weight_g: float | None
    boy_fraction: float
    caesarean_fraction: float
    excess_log: float = 0.0

    @classmethod
    def from_evidence(cls, evidence: Evidence, population: Population) -> Birth:
        """The birth facts of the evidence; an unknown sex counts half, an unknown mode its share."""
        boy = {"male": 1.0, "female": 0.0, None: 0.5}[evidence.sex]
        caesarean = (
            population.caesarean_fraction
            if evidence.mode is None
            else float(evidence.mode == "caesarean")
        )
        fluids, wetter = evidence.intrapartum_fluids_ml, 0.0
        if fluids is not None:
            much = fluids > population.fluids_much_ml
            wetter = population.excess_much_fluids_log if much else population.excess_few_fluids_log
        return cls(evidence.birth_weight_g, boy, caesarean, (1.0 - caesarean) * wetter)


@dataclass(frozen=True, slots=True)
class Paths:
    """Courses of many draws at the times asked for; arrays (n_draws, n_at) unless said otherwise.

    Attributes:
        birth_kg: True birth weight, (n_draws, 1).
        tissue: x(t), kg per kg of birth weight.
        total: w(t), kg per kg of birth weight.
        breast_ml_kg_d: Intake at the breast, mL per kg of birth weight and day.
        need: eps, relative expenditure, (n_draws, 1).
        density: rho, relative milk energy, (n_draws, 1).
        cost_kcal_g: c, (n_draws, 1).
    """

    birth_kg: Floats
    tissue: Floats
    total: Floats
    breast_ml_kg_d: Floats
    need: Floats
    density: Floats
    cost_kcal_g: Floats


@dataclass(frozen=True, slots=True)
class Unfed:
    """Courses of many draws before any milk given is added; ages run down and draws across.

    Attributes:
        born, need, energy, cost, first: True birth weight, kg; eps; rho1 rho, kcal per mL; c, kcal per
            g; x(0); (n_draws,) each.
        drive: q exp(P) on the grid, (n_times, n_draws).
        breast: Intake at the breast, mL per kg of birth weight and day, (n_at, n_draws).
        total: F + G, kg per kg of birth weight, (n_at, n_draws).
        shrinks: exp(-P), (n_at, n_draws).
    """

    born: Floats
    need: Floats
    energy: Floats
    cost: Floats
    first: Floats
    drive: Floats
    breast: Floats
    total: Floats
    shrinks: Floats


@dataclass(frozen=True, slots=True)
class Clockwork:
    """What depends on the grid and the population alone; kept between infants.

    Attributes:
        grid_d: Ages, (n_times,).
        drift: Loading of the drift, (n_knots, n_times).
        intake: Loadings of the log intake, (n_times, n_knots + 7), see `intake_loadings`.
        onset: Loadings of lactogenesis while it is under way: 1 and t.
        excess: Loadings of the log excess while there is any: 1, t, P and 1.
        balance: Energy share and expenditure over 1000, (n_times, 2).
        whole_cells: Integral from 0 to the start of each cell, (n_times - 1, n_times).
        steps_d: Widths of the cells, (n_times - 1,).
    """

    grid_d: Floats
    drift: Floats
    intake: Floats
    onset: Floats
    excess: Floats
    balance: Floats
    whole_cells: Floats
    steps_d: Floats

    def integral_to(self, at_d: Floats) -> Floats:
        """Weights that integrate straight lines between grid values from 0 to `at_d`.

        Shape (n_at, n_times).
        """
        cell = np.minimum(self.grid_d.searchsorted(at_d, side="right") - 1, len(self.steps_d) - 1)
        weights = self.whole_cells[cell]
        rows = np.arange(len(at_d))
        step = self.steps_d[cell]
        share = (at_d - self.grid_d[cell]) / step
        later = 0.5 * step * share**2
        weights[rows, cell] += step * share - later
        weights[rows, cell + 1] += later
        return weights


def clocks(t: Floats, p: Population) -> tuple[Floats, Floats]:
    """Expenditure h(t), kcal per kg of present weight and day, and share of energy r(t)/rho1."""
    rise = p.expenditure_later - p.expenditure_birth
    missing = (p.density_later - p.density_birth) * np.exp(-t / p.density_d)
    return (
        p.expenditure_later - rise * np.exp(-t / p.expenditure_d),
        (p.density_later - missing) / p.density_later,
    )


def need_integral(t: Floats, p: Population) -> Floats:
    """Integral of h over 1000, from birth to the ages `t`."""
    rise = (p.expenditure_later - p.expenditure_birth) * p.expenditure_d
    return np.asarray((p.expenditure_later * t + rise * np.expm1(-t / p.expenditure_d)) / _GRAMS)


def intake_loadings(drift: Floats, t: Floats, need: Floats | float, p: Population) -> Floats:
    """What the log intake at ages `t` is made of, (n_ages, n_knots + 7).

    Columns: the drift's innovations, the tail of low supply, the logs of eps, rho1 rho and birth
    weight, sex, 1, and eps over the cost of tissue, which brings the factor exp(P).
    """
    loadings = np.empty((len(t), len(drift) + 7))
    loadings[:, :-7] = drift.T
    loadings[:, -7] = -p.supply_sd / p.supply_tail
    loadings[:, -6] = p.supply_follows_need
    loadings[:, -5] = -1.0
    loadings[:, -4] = p.supply_birth_weight_slope
    loadings[:, -3] = p.supply_boy
    loadings[:, -2] = np.log1p(-p.maturation_fraction * np.exp(-t / p.maturation_d))  # log M(t)
    loadings[:, -2] += (
        p.energy_log
        + p.supply_sd / p.supply_tail
        - p.supply_birth_weight_slope * np.log(p.birth_weight_reference_kg)
    )
    loadings[:, -1] = need
    return loadings


@lru_cache(maxsize=256)
def clockwork(count: int, population: Population) -> Clockwork:
    """The clockwork of the first `count` ages of the grid."""
    t = _GRID_D[:count]
    expenditure, energy_share = clocks(t, population)
    need = need_integral(t, population)
    drift = drift_matrix(t, population)
    ones = np.ones(count)
    early, wet = t[t <= ONSET_OVER_D], t <= EXCESS_OVER_D
    return Clockwork(
        t,
        drift,
        intake_loadings(drift, t, need, population),
        np.stack([ones[: len(early)], early], axis=1),
        np.stack([ones, t, need, ones], axis=1)[wet],
        np.stack([energy_share, expenditure], axis=1) / _GRAMS,
        _whole_cells(t).T.copy(),
        np.diff(t),
    )


@lru_cache(maxsize=64)
def log_normals(share: float, excess_log: float, p: Population) -> tuple[Floats, Floats]:
    """Log medians and log SDs of the log-normal factors of a course, (n_factors, 1) each.

    In the order of the latents from `SUPPLY` to `COST`. Three enter as their inverse: the tail of
    low supply, the width of lactogenesis, the time constant of the excess. `share` is that of
    caesarean births, `excess_log` what fluids in labour add.
    """
    onset = p.onset_vaginal_d + share * (p.onset_caesarean_d - p.onset_vaginal_d)
    excess = p.excess_vaginal + share * (p.excess_caesarean - p.excess_vaginal)
    excess *= float(np.exp(excess_log))
    factors = (
        (1.0, -p.supply_tail),
        (onset, p.onset_log_sd),
        (1.0 / p.onset_width_d, -p.onset_width_log_sd),
        (excess, p.excess_log_sd),
        (1.0 / p.excess_d, -p.excess_d_log_sd),
        (1.0, p.expenditure_log_sd),
        (p.density_later, p.density_log_sd),
        (p.tissue_cost, p.tissue_cost_log_sd),
    )
    medians, log_sds = np.array(factors).T[:, :, None]
    return np.log(medians), log_sds


@dataclass(slots=True)
class Course:
    """The model for one infant: everything that does not depend on the latents.

    Each part of the model is an exponential of columns that depend on age alone times rows that
    depend on the draw alone. Inside, ages run down and draws across: what belongs to a draw then
    meets every age in one long row, and the ages of the grid, on which the tissue is summed, lie
    as one block before those asked for.

    Attributes:
        population: The parameters.
        birth: Birth facts.
        at_d: Ages at which courses are asked for, (n_at,).
        milk: Milk given, as the evidence holds it.
        first_knot: Index of the first drift latent among the columns of z.
        given_after: Age from which the supposed rate holds, and that rate in mL and kcal per day.
    """

    population: Population
    birth: Birth
    at_d: Floats
    milk: tuple[MilkGiven, ...]
    first_knot: int
    given_after: After | None = None
    knots_count: int = field(init=False)
    given: Floats = field(init=False)
    """Milk given at the times asked for: mL/day and kcal/day, (2, n_at)."""
    _clock: Clockwork = field(init=False)
    _share: Floats = field(init=False)
    _given_grid: Floats | None = field(init=False)
    _log_normals: tuple[Floats, Floats] = field(init=False)
    _intake: Floats = field(init=False)
    _onset: Floats = field(init=False)
    _excess: Floats = field(init=False)
    _need_integral_at: Floats = field(init=False)
    _integral: Floats = field(init=False)

    def __post_init__(self) -> None:
        p, at, n_at = self.population, self.at_d, len(self.at_d)
        count = times_count(float(at.max()) if n_at else 0.0)
        clock = self._clock = clockwork(count, p)
        t = clock.grid_d
        self.knots_count = len(clock.drift)
        self._log_normals = log_normals(self.birth.caesarean_fraction, self.birth.excess_log, p)
        self._need_integral_at = need_integral(at, p)
        share = self._share = between(t, at)
        onset, excess = np.ones((n_at, 2)), np.zeros((n_at, 4))
        onset[:, 1] = np.minimum(at, ONSET_OVER_D)
        excess[:, 0], excess[:, 1] = 1.0, at
        intake = intake_loadings(clock.drift @ share, at, 0.0, p)
        self._intake = np.concatenate([clock.intake, intake])
        self._onset = np.concatenate([clock.onset, onset])
        self._excess = np.concatenate([clock.excess, excess])
        self._integral = clock.integral_to(at)
        self._given_grid, self.given = self._rates(self.milk, self.given_after)

    def _rates(
        self, milk: tuple[MilkGiven, ...], after: After | None
    ) -> tuple[Floats | None, Floats]:
        """Such milk as rates on the grid, None where there is none, and at the ages asked for."""
        if not milk and (after is None or after[1] <= 0.0):
            return None, np.zeros((2, len(self.at_d)))
        rates = milk_given_rate(milk, self._clock.grid_d, self.population)
        if after is not None:
            rates[:, self._clock.grid_d > after[0]] = np.array(after[1:])[:, None]
        return rates, rates @ self._share

    def birth_kg(self, z: Floats) -> Floats:
        """True birth weight of each draw, kg, shape (n_draws,)."""
        p = self.population
        if self.birth.weight_g is None:
            return p.birth_weight_mean_kg * np.exp(p.birth_weight_log_sd * z[:, BIRTH])
        measured = self.birth.weight_g + p.noise_birth_weight_g * z[:, BIRTH]
        return np.maximum(measured, LEAST_BORN_FRACTION * self.birth.weight_g) / _GRAMS

    def _breast_ml_kg_d(
        self, z: Floats, born: Floats, logs: Floats, factors: Floats, ratio: Floats
    ) -> Floats:
        """Intake at the breast, (n_times + n_at, n_draws); times exp(P) on the grid."""
        p, count = self.population, self.knots_count
        rows = np.empty((count + 7, len(z)))
        rows[:count] = z[:, self.first_knot : self.first_knot + count].T
        rows[-7] = factors[SUPPLY]
        rows[-6], rows[-5] = logs[NEED], logs[DENSITY]
        rows[-4] = np.log(born)
        rows[-3], rows[-2] = self.birth.boy_fraction - 0.5, 1.0
        rows[-1] = ratio
        breast = self._intake @ rows
        np.exp(breast, out=breast)

        pace = 0.5 * factors[WIDTH]
        onset = self._onset @ np.array((-pace * factors[ONSET], pace))
        np.tanh(onset, out=onset)  # the logistic function of twice its argument; cannot overflow
        onset *= 0.5 * (1.0 - p.colostrum_fraction)
        onset += 0.5 * (1.0 + p.colostrum_fraction)
        early, n_times = len(self._clock.onset), len(self._clock.grid_d)
        breast[:early] *= onset[:early]
        breast[n_times:] *= onset[early:]
        return breast

    def paths(self, z: Floats) -> Paths:
        """Courses for the latents `z`, shape (n_draws, n_latents)."""
        return self.fed(self.unfed(z))

    def unfed(self, z: Floats) -> Unfed:
        """What the latents `z` alone make of the courses, (n_draws, n_latents)."""
        clock, content = self._clock, self.population.content_fraction / _GRAMS
        n_times, n_wet = len(clock.grid_d), len(clock.excess)
        born = self.birth_kg(z)
        medians, sds = self._log_normals
        logs = z.T[SUPPLY:BIRTH] * sds + medians
        factors = np.exp(logs)
        need, energy, cost = factors[NEED], factors[DENSITY], factors[COST]
        ratio = need / cost
        breast = self._breast_ml_kg_d(z, born, logs, factors, ratio)
        # excess fluid; on the grid times eps exp(P) / c, as the tissue's equation needs it
        excess = self._excess @ np.array(
            (logs[EXCESS], -factors[EXCESS_TIME], ratio, logs[NEED] - logs[COST])
        )
        np.exp(excess, out=excess)
        first = 1.0 - factors[EXCESS] - content * breast[0]
        # q exp(P): energy taken less energy spent on what is no tissue, over 1000 c
        drive, breast = breast[:n_times], breast[n_times:]
        drive *= clock.balance @ np.array((energy / cost, -content * ratio))
        fluid, total = excess[:n_wet], excess[n_wet:]
        fluid *= clock.balance[:n_wet, 1:]
        drive[:n_wet] -= fluid
        total += content * breast
        shrinks = np.multiply.outer(self._need_integral_at, -ratio)
        np.exp(shrinks, out=shrinks)
        return Unfed(born, need, energy, cost, first, drive, breast, total, shrinks)

    def fed(self, unfed: Unfed, instead: Supposed | None = None) -> Paths:
        """The courses with the milk that the infant was given; or with other milk instead."""
        rates, given = (self._given_grid, self.given) if instead is None else self._rates(*instead)
        content, born = self.population.content_fraction / _GRAMS, unfed.born
        first, drive, total = unfed.first, unfed.drive, unfed.total
        if rates is not None:
            first = first - content * rates[0, 0] / born
            drive = drive + self._given_drive(rates, unfed)
            total = total + np.multiply.outer(given[0], content / born)
        tissue = self._integral @ drive
        tissue += first
        tissue *= unfed.shrinks
        density = unfed.energy / self.population.density_later
        alone = [one[:, None] for one in (born, unfed.need, density, unfed.cost)]
        return Paths(alone[0], tissue.T, (total + tissue).T, unfed.breast.T, *alone[1:])

    def _given_drive(self, rates: Floats, unfed: Unfed) -> Floats:
        """What milk given at such rates adds to the tissue's drive on the grid, (n_times, n_draws)."""
        clock, content = self._clock, self.population.content_fraction / _GRAMS
        (volume, energy), born, cost = rates, unfed.born, unfed.cost
        ratio = unfed.need / cost
        balance = np.stack([energy / _GRAMS, volume * clock.balance[:, 1]], axis=1)
        drive = np.exp(np.multiply.outer(clock.intake[:, -1], ratio))
        drive *= balance @ np.array((1.0 / (born * cost), -content * ratio / born))
        return np.asarray(drive)
