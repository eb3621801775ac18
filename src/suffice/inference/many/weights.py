"""The weights of many infants as arrays, and how each may err: one pass of equal shape.

The kinds of error, their shares and spreads are those of
:class:`suffice.inference.infant.reading_error.WeightErrors`, read off it for each kind of clothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Final, Self

import numpy as np

from suffice.clinical.units import HOURS_PER_DAY
from suffice.inference.evidence import Clothing, WeightReading
from suffice.inference.infant.model import Floats
from suffice.inference.infant.population import Population
from suffice.inference.infant.reading_error import MULTIPLIED, NEVER, WeightErrors, shared_variance
from suffice.inference.many.course import Indices, Rows

CLOTHING: Final[tuple[Clothing | None, ...]] = (None, "naked", "dry diaper", "clothed")
"""What an infant wore, in the order of the codes of :class:`Weighings`."""
_LOG_ROOT_2PI: Final = 0.5 * float(np.log(2 * np.pi))


@dataclass(frozen=True, eq=False, kw_only=True)
class Weighings(Rows):
    """The weights of n infants up to the question, in the order of age; m places each.

    Attributes:
        age_d: Ages, days, (n, m); nan where there is no weight. The weights stand in the first places.
        weight_g: As shown, g, (n, m); nan where there is none.
        clothing: What was worn, (n, m): places in `CLOTHING`.
    """

    age_d: Floats
    weight_g: Floats
    clothing: Indices

    @property
    def counts(self) -> Indices:
        """How many weights each infant has, (n,)."""
        return np.asarray(np.isfinite(self.weight_g).sum(axis=1))

    @property
    def last_d(self) -> Floats:
        """Age at the last weight of each infant, who has one at least, days, (n,)."""
        place = np.maximum(self.counts - 1, 0)[:, None]
        return np.asarray(np.take_along_axis(self.age_d, place, axis=1)[:, 0])

    def close(self, sitting_h: float) -> np.ndarray:
        """Whether each weight and the next one were taken in one sitting, (n, m - 1)."""
        with np.errstate(invalid="ignore"):
            return np.asarray(np.diff(self.age_d, axis=1) <= sitting_h / HOURS_PER_DAY)

    def places(self, count: int) -> Self:
        """The same with so many places, the last ones empty or left out."""
        n, m = self.age_d.shape
        kept, room = min(count, m), max(count - m, 0)
        empty = np.full((n, room), np.nan)
        return type(self)(
            age_d=np.concatenate([self.age_d[:, :kept], empty], axis=1),
            weight_g=np.concatenate([self.weight_g[:, :kept], empty], axis=1),
            clothing=np.concatenate(
                [self.clothing[:, :kept], np.zeros((n, room), dtype=np.intp)], axis=1
            ),
        )


def sittings_count(weighings: Weighings, p: Population) -> Indices:
    """How many sittings with two weights or more each infant has, (n,)."""
    return np.asarray(_begins(weighings.close(p.sitting_h)).sum(axis=1))


def _begins(close: np.ndarray) -> np.ndarray:
    """Where a sitting begins, of what :meth:`Weighings.close` tells."""
    before = np.zeros_like(close)
    before[:, 1:] = close[:, :-1]
    return np.asarray(close & ~before)


@dataclass(frozen=True, eq=False, kw_only=True)
class ManyErrors(Rows):
    """How the weights of n infants err; n_kinds as in `WeightErrors`, w places for weights.

    Attributes:
        observed_g: The weights, (n, w); 0 in empty places.
        is_there: Where there is one, (n, w).
        log_share: Log of the share of each kind of error, (n, n_kinds, w).
        shift_g: Its mean, (n, n_kinds, w).
        sd_g: Its SD, (n, n_kinds, w).
        offsets: Loadings of what the weights of each sitting err by together, (n, w, n_sittings).
        noise_logs: Logs of the levels of a family's noise, (1, n_levels).
        noise_log_shares: Logs of their shares, (1, n_levels).
    """

    observed_g: Floats
    is_there: np.ndarray
    log_share: Floats
    shift_g: Floats
    sd_g: Floats
    offsets: Floats
    noise_logs: tuple[float, ...]
    noise_log_shares: tuple[float, ...]

    @classmethod
    def of_weighings(cls, weighings: Weighings, p: Population, sittings: int) -> Self:
        """The errors of infants of whom each has so many sittings."""
        table = _table(p)
        close = weighings.close(p.sitting_h)
        begins = np.zeros(weighings.age_d.shape, dtype=bool)
        begins[:, :-1] = _begins(close)
        joins = begins.copy()
        joins[:, 1:] |= close
        at = (joins.astype(np.intp), weighings.clothing)
        which = np.cumsum(begins, axis=1) - 1
        loading = joins[:, :, None] & (which[:, :, None] == np.arange(sittings))
        there = np.isfinite(weighings.weight_g)
        return cls(
            observed_g=np.where(there, weighings.weight_g, 0.0),
            is_there=there,
            log_share=np.moveaxis(table.log_share[at], 2, 1).copy(),
            shift_g=np.moveaxis(table.shift_g[at], 2, 1).copy(),
            sd_g=np.moveaxis(table.sd_g[at], 2, 1).copy(),
            offsets=float(np.sqrt(shared_variance(p))) * loading,
            noise_logs=table.noise_logs,
            noise_log_shares=table.noise_log_shares,
        )

    def of_kinds(self, values: Floats, kinds: Indices) -> Floats:
        """Of values (n, n_kinds, w) those of the kinds assigned, (n, w)."""
        return np.asarray(np.take_along_axis(values, kinds[:, None], axis=1)[:, 0])

    def assigned_sd(self, kinds: Indices, quiet: Floats) -> Floats:
        """SD of the kind of error assigned to each weight, g, (n, w); `quiet` (n,) as there."""
        sd = self.of_kinds(self.sd_g, kinds)
        return np.where(kinds == 0, sd / np.sqrt(quiet)[:, None], sd)

    def scoring(
        self, predictors: Floats, kinds: Indices, quiet: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Slope and curvature in each predictor, (n, w), and the log-likelihood, (n,)."""
        sd = self.assigned_sd(kinds, quiet)
        pull = (self.observed_g - predictors - self.of_kinds(self.shift_g, kinds)) / sd
        pull = np.where(self.is_there, pull, 0.0)
        curvature = np.where(self.is_there, 1.0 / sd**2, 0.0)
        scale = np.where(self.is_there, self.of_kinds(self.log_share, kinds) - np.log(sd), 0.0)
        return pull / sd, curvature, scale.sum(axis=1) - 0.5 * np.vecdot(pull, pull)

    def log_likelihood(self, predictors: Floats) -> Floats:
        """Log-likelihood of all weights, over all levels of noise, (n, n_draws).

        `predictors` is (n, w, n_draws). As `WeightErrors.contributions`.
        """
        residual = self.observed_g[:, :, None] - predictors
        scale = np.exp(self.log_share - np.log(self.sd_g) - _LOG_ROOT_2PI)
        scale = np.where(self.is_there[:, None], scale, 0.0)
        halves = -0.5 / self.sd_g**2
        wrong = np.where(self.is_there, NEVER, 1.0)[:, :, None] + np.zeros_like(residual)
        for kind in range(1, self.sd_g.shape[1]):
            away = residual - self.shift_g[:, kind, :, None]
            away *= away
            away *= halves[:, kind, :, None]
            wrong += scale[:, kind, :, None] * np.exp(away, out=away)
        squares = residual - self.shift_g[:, 0, :, None]
        squares *= squares
        squares *= halves[:, 0, :, None]
        quiet = np.exp(-np.array(self.noise_logs))[:, None]
        usual = quiet * scale[:, 0, None, :]
        joint = np.zeros((len(residual), len(quiet), residual.shape[2]))
        joint += np.array(self.noise_log_shares)[:, None]
        for start in range(0, residual.shape[1], MULTIPLIED):
            joint += self._block(slice(start, start + MULTIPLIED), squares, usual, wrong, quiet**2)
        most = joint.max(axis=1)
        joint -= most[:, None]
        np.exp(joint, out=joint)
        return np.asarray(most + np.log(joint.sum(axis=1)))

    @staticmethod
    def _block(
        places: slice, squares: Floats, usual: Floats, wrong: Floats, quiet: Floats
    ) -> Floats:
        """Log density of some weights together at each level of noise, (n, n_levels, n_draws)."""
        whole = np.ones(())
        for w in range(*places.indices(squares.shape[1])):
            either = quiet * squares[:, None, w]
            np.exp(either, out=either)
            either *= usual[:, :, w, None]
            either += wrong[:, None, w]
            whole = either if whole.ndim == 0 else np.multiply(whole, either, out=whole)
        return np.log(np.maximum(whole, NEVER, out=whole), out=whole)

    def level_shares(self, squares: Floats, freedom: Floats) -> Floats:
        """Posterior share of each level of noise, (n, n_levels); args as in `WeightErrors.quietness`."""
        levels = np.array(self.noise_logs)
        logs = (
            np.array(self.noise_log_shares)
            - freedom[:, None] * levels
            - 0.5 * squares[:, None] * np.exp(-2.0 * levels)
        )
        share = np.exp(logs - logs.max(axis=1, keepdims=True))
        return np.asarray(share / share.sum(axis=1, keepdims=True))

    def quietness(self, squares: Floats, freedom: Floats) -> Floats:
        """Expected precision of the ordinary noise over the usual one, (n,)."""
        quiet = np.exp(-2.0 * np.array(self.noise_logs))
        return np.asarray((self.level_shares(squares, freedom) * quiet).sum(axis=1))


@dataclass(frozen=True, eq=False)
class _Table:
    """Errors by whether a weight shares a sitting and by clothing, (2, n_clothing, n_kinds)."""

    log_share: Floats
    shift_g: Floats
    sd_g: Floats
    noise_logs: tuple[float, ...]
    noise_log_shares: tuple[float, ...]


@lru_cache(maxsize=8)
def _table(p: Population) -> _Table:
    """The table of a population, from one weight of each kind, and from two of one sitting."""
    anything_g = 1000.0 * p.birth_weight_mean_kg
    found = [
        WeightErrors.from_weights(
            tuple(
                WeightReading(id=str(k), age_d=1.0, weight_g=anything_g, clothing=worn)
                for k in range(together)
            ),
            {},
            p,
        )
        for together, worn in product((1, 2), CLOTHING)
    ]
    one = found[0]

    def gathered(name: str) -> Floats:
        each = np.stack([getattr(errors, name)[:, 0] for errors in found])
        return np.asarray(each.reshape(2, len(CLOTHING), -1))

    return _Table(
        gathered("log_share"),
        gathered("shift_g"),
        gathered("sd_g"),
        tuple(one.noise_logs.tolist()),
        tuple(one.noise_log_shares.tolist()),
    )
