"""Weight forecasts on real infants, against two naive rules; writes docs/validation/real.md.

    python tools/validate/real.py --weights FILE.csv

The file holds one row per weight: id, sex, gest_days, visit_week, age_days, weight_g (300 infants
of low birth weight weighed at 0 to 26 weeks; it is kept beside the checkout and is no part of it).
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from rich.progress import track
from tools.validate.term_infants import POPULATIONS, TermPopulation, simulate

from suffice.inference.growth_forecast import LEVELS, forecast
from suffice.inference.growth_prior import (
    Floats,
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
)
from suffice.inference.growth_site import pool_site, settle
from suffice.knowledge.growth_forecast import default_growth
from suffice.knowledge.tables import growth_standards

ROOT = Path(__file__).resolve().parents[2]
DEFAULT_WEIGHTS = ROOT.parent / "shared" / "data" / "weights" / "life6mo_300.csv"
PAGE = ROOT / "docs" / "validation" / "real.md"
WEEKS = (0, 1, 2, 4, 6, 10, 14, 18, 26)
TASKS = (
    (1, 2), (1, 4), (1, 6), (1, 10), (2, 4), (2, 6), (2, 10), (4, 6), (4, 10), (4, 14),
    (6, 10), (10, 14), (14, 18), (18, 26),
)  # fmt: skip
TERM_TASKS = ((7, 14), (7, 28), (14, 28), (28, 42), (28, 70), (30, 58), (58, 90), (90, 126))
TERM_VISITS = (0, 3, 7, 14, 28, 30, 58, 90)
IMPLAUSIBLE_GESTATION_DAYS = 210
DEVELOPMENT_SEED = 7
"""The half of the infants on which `forecast.small_slope_z` was fitted: a permutation's first 150."""


@dataclass(frozen=True)
class Study:
    """Weights of a study by visit."""

    weighed: Weighed
    weeks: tuple[float, ...]

    def task(self, start: int, stop: int, rows: np.ndarray) -> Task:
        """Forecast of one visit from it and all before, for the rows that have both."""
        a, b = self.weeks.index(start), self.weeks.index(stop)
        whole = self.weighed
        both = np.isfinite(whole.weight_g[:, a] + whole.weight_g[:, b])
        kept = rows[both[rows]]
        part = whole.rows(kept)
        later = np.arange(len(self.weeks)) > a
        known = replace(
            part,
            age_d=np.where(later, np.nan, part.age_d),
            weight_g=np.where(later, np.nan, part.weight_g),
        )
        return Task(
            name=f"{start} -> {stop}",
            rows=kept,
            known=known,
            last_d=part.age_d[:, a],
            last_g=part.weight_g[:, a],
            at_d=part.age_d[:, b],
            truth_g=part.weight_g[:, b],
        )


@dataclass(frozen=True)
class Task:
    """What is known of some infants, and one later weight of each."""

    name: str
    rows: np.ndarray
    known: Weighed
    last_d: Floats
    last_g: Floats
    at_d: Floats
    truth_g: Floats


@dataclass(frozen=True)
class Score:
    """How forecasts fared on one task."""

    name: str
    count: int
    rmse_constant_z: float
    rmse_median_gain: float
    rmse: float
    rmse_ci: tuple[float, float]
    median_error: tuple[float, float, float]
    bias: float
    coverage: tuple[float, float, float]
    pinball: float

    @property
    def ratio(self) -> float:
        """RMSE against the better of the two rules."""
        return self.rmse / min(self.rmse_constant_z, self.rmse_median_gain)


def read_study(path: Path) -> Study:
    """The study's weights, one row an infant."""
    with path.open(newline="", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    ids = sorted({row["id"] for row in rows}, key=int)
    age = np.full((len(ids), len(WEEKS)), np.nan)
    weight, gestation, male = age.copy(), np.full(len(ids), np.nan), np.zeros(len(ids))
    for row in rows:
        i, j = ids.index(row["id"]), WEEKS.index(int(float(row["visit_week"])))
        age[i, j], weight[i, j] = float(row["age_days"]), float(row["weight_g"])
        male[i] = row["sex"] == "male"
        days = float(row["gest_days"])
        gestation[i] = days if days >= IMPLAUSIBLE_GESTATION_DAYS else np.nan
    prior, _ = default_growth()
    return Study(
        weighed=Weighed(
            age_d=age,
            weight_g=weight,
            male_share=male,
            gestation_days=gestation,
            caesarean_share=np.full(len(ids), prior.caesarean_share),
        ),
        weeks=WEEKS,
    )


def halves(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Development and held-out infants."""
    order = np.random.default_rng(DEVELOPMENT_SEED).permutation(count)
    return np.sort(order[: count // 2]), np.sort(order[count // 2 :])


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


def score(task: Task, mean_g: Floats, quantiles_g: Floats) -> Score:
    """All measures of one task; quantiles (n, 7) at LEVELS."""
    rules = (constant_z(task) - task.truth_g, median_gain(task) - task.truth_g)
    error = mean_g - task.truth_g
    rmse = [float(np.sqrt(np.mean(e**2))) for e in (*rules, error)]
    inside = [
        float(
            np.mean((task.truth_g >= quantiles_g[:, i]) & (task.truth_g <= quantiles_g[:, 6 - i]))
        )
        for i in (2, 1, 0)
    ]
    over = task.truth_g[:, None] - quantiles_g
    levels = np.array(LEVELS)
    middle = tuple(float(np.median(np.abs(e))) for e in (*rules, error))
    return Score(
        name=task.name,
        count=len(error),
        rmse_constant_z=rmse[0],
        rmse_median_gain=rmse[1],
        rmse=rmse[2],
        rmse_ci=_ratio_interval(rules[int(np.argmin(rmse[:2]))], error),
        median_error=(middle[0], middle[1], middle[2]),
        bias=float(error.mean()),
        coverage=(inside[0], inside[1], inside[2]),
        pinball=float(np.mean(np.maximum(levels * over, (levels - 1) * over))),
    )


def _ratio_interval(rule: Floats, error: Floats) -> tuple[float, float]:
    """95 % bootstrap interval (over infants, paired) of RMSE against the better rule."""
    rng = np.random.default_rng(0)
    drawn = rng.integers(len(error), size=(1000, len(error)))
    ratio = np.sqrt(np.mean(error[drawn] ** 2, axis=1) / np.mean(rule[drawn] ** 2, axis=1))
    low, high = np.quantile(ratio, [0.025, 0.975])
    return float(low), float(high)


Foretell = Callable[[Task], tuple[Floats, Floats]]


def with_shift(prior: GrowthPrior, reference: WeightReference, shift: SiteShift | None) -> Foretell:
    """Forecasts with one belief about the site."""

    def foretell(task: Task) -> tuple[Floats, Floats]:
        fan = forecast(prior, reference, task.known, task.at_d[:, None], shift=shift)
        return fan.mean_g[:, 0], fan.quantiles_g()[:, 0]

    return foretell


def by_fold(
    prior: GrowthPrior, reference: WeightReference, study: Study, folds: int, seed: int
) -> Foretell:
    """Forecasts with the site pooled from the infants of the other folds."""
    count = study.weighed.count
    fold = np.random.default_rng(seed).permutation(count) % folds
    shifts = [
        settle(pool_site(prior, reference, study.weighed.rows(np.flatnonzero(fold != k))))
        for k in track(range(folds), description="pooling the site")
    ]

    def foretell(task: Task) -> tuple[Floats, Floats]:
        mean = np.empty(len(task.rows))
        quantiles = np.empty((len(task.rows), len(LEVELS)))
        for k in range(folds):
            mine = np.flatnonzero(fold[task.rows] == k)
            fan = forecast(
                prior, reference, task.known.rows(mine), task.at_d[mine, None], shift=shifts[k]
            )
            mean[mine], quantiles[mine] = fan.mean_g[:, 0], fan.quantiles_g()[:, 0]
        return mean, quantiles

    return foretell


def scores(study: Study, rows: np.ndarray, foretell: Foretell) -> list[Score]:
    """Every task for the infants of `rows`."""
    tasks = [study.task(a, b, rows) for a, b in TASKS]
    return [score(task, *foretell(task)) for task in tasks]


def term_scores(population: TermPopulation, count: int, seed: int) -> list[Score]:
    """Every term task with the default prior, on simulated infants."""
    prior, reference = default_growth()
    ages = np.array(sorted({*TERM_VISITS, *(b for _, b in TERM_TASKS)}), dtype=np.float64)
    infants = simulate(population, reference, ages, count=count, seed=seed)
    found = []
    for start, stop in TERM_TASKS:
        visits = [0, 3, start] if start <= 14 else [0, 7, start]
        visits = visits if start not in {58, 90} else [0, 30, start]
        at = [int(np.flatnonzero(ages == day)[0]) for day in sorted(set(visits))]
        last, target = at[-1], int(np.flatnonzero(ages == stop)[0])
        days = np.broadcast_to(ages, infants.read_g.shape)
        task = Task(
            name=f"{start} -> {stop}",
            rows=np.arange(count),
            known=Weighed(
                age_d=days[:, at],
                weight_g=infants.read_g[:, at],
                male_share=infants.male,
                gestation_days=np.full(count, 280.0),
                caesarean_share=np.full(count, prior.caesarean_share),
            ),
            last_d=days[:, last],
            last_g=infants.read_g[:, last],
            at_d=days[:, target],
            truth_g=infants.read_g[:, target],
        )
        found.append(score(task, *with_shift(prior, reference, None)(task)))
    return found


def learning_curve(study: Study, *, draws: int) -> list[tuple[int, float, float, float, float]]:
    """(n pooled, mean ratio, worst ratio, mean 80 % coverage, mean pinball) on the held-out half."""
    prior, reference = default_growth()
    development, held_out = halves(study.weighed.count)
    found = []
    for n in (0, 10, 30, 100, len(development)):
        rounds = []
        for seed in range(draws if 0 < n < len(development) else 1):
            chosen = np.random.default_rng(seed).permutation(development)[:n]
            pool = pool_site(prior, reference, study.weighed.rows(chosen))
            rounds.append(scores(study, held_out, with_shift(prior, reference, settle(pool))))
        ratios = np.array([[s.ratio for s in one] for one in rounds])
        cover = np.array([[s.coverage[1] for s in one] for one in rounds])
        pin = np.array([[s.pinball for s in one] for one in rounds])
        found.append(
            (
                n,
                float(ratios.mean()),
                float(ratios.mean(0).max()),
                float(cover.mean()),
                float(pin.mean()),
            )
        )
    return found


def table(found: list[Score], *, unit: str) -> str:
    """The scores as a Markdown table."""
    head = (
        f"| {unit} | n | constant z | last + WHO median | growth prior | ratio to the better rule"
        " (95 % CI) | median abs. error (z rule / median rule / prior) | bias | covered 50 / 80 / 95 |\n"
        "|---|---|---|---|---|---|---|---|---|\n"
    )
    lines = [
        f"| {s.name} | {s.count} | {s.rmse_constant_z:.0f} | {s.rmse_median_gain:.0f} | {s.rmse:.0f}"
        f" | {s.ratio:.3f} ({s.rmse_ci[0]:.2f} to {s.rmse_ci[1]:.2f})"
        f" | {s.median_error[0]:.0f} / {s.median_error[1]:.0f} / {s.median_error[2]:.0f}"
        f" | {s.bias:+.0f} | {s.coverage[0]:.2f} / {s.coverage[1]:.2f}"
        f" / {s.coverage[2]:.2f} |"
        for s in found
    ]
    ratio = np.array([s.ratio for s in found])
    cover = np.array([s.coverage for s in found]).mean(axis=0)
    better = int(np.sum(ratio < 1))
    foot = (
        f"\nMean ratio {ratio.mean():.3f}; better than both rules in {better} of {len(found)} tasks;"
        f" mean coverage {cover[0]:.3f} / {cover[1]:.3f} / {cover[2]:.3f}.\n"
    )
    return head + "\n".join(lines) + "\n" + foot


def write_page(weights: Path, page: Path, *, draws: int, term_count: int) -> None:
    """Run everything and write the page between its marks."""
    prior, reference = default_growth()
    study = read_study(weights)
    everyone = np.arange(study.weighed.count)
    _, held_out = halves(study.weighed.count)
    pool = settle(pool_site(prior, reference, study.weighed))
    parts = {
        "held out": table(
            scores(study, held_out, with_shift(prior, reference, None)), unit="weeks"
        ),
        "folds": table(
            scores(study, everyone, by_fold(prior, reference, study, 10, seed=100)), unit="weeks"
        ),
        "curve": _curve_table(learning_curve(study, draws=draws)),
        "site": f"Spread {pool.spread:.2f} times the default, noise {pool.noise_g:.0f} g a weight.\n",
        "term": "\n".join(
            f"**{p.name}** ({p.says}):\n\n" + table(term_scores(p, term_count, 2), unit="days")
            for p in track(POPULATIONS, description="term infants")
        ),
    }
    fill(page, parts)


def fill(page: Path, parts: dict[str, str]) -> None:
    """Write the parts of a page between their marks."""
    text = page.read_text(encoding="utf-8")
    for name, part in parts.items():
        begin, end = f"<!-- {name} -->\n", f"<!-- end of {name} -->"
        before, rest = text.split(begin)
        text = before + begin + part + end + rest.split(end)[1]
    page.write_text(text, encoding="utf-8")


def _curve_table(found: list[tuple[int, float, float, float, float]]) -> str:
    lines = [
        f"| {n} | {ratio:.3f} | {worst:.3f} | {cover:.3f} | {pin:.1f} |"
        for n, ratio, worst, cover, pin in found
    ]
    return (
        "| infants pooled | mean ratio | worst task | 80 % covers | pinball loss, g |\n"
        "|---|---|---|---|---|\n" + "\n".join(lines) + "\n"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weights", type=Path, default=DEFAULT_WEIGHTS)
    parser.add_argument("--page", type=Path, default=PAGE)
    parser.add_argument("--draws", type=int, default=5)
    parser.add_argument("--term-count", type=int, default=2000)
    chosen = parser.parse_args()
    if not chosen.weights.exists():
        raise SystemExit(f"No weights at {chosen.weights}: name the file with --weights.")
    write_page(chosen.weights, chosen.page, draws=chosen.draws, term_count=chosen.term_count)
    print(chosen.page.read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
