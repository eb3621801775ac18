"""Forecasts of weight scored against two naive rules: RMSE, CRPS, coverage, each with its chance.

What is known of some infants and one later weight of each is a :class:`Task`; a forecast of it is a
:class:`Spread`; how it fared, infant by infant, is a :class:`Score`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr
from scipy.stats import binom
from tools.validate.scoring import crps_of_normal, rmse

from suffice.inference.growth.forecast import WeightForecast
from suffice.inference.growth.prior import Floats, Weighed
from suffice.knowledge.tables import growth_standards

LEVELS = (0.5, 0.8, 0.95)
DRAWS = 1000


@dataclass(frozen=True)
class Task:
    """What is known of some infants, and one later weight of each.

    `rows` says who they are; `is_slip` where the last known or the later weight is certainly wrong.
    """

    name: str
    rows: np.ndarray
    known: Weighed
    last_d: Floats
    last_g: Floats
    at_d: Floats
    truth_g: Floats
    is_slip: np.ndarray


@dataclass(frozen=True)
class Spread:
    """Forecasts of a reading, one an infant: normal with `sd_g`, but for a share of gross errors."""

    mean_g: Floats
    sd_g: Floats
    gross_share: Floats
    gross_sd_g: float
    quantiles_g: Floats

    @classmethod
    def from_fan(cls, fan: WeightForecast) -> Spread:
        """From a fan with one age an infant."""
        return cls(
            mean_g=fan.mean_g[:, 0],
            sd_g=fan.read_sd_g[:, 0],
            gross_share=np.full(len(fan.mean_g), fan.gross_share),
            gross_sd_g=fan.gross_sd_g,
            quantiles_g=fan.quantiles_g()[:, 0],
        )

    @classmethod
    def joined(cls, parts: list[Spread], places: list[np.ndarray]) -> Spread:
        """Parts put back in the order of the infants."""
        order = np.argsort(np.concatenate(places))

        def whole(name: str) -> Floats:
            return np.concatenate([getattr(part, name) for part in parts])[order]

        return cls(
            mean_g=whole("mean_g"),
            sd_g=whole("sd_g"),
            gross_share=whole("gross_share"),
            gross_sd_g=parts[0].gross_sd_g,
            quantiles_g=whole("quantiles_g"),
        )

    def crps_g(self, truth_g: Floats) -> Floats:
        """CRPS of each forecast, in closed form for a mixture of two normals with one mean."""
        away = truth_g - self.mean_g
        one, two = self.sd_g, np.hypot(self.sd_g, self.gross_sd_g)
        share = self.gross_share
        reach = (1 - share) * _mean_distance(away, one) + share * _mean_distance(away, two)
        zero = np.zeros_like(away)
        own = (
            (1 - share) ** 2 * _mean_distance(zero, np.sqrt(2) * one)
            + share**2 * _mean_distance(zero, np.sqrt(2) * two)
            + 2 * share * (1 - share) * _mean_distance(zero, np.hypot(one, two))
        )
        return reach - own / 2


def _mean_distance(away: Floats, sd: Floats) -> Floats:
    """Mean distance from 0 of a normal with that mean and SD."""
    z = away / sd
    return 2 * sd * np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi) + away * (2 * ndtr(z) - 1)


@dataclass(frozen=True)
class Score:
    """How forecasts fared on one task: errors, g, of the two rules and the forecast, by infant.

    `rate_error` is that of today's habit, the last rate carried on.
    """

    name: str
    rows: np.ndarray
    rule_error: np.ndarray
    rate_error: np.ndarray
    error: np.ndarray
    inside: np.ndarray
    crps: float
    rule_crps: float
    is_slip: np.ndarray

    @property
    def count(self) -> int:
        return len(self.error)

    @property
    def rmse(self) -> tuple[float, float, float]:
        """Of constant z, of last weight plus the gain of the WHO median, of the forecast."""
        return rmse(self.rule_error[0]), rmse(self.rule_error[1]), rmse(self.error)

    @property
    def better_rule(self) -> np.ndarray:
        return self.rule_error[int(np.argmin(self.rmse[:2]))]

    @property
    def ratio(self) -> float:
        """RMSE against the better of the two rules."""
        return self.rmse[2] / min(self.rmse[:2])

    @property
    def ratio_to_rate(self) -> float:
        """RMSE against the last rate carried on."""
        return self.rmse[2] / rmse(self.rate_error)

    @property
    def ratio_without_slips(self) -> float:
        """The same where neither weight is certainly wrong, again against the better rule there."""
        kept = ~self.is_slip
        return rmse(self.error[kept]) / min(rmse(one[kept]) for one in self.rule_error)

    @property
    def coverage(self) -> tuple[float, ...]:
        """Of the 50, 80 and 95 % intervals."""
        return tuple(float(share) for share in self.inside.mean(axis=0))

    @property
    def chance(self) -> tuple[float, float]:
        """Between what an 80 % interval that is just right covers in 95 of 100 samples so large."""
        low, high = binom.ppf([0.025, 0.975], self.count, LEVELS[1]) / self.count
        return float(low), float(high)

    @property
    def is_beyond_chance(self) -> bool:
        low, high = self.chance
        return not low <= self.coverage[1] <= high


def score(task: Task, spread: Spread) -> Score:
    """All measures of one task."""
    rules = np.array([constant_z(task) - task.truth_g, median_gain(task) - task.truth_g])
    better = rules[int(np.argmin([rmse(one) for one in rules]))]
    truth, fan = task.truth_g, spread.quantiles_g
    return Score(
        name=task.name,
        rows=task.rows,
        rule_error=rules,
        rate_error=last_rate(task) - task.truth_g,
        error=spread.mean_g - truth,
        inside=np.column_stack(
            [(truth >= fan[:, i]) & (truth <= fan[:, 6 - i]) for i in (2, 1, 0)]
        ),
        crps=float(spread.crps_g(truth).mean()),
        rule_crps=crps_of_normal(truth + better, rmse(better), truth),
        is_slip=task.is_slip,
    )


def _lms(male: Floats, age_d: Floats) -> tuple[Floats, Floats, Floats]:
    table = growth_standards().who.by_age["weight"]
    days = np.arange(table.median.shape[1])
    found = []
    for values in (table.skew, table.median, table.cv):
        by_sex = [np.interp(age_d, days, values[row]) for row in (0, 1)]
        found.append(np.where(male > 0.5, by_sex[1], by_sex[0]))
    return found[0], found[1], found[2]


def constant_z(task: Task) -> Floats:
    """The rule 'the WHO z-score stays': LMS z of the last weight, carried over."""
    skew, median, cv = _lms(task.known.male_share, task.last_d)
    z = ((task.last_g / median) ** skew - 1) / (skew * cv)
    skew, median, cv = _lms(task.known.male_share, task.at_d)
    return median * np.maximum(1 + skew * cv * z, 1e-6) ** (1 / skew)


def median_gain(task: Task) -> Floats:
    """The rule 'last weight plus the gain of the WHO median'."""
    _, before, _ = _lms(task.known.male_share, task.last_d)
    _, after, _ = _lms(task.known.male_share, task.at_d)
    return task.last_g + after - before


def last_rate(task: Task) -> Floats:
    """The habit 'the gain between the last two weights goes on'."""
    age, weight = task.known.age_d, task.known.weight_g
    earlier = np.where(age < task.last_d[:, None], age, -np.inf)
    at = earlier.argmax(axis=1)[:, None]
    before_d = np.take_along_axis(earlier, at, axis=1)[:, 0]
    before_g = np.take_along_axis(weight, at, axis=1)[:, 0]
    has_two = np.isfinite(before_d)
    span_d = np.where(has_two, task.last_d - before_d, 1.0)
    rate = np.where(has_two, (task.last_g - before_g) / span_d, 0.0)
    return task.last_g + rate * (task.at_d - task.last_d)


@dataclass(frozen=True)
class Overall:
    """Means over tasks with 95 % intervals, infants drawn again with all their weights."""

    ratio: tuple[float, float, float]
    coverage: tuple[tuple[float, float, float], ...]


def overall(found: list[Score]) -> Overall:
    """The means over the tasks, each (value, low, high)."""
    infants = np.unique(np.concatenate([one.rows for one in found]))
    rng = np.random.default_rng(0)
    drawn = rng.multinomial(len(infants), np.full(len(infants), 1 / len(infants)), size=DRAWS)
    ratios, covers = [], []
    for one in found:
        times = drawn[:, np.searchsorted(infants, one.rows)].astype(np.float64)
        ratios.append(np.sqrt((times @ one.error**2) / (times @ one.better_rule**2)))
        covers.append((times @ one.inside) / times.sum(axis=1, keepdims=True))
    ratio = np.mean(ratios, axis=0)
    cover = np.mean(covers, axis=0)
    centre = np.mean([one.coverage for one in found], axis=0)
    return Overall(
        ratio=(float(np.mean([one.ratio for one in found])), *_range(ratio)),
        coverage=tuple((float(centre[k]), *_range(cover[:, k])) for k in range(len(LEVELS))),
    )


def _range(drawn: Floats) -> tuple[float, float]:
    low, high = np.quantile(drawn, [0.025, 0.975])
    return float(low), float(high)


def ratio_range(one: Score) -> tuple[float, float]:
    """95 % bootstrap interval (over infants, paired) of RMSE against the better rule."""
    return overall([one]).ratio[1:]


def table(found: list[Score], *, unit: str) -> str:
    """The scores as two Markdown tables, errors and intervals, and a line over all tasks."""
    has_slips = any(one.is_slip.any() for one in found)
    return "\n".join(
        [_errors(found, unit, has_slips=has_slips), _intervals(found, unit), _summary(found)]
    )


def _errors(found: list[Score], unit: str, *, has_slips: bool) -> str:
    lines = [
        f"| {unit} | n | constant z | last + WHO median | growth prior | ratio to the better rule"
        " (95 % CI) |" + (" without certain slips |" if has_slips else "") + " median abs. error"
        " (z rule / median rule / prior) | bias |",
        "|---|---|---|---|---|---|" + ("---|" if has_slips else "") + "---|---|",
    ]
    for one in found:
        middle = [np.median(np.abs(e)) for e in (*one.rule_error, one.error)]
        low, high = ratio_range(one)
        slips = f" {one.ratio_without_slips:.3f} |" if has_slips else ""
        lines.append(
            f"| {one.name} | {one.count} | " + " | ".join(f"{value:.0f}" for value in one.rmse)
            + f" | {one.ratio:.3f} ({low:.2f} to {high:.2f}) |{slips} "
            + " / ".join(f"{value:.0f}" for value in middle)
            + f" | {one.error.mean():+.0f} |"
        )  # fmt: skip
    return "\n".join(lines) + "\n"


def _intervals(found: list[Score], unit: str) -> str:
    lines = [
        f"| {unit} | covered 50 / 80 / 95 | 80 % if just right | CRPS, better rule / prior |",
        "|---|---|---|---|",
    ]
    for one in found:
        low, high = one.chance
        mark = " (outside)" if one.is_beyond_chance else ""
        lines.append(
            f"| {one.name} | " + " / ".join(f"{share:.2f}" for share in one.coverage)
            + f" | {low:.2f} to {high:.2f}{mark} | {one.rule_crps:.0f} / {one.crps:.0f} |"
        )  # fmt: skip
    return "\n".join(lines) + "\n"


def _summary(found: list[Score]) -> str:
    whole = overall(found)
    better = sum(one.ratio < 1 for one in found)
    slips = ""
    if any(one.is_slip.any() for one in found):
        clean = np.array([one.ratio_without_slips for one in found])
        slips = (
            f" Without certain slips {clean.mean():.3f}, better in {int((clean < 1).sum())} of"
            f" {len(found)}."
        )
    beyond = sum(one.is_beyond_chance for one in found)
    to_rate = [one.ratio_to_rate for one in found]
    sharper = np.mean([one.crps for one in found]), np.mean([one.rule_crps for one in found])
    return (
        f"Mean ratio {with_range(whole.ratio)}; better than both rules in {better} of"
        f" {len(found)} tasks.{slips} Against the last rate carried on: mean ratio"
        f" {np.mean(to_rate):.2f}, worst {max(to_rate):.2f}. Mean CRPS {sharper[0]:.1f} g, of the better rule"
        f" {sharper[1]:.1f} g. Mean coverage of 50 % intervals {with_range(whole.coverage[0])}, of"
        f" 80 % {with_range(whole.coverage[1])}, of 95 % {with_range(whole.coverage[2])}; beyond"
        f" chance at 80 %: {beyond} of {len(found)} tasks.\n"
    )


def with_range(value: tuple[float, float, float]) -> str:
    """A value and its range as text."""
    return f"{value[0]:.3f} ({value[1]:.2f} to {value[2]:.2f})"
