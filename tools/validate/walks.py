"""The growth prior in force beside a former one, on cohorts drawn for nothing else.

    python -m tools.validate.walks [--weights FILE.csv] [--count 400]

Each cohort by every task of `fan`: RMSE over that of the better naive rule, CRPS, what 80 % intervals
cover, and the log density of each weight one step ahead (the first left out). Term infants wander
within a month from weight to weight, or over 7, 14 or 30 days: what published gains cannot tell. Small
infants are scored by halves, each with the slowness of small infants fitted on the other half.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from tools.fit_small_slope import fitted
from tools.validate.fan import GROWTH, TERM_TASKS, VISITS_D, read_at, term_task
from tools.validate.study import DEFAULT_WEIGHTS, TASKS, halves, read_study
from tools.validate.term_infants import POPULATIONS, simulate
from tools.validate.waning_infants import AGES_D as WANING_D
from tools.validate.waning_infants import waning
from tools.validate.weight_forecasts import Spread, Task, score

from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.predictive import one_step_ahead
from suffice.inference.growth.prior import GrowthPrior, Weighed, default_shift

REFERENCE = GROWTH.reference
FORMER = {
    "stretch_days": 29.2,
    "smooth_share": 0.823,
    "walk_length": 2.26,
    "noise_weekly_g": 60.0,
    "noise_weekly_days": 21.0,
    "shift_length": 0.6,
}
"""The numbers that were in force until 30 November 2026."""
OWN_NOISE_LOG_SD = 0.25
TERM = (
    ("WHO-like, 35 g", 0, 35.0, None),
    ("WHO-like, 70 g", 0, 70.0, None),
    ("slow start, 85 g", 1, 85.0, None),
    ("heavy at birth, 50 g", 2, 50.0, None),
    ("WHO-like, 35 g, wander 7 d", 0, 35.0, 7.0),
    ("slow start, 65 g, wander 7 d", 1, 65.0, 7.0),
    ("WHO-like, 35 g, wander 14 d", 0, 35.0, 14.0),
    ("slow start, 65 g, wander 14 d", 1, 65.0, 14.0),
    ("WHO-like, 35 g, wander 30 d", 0, 35.0, 30.0),
    ("slow start, 65 g, wander 30 d", 1, 65.0, 30.0),
)
WANING = (("waning gain, 35 g", 35.0), ("waning gain, 90 g", 90.0))
CHOSEN_ON, FIRST_SEED = 901, 1301
"""The numbers in force were chosen with draws from the first on in view; the second touched nothing."""


@dataclass(frozen=True)
class Cohort:
    """Infants and what is asked of them; `others` are those from whom small ones are learned."""

    name: str
    weighed: Weighed
    tasks: list[Task]
    others: Weighed | None = None


def cohorts(weights: Path, count: int, first_seed: int) -> Iterator[Cohort]:
    """Every cohort, the small infants' halves first."""
    if weights.exists():
        study = read_study(weights, day_of_birth_d=0.0)
        parts = halves(study.weighed.count)
        for place, (rows, others) in enumerate(zip(parts, parts[::-1], strict=True)):
            yield Cohort(
                f"small infants, {('first', 'second')[place]} half",
                study.weighed.rows(rows),
                [study.task(a, b, rows) for a, b in TASKS],
                study.weighed.rows(others),
            )
    for seed, (name, which, noise_g, wander_days) in enumerate(TERM, start=first_seed):
        infants = _term(which, count, noise_g, wander_days, seed)
        yield Cohort(name, infants, [term_task(infants, a, b) for a, b in TERM_TASKS])
    for seed, (name, noise_g) in enumerate(WANING, start=first_seed):
        drawn = waning(count, noise_g, seed=seed)
        infants = read_at(drawn.male, WANING_D, drawn.read_g)
        yield Cohort(name, infants, [term_task(infants, a, b) for a, b in TERM_TASKS])


def _term(which: int, count: int, noise_g: float, wander_days: float | None, seed: int) -> Weighed:
    """Simulated term infants whose noise grows to `noise_g` by day 21, each with its own factor."""
    ages = np.array(VISITS_D)
    infants = simulate(
        POPULATIONS[which],
        REFERENCE,
        ages,
        count=count,
        seed=seed,
        noise_g=0.0,
        gross_share=0.0,
        wander_days=wander_days,
    )
    rng = np.random.default_rng(seed + 1)
    own = np.exp(rng.normal(0.0, OWN_NOISE_LOG_SD, (count, 1)))
    usual_g = np.interp(ages, [5.0, 21.0], [35.0, noise_g])
    read = infants.true_g + own * usual_g * rng.normal(size=infants.true_g.shape)
    gross = rng.random(read.shape) < 0.02
    read += gross * 250.0 * rng.normal(size=read.shape)
    return read_at(infants.male, ages, read)


def measured(prior: GrowthPrior, cohort: Cohort) -> tuple[float, float, float, float]:
    """Mean ratio, mean CRPS (g), mean coverage of 80 % intervals, sum of log density."""
    if cohort.others is not None:
        prior = fitted(prior, REFERENCE, cohort.others)
    found = [
        score(
            one,
            Spread.from_fan(forecast(prior, REFERENCE, one.known, one.at_d[:, None])),
        )
        for one in cohort.tasks
    ]
    steps = one_step_ahead(prior, REFERENCE, cohort.weighed, default_shift(prior))
    return (
        float(np.mean([one.ratio for one in found])),
        float(np.mean([one.crps for one in found])),
        float(np.mean([one.coverage[1] for one in found])),
        float(np.nansum(steps[:, 1:])),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weights", type=Path, default=DEFAULT_WEIGHTS)
    parser.add_argument("--count", type=int, default=400, help="simulated infants of each kind")
    parser.add_argument(
        "--seed", type=int, default=FIRST_SEED, help=f"{CHOSEN_ON}: those chosen on"
    )
    chosen = parser.parse_args()
    print("| infants | ratio | CRPS, g | 80 % covers | log density, gain |\n|---|---|---|---|---|")
    former = replace(GROWTH.prior, **FORMER)
    for cohort in cohorts(chosen.weights, chosen.count, chosen.seed):
        before, now = measured(former, cohort), measured(GROWTH.prior, cohort)
        print(
            f"| {cohort.name} | {before[0]:.3f}, {now[0]:.3f} | {before[1]:.1f}, {now[1]:.1f}"
            f" | {before[2]:.3f}, {now[2]:.3f} | {now[3] - before[3]:+.0f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
