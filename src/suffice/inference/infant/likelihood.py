"""How likely the evidence is, given a course: one scalar predictor per reading.

Every reading depends on the latents through one number: a weight through the expected weight (g),
a test weighing through the log of the expected transfer, a diaper count through the log of its
mean. The log-likelihood of a reading, its slope and its expected curvature are functions of that
number alone, which keeps scoring and weighting vectorised over draws and readings.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from suffice.inference.evidence import (
    DiaperCount,
    Evidence,
    MilkGiven,
    Scale,
    TestWeighing,
    WeightReading,
)
from suffice.inference.infant.model import LATENTS_COUNT, Birth, Course, Floats
from suffice.inference.infant.population import Population
from suffice.inference.infant.reading_error import (
    DiaperCounts,
    SettledTransfers,
    TransferTables,
    WeightErrors,
    ordinary_variance,
    shared_variance,
    sittings,
)

AReading = TypeVar("AReading", WeightReading, TestWeighing, DiaperCount, MilkGiven)


@dataclass(slots=True)
class Likelihood:
    """The evidence of one infant, ready to be scored against courses.

    Latent columns: the course's nine, then offsets of scales and of sittings, then diaper habits, then
    the drift.
    Readings after `now_d` are left out; the rest are put in order of age and id, so that the
    order of entries cannot matter.
    """

    evidence: Evidence
    population: Population
    course: Course = field(init=False)
    weights: tuple[WeightReading, ...] = field(init=False)
    errors: WeightErrors = field(init=False)
    transfers: TransferTables = field(init=False)
    counts: DiaperCounts = field(init=False)
    latents_count: int = field(init=False)
    readings: tuple[tuple[str, str], ...] = field(init=False)
    """Kind and id of each reading, in the order of the predictors."""
    observed_g: Floats = field(init=False)
    _offsets: Floats = field(init=False)

    def __post_init__(self) -> None:
        evidence, p = self.evidence, self.population
        self.weights = self._in_order(evidence.weights)
        tests = self._in_order(evidence.test_weighings)
        diapers = self._in_order(evidence.diapers)
        scales = {scale.name: scale for scale in evidence.scales}
        self.errors = WeightErrors.from_weights(self.weights, scales, p)
        self.transfers = TransferTables.from_tests(tests, evidence.feeds_per_day, p)
        self.counts = DiaperCounts.from_counts(diapers, p)
        self.observed_g = np.array([r.weight_g for r in self.weights], dtype=np.float64)
        self._offsets = np.concatenate([self._scale_offsets(scales), self._sitting_offsets()])
        middles = [
            *(r.age_d for r in self.weights),
            *(max(t.age_d - 0.5 * t.whole_day, 0.0) for t in tests),
            *(max(d.age_d - d.span_d / 2, 0.0) for d in diapers),
        ]
        first_knot = LATENTS_COUNT + len(self._offsets) + len(self.counts.kinds)
        self.course = Course(
            p,
            Birth.from_evidence(evidence, p),
            np.array(middles, dtype=np.float64),
            self._in_order(evidence.milk_given),
            first_knot,
        )
        self.latents_count = first_knot + self.course.knots_count
        self.readings = (
            *(("weight", r.id) for r in self.weights),
            *(("test weighing", t.id) for t in tests),
            *((d.kind, d.id) for d in diapers),
        )

    def all_tests_right(self) -> SettledTransfers:
        """The test weighings as if it were settled that none is a gross error."""
        tests = self._in_order(self.evidence.test_weighings)
        return SettledTransfers.all_right(tests, self.evidence.feeds_per_day, self.population)

    def _in_order(self, readings: tuple[AReading, ...]) -> tuple[AReading, ...]:
        """The readings up to now, by age; ties in an order that entry cannot change."""
        known = [one for one in readings if one.age_d <= self.evidence.now_d]
        if len({(one.age_d, one.id) for one in known}) < len(known):  # seldom, and slow to write
            return tuple(sorted(known, key=lambda one: (one.age_d, one.id, repr(one))))
        return tuple(sorted(known, key=lambda one: (one.age_d, one.id)))

    def _scale_offsets(self, scales: dict[str, Scale]) -> Floats:
        """Loadings of scale offsets on the weights, g per unit latent, (n_offsets, n_weights).

        The scale of the birth weight, or else of the first weight, is the measure of the others.
        """
        names = [r.scale for r in self.weights]
        measure = self.evidence.birth_scale or (names[0] if names else None)
        others = sorted({name for name in names if name is not None and name != measure})
        rows = []
        for name in others:
            scale = scales.get(name)
            sd = self.population.scale_offset_sd_g
            if scale is not None and scale.bias_sd_g is not None:
                sd = scale.bias_sd_g
            rows.append([sd * (name == used) for used in names])
        return np.array(rows, dtype=np.float64).reshape(len(others), len(names))

    def _sitting_offsets(self) -> Floats:
        """Loadings of what the weights of each sitting err by together, as of scale offsets."""
        shared = sittings(self.weights, self.population)
        sd = float(np.sqrt(shared_variance(self.population)))
        rows = [[sd * (one in sitting) for one in self.weights] for sitting in shared]
        return np.array(rows, dtype=np.float64).reshape(len(shared), len(self.weights))

    def predictors(self, z: Floats) -> Floats:
        """The predictor of each reading, (n_draws, n_readings)."""
        paths = self.course.paths(z)
        birth = paths.birth_kg
        w, t = len(self.weights), len(self.transfers.log_share)
        offsets, kinds = len(self._offsets), len(self.counts.kinds)
        parts = [1000.0 * birth * paths.total[:, :w]]
        if offsets:
            parts[0] += z[:, LATENTS_COUNT : LATENTS_COUNT + offsets] @ self._offsets
        if t:
            breast = birth * paths.breast_ml_kg_d[:, w : w + t]
            parts.append(np.log(np.maximum(breast, 1e-6)) + self.transfers.log_share)
        if kinds:
            first = LATENTS_COUNT + offsets
            habit = self.population.diaper_habit_log_sd * z[:, first : first + kinds]
            total = paths.breast_ml_kg_d[:, w + t :] + self.course.given[0, w + t :] / birth
            parts.append(self.counts.log_mean(total, habit))
        return np.concatenate(parts, axis=1)

    def log_likelihood(self, predictors: Floats) -> Floats:
        """Log-likelihood of all readings up to a constant, (n_draws,)."""
        return self.contributions(predictors)[0]

    def contributions(self, predictors: Floats) -> tuple[Floats, Floats, Floats]:
        """The log-likelihood, what each reading adds to it, and how likely each weight is wrong.

        Shapes (n_draws,), (n_draws, n_readings) and (n_draws, n_weights).
        """
        whole, added, wrong = self.errors.contributions(self.residual_g(predictors))
        if len(self.readings) > len(self.weights):
            others = self._log_others(predictors, self.transfers)
            whole, added = whole + others.sum(axis=1), np.concatenate([added, others], axis=1)
        return whole, added, wrong

    def _log_others(
        self, predictors: Floats, transfers: TransferTables | SettledTransfers
    ) -> Floats:
        """Log-likelihood of the readings that are no weights, (n_draws, n_others)."""
        w, t = len(self.weights), len(self.transfers.log_share)
        parts = [np.zeros((len(predictors), 0))]
        if t:
            parts.append(transfers.log_likelihood(predictors[:, w : w + t]))
        if self.counts.kinds:
            parts.append(self.counts.log_likelihood(predictors[:, w + t :]))
        return np.concatenate(parts, axis=1)

    def scoring(
        self,
        predictor: Floats,
        kinds: NDArray[np.intp],
        quiet: float,
        settled: SettledTransfers | None = None,
    ) -> tuple[Floats, Floats, float]:
        """Slope and expected curvature in each predictor, (n_readings,), and the log-likelihood.

        `kinds`, (n_weights,), assigns to each weight one component of its errors, so that a
        weight counts as normal; `quiet` is the precision of ordinary ones over the usual one. Each
        test weighing may be wrong, unless it is `settled` which are.
        """
        transfers = self.transfers if settled is None else settled
        w, t = len(self.weights), len(self.transfers.log_share)
        columns = np.arange(w)
        sd = self.errors.assigned_sd(kinds, quiet)
        pull = (self.observed_g - predictor[:w] - self.errors.shift_g[kinds, columns]) / sd
        slopes, curvatures = [pull / sd], [1.0 / sd**2]
        logs = float((self.errors.log_share[kinds, columns] - np.log(sd)).sum() - 0.5 * pull @ pull)
        if len(predictor) > w:
            logs += float(self._log_others(predictor[None], transfers).sum())
        if t:
            slope, curvature = transfers.scoring(predictor[w : w + t])
            slopes.append(slope)
            curvatures.append(curvature)
        if self.counts.kinds:
            slope, curvature = self.counts.scoring(predictor[w + t :])
            slopes.append(slope)
            curvatures.append(curvature)
        return np.concatenate(slopes), np.concatenate(curvatures), logs

    def residual_g(self, predictors: Floats) -> Floats:
        """Weights minus their expectations, (n_draws, n_weights)."""
        return self.observed_g - predictors[:, : len(self.weights)]

    @property
    def noise_g(self) -> float:
        """SD of an ordinary weight as the latest was taken, g."""
        if self.weights:
            shared = shared_variance(self.population) * bool(self._sitting_offsets()[:, -1].any())
            return float(np.sqrt(self.errors.sd_g[0, -1] ** 2 + shared))
        return float(np.sqrt(ordinary_variance(self.population, None)))
