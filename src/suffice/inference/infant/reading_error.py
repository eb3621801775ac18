"""How readings err: weights, test weighings, diaper counts; each about one expected number."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, logsumexp

from suffice.clinical.units import HOURS_PER_DAY
from suffice.inference.evidence import DiaperCount, Scale, TestWeighing, WeightReading
from suffice.inference.infant.model import Floats
from suffice.inference.infant.population import Population

_TABLE_LOGS = np.linspace(0.0, 8.0, 129)  # log of an expected transfer: 1 mL to 3 L
_TABLE_SIZES = np.exp(_TABLE_LOGS)
_TABLE_STEP = _TABLE_LOGS[1] - _TABLE_LOGS[0]
_QUADRATURE = np.linspace(-6.0, 6.0, 145)
_QUADRATURE_STEP = _QUADRATURE[1] - _QUADRATURE[0]
_WIDEST_STEP = (
    1.5  # of neighbouring sizes of a feed, in SDs of the weighing: then the sum is right to .1 %
)
_QUADRATURE_WEIGHTS = np.exp(-0.5 * _QUADRATURE**2)
_QUADRATURE_WEIGHTS /= _QUADRATURE_WEIGHTS.sum()
_LEAST_NOISE_G = 1.0  # a scale that errs less than this tells no more
_KINDS_COUNT = 4
NEVER = 1e-300  # keeps a logarithm finite
_NOISE_NODES = np.linspace(-2.4, 2.4, 7)  # even steps: many weights leave a narrow peak between
_NOISE_LOG_SHARES = -0.5 * _NOISE_NODES**2 - np.log(np.exp(-0.5 * _NOISE_NODES**2).sum())
MULTIPLIED = 12  # densities whose product stays far above the least number that can be written


def _log_sum(logs: Floats) -> Floats:
    """Log of the sum of exponentials over the first axis."""
    most = logs.max(axis=0)
    return np.asarray(most + np.log(np.exp(logs - most).sum(axis=0)))


def ordinary_variance(p: Population, scale: Scale | None) -> float:
    """Variance of an ordinary weight on a scale, g squared: body, scale and display."""
    precision, step = p.noise_scale_g, p.noise_resolution_g
    if scale is not None and scale.precision_sd_g is not None:
        precision = scale.precision_sd_g
    if scale is not None and scale.resolution_g is not None:
        step = scale.resolution_g
    return p.noise_physiological_g**2 + precision**2 + step**2 / 12.0


def sittings(
    readings: tuple[WeightReading, ...], p: Population
) -> tuple[tuple[WeightReading, ...], ...]:
    """Weights, by age, that were taken within an hour of the one before: each such run of two or more."""
    runs: list[list[WeightReading]] = []
    for reading in readings:
        if runs and reading.age_d - runs[-1][-1].age_d <= p.sitting_h / HOURS_PER_DAY:
            runs[-1].append(reading)
        else:
            runs.append([reading])
    return tuple(tuple(run) for run in runs if len(run) > 1)


def shared_variance(p: Population) -> float:
    """Variance of the error that all weights of one sitting have in common, g squared."""
    return p.sitting_shared_fraction * p.noise_physiological_g**2


@dataclass(frozen=True, slots=True)
class WeightErrors:
    """Errors of each weight as a mixture of normals; arrays (n_components, n_weights).

    The components are: ordinary noise, an error of the usual size of errors, clothes that nobody
    mentioned, a gross slip of any size. The ordinary noise of one family is the
    usual one times a factor that all its weights share; the factor has seven levels (the trapezoid
    rule over its log-normal spread) and is summed over.
    """

    log_share: Floats
    shift_g: Floats
    sd_g: Floats
    noise_logs: Floats
    noise_log_shares: Floats

    @classmethod
    def from_weights(
        cls, readings: tuple[WeightReading, ...], scales: dict[str, Scale], p: Population
    ) -> WeightErrors:
        """The errors to be expected of `readings`, from their clothing and their scales."""
        shares, shifts, variances = [], [], []
        shared = {one for sitting in sittings(readings, p) for one in sitting}
        ordinary = {
            name: ordinary_variance(p, scales.get(name or ""))
            for name in {r.scale for r in readings}
        }
        for reading in readings:
            scale = scales.get(reading.scale or "")
            bias = 0.0 if scale is None else scale.bias_g
            variance = ordinary[reading.scale]
            worn = {"clothed": p.clothes_g, "dry diaper": p.dry_diaper_g}.get(
                reading.clothing or "", 0.0
            )
            if reading.clothing == "clothed":
                variance += p.clothes_sd_g**2
            if reading.clothing == "dry diaper":
                variance += p.dry_diaper_sd_g**2
            if reading in shared:
                variance -= shared_variance(p)
            hidden = p.clothes_fraction if reading.clothing is None else 0.0
            usual = 1.0 - p.outlier_fraction - hidden - p.gross_error_fraction
            slip = p.gross_error_fraction
            shares.append((usual, p.outlier_fraction, max(hidden, NEVER), slip))
            shifts.append((bias + worn, bias + worn, bias + p.clothes_g, bias + worn))
            added = (0.0, p.outlier_sd_g, p.clothes_sd_g, p.gross_error_range_g)
            variances.append(tuple(variance + sd**2 for sd in added))
        return cls(
            np.log(np.array(shares).reshape(-1, _KINDS_COUNT).T),
            np.array(shifts).reshape(-1, _KINDS_COUNT).T,
            np.sqrt(np.array(variances).reshape(-1, _KINDS_COUNT).T),
            p.noise_log_sd * _NOISE_NODES,
            _NOISE_LOG_SHARES,
        )

    def _densities(self, residual_g: Floats) -> tuple[Floats, Floats]:
        """Densities of each residual as ordinary or an error at each level of noise; as an error.

        Shapes (n_levels, n_weights, n_draws) and (n_weights, n_draws): draws last, so that what
        belongs to a weight meets all draws at once.
        """
        log_scale = self.log_share - np.log(self.sd_g * np.sqrt(2 * np.pi))
        squares = np.ascontiguousarray(residual_g.T) - self.shift_g[:, :, None]
        squares *= squares
        squares *= -0.5 / self.sd_g[:, :, None] ** 2
        quiet = np.exp(-self.noise_logs)
        either = np.multiply.outer(quiet**2, squares[0])
        wrong = squares[1:] + log_scale[1:, :, None]
        wrong = np.exp(wrong, out=wrong).sum(axis=0) + NEVER
        np.exp(either, out=either)
        either *= np.multiply.outer(quiet, np.exp(log_scale[0]))[:, :, None]
        either += wrong
        return either, wrong

    def contributions(self, residual_g: Floats) -> tuple[Floats, Floats, Floats]:
        """Log-likelihood of all weights together, over all levels of noise, and each one's part.

        Shapes (n_draws,), and (n_draws, n_weights) for what each weight adds to it and for the
        probability that it is wrong. A weight adds its log density given all the others: their
        likelihood over that of all is the mean of 1/density over the levels, as likely as all
        the weights make each level.
        """
        either, wrong = self._densities(residual_g)
        places = range(0, either.shape[1], MULTIPLIED)
        products = np.multiply.reduceat(either, places, axis=1)  # one logarithm for many weights
        joint = np.log(np.maximum(products, NEVER)).sum(axis=1) + self.noise_log_shares[:, None]
        whole = _log_sum(joint)
        level = np.exp(joint - whole)
        others = np.divide(level[:, None], either, out=either).sum(axis=0)
        return whole, -np.log(others).T, (wrong * others).T

    def assigned_sd(self, kinds: NDArray[np.intp], quiet: float) -> Floats:
        """SD of the kind of error assigned to each weight, g, (n_weights,).

        `quiet` is the precision of the ordinary noise over the usual one.
        """
        sd = self.sd_g[kinds, np.arange(len(kinds))]
        return np.asarray(np.where(kinds == 0, sd / np.sqrt(quiet), sd))

    def scatter_chance(self, squares: float, freedom: float) -> float:
        """Probability of so much scatter by chance, whichever the family's noise; args as below."""
        shrunk = squares * np.exp(-2.0 * self.noise_logs)
        return float(np.exp(self.noise_log_shares) @ chdtrc(freedom, shrunk))

    def quietness(self, squares: float, freedom: float) -> float:
        """Expected precision of the ordinary noise over the usual one.

        Args:
            squares: Sum of squared residuals of the ordinary weights, in units of usual noise.
            freedom: Their number less what was fitted to them.
        """
        return float(self._level_shares(squares, freedom) @ np.exp(-2.0 * self.noise_logs))

    def loudness(self, squares: float, freedom: float) -> float:
        """Expected SD of the ordinary noise over the usual one; args as above."""
        return float(self._level_shares(squares, freedom) @ np.exp(self.noise_logs))

    def _level_shares(self, squares: float, freedom: float) -> Floats:
        """Posterior share of each level of noise, (n_levels,)."""
        logs = (
            self.noise_log_shares
            - freedom * self.noise_logs
            - 0.5 * squares * np.exp(-2.0 * self.noise_logs)
        )
        share = np.exp(logs - logs.max())
        return np.asarray(share / share.sum())


def _log_transfer_table(
    shown_g: Floats, spread: Floats, noise_g: Floats, p: Population, *, may_be_wrong: bool
) -> Floats:
    """Log-likelihood of each transfer at the table's log expectations, (n_tests, n_table).

    That of a right one that it is right, too, where none `may_be_wrong`.
    """
    spread, noise = spread[:, None, None], noise_g[:, None, None]
    size = _TABLE_SIZES[:, None] * np.exp(spread * _QUADRATURE - 0.5 * spread**2)
    deviation = np.subtract(shown_g[:, None, None], size, out=size)
    deviation /= noise
    deviation *= deviation
    deviation *= -0.5
    if not may_be_wrong:  # far off, a sum of exponentials would be nought
        logs = logsumexp(deviation, axis=2, b=_QUADRATURE_WEIGHTS)
        logs -= np.log(noise[:, :, 0] * np.sqrt(2 * np.pi))
        return np.asarray(logs + np.log1p(-p.gross_error_fraction))
    np.exp(deviation, out=deviation)
    density = (deviation @ _QUADRATURE_WEIGHTS) / (noise[:, :, 0] * np.sqrt(2 * np.pi))
    floor = wrong_transfer_density(p)
    return np.asarray(np.log((1.0 - p.gross_error_fraction) * density + floor))


def wrong_transfer_density(p: Population) -> float:
    """Density of what a test weighing shows, 1/g, if it is a gross error, times how seldom it is one."""
    return p.gross_error_fraction / p.gross_error_range_g


@dataclass(frozen=True, slots=True)
class TransferTables:
    """Log-likelihoods of test weighings over the log of the expected transfer.

    A single feed varies log-normally about its expectation and the scale adds normal noise; the
    integral over the feed's size is tabulated once.

    Attributes:
        log_density: Log-likelihood at the table's log transfers, (n_tests, n_table).
        slope: Its slope, (n_tests, n_table).
        spread: SD of the log of what the feeds took about its expectation, (n_tests,).
        noise_g: SD of the weighing, (n_tests,).
        log_share: Log of the part of the day's intake that should show, (n_tests,).
    """

    log_density: Floats
    slope: Floats
    spread: Floats
    noise_g: Floats
    log_share: Floats

    @classmethod
    def from_tests(
        cls,
        tests: tuple[TestWeighing, ...],
        feeds_per_day: float | None,
        p: Population,
        *,
        may_be_wrong: bool = True,
    ) -> TransferTables:
        """Tables for test weighings; `feeds_per_day` as counted, None where it was not.

        Each may be a gross error, unless it is settled that none is (`may_be_wrong` false).
        """
        if not tests:
            nothing = np.zeros((0, len(_TABLE_LOGS)))
            return cls(nothing, nothing, *np.zeros((3, 0)))
        whole = np.array([t.whole_day for t in tests], dtype=bool)
        fed = np.array([t.feeds_count for t in tests], dtype=np.float64)
        part = np.where(whole, 1.0, np.minimum(fed / (feeds_per_day or p.feeds_per_day), 1.0))
        uncounted = 0.0 if feeds_per_day else p.feeds_per_day_log_sd
        spread = np.sqrt(
            p.day_log_sd**2
            + (1.0 - part) * p.feed_log_sd**2 / np.maximum(fed, 1.0)
            + (part < 1.0) * uncounted**2
        )
        single = [
            p.test_weighing_sd_g if t.precision_sd_g is None else t.precision_sd_g for t in tests
        ]
        noise = np.maximum(np.array(single, dtype=np.float64), _LEAST_NOISE_G) * np.sqrt(fed)
        shown = np.array([t.transfer_g for t in tests], dtype=np.float64)
        # Between two sizes of the sum a sharper weighing would find none, and at one of them many. What
        # it is blunted by is small beside what a feed varies.
        apart = _QUADRATURE_STEP * spread * np.maximum(shown, 0.0)
        noise = np.maximum(noise, apart / _WIDEST_STEP)
        logs = _log_transfer_table(shown, spread, noise, p, may_be_wrong=may_be_wrong)
        slope = np.empty_like(logs)
        slope[:, 1:-1] = (logs[:, 2:] - logs[:, :-2]) / (2.0 * _TABLE_STEP)
        slope[:, 0] = (logs[:, 1] - logs[:, 0]) / _TABLE_STEP
        slope[:, -1] = (logs[:, -1] - logs[:, -2]) / _TABLE_STEP
        return cls(logs, slope, spread, noise, np.log((1.0 - p.evaporation_fraction) * part))

    def _look_up(self, table: Floats, log_mean: Floats) -> Floats:
        """Linear interpolation of each reading's table at (n_draws, n_tests)."""
        most = float(len(_TABLE_LOGS) - 1)
        place = np.minimum(np.maximum(log_mean / _TABLE_STEP, 0.0), most)
        left = np.minimum(place.astype(np.intp), len(_TABLE_LOGS) - 2)
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


@dataclass(frozen=True, slots=True)
class SettledTransfers:
    """Test weighings of which it is settled, for one story of several, which are gross errors.

    Attributes:
        right: The tables as if none were wrong.
        wrong: Which are gross errors, (n_tests,); those say the same of every transfer.
        wrong_log_density: Log density of what such a one shows.
    """

    right: TransferTables
    wrong: NDArray[np.bool_]
    wrong_log_density: float

    @classmethod
    def all_right(
        cls, tests: tuple[TestWeighing, ...], feeds_per_day: float | None, p: Population
    ) -> SettledTransfers:
        """The story in which each of `tests` is right."""
        return cls(
            TransferTables.from_tests(tests, feeds_per_day, p, may_be_wrong=False),
            np.zeros(len(tests), dtype=bool),
            float(np.log(wrong_transfer_density(p))),
        )

    def turned(self, test: int) -> SettledTransfers:
        """The story in which one of them is wrong instead of right, or right instead of wrong."""
        wrong = self.wrong.copy()
        wrong[test] = not wrong[test]
        return SettledTransfers(self.right, wrong, self.wrong_log_density)

    def log_likelihood(self, log_mean: Floats) -> Floats:
        """Log-likelihood of each test weighing, (n_draws, n_tests)."""
        right = self.right.log_likelihood(log_mean)
        return np.asarray(np.where(self.wrong, self.wrong_log_density, right))

    def scoring(self, log_mean: Floats) -> tuple[Floats, Floats]:
        """Slope and expected curvature in the log of the expected transfer, (n_tests,) each."""
        slope, curvature = self.right.scoring(log_mean)
        return np.where(self.wrong, 0.0, slope), np.where(self.wrong, 0.0, curvature)


@dataclass(frozen=True, slots=True)
class DiaperCounts:
    """Counts of wets and stools, negative binomial about a line in the intake times a habit.

    Attributes:
        count: What was counted, (n_counts,).
        span_d: Over how many days, (n_counts,).
        lines: Intercept and slope of each count's kind, (2, n_counts).
        kinds: The kinds that occur, in order; each has a habit of its own.
        kind: Index of each count's kind, (n_counts,).
        dispersion: phi of the negative binomial.
    """

    count: Floats
    span_d: Floats
    lines: Floats
    kinds: tuple[str, ...]
    kind: NDArray[np.intp]
    dispersion: float

    @classmethod
    def from_counts(cls, diapers: tuple[DiaperCount, ...], p: Population) -> DiaperCounts:
        """The counts, in the order given."""
        kinds = tuple(sorted({d.kind for d in diapers}))
        lines = {
            "wet": (p.wet_intercept, p.wet_slope),
            "stool": (p.stool_intercept, p.stool_slope),
        }
        return cls(
            np.array([d.count for d in diapers], dtype=np.float64),
            np.array([d.span_d for d in diapers], dtype=np.float64),
            np.array([lines[d.kind] for d in diapers], dtype=np.float64).reshape(-1, 2).T,
            kinds,
            np.array([kinds.index(d.kind) for d in diapers], dtype=np.intp),
            p.diaper_dispersion,
        )

    def log_mean(self, total_ml_kg_d: Floats, log_habit: Floats) -> Floats:
        """Log of the expected counts, (n_draws, n_counts).

        Args:
            total_ml_kg_d: Intake at the middle of each span, (n_draws, n_counts).
            log_habit: Log of each kind's habit, (n_draws, n_kinds).
        """
        line = self.lines[0] + self.lines[1] * total_ml_kg_d
        return np.asarray(np.log(line * self.span_d) + log_habit[:, self.kind])

    def log_likelihood(self, log_mean: Floats) -> Floats:
        """Log-likelihood of each count up to a constant, (n_draws, n_counts)."""
        phi, y = self.dispersion, self.count
        return np.asarray(y * log_mean - (y + 1.0 / phi) * np.log1p(phi * np.exp(log_mean)))

    def scoring(self, log_mean: Floats) -> tuple[Floats, Floats]:
        """Slope and expected curvature in the log of the mean, (n_counts,) each."""
        mean = np.exp(log_mean)
        over = 1.0 + self.dispersion * mean
        return (self.count - mean) / over, mean / over
