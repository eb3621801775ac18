"""Weight forecasts on real infants, against two naive rules; writes docs/validation/real.md.

    python tools/validate/real.py --weights FILE.csv

Nobody who is scored takes part in what the forecast learned: `forecast.small_slope_z`, which was
fitted on these very infants (tools/fit_small_slope.py), is fitted again without each fold, as is the
site where one is pooled.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from rich.progress import track
from tools.fit_small_slope import fitted, with_slope
from tools.validate.study import DEFAULT_WEIGHTS, ROOT, TASKS, Study, halves, read_study
from tools.validate.term_infants import POPULATIONS, TermPopulation, simulate
from tools.validate.weight_forecasts import Score, Spread, Task, overall, score, table, with_range

from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.prior import (
    GrowthPrior,
    SiteShift,
    Weighed,
    WeightReference,
)
from suffice.inference.growth.site import pool_site, settle
from suffice.knowledge.growth_forecast import default_growth

PAGE = ROOT / "docs" / "validation" / "real.md"
TERM_TASKS = ((7, 14), (7, 28), (14, 28), (28, 42), (28, 70), (30, 58), (58, 90), (90, 126))
TERM_VISITS = (0, 3, 7, 14, 28, 30, 58, 90)
FOLDS = 10
FOLDS_SEED = 100

Foretell = Callable[[Task], Spread]


def with_shift(prior: GrowthPrior, reference: WeightReference, shift: SiteShift | None) -> Foretell:
    """Forecasts with one belief about the site."""

    def foretell(task: Task) -> Spread:
        return Spread.from_fan(
            forecast(prior, reference, task.known, task.at_d[:, None], shift=shift)
        )

    return foretell


Learned = tuple[GrowthPrior, SiteShift | None]
Learn = Callable[[Weighed], Learned]


def refitted(reference: WeightReference, prior: GrowthPrior) -> Learn:
    """Learns how much less small infants catch up, and nothing of the site."""
    return lambda others: (fitted(prior, reference, others), None)


def learned_by_fold(study: Study, fold: np.ndarray, learn: Learn) -> list[Learned]:
    """What the infants of the other folds tell of each; `fold` (n,) from 0."""
    every = range(int(fold.max()) + 1)
    return [learn(study.weighed.rows(fold != k)) for k in track(every, description="folds")]


def by_fold(reference: WeightReference, fold: np.ndarray, learned: list[Learned]) -> Foretell:
    """Forecasts of each fold by what was learned of the others."""

    def foretell(task: Task) -> Spread:
        mine = [np.flatnonzero(fold[task.rows] == k) for k in range(len(learned))]
        parts = [
            with_shift(prior, reference, shift)(
                replace(task, known=task.known.rows(rows), at_d=task.at_d[rows])
            )
            for rows, (prior, shift) in zip(mine, learned, strict=True)
        ]
        return Spread.joined(parts, mine)

    return foretell


def tenths(count: int) -> np.ndarray:
    """Which of ten folds each infant is in."""
    return np.random.default_rng(FOLDS_SEED).permutation(count) % FOLDS


def two_halves(count: int) -> np.ndarray:
    """The same for the two halves."""
    return np.isin(np.arange(count), halves(count)[1]).astype(int)


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


def worlds(prior: GrowthPrior, reference: WeightReference) -> dict[str, Learn]:
    """What the forecast without a site might have been, by what was or was not learned and judged."""
    none = with_slope(prior, np.zeros_like(prior.small_slope_z))
    higher, lower = (replace(prior, mean_z=prior.mean_z + by * prior.shift_sd_z) for by in (1, -1))
    median = replace(prior, mean_z=np.zeros_like(prior.mean_z))
    unknown = replace(prior, shift_sd_z=1.25 * prior.shift_sd_z)

    def kept(one: GrowthPrior) -> Learn:
        return lambda _others: (one, None)

    return {
        "term as shipped (those scored took part in its fit)": kept(prior),
        "no term": kept(none),
        "no term; mean of all infants one SD of a site higher": kept(
            replace(none, mean_z=higher.mean_z)
        ),
        "no term; mean one SD of a site lower": kept(replace(none, mean_z=lower.mean_z)),
        "no term; mean the WHO median: correlations alone": kept(
            replace(none, mean_z=median.mean_z)
        ),
        "mean of all infants one SD of a site higher": refitted(reference, higher),
        "mean one SD of a site lower": refitted(reference, lower),
        "mean the WHO median": refitted(reference, median),
        "SDs of a site a quarter larger, as before they were lowered": refitted(reference, unknown),
        "1 % gross errors": refitted(reference, replace(prior, gross_share=0.01)),
        "3 % gross errors": refitted(reference, replace(prior, gross_share=0.03)),
    }


def hangs_on(study: Study, as_written: Study, crossed_scores: list[Score]) -> str:
    """The forecasts without a site once more, with other numbers in the place of those judged."""
    prior, reference = default_growth()
    count = study.weighed.count
    tries: dict[str, tuple[Study, np.ndarray, Learn]] = {
        "term from the other half": (study, two_halves(count), refitted(reference, prior)),
        "day of birth taken as age 0": (as_written, tenths(count), refitted(reference, prior)),
    }
    for name, learn in worlds(prior, reference).items():
        tries[name] = study, tenths(count), learn
    found = {"as above: term from the other nine folds": crossed_scores}
    for name, (one, fold, learn) in tries.items():
        learned = learned_by_fold(one, fold, learn)
        found[name] = scores(one, np.arange(count), by_fold(reference, fold, learned))
    return (
        "| forecast | mean ratio (95 % CI) | worst task | better in | covered 80 | CRPS, g |\n"
        "|---|---|---|---|---|---|\n"
        + "".join(f"| {name} | {_in_short(one)} |\n" for name, one in found.items())
    )


def _in_short(found: list[Score]) -> str:
    whole = overall(found)
    ratios = [one.ratio for one in found]
    return (
        f"{with_range(whole.ratio)} | {max(ratios):.3f} | {sum(r < 1 for r in ratios)} of"
        f" {len(ratios)} | {with_range(whole.coverage[1])} |"
        f" {np.mean([one.crps for one in found]):.1f}"
    )


def learning_curve(study: Study, *, draws: int) -> list[tuple[int, float, float, float, float]]:
    """(n pooled, mean ratio, worst ratio, mean 80 % coverage, mean CRPS) on the other half.

    The development half is where small infants' catch-up was fitted and from where n are pooled.
    """
    shipped, reference = default_growth()
    development, held_out = halves(study.weighed.count)
    prior = fitted(shipped, reference, study.weighed.rows(development))
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


def crossed(study: Study, *, sites: bool = True) -> dict[bool, list[Score]]:
    """Every infant scored by what the other nine folds gave: the term, and (True) with it the site if `sites`."""
    prior, reference = default_growth()
    fold = tenths(study.weighed.count)
    term = learned_by_fold(study, fold, refitted(reference, prior))
    by = {False: term}
    if sites:
        # The site is pooled by the same term, which takes longest to fit.
        by[True] = [
            (one, settle(pool_site(one, reference, study.weighed.rows(fold != k))))
            for k, (one, _) in enumerate(term)
        ]
    rows = np.arange(study.weighed.count)
    return {
        with_site: scores(study, rows, by_fold(reference, fold, learned))
        for with_site, learned in by.items()
    }


def write_page(weights: Path, page: Path, *, draws: int, term_count: int) -> None:
    """Run everything and write the page between its marks."""
    prior, reference = default_growth()
    study = read_study(weights)
    pool = settle(pool_site(prior, reference, study.weighed))
    both = crossed(study)
    parts = {
        "crossed": table(both[False], unit="weeks"),
        "hangs on": hangs_on(study, read_study(weights, day_of_birth_d=0.0), both[False]),
        "folds": table(both[True], unit="weeks"),
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
