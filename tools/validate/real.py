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
from tools.validate.weight_forecasts import Score, Task, Told, score, table

from suffice.inference.growth_forecast import forecast
from suffice.inference.growth_prior import (
    Floats,
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
)
from suffice.inference.growth_site import pool_site, settle
from suffice.knowledge.growth_forecast import default_growth

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
SLIP_G = 400.0
DEVELOPMENT_SEED = 7
"""The half of the infants on which `forecast.small_slope_z` was fitted: a permutation's first 150."""


@dataclass(frozen=True)
class Study:
    """Weights of a study by visit."""

    weighed: Weighed
    weeks: tuple[float, ...]
    is_slip: np.ndarray

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
            is_slip=self.is_slip[kept][:, [a, b]].any(axis=1),
        )


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
        is_slip=certain_slips(weight),
    )


def halves(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Development and held-out infants."""
    order = np.random.default_rng(DEVELOPMENT_SEED).permutation(count)
    return np.sort(order[: count // 2]), np.sort(order[count // 2 :])


def certain_slips(weight_g: Floats) -> np.ndarray:
    """Which weights (n, m), in the order of age, are certainly wrong; no forecast is looked at.

    A weight equal to the gram to a later one, with another weight between them; then one that lies
    more than `SLIP_G` above both its neighbours, or below both.
    """
    wrong = np.zeros(weight_g.shape, dtype=bool)
    for row, found in zip(weight_g, wrong, strict=True):
        seen = list(np.flatnonzero(np.isfinite(row)))
        for place, at in enumerate(seen):
            found[at] = (row[seen[place + 2 :]] == row[at]).any()
        left = [at for at in seen if not found[at]]
        for before, at, after in zip(left, left[1:], left[2:], strict=False):
            away = row[at] - row[[before, after]]
            found[at] = (away > SLIP_G).all() or (away < -SLIP_G).all()
    return wrong


Foretell = Callable[[Task], Told]


def with_shift(prior: GrowthPrior, reference: WeightReference, shift: SiteShift | None) -> Foretell:
    """Forecasts with one belief about the site."""

    def foretell(task: Task) -> Told:
        return Told.of(forecast(prior, reference, task.known, task.at_d[:, None], shift=shift))

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

    def foretell(task: Task) -> Told:
        mine = [np.flatnonzero(fold[task.rows] == k) for k in range(folds)]
        parts = [
            with_shift(prior, reference, shift)(
                replace(task, known=task.known.rows(rows), at_d=task.at_d[rows])
            )
            for rows, shift in zip(mine, shifts, strict=True)
        ]
        return Told.joined(parts, mine)

    return foretell


def scores(study: Study, rows: np.ndarray, foretell: Foretell) -> list[Score]:
    """Every task for the infants of `rows`."""
    tasks = [study.task(a, b, rows) for a, b in TASKS]
    return [score(task, foretell(task)) for task in tasks]


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
            is_slip=np.zeros(count, dtype=bool),
        )
        found.append(score(task, with_shift(prior, reference, None)(task)))
    return found


def learning_curve(study: Study, *, draws: int) -> list[tuple[int, float, float, float, float]]:
    """(n pooled, mean ratio, worst ratio, mean 80 % coverage, mean CRPS) on the held-out half."""
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
        crps = np.array([[s.crps for s in one] for one in rounds])
        found.append(
            (
                n,
                float(ratios.mean()),
                float(ratios.mean(0).max()),
                float(cover.mean()),
                float(crps.mean()),
            )
        )
    return found


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
        "slips": _slips(study),
        "site": f"Spread {pool.spread:.2f} times the default, noise {pool.noise_g:.0f} g a weight,"
        f" {100 * pool.gross_share:.1f} % gross errors.\n",
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


def _slips(study: Study) -> str:
    """Which weights are certain slips, by week."""
    by_week = [
        f"week {week}: {int(wrong)}"
        for week, wrong in zip(study.weeks, study.is_slip.sum(axis=0), strict=True)
        if wrong
    ]
    weights = int(np.isfinite(study.weighed.weight_g).sum())
    return f"{int(study.is_slip.sum())} of {weights} weights: {', '.join(by_week)}.\n"


def _curve_table(found: list[tuple[int, float, float, float, float]]) -> str:
    lines = [
        f"| {n} | {ratio:.3f} | {worst:.3f} | {cover:.3f} | {crps:.1f} |"
        for n, ratio, worst, cover, crps in found
    ]
    return (
        "| infants pooled | mean ratio | worst task | 80 % covers | CRPS, g |\n"
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
