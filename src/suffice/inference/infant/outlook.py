"""What the draws say: intake, gain, requirement, forecast and the loss_centile among other infants."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from suffice.inference.estimate import WIDTH_80, Forecast, Interval, LossCentile, Question
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.infant.displaced import LATELY_D, displaced
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.model import (
    LATENTS_COUNT,
    Birth,
    Course,
    Floats,
    between,
    clocks,
    time_grid,
)
from suffice.inference.infant.population import Population

LEVELS = (0.5, 0.25, 0.75, 0.1, 0.9, 0.025, 0.975)
FAN_LEVELS = (0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975)
_MIDDLE_80 = (1, 3, 5)
"""Places of the median and of the ends of the 80 % interval among `FAN_LEVELS`."""
_HALF_DAY = 0.5
_OTHERS_COUNT, _RANKS_COUNT = 8000, 401
_OTHERS_SEED = 20261125
_HOURS_PER_DAY = 24.0


@dataclass(frozen=True, slots=True)
class Outlook:
    """Equally likely draws of everything that is answered; arrays (n_draws,) unless said otherwise.

    Attributes:
        breast_ml_d: Intake at the breast in 24 h, mL/day.
        total_ml_d: With the milk given, mL/day.
        given_ml_d: Milk given in the last 24 h, mL/day (one number).
        requirement_ml_d: Intake that is needed, mL/day.
        share: Energy taken over energy needed (or volume over volume).
        least_share: Energy taken over that with which the gain would lie on the question's limit; the
            same as `share` where a fixed volume is required.
        gain_g_d: Present gain of tissue, g/day.
        weight_g: Present true weight, g.
        regained_d: Age at regain of birth weight, days; infinite when not within the grid.
        regain_day_ratio: Weight over birth weight at the regain day.
        fan_d: Ages of the forecast, (n_ages,).
        fan_g: True weights there, (n_draws, n_ages).
        later_gain_g_d: Gain at each whole day from now, (n_draws, n_days).
        later_weight_g: Weight at each whole day from now, (n_draws, n_days).
        future_ml_d: Milk given that the forecast supposes, mL/day.
    """

    breast_ml_d: Floats
    total_ml_d: Floats
    given_ml_d: float
    requirement_ml_d: Floats
    share: Floats
    least_share: Floats
    gain_g_d: Floats
    weight_g: Floats
    regained_d: Floats
    regain_day_ratio: Floats
    fan_d: Floats
    fan_g: Floats
    later_gain_g_d: Floats
    later_weight_g: Floats
    future_ml_d: float


def given_since(evidence: Evidence, since_d: float, p: Population) -> tuple[float, float]:
    """Milk given after the age `since_d` and up to now: mL and kcal."""
    lately = sorted(
        (m.volume_ml, p.given_milk_density if m.kcal_per_ml is None else m.kcal_per_ml)
        for m in evidence.milk_given
        if since_d < m.age_d <= evidence.now_d
    )
    return sum(v for v, _ in lately), sum(v * density for v, density in lately)


def given_to(evidence: Evidence, end_d: float) -> float:
    """Milk given in the 24 h that end at the age `end_d`, mL."""
    return sum(sorted(m.volume_ml for m in evidence.milk_given if end_d - 1.0 < m.age_d <= end_d))


def most_given(evidence: Evidence, since_d: float) -> float:
    """The most milk given in any 24 h that end after the age `since_d` and up to now, mL.

    What is not written down is not none: a log that stops must not make an infant look fed at the
    breast alone.
    """
    ends = [m.age_d for m in evidence.milk_given if since_d < m.age_d <= evidence.now_d]
    return max((given_to(evidence, end_d) for end_d in ends), default=0.0)


def supposed_rate(
    evidence: Evidence, question: Question, p: Population
) -> tuple[float, float, float]:
    """Now (days) and the milk given from now on that is supposed, mL/day and kcal/day."""
    now = evidence.now_d
    volume, energy = given_since(evidence, now - LATELY_D, p)
    rate = question.future_milk_given_ml_per_day
    if rate is None:
        rate = volume / min(LATELY_D, max(now, 1.0))
    density = energy / volume if volume > 0 else p.given_milk_density
    return now, rate, rate * density


def look_out(
    likelihood: Likelihood, z: Floats, question: Question, rng: np.random.Generator | None
) -> Outlook:
    """The outlook of equally likely draws `z`; the drift to come is drawn afresh.

    Without `rng` the drift gets no news. Of milk that changed unseen each draw has its own share made good.
    """
    evidence, p = likelihood.evidence, likelihood.population
    now, horizon = evidence.now_d, max(question.horizon_d, 1)
    before = int(now)
    days = now + np.arange(-before, horizon + 1, dtype=np.float64)  # every whole day from now
    window = min(p.gain_window_d, max(now, 1.0))
    until = max(now, window)
    ends = (max(now - _HALF_DAY, 0.0), question.regain_day, until - window, until)
    at = np.concatenate([ends, days])
    rate = supposed_rate(evidence, question, p)
    known = likelihood.course
    course = Course(p, known.birth, at, known.milk, known.first_knot, rate)
    prolonged = _prolonged(z, known.first_knot + course.knots_count, rng)
    paths = displaced(evidence, course, course.unfed(prolonged), rng)
    birth_kg = paths.birth_kg[:, 0]
    totals, tissue = (1000.0 * birth_kg * kg_kg.T for kg_kg in (paths.total, paths.tissue))
    first_day = len(ends)
    today = first_day + before
    breast = birth_kg * paths.breast_ml_kg_d[:, 0]
    given_ml, given_kcal = given_since(evidence, now - 1.0, p)
    expenditure, energy_share = clocks(at[:1], p)
    kept = float(expenditure[0]) * paths.need[:, 0] * totals[0] / 1000.0
    need, least = (
        kept + gain * paths.cost_kcal_g[:, 0]
        for gain in (question.requirement_gain_g_per_day, question.gain_limit_g_per_day)
    )
    density = p.density_later * float(energy_share[0]) * paths.density[:, 0]
    if question.requirement_ml_per_kg_per_day is None:
        requirement = need / density
        taken_kcal = breast * density + given_kcal
        share, least_share = taken_kcal / need, taken_kcal / least
    else:
        requirement = question.requirement_ml_per_kg_per_day * totals[today] / 1000.0
        share = least_share = (breast + given_ml) / requirement
    later = np.arange(today + 1, len(at))
    start = np.maximum(later - int(p.gain_window_d), first_day)
    return Outlook(
        breast_ml_d=breast,
        total_ml_d=breast + given_ml,
        given_ml_d=given_ml,
        requirement_ml_d=requirement,
        share=share,
        least_share=least_share,
        gain_g_d=(tissue[3] - tissue[2]) / window,
        weight_g=totals[today],
        regained_d=regain_ages(days, paths.total[:, first_day:]),
        regain_day_ratio=paths.total[:, 1],
        fan_d=at[today:],
        fan_g=totals[today:].T,
        later_gain_g_d=(tissue[later] - tissue[start]).T / np.maximum(later - start, 1),
        later_weight_g=totals[today + 1 :].T,
        future_ml_d=rate[1],
    )


def _prolonged(z: Floats, count: int, rng: np.random.Generator | None) -> Floats:
    """The latents with the drift's news up to `count` columns, zero without `rng`."""
    if count <= z.shape[1]:
        return z
    news = np.zeros((len(z), count - z.shape[1]))
    if rng is not None:
        rng.standard_normal(out=news)
    return np.concatenate([z, news], axis=1)


def regain_ages(days_d: Floats, ratio: Floats) -> Floats:
    """Age at which each draw is back at birth weight for good, (n_draws,), days.

    `ratio` is weight over birth weight at the ages `days_d`, (n_draws, n_days). Infinite where
    the last of them is below birth weight; the first of them where none is.
    """
    below = ratio < 1.0
    last = ratio.shape[1] - 1 - np.argmax(below[:, ::-1], axis=1)
    rows = np.arange(len(ratio))
    right = np.minimum(last + 1, ratio.shape[1] - 1)
    low, high = ratio[rows, last], ratio[rows, right]
    share = (1.0 - low) / np.where(high > low, high - low, 1.0)
    ages = days_d[last] + share * (days_d[right] - days_d[last])
    ages = np.where(last == right, np.inf, ages)
    return np.asarray(np.where(below.any(axis=1), ages, days_d[0]))


@lru_cache(maxsize=64)
def _ranks(levels: tuple[float, ...], count: int) -> tuple[NDArray[np.intp], ...]:
    """For each level the rank at or before it and the next, among `count`, and how far between."""
    place = np.array(levels) * (count - 1)
    left = np.floor(place).astype(np.intp)
    return left, np.minimum(left + 1, count - 1), place - left


def pick(ordered: Floats, levels: tuple[float, ...]) -> Floats:
    """Quantiles of rows that are sorted already, (n_rows, n_levels), linear between ranks."""
    left, right, share = _ranks(levels, ordered.shape[1])
    return np.asarray(ordered[:, left] + share * (ordered[:, right] - ordered[:, left]))


def interval(quantiles: Floats, unit: str) -> Interval:
    """The interval of the seven quantiles `LEVELS`."""
    m, a, b, c, d, e, f = quantiles.tolist()
    return Interval(
        unit=unit, median=m, low_50=a, high_50=b, low_80=c, high_80=d, low_95=e, high_95=f
    )


def forecast(outlook: Outlook, noise_g: float) -> Forecast:
    """The weight fan; `noise_g` is the SD of one weighing, g."""
    fan = pick(np.sort(outlook.fan_g.T, axis=1), FAN_LEVELS)
    return Forecast(
        age_d=tuple(outlook.fan_d.tolist()),
        levels=FAN_LEVELS,
        weight_g=tuple(map(tuple, fan.tolist())),
        reading_g=tuple(map(tuple, as_read(fan, noise_g).tolist())),
        milk_given_ml_per_day=outlook.future_ml_d,
    )


def as_read(weight_g: Floats, noise_g: Floats | float) -> Floats:
    """Quantiles of what a scale will show, from those of the true weight, (n_ages, n_levels).

    Each side is stretched about the median as a normal of the width of the 80 % interval would be.
    """
    low, middle, high = _MIDDLE_80
    sd = np.maximum((weight_g[:, high] - weight_g[:, low]) / WIDTH_80, 1.0)
    stretch = np.hypot(sd, noise_g) / sd
    centre = weight_g[:, middle, None]
    return np.asarray(centre + (weight_g - centre) * stretch[:, None])


@lru_cache(maxsize=8)
def _peers(population: Population, caesarean_fraction: float) -> tuple[Floats, Floats]:
    """Other infants by mode of delivery: ages, and weight over birth weight, (n_ages, n_ranks)."""
    ages = time_grid(population.standing_until_d)
    birth = Birth(None, 0.5, caesarean_fraction)
    course = Course(population, birth, ages, (), LATENTS_COUNT)
    half = np.random.default_rng(_OTHERS_SEED).standard_normal(
        (_OTHERS_COUNT // 2, LATENTS_COUNT + course.knots_count)
    )
    ratio = course.paths(np.concatenate([half, -half])).total
    ranks = (np.arange(_RANKS_COUNT) + 0.5) / _RANKS_COUNT
    return ages, np.quantile(ratio, ranks, axis=0).T


def loss_centile(
    evidence: Evidence, weights: tuple[WeightReading, ...], p: Population, sd_g: float
) -> LossCentile | None:
    """Where the latest weight stands among infants of its age and mode; None when it cannot be.

    `sd_g` is the SD of an ordinary weight: others are imagined as weighed, not as they truly are.
    """
    if not weights or evidence.birth_weight_g is None:
        return None
    latest = weights[-1]
    if latest.age_d > p.standing_until_d:
        return None
    birth = Birth.from_evidence(evidence, p)
    grid, others = _peers(p, birth.caesarean_fraction)
    there = between(grid, np.array([latest.age_d]))[:, 0] @ others
    ratio = latest.weight_g / evidence.birth_weight_g
    blur = float(np.hypot(sd_g, p.noise_birth_weight_g)) / evidence.birth_weight_g
    return LossCentile(
        reading_id=latest.id,
        age_h=latest.age_d * _HOURS_PER_DAY,
        mode=evidence.mode or "not known",
        change_percent=100.0 * (ratio - 1.0),
        median_change_percent=100.0 * (float(there[_RANKS_COUNT // 2]) - 1.0),
        centile=100.0 * float(ndtr((ratio - there) / blur).mean()),
    )


def fraction(condition: NDArray[np.bool_]) -> float:
    """Share of draws for which a condition holds, with half a draw on either side.

    A probability of exactly 0 or 1 would claim more than a finite number of draws can.
    """
    return float((np.count_nonzero(condition) + 0.5) / (len(condition) + 1.0))
