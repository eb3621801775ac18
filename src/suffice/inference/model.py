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
from suffice.inference.population import Population

Floats = NDArray[np.float64]

SUPPLY, ONSET, WIDTH, EXCESS, EXCESS_TIME, NEED, DENSITY, COST, BIRTH = range(9)
LATENTS_COUNT = 9
"""Latents before the optional ones (scale offsets, diaper habits) and the drift's knots."""

_GRAMS = 1000.0  # g per kg
_STEPS_D = ((5.0, 0.25), (8.0, 0.5), (14.0, 1.0), (400.0, 2.0))
"""Steps of the grid: until which day, how wide. The first days change fast."""
_ONSET_OVER_D = 16.0  # lactogenesis is complete, even six SDs late
_EXCESS_OVER_D = 20.0  # the excess left is below 1 g


def _grid() -> Floats:
    """The ages on which every course is reckoned, days."""
    starts = (0.0, *(until for until, _ in _STEPS_D[:-1]))
    pieces = [np.arange(a, until, step) for a, (until, step) in zip(starts, _STEPS_D, strict=True)]
    return np.concatenate(pieces)


_GRID_D = _grid()


def times_count(end_d: float) -> int:
    """How many ages of the grid reach to `end_d`, two at least."""
    return min(max(int(np.searchsorted(_GRID_D, end_d)), 1) + 1, len(_GRID_D))


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
    def of(cls, evidence: Evidence, population: Population) -> Birth:
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
class _Clockwork:
    """What depends on the grid and the population alone; kept between infants.

    Attributes:
        grid_d: Ages, (n_times,).
        expenditure: h(t), (n_times,).
        energy_share: r(t)/rho1, (n_times,).
        need_integral: Integral of h over 1000, (n_times,).
        drift: Loading of the drift, (n_knots, n_times).
        supply_rows: Rows by which the columns of the log supply are multiplied.
        onset_rows: 1 and t while lactogenesis is under way.
        excess_rows: 1, t and the need integral while there is excess fluid.
        whole_cells: Integral from 0 to the start of each cell, (n_times, n_times - 1).
        steps_d: Widths of the cells, (n_times - 1,).
    """

    grid_d: Floats
    expenditure: Floats
    energy_share: Floats
    need_integral: Floats
    drift: Floats
    supply_rows: Floats
    onset_rows: Floats
    excess_rows: Floats
    whole_cells: Floats
    steps_d: Floats

    def integral_to(self, at_d: Floats) -> Floats:
        """Weights that integrate straight lines between grid values from 0 to `at_d`.

        Shape (n_times, n_at).
        """
        cell = np.minimum(self.grid_d.searchsorted(at_d, side="right") - 1, len(self.steps_d) - 1)
        weights = self.whole_cells.take(cell, axis=1)  # row by row, as sums expect it
        columns = np.arange(len(at_d))
        step = self.steps_d[cell]
        share = (at_d - self.grid_d[cell]) / step
        squared = share**2
        weights[cell, columns] += step * (share - squared / 2.0)
        weights[cell + 1, columns] += step * squared / 2.0
        return weights


def _clocks(t: Floats, p: Population) -> tuple[Floats, Floats, Floats]:
    """What depends on age alone: h(t), r(t)/rho1 and the integral of h over 1000."""
    decay = np.exp(-t / p.expenditure_d)
    rise = p.expenditure_later - p.expenditure_birth
    integral = p.expenditure_later * t - rise * p.expenditure_d * (1.0 - decay)
    density = p.density_birth + (p.density_later - p.density_birth) * (
        1.0 - np.exp(-t / p.density_d)
    )
    return p.expenditure_later - rise * decay, density / p.density_later, integral / _GRAMS


def _mature(t: Floats, p: Population) -> Floats:
    """Log of the maturation M(t)."""
    return np.asarray(np.log1p(-p.maturation_fraction * np.exp(-t / p.maturation_d)))


@lru_cache(maxsize=256)
def _clockwork(count: int, population: Population) -> _Clockwork:
    """The clockwork of the first `count` ages of the grid."""
    t = _GRID_D[:count]
    expenditure, energy_share, need_integral = _clocks(t, population)
    drift = drift_matrix(t, population)
    supply_rows = np.vstack([drift, np.ones(count), _mature(t, population), need_integral])
    early, wet = t[t <= _ONSET_OVER_D], t <= _EXCESS_OVER_D
    onset_rows = np.vstack([np.ones(len(early)), early])
    excess_rows = np.vstack([np.ones(wet.sum()), t[wet], need_integral[wet]])
    return _Clockwork(
        t,
        expenditure,
        energy_share,
        need_integral,
        drift,
        supply_rows,
        onset_rows,
        excess_rows,
        _whole_cells(t),
        np.diff(t),
    )


@dataclass(slots=True)
class Course:
    """The model for one infant: everything that does not depend on the latents.

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
    given_after: tuple[float, float, float] | None = None
    knots_count: int = field(init=False)
    expenditure: Floats = field(init=False)
    """h(t) at the times asked for, kcal per kg of present weight and day, (n_at,)."""
    energy_share: Floats = field(init=False)
    """r(t)/rho1 at the times asked for, (n_at,)."""
    given: Floats = field(init=False)
    """Milk given at the times asked for: mL/day and kcal/day, (2, n_at)."""
    _clock: _Clockwork = field(init=False)
    _given_grid: Floats | None = field(init=False)
    _supply_rows_at: Floats = field(init=False)
    _onset_rows_at: Floats = field(init=False)
    _excess_rows_at: Floats = field(init=False)
    _need_integral_at: Floats = field(init=False)
    _sums: Floats = field(init=False)
    _excess_sums: Floats = field(init=False)
    _given_sums: Floats = field(init=False)

    def __post_init__(self) -> None:
        p, at = self.population, self.at_d
        count = times_count(float(at.max()) if len(at) else 0.0)
        clock = self._clock = _clockwork(count, p)
        t = clock.grid_d
        self.knots_count = len(clock.drift)
        self.expenditure, self.energy_share, self._need_integral_at = _clocks(at, p)
        ones = np.ones(len(at))
        share = between(t, at)
        self._supply_rows_at = np.vstack([clock.drift @ share, ones, _mature(at, p)])
        self._onset_rows_at = np.vstack([ones, np.minimum(at, _ONSET_OVER_D)])
        self._excess_rows_at = np.vstack([ones, at])
        integral = clock.integral_to(at)
        need = clock.expenditure[:, None] * integral
        self._sums = np.hstack([clock.energy_share[:, None] * integral, need])
        self._excess_sums = need[: clock.excess_rows.shape[1]]
        self.given = np.zeros((2, len(at)))
        self._given_grid = None
        after = self.given_after
        if self.milk or (after is not None and after[1] > 0.0):
            rates = milk_given_rate(self.milk, t, p)
            if after is not None:
                rates[:, t > after[0]] = np.array(after[1:])[:, None]
            self._given_grid = rates
            self.given = rates @ share
            self._given_sums = np.hstack([rates[1][:, None] * integral, rates[0][:, None] * need])

    def birth_kg(self, z: Floats) -> Floats:
        """True birth weight of each draw, kg, shape (n_draws,)."""
        p = self.population
        if self.birth.weight_g is None:
            return p.birth_weight_mean_kg * np.exp(p.birth_weight_log_sd * z[:, BIRTH])
        measured = self.birth.weight_g + p.noise_birth_weight_g * z[:, BIRTH]
        return np.maximum(measured, 0.1 * self.birth.weight_g) / _GRAMS

    def _supply_columns(self, z: Floats, birth_kg: Floats, ratio: Floats) -> Floats:
        """Factors of the log supply: drift, lasting level, maturation and need over cost."""
        p = self.population
        count = self.knots_count
        columns = np.empty((len(z), count + 3))
        columns[:, :count] = z[:, self.first_knot : self.first_knot + count]
        lasting = (1.0 - np.exp(-p.supply_tail * z[:, SUPPLY])) / p.supply_tail
        columns[:, count] = (
            p.energy_log
            + p.supply_birth_weight_slope * np.log(birth_kg / p.birth_weight_reference_kg)
            + p.supply_boy * (self.birth.boy_fraction - 0.5)
            + p.supply_sd * lasting
            + p.supply_follows_need * p.expenditure_log_sd * z[:, NEED]
        )
        columns[:, count + 1] = 1.0
        columns[:, count + 2] = ratio
        return columns

    def _onset(self, z: Floats, rows: Floats) -> Floats:
        """L(t) for the rows' ages, shape (n_draws, n_rows)."""
        p = self.population
        middle = p.onset_vaginal_d + self.birth.caesarean_fraction * (
            p.onset_caesarean_d - p.onset_vaginal_d
        )
        columns = np.empty((len(z), 2))
        columns[:, 1] = -np.exp(-p.onset_width_log_sd * z[:, WIDTH]) / p.onset_width_d
        columns[:, 0] = -middle * np.exp(p.onset_log_sd * z[:, ONSET]) * columns[:, 1]
        onset = columns @ rows
        np.minimum(onset, 500.0, out=onset)
        np.exp(onset, out=onset)
        onset += 1.0
        np.divide(1.0 - p.colostrum_fraction, onset, out=onset)
        onset += p.colostrum_fraction
        return onset

    def paths(self, z: Floats) -> Paths:
        """Courses for the latents `z`, shape (n_draws, n_latents)."""
        p, n_at = self.population, len(self.at_d)
        born = self.birth_kg(z)
        density = np.exp(p.density_log_sd * z[:, DENSITY])[:, None]
        need = np.exp(p.expenditure_log_sd * z[:, NEED])[:, None]
        cost = p.tissue_cost * np.exp(p.tissue_cost_log_sd * z[:, COST])[:, None]
        ratio = need / cost
        supply = self._supply_columns(z, born, ratio[:, 0])

        grown = supply @ self._clock.supply_rows
        np.exp(grown, out=grown)
        onset_rows = self._clock.onset_rows
        grown[:, : onset_rows.shape[1]] *= self._onset(z, onset_rows)

        excess = p.excess_vaginal + self.birth.caesarean_fraction * (
            p.excess_caesarean - p.excess_vaginal
        )
        fluid = np.empty((len(z), 3))
        fluid[:, 0] = np.log(excess) + self.birth.excess_log + p.excess_log_sd * z[:, EXCESS]
        fluid[:, 1] = -np.exp(-p.excess_d_log_sd * z[:, EXCESS_TIME]) / p.excess_d
        fluid[:, 2] = ratio[:, 0]
        wet = fluid @ self._clock.excess_rows
        np.exp(wet, out=wet)

        birth_kg = born[:, None]
        content = p.content_fraction / _GRAMS
        milk = content / (p.density_later * density)
        sums = grown @ self._sums
        held = wet[:, :1] + milk * grown[:, :1]
        tissue = sums[:, :n_at] - need * (milk * sums[:, n_at:] + wet @ self._excess_sums)
        if self._given_grid is not None:
            held += content * self._given_grid[0, 0] / birth_kg
            grow = np.exp(ratio * self._clock.need_integral)
            given = grow @ self._given_sums
            tissue += (given[:, :n_at] - (need * content) * given[:, n_at:]) / birth_kg
        tissue /= _GRAMS * cost
        tissue += 1.0 - held
        tissue *= np.exp(-ratio * self._need_integral_at)

        breast = supply[:, :-1] @ self._supply_rows_at
        np.exp(breast, out=breast)
        breast *= self._onset(z, self._onset_rows_at)
        breast /= p.density_later * density
        total = fluid[:, :2] @ self._excess_rows_at
        np.exp(total, out=total)
        total += content * breast
        if self._given_grid is not None:
            total += content * self.given[0] / birth_kg
        total += tissue
        return Paths(birth_kg, tissue, total, breast, need, density, cost)
