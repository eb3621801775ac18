"""Whether milk comes in as hoped: daily totals of expressed milk against the marks of day 7 and day 14.

A day's total rises along

    total(t) = M / (1 + exp(-(t - t50) / w)) * (1 - a exp(-max(t - from, 0) / g))

with t in days of life. Its parameters are drawn once from what is known of others; each draw counts by
how well it fits the totals of this parent. The weights are tempered and the forecast drifts, because
not everybody follows this curve (simulated on another one, docs/reference/plan.md). Before the
fourth day next to nothing is known, so nothing is said; and nothing is ever nearly sure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import lru_cache
from typing import ClassVar, Final, NamedTuple

import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Expression
from suffice.clinical.parameters import Parameters
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Quantity, Working
from suffice.message import message

DRAWS_LOG2: Final = 12
"""So many draws, as a power of two: the answer moves by less than a hundredth with twice as many."""
SEED: Final = 20261129
"""The same draws every time, so that the same totals give the same answer."""
ROUNDS: Final = 40
"""How often an interval of a quantile is halved."""
LEVEL: Final = 0.8
Floats = NDArray[np.float64]


class MarkParameters(Parameters, frozen=True, kw_only=True):
    """What is known of others, and how it is weighed."""

    topic: ClassVar[str] = "production_mark"

    plateau_ml_per_day: Constant
    plateau_log_sd_ratio: Constant
    rise_d: Constant
    rise_sd_d: Constant
    width_d: Constant
    width_log_sd_ratio: Constant
    rest_logit_ratio: Constant
    rest_logit_sd_ratio: Constant
    rest_from_d: Constant
    rest_time_d: Constant
    rest_time_log_sd_ratio: Constant
    daily_log_sd_ratio: Constant
    offset_ml: Constant
    tail_count: Constant
    temper_ratio: Constant
    drift_ratio: Constant
    first_day_d: Constant
    fewest_sessions_count: Constant
    least_fraction: Constant
    most_fraction: Constant
    early_d: Constant
    early_mark_ml_per_day: Constant
    late_d: Constant
    late_mark_ml_per_day: Constant


class DayTotal(NamedTuple):
    """What was expressed on one day of life, both sides together; the day of birth is day 1."""

    day: int
    ml: float


class Mark(msgspec.Struct, frozen=True, kw_only=True):
    """What is expected of one mark.

    Attributes:
        day: Day of life.
        mark_ml: The total that is hoped for on it.
        median_ml: The total that is expected.
        low_ml: The lower end of its 80 % interval.
        high_ml: The upper end.
        chance_fraction: That it is at the mark or above; never under .05 or over .95.
        working: How it came about.
    """

    day: int
    mark_ml: float
    median_ml: float
    low_ml: float
    high_ml: float
    chance_fraction: float
    working: Working


def day_totals(
    entries: Iterable[Entry], *, born_at: datetime, as_of: datetime, parameters: MarkParameters
) -> tuple[DayTotal, ...]:
    """The totals of whole days of life, of days with sessions enough to be taken for whole.

    Args:
        entries: Entries of the family that stand.
        born_at: When the infant was born.
        as_of: A day that is not over then does not count.
        parameters: The values in force.
    """
    found: dict[int, list[float]] = {}
    for one in entries:
        if not isinstance(one.fact, Expression) or not born_at <= one.true_at <= as_of:
            continue
        volumes = [ml for ml in (one.fact.left_ml, one.fact.right_ml) if ml is not None]
        day = math.floor(elapsed_h(born_at, one.true_at) / HOURS_PER_DAY) + 1
        found.setdefault(day, []).append(math.fsum(volumes))
    over = elapsed_h(born_at, as_of) / HOURS_PER_DAY
    return tuple(
        DayTotal(day, math.fsum(volumes))
        for day, volumes in sorted(found.items())
        if len(volumes) >= parameters.fewest_sessions_count.value and day <= over
    )


def marks(totals: Sequence[DayTotal], parameters: MarkParameters) -> tuple[Mark, ...]:
    """The marks that are still to come; none before the fourth day of life.

    Args:
        totals: Totals of whole days of life, in any order; days that are not known are left out.
        parameters: The values in force.
    """
    known = sorted(totals)
    if not known or known[-1].day < parameters.first_day_d.value:
        return ()
    return tuple(
        _mark(known, round(day.value), mark, parameters)
        for day, mark in (
            (parameters.early_d, parameters.early_mark_ml_per_day),
            (parameters.late_d, parameters.late_mark_ml_per_day),
        )
        if known[-1].day < day.value
    )


def _mark(known: Sequence[DayTotal], day: int, mark: Constant, parameters: MarkParameters) -> Mark:
    draws = _draws(parameters)
    weights = _weights(known, draws, parameters)
    ahead = day - known[-1].day
    sd = math.hypot(
        parameters.daily_log_sd_ratio.value, parameters.drift_ratio.value * math.sqrt(ahead)
    )
    expected = np.log(_curve(np.float64(day), draws, parameters) + parameters.offset_ml.value)
    log_mark = math.log(mark.value + parameters.offset_ml.value)
    chance = float(weights @ ndtr((expected - log_mark) / sd))
    low, middle, high = (
        math.exp(_quantile(share, expected, sd, weights)) - parameters.offset_ml.value
        for share in ((1 - LEVEL) / 2, 0.5, (1 + LEVEL) / 2)
    )
    return Mark(
        day=day,
        mark_ml=mark.value,
        median_ml=max(middle, 0.0),
        low_ml=max(low, 0.0),
        high_ml=high,
        chance_fraction=min(
            max(chance, parameters.least_fraction.value), parameters.most_fraction.value
        ),
        working=_working(known, mark, parameters),
    )


@lru_cache(maxsize=4)
def _draws(parameters: MarkParameters) -> Floats:
    """Draws of the parameters of the curve, one row each: M, t50, w, a, g."""
    # Most of a second of every start would go into all the rest of scipy.stats.
    from scipy.stats import qmc  # noqa: PLC0415

    normal = ndtri(qmc.Sobol(5, seed=SEED).random_base2(DRAWS_LOG2))

    def log_normal(draw: Floats, middle: Constant, sd: Constant) -> Floats:
        return np.asarray(middle.value * np.exp(sd.value * draw))

    rest = parameters.rest_logit_ratio.value + parameters.rest_logit_sd_ratio.value * normal[:, 3]
    return np.column_stack(
        [
            log_normal(
                normal[:, 0], parameters.plateau_ml_per_day, parameters.plateau_log_sd_ratio
            ),
            parameters.rise_d.value + parameters.rise_sd_d.value * normal[:, 1],
            log_normal(normal[:, 2], parameters.width_d, parameters.width_log_sd_ratio),
            1 / (1 + np.exp(-rest)),
            log_normal(normal[:, 4], parameters.rest_time_d, parameters.rest_time_log_sd_ratio),
        ]
    )


def _curve(day: np.float64, draws: Floats, parameters: MarkParameters) -> Floats:
    """The total of a day of each draw, mL."""
    plateau, rise, width, rest, time = draws.T
    since = max(day - parameters.rest_from_d.value, 0.0)
    return np.asarray(
        plateau / (1 + np.exp(-(day - rise) / width)) * (1 - rest * np.exp(-since / time))
    )


def _weights(known: Sequence[DayTotal], draws: Floats, parameters: MarkParameters) -> Floats:
    """What each draw counts: Student's t about its curve, tempered."""
    tail, offset = parameters.tail_count.value, parameters.offset_ml.value
    score = np.zeros(len(draws))
    for one in known:
        expected = np.log(_curve(np.float64(one.day), draws, parameters) + offset)
        off = (math.log(one.ml + offset) - expected) / parameters.daily_log_sd_ratio.value
        score -= (tail + 1) / 2 * np.log1p(off**2 / tail)
    score *= parameters.temper_ratio.value
    weights = np.exp(score - score.max())
    return np.asarray(weights / weights.sum())


def _quantile(share: float, expected: Floats, sd: float, weights: Floats) -> float:
    """The value below which so much of a mixture of normals lies, by halving."""
    low, high = float(expected.min()) - 6 * sd, float(expected.max()) + 6 * sd
    for _round in range(ROUNDS):
        middle = (low + high) / 2
        if float(weights @ ndtr((middle - expected) / sd)) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _working(known: Sequence[DayTotal], mark: Constant, parameters: MarkParameters) -> Working:
    return Working(
        formula=message(
            "curves of daily totals drawn from what is known of others, each weighed by how well it"
            " fits the days so far; tempered, and wider the further ahead"
        ),
        inputs=tuple(
            Quantity(name=message("day {day}", day=one.day), value=round(one.ml), unit="mL")
            for one in known
        ),
        constants=(
            mark,
            parameters.plateau_ml_per_day,
            parameters.temper_ratio,
            parameters.drift_ratio,
            parameters.least_fraction,
            parameters.most_fraction,
        ),
        notes=(
            message(
                "Tried on simulated parents only. A day of which a session is missing says too little."
            ),
        ),
    )
