"""The courses of many infants in one pass: :mod:`suffice.inference.infant.model`, with an axis for infants.

Infants of one pass share the shape of their problem: how many weights they are laid out for, how many
knots of the drift, how many sittings. Each of them meets the same arithmetic in the same order whoever
else is in the pass: an operation is elementwise, or a product of matrices of a size that the infant
alone settles. So its numbers do not depend on the company, to the bit.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Self

import numpy as np
from numpy.typing import NDArray

from suffice.inference.infant.model import (
    BIRTH,
    COST,
    DENSITY,
    EXCESS,
    EXCESS_TIME,
    LEAST_BORN_FRACTION,
    NEED,
    ONSET,
    ONSET_OVER_D,
    SUPPLY,
    WIDTH,
    Clockwork,
    Floats,
    between,
    clockwork,
    intake_loadings,
    log_normals,
    longest_grid,
    need_integral,
)
from suffice.inference.infant.population import Population

Indices = NDArray[np.intp]
_GRAMS = 1000.0


class Rows:
    """Arrays whose first axis counts infants, some of whom can be taken out.

    Whatever is no array belongs to all of them.
    """

    def rows(self, chosen: Indices) -> Self:
        """The chosen infants."""
        held = {one.name: getattr(self, one.name) for one in fields(self)}  # type: ignore[arg-type]
        return type(self)(
            **{
                name: value[chosen]
                if isinstance(value, np.ndarray)
                else value.rows(chosen)
                if isinstance(value, Rows)
                else value
                for name, value in held.items()
            }
        )


@dataclass(frozen=True, slots=True, eq=False)
class ManyPaths:
    """Courses of many draws of n infants at the ages asked for.

    Attributes:
        birth_kg: True birth weight, (n, 1, n_draws).
        total: w(t), kg per kg of birth weight, (n, n_at, n_draws).
        breast_ml_kg_d: Intake at the breast, mL per kg of birth weight and day, (n, n_at, n_draws).
        factors: The log-normal factors in the order of the latents from `SUPPLY`, (n, 8, n_draws).
    """

    birth_kg: Floats
    total: Floats
    breast_ml_kg_d: Floats
    factors: Floats

    @property
    def weight_g(self) -> Floats:
        """The true weight, g, (n, n_at, n_draws)."""
        return _GRAMS * self.birth_kg * self.total


@dataclass(frozen=True, eq=False)
class ManyCourses(Rows):
    """The model for n infants of equal shape; what does not depend on the latents.

    Attributes:
        population: The parameters.
        clock: The clockwork of their grid.
        first_knot: Index of the first latent of the drift.
        birth_weight_g: Measured birth weight, (n,); nan where it is not known.
        boy: (n,): 1 a boy, 0 a girl, one half not known.
        log_medians: Of the log-normal factors, (n, 8, 1).
        intake: Loadings of the log intake at the ages asked for, (n, n_at, n_knots + 7).
        onset: Those ages, as far as lactogenesis is under way, (n, n_at, 1).
        excess: Loadings of the log excess there, (n, n_at, 4).
        need_integral: Integral of the expenditure to them, (n, n_at, 1).
        integral: What integrates grid values to them, (n, n_at, n_times).
    """

    population: Population
    clock: Clockwork
    first_knot: int
    birth_weight_g: Floats
    boy: Floats
    log_medians: Floats
    intake: Floats
    onset: Floats
    excess: Floats
    need_integral: Floats
    integral: Floats

    @classmethod
    def laid_out(
        cls,
        population: Population,
        *,
        at_d: Floats,
        knots: int,
        first_knot: int,
        birth_weight_g: Floats,
        boy: Floats,
        caesarean: Floats,
    ) -> Self:
        """The model at the ages `at_d` (n, n_at), which so many knots of the drift reach."""
        n, n_at = at_d.shape
        clock = clockwork(longest_grid(knots, population), population)
        at = at_d.ravel()
        drift = clock.drift @ between(clock.grid_d, at)
        medians, _ = _factors(population)
        excess = np.zeros((n * n_at, 4))
        excess[:, 0] = 1.0
        excess[:, 1] = at
        which = np.where(caesarean == 1.0, 1, np.where(caesarean == 0.0, 0, 2))
        return cls(
            population,
            clock,
            first_knot,
            birth_weight_g,
            boy,
            medians[which],
            intake_loadings(drift, at, 0.0, population).reshape(n, n_at, -1),
            np.minimum(at, ONSET_OVER_D).reshape(n, n_at, 1),
            excess.reshape(n, n_at, 4),
            need_integral(at, population).reshape(n, n_at, 1),
            clock.integral_to(at).reshape(n, n_at, -1),
        )

    @property
    def latents_count(self) -> int:
        """How many latents a draw has."""
        return self.first_knot + len(self.clock.drift)

    def birth_kg(self, z: Floats) -> Floats:
        """True birth weight of each draw, kg, (n, 1, n_draws)."""
        p, measured = self.population, self.birth_weight_g[:, None, None]
        latent = z[:, BIRTH : BIRTH + 1]
        unknown = p.birth_weight_mean_kg * np.exp(p.birth_weight_log_sd * latent)
        known = np.maximum(
            measured + p.noise_birth_weight_g * latent, LEAST_BORN_FRACTION * measured
        )
        return np.where(np.isnan(measured), unknown, known / _GRAMS)

    def paths(self, z: Floats, until: int | None = None) -> ManyPaths:
        """Courses for the latents `z`, (n, n_latents, n_draws), at the first `until` ages."""
        clock, content = self.clock, self.population.content_fraction / _GRAMS
        wet = len(clock.excess)
        born = self.birth_kg(z)
        logs = z[:, SUPPLY:BIRTH] * _factors(self.population)[1] + self.log_medians
        factors = np.exp(logs)
        need, energy, cost = (factors[:, at : at + 1] for at in (NEED, DENSITY, COST))
        ratio = need / cost
        rows = self._rows_of(z, born, logs, factors, ratio)
        breast, drive = self._breast(rows, factors, until)
        dried = np.concatenate(
            [
                logs[:, EXCESS : EXCESS + 1],
                -factors[:, EXCESS_TIME : EXCESS_TIME + 1],
                ratio,
                logs[:, NEED : NEED + 1] - logs[:, COST : COST + 1],
            ],
            axis=1,
        )
        fluid, total = _exp(clock.excess @ dried), _exp(self.excess[:, :until] @ dried)
        first = 1.0 - factors[:, EXCESS : EXCESS + 1] - content * drive[:, :1]
        drive *= clock.balance @ np.concatenate([energy / cost, -content * ratio], axis=1)
        fluid *= clock.balance[:wet, 1:]
        drive[:, :wet] -= fluid
        total += content * breast
        tissue = self.integral[:, :until] @ drive
        tissue += first
        tissue *= _exp(self.need_integral[:, :until] * -ratio)
        total += tissue
        return ManyPaths(born, total, breast, factors)

    def _rows_of(
        self, z: Floats, born: Floats, logs: Floats, factors: Floats, ratio: Floats
    ) -> Floats:
        """What the loadings of the intake meet, (n, n_knots + 7, n_draws)."""
        count = len(self.clock.drift)
        rows = np.empty((len(z), count + 7, z.shape[2]))
        rows[:, :count] = z[:, self.first_knot :]
        rows[:, -7] = factors[:, SUPPLY]
        rows[:, -6] = logs[:, NEED]
        rows[:, -5] = logs[:, DENSITY]
        rows[:, -4] = np.log(born[:, 0])
        rows[:, -3] = self.boy[:, None] - 0.5
        rows[:, -2] = 1.0
        rows[:, -1] = ratio[:, 0]
        return rows

    def _breast(self, rows: Floats, factors: Floats, until: int | None) -> tuple[Floats, Floats]:
        """Intake at the breast at the ages asked for; and on the grid, there times exp(P)."""
        clock = self.clock
        there, grid = _exp(self.intake[:, :until] @ rows), _exp(clock.intake @ rows)
        pace = 0.5 * factors[:, WIDTH : WIDTH + 1]
        start = -pace * factors[:, ONSET : ONSET + 1]
        early = len(clock.onset)
        there *= self._onset(start, pace, self.onset[:, :until])
        grid[:, :early] *= self._onset(start, pace, clock.onset[:, 1:])
        return there, grid

    def _onset(self, start: Floats, pace: Floats, at_d: Floats) -> Floats:
        """Lactogenesis at some ages: the logistic function of twice its argument; cannot overflow."""
        colostrum = self.population.colostrum_fraction
        onset = pace * at_d
        onset += start
        np.tanh(onset, out=onset)
        onset *= 0.5 * (1.0 - colostrum)
        onset += 0.5 * (1.0 + colostrum)
        return onset


def _exp(values: Floats) -> Floats:
    """The exponentials, in place."""
    return np.exp(values, out=values)


@lru_cache(maxsize=8)
def _factors(p: Population) -> tuple[Floats, Floats]:
    """Log medians (3, 8, 1) for vaginal, caesarean and unknown birth, and log SDs (8, 1)."""
    each = [log_normals(share, 0.0, p) for share in (0.0, 1.0, p.caesarean_fraction)]
    return np.stack([medians for medians, _ in each]), each[0][1]
