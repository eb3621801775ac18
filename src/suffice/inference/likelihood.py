"""How likely the evidence is, given a course: one scalar predictor per reading.

Every reading depends on the latents through one number: a weight through the expected weight (g),
a test weighing through the log of the expected transfer, a diaper count through the log of its
mean. The log-likelihood of a reading, its slope and its expected curvature are functions of that
number alone, which keeps scoring and weighting vectorised over draws and readings.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from suffice.inference.evidence import Evidence, Scale, WeightReading
from suffice.inference.model import (
    LATENTS_COUNT,
    Birth,
    Course,
    Floats,
    Paths,
)
from suffice.inference.population import Population

_TABLE_LOGS = np.linspace(0.0, 8.0, 129)  # log of an expected transfer: 1 mL to 3 L
_QUADRATURE = np.linspace(-6.0, 6.0, 145)
_LEAST_COUNT_MEAN = 0.05
_NOISE_NODES, _node_weights = np.polynomial.hermite_e.hermegauss(5)
_NOISE_LOG_SHARES = np.log(_node_weights / _node_weights.sum())


@dataclass(frozen=True, slots=True)
class WeightErrors:
    """Errors of each weight as a mixture of normals; arrays (n_components, n_weights).

    The components are: ordinary noise, an error of the usual size of errors, clothes that nobody
    mentioned. `floor` is the flat density of a gross slip. The ordinary noise of one family is the
    usual one times a factor that all its weights share; the factor has five levels (a quadrature
    of its log-normal spread) and is summed over.
    """

    log_share: Floats
    shift_g: Floats
    sd_g: Floats
    floor: float
    noise_logs: Floats
    noise_log_shares: Floats

    @classmethod
    def of(
        cls, readings: tuple[WeightReading, ...], scales: dict[str, Scale], p: Population
    ) -> WeightErrors:
        """The errors to be expected of `readings`, from their clothing and their scales."""
        shares, shifts, sds = [], [], []
        for reading in readings:
            scale = scales.get(reading.scale or "")
            precision = p.noise_scale_g
            step = p.noise_resolution_g
            bias = 0.0
            if scale is not None:
                bias = scale.bias_g
                precision = precision if scale.precision_sd_g is None else scale.precision_sd_g
                step = step if scale.resolution_g is None else scale.resolution_g
            variance = p.noise_physiological_g**2 + precision**2 + step**2 / 12.0
            worn = {"clothed": p.clothes_g, "dry diaper": p.dry_diaper_g}.get(
                reading.clothing or "", 0.0
            )
            if reading.clothing == "clothed":
                variance += p.clothes_sd_g**2
            hidden = p.clothes_fraction if reading.clothing is None else 0.0
            usual = 1.0 - p.outlier_fraction - hidden - p.gross_error_fraction
            shares.append((usual, p.outlier_fraction, max(hidden, 1e-300)))
            shifts.append((bias + worn, bias + worn, bias + p.clothes_g))
            sds.append((variance, variance + p.outlier_sd_g**2, variance + p.clothes_sd_g**2))
        return cls(
            np.log(np.array(shares).reshape(-1, 3).T),
            np.array(shifts).reshape(-1, 3).T,
            np.sqrt(np.array(sds).reshape(-1, 3).T),
            p.gross_error_fraction / p.gross_error_range_g,
            p.noise_log_sd * _NOISE_NODES,
            _NOISE_LOG_SHARES,
        )

    def _densities(self, residual_g: Floats) -> tuple[Floats, Floats]:
        """Densities of each residual as an ordinary one, for each level of noise, and as an error.

        Shapes (n_draws, n_levels, n_weights) and (n_draws, n_weights).
        """
        scale = np.exp(self.log_share) / (self.sd_g * np.sqrt(2 * np.pi))
        squares = -0.5 * ((residual_g[:, None, :] - self.shift_g) / self.sd_g) ** 2
        wrong = (scale[1:] * np.exp(squares[:, 1:])).sum(axis=1) + self.floor
        quiet = np.exp(-self.noise_logs)[:, None]
        ordinary = np.exp(squares[:, :1] * quiet**2)
        ordinary *= scale[0] * quiet
        return ordinary, wrong

    def log_likelihood(self, residual_g: Floats) -> Floats:
        """Log-likelihood of all weights together, (n_draws,), over all levels of noise."""
        ordinary, wrong = self._densities(residual_g)
        ordinary += wrong[:, None]
        return np.asarray(np.logaddexp.reduce(self._joint(ordinary), axis=1))

    def _joint(self, densities: Floats) -> Floats:
        """Log of each level's share times the densities of all weights, (n_draws, n_levels)."""
        return np.asarray(np.log(densities).sum(axis=2) + self.noise_log_shares)

    def contributions(self, residual_g: Floats) -> tuple[Floats, Floats]:
        """What each weight adds to the log-likelihood, and the probability that it is wrong.

        Shapes (n_draws, n_weights); a weight adds its log density given all the others.
        """
        ordinary, wrong = self._densities(residual_g)
        either = ordinary + wrong[:, None]
        logs = self._joint(either)
        whole = np.logaddexp.reduce(logs, axis=1)[:, None]
        others = np.logaddexp.reduce(logs[:, :, None] - np.log(either), axis=1)
        level = np.exp(logs - whole)
        return whole - others, np.einsum("ij,ijk->ik", level, wrong[:, None] / either)

    def quietness(self, squares: float, freedom: float) -> float:
        """Expected precision of the ordinary noise over the usual one.

        Args:
            squares: Sum of squared residuals of the ordinary weights, in units of usual noise.
            freedom: Their number less what was fitted to them.
        """
        logs = (
            self.noise_log_shares
            - freedom * self.noise_logs
            - 0.5 * squares * np.exp(-2.0 * self.noise_logs)
        )
        share = np.exp(logs - logs.max())
        return float((share * np.exp(-2.0 * self.noise_logs)).sum() / share.sum())


@dataclass(frozen=True, slots=True)
class TransferTables:
    """Log-likelihoods of test weighings over the log of the expected transfer.

    A single feed varies log-normally about its expectation and the scale adds normal noise; the
    integral over the feed's size is tabulated once. Arrays (n_tests, n_table).
    """

    log_density: Floats
    slope: Floats
    spread: Floats
    noise_g: Floats

    @classmethod
    def of(
        cls, transfer_g: Floats, spread: Floats, noise_g: Floats, p: Population
    ) -> TransferTables:
        """Tables for transfers with log-spread `spread` and noise `noise_g`, each (n_tests,)."""
        weight = np.exp(-0.5 * _QUADRATURE**2)
        weight /= weight.sum()
        size = np.exp(
            _TABLE_LOGS[None, :, None]
            + spread[:, None, None] * _QUADRATURE
            - 0.5 * spread[:, None, None] ** 2
        )
        deviation = (transfer_g[:, None, None] - size) / noise_g[:, None, None]
        density = (np.exp(-0.5 * deviation**2) @ weight) / (noise_g[:, None] * np.sqrt(2 * np.pi))
        floor = p.gross_error_fraction / p.gross_error_range_g
        logs = np.log((1.0 - p.gross_error_fraction) * density + floor)
        step = _TABLE_LOGS[1] - _TABLE_LOGS[0]
        return cls(logs, np.gradient(logs, step, axis=1), spread, noise_g)

    def _look_up(self, table: Floats, log_mean: Floats) -> Floats:
        """Linear interpolation of each reading's table at (n_draws, n_tests)."""
        step = _TABLE_LOGS[1] - _TABLE_LOGS[0]
        place = np.clip(log_mean / step, 0.0, len(_TABLE_LOGS) - 1.000001)
        left = place.astype(np.intp)
        columns = np.arange(log_mean.shape[1])
        low, high = table[columns, left], table[columns, left + 1]
        return np.asarray(low + (place - left) * (high - low))

    def log_likelihood(self, log_mean: Floats) -> Floats:
        """Log-likelihood of each test weighing, (n_draws, n_tests)."""
        return self._look_up(self.log_density, log_mean)

    def scoring(self, log_mean: Floats) -> tuple[Floats, Floats]:
        """Slope and expected curvature in the log of the expected transfer, (n_tests,) each."""
        slope = self._look_up(self.slope, log_mean[None, :])[0]
        return slope, 1.0 / (self.spread**2 + (self.noise_g / np.exp(log_mean)) ** 2)


@dataclass(slots=True)
class Likelihood:
    """The evidence of one infant, ready to be scored against courses.

    Latent columns: the course's nine, then scale offsets, then diaper habits, then the drift.
    Readings after `now_d` are left out; the rest are put in order of age and id, so that the
    order of entries cannot matter.
    """

    evidence: Evidence
    population: Population
    course: Course = field(init=False)
    weights: tuple[WeightReading, ...] = field(init=False)
    errors: WeightErrors = field(init=False)
    transfers: TransferTables = field(init=False)
    latents_count: int = field(init=False)
    readings: tuple[tuple[str, str], ...] = field(init=False)
    observed_g: Floats = field(init=False)
    _offsets: Floats = field(init=False)
    _test_share: Floats = field(init=False)
    _given_at_diapers: Floats = field(init=False)
    _diaper_counts: Floats = field(init=False)
    _diaper_spans: Floats = field(init=False)
    _diaper_lines: Floats = field(init=False)
    _habits: Floats = field(init=False)

    def __post_init__(self) -> None:
        now, evidence, p = self.evidence.now_d, self.evidence, self.population
        self.weights = tuple(
            sorted((r for r in evidence.weights if r.age_d <= now), key=lambda r: (r.age_d, r.id))
        )
        scales = {scale.name: scale for scale in evidence.scales}
        self.errors = WeightErrors.of(self.weights, scales, p)
        self.observed_g = np.array([r.weight_g for r in self.weights], dtype=np.float64)
        self._prepare_offsets(scales)
        tests = sorted(
            (t for t in evidence.test_weighings if t.age_d <= now), key=lambda t: (t.age_d, t.id)
        )
        diapers = sorted(
            (d for d in evidence.diapers if d.age_d <= now), key=lambda d: (d.age_d, d.id)
        )
        kinds = sorted({d.kind for d in diapers})
        first_habit = LATENTS_COUNT + self._offsets.shape[0]
        first_knot = first_habit + len(kinds)
        milk = tuple(
            sorted(
                (m for m in evidence.milk_given if m.age_d <= now), key=lambda m: (m.age_d, m.id)
            )
        )
        middles = [
            *(r.age_d for r in self.weights),
            *(max(t.age_d - 0.5 * t.whole_day, 0.0) for t in tests),
            *(max(d.age_d - d.span_d / 2, 0.0) for d in diapers),
        ]
        at = np.array(middles, dtype=np.float64)
        self.course = Course(p, Birth.of(evidence, p), at, milk, first_knot)
        self.latents_count = first_knot + self.course.knots_count
        self.readings = (
            *(("weight", r.id) for r in self.weights),
            *(("test weighing", t.id) for t in tests),
            *((d.kind, d.id) for d in diapers),
        )
        feeds = evidence.feeds_per_day or p.feeds_per_day
        part = np.array(
            [1.0 if t.whole_day else min(t.feeds_count / feeds, 1.0) for t in tests], dtype=float
        )
        self._test_share = np.log((1.0 - p.evaporation_fraction) * part)
        fed = np.array([t.feeds_count for t in tests], dtype=float)
        single = p.test_weighing_sd_g
        noise = np.array(
            [single if t.precision_sd_g is None else max(t.precision_sd_g, 1.0) for t in tests],
            dtype=float,
        )
        counted = 0.0 if evidence.feeds_per_day else p.feeds_per_day_log_sd
        spread = np.sqrt(
            p.day_log_sd**2 + (1.0 - part) * p.feed_log_sd**2 / fed + (part < 1.0) * counted**2
        )
        self.transfers = TransferTables.of(
            np.array([t.transfer_g for t in tests], dtype=float),
            spread,
            noise * np.sqrt(fed),
            p,
        )
        self._given_at_diapers = self.course.given[0, len(self.weights) + len(tests) :]
        self._diaper_counts = np.array([d.count for d in diapers], dtype=float)
        self._diaper_spans = np.array([d.span_d for d in diapers], dtype=float)
        lines = {
            "wet": (p.wet_intercept, p.wet_slope),
            "stool": (p.stool_intercept, p.stool_slope),
        }
        self._diaper_lines = np.array([lines[d.kind] for d in diapers]).reshape(-1, 2).T
        self._habits = np.array([first_habit + kinds.index(d.kind) for d in diapers], dtype=int)

    def _prepare_offsets(self, scales: dict[str, Scale]) -> None:
        """Loadings of scale offsets on the weights, g per unit latent, (n_offsets, n_weights).

        The scale of the birth weight, or else of the first weight, is the measure of the others.
        """
        p = self.population
        names = [r.scale for r in self.weights]
        measure = self.evidence.birth_scale or (names[0] if names else None)
        others = sorted({name for name in names if name is not None and name != measure})
        rows = []
        for name in others:
            scale = scales.get(name)
            sd = p.scale_offset_sd_g
            if scale is not None and scale.bias_sd_g is not None:
                sd = scale.bias_sd_g
            rows.append([sd * (name == used) for used in names])
        self._offsets = np.array(rows, dtype=float).reshape(len(others), len(names))

    def predictors(self, z: Floats) -> tuple[Floats, Paths]:
        """The predictor of each reading, (n_draws, n_readings), and the courses behind it."""
        paths = self.course.paths(z)
        birth = paths.birth_kg
        w, t = len(self.weights), len(self._test_share)
        parts = []
        if self.weights:
            expected = 1000.0 * birth * paths.total[:, :w]
            if len(self._offsets):
                first = LATENTS_COUNT
                expected += z[:, first : first + len(self._offsets)] @ self._offsets
            parts.append(expected)
        if len(self._test_share):
            breast = birth * paths.breast_ml_kg_d[:, w : w + t]
            parts.append(np.log(np.maximum(breast, 1e-6)) + self._test_share)
        if len(self._diaper_counts):
            total = paths.breast_ml_kg_d[:, w + t :] + self._given_at_diapers / birth
            line = self._diaper_lines[0] + self._diaper_lines[1] * total
            habit = self.population.diaper_habit_log_sd * z[:, self._habits]
            parts.append(np.log(np.maximum(line * self._diaper_spans, _LEAST_COUNT_MEAN)) + habit)
        if not parts:
            return np.zeros((len(z), 0)), paths
        return np.concatenate(parts, axis=1), paths

    def log_likelihood(self, predictors: Floats) -> Floats:
        """Log-likelihood of all readings up to a constant, (n_draws,)."""
        w = len(self.weights)
        logs = self._log_others(predictors[:, w:]).sum(axis=1)
        if w:
            logs += self.errors.log_likelihood(self.observed_g - predictors[:, :w])
        return np.asarray(logs)

    def contributions(self, predictors: Floats) -> tuple[Floats, Floats]:
        """What each reading adds to the log-likelihood, and how likely each weight is wrong.

        Shapes (n_draws, n_readings) and (n_draws, n_weights).
        """
        w = len(self.weights)
        added, wrong = self.errors.contributions(self.observed_g - predictors[:, :w])
        return np.concatenate([added, self._log_others(predictors[:, w:])], axis=1), wrong

    def _log_others(self, predictors: Floats) -> Floats:
        """Log-likelihood of the readings that are no weights, (n_draws, n_others)."""
        t = len(self._test_share)
        parts = [np.zeros((len(predictors), 0))]
        if t:
            parts.append(self.transfers.log_likelihood(predictors[:, :t]))
        if len(self._diaper_counts):
            parts.append(self._log_counts(predictors[:, t:]))
        return np.concatenate(parts, axis=1)

    def scoring(
        self, predictor: Floats, kinds: NDArray[np.intp], quiet: float
    ) -> tuple[Floats, Floats, float]:
        """Slope and expected curvature in each predictor, (n_readings,), and the log-likelihood.

        `kinds`, (n_weights,), assigns to each weight one component of its errors, so that a
        weight counts as normal; `quiet` is the precision of ordinary ones over the usual one.
        """
        w, t = len(self.weights), len(self._test_share)
        shift, sd = self.errors.shift_g[kinds, np.arange(w)], self.error_sd(kinds, quiet)
        log_share = self.errors.log_share[kinds, np.arange(w)]
        pull = (self.observed_g - predictor[:w] - shift) / sd
        slopes, curvatures = [pull / sd], [1.0 / sd**2]
        logs = float((log_share - np.log(sd) - 0.5 * pull**2).sum())
        logs += float(self._log_others(predictor[None, w:]).sum())
        if t:
            slope, curvature = self.transfers.scoring(predictor[w : w + t])
            slopes.append(slope)
            curvatures.append(curvature)
        if len(self._diaper_counts):
            mean = np.exp(predictor[w + t :])
            over = 1.0 + self.population.diaper_dispersion * mean
            slopes.append((self._diaper_counts - mean) / over)
            curvatures.append(mean / over)
        return np.concatenate(slopes), np.concatenate(curvatures), logs

    def error_sd(self, kinds: NDArray[np.intp], quiet: float) -> Floats:
        """SD of the assigned kind of error of each weight, g, (n_weights,)."""
        sd = self.errors.sd_g[kinds, np.arange(len(kinds))]
        return np.asarray(np.where(kinds == 0, sd / np.sqrt(quiet), sd))

    def _log_counts(self, logs: Floats) -> Floats:
        """Log-likelihood of the diaper counts at the logs of their means."""
        phi = self.population.diaper_dispersion
        y = self._diaper_counts
        return np.asarray(y * logs - (y + 1.0 / phi) * np.log1p(phi * np.exp(logs)))

    def residual_g(self, predictors: Floats) -> Floats:
        """Weights minus their expectations, (n_draws, n_weights)."""
        return self.observed_g - predictors[:, : len(self.weights)]

    @property
    def noise_g(self) -> float:
        """SD of an ordinary weight as the latest was taken, g."""
        if self.weights:
            return float(self.errors.sd_g[0, -1])
        p = self.population
        return float(
            np.sqrt(
                p.noise_physiological_g**2 + p.noise_scale_g**2 + p.noise_resolution_g**2 / 12.0
            )
        )
