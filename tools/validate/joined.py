"""The energy model, the growth prior and their pooled fan on the same infants; fills real.md.

    python tools/validate/joined.py

Three kinds of infants: the energy model's own examiner, term infants simulated from the WHO
increments, and the open weights of small infants (only those born from 36 weeks on).
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass

import msgspec
import numpy as np
from rich.progress import track
from tools.validate import examiner, real
from tools.validate.study import DEFAULT_WEIGHTS, read_study
from tools.validate.term_infants import POPULATIONS, simulate

from suffice.inference.estimate import Question
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.growth.blend import weighed_of, with_growth
from suffice.inference.growth.forecast import forecast
from suffice.inference.infant.answer import answer
from suffice.inference.infant.population import Population
from suffice.knowledge.growth_forecast import growth_of
from suffice.knowledge.store import load

CONTENT = load()
VALUES = {key: one.value for key, one in CONTENT.flat.items()}
POPULATION = Population.from_constants(VALUES)
QUESTION = Question.from_constants(VALUES)
GROWTH = growth_of(CONTENT)
GESTATION_FROM_DAYS = 252
NOISE_G = 40.0
"""SD of the later reading with which a forecast is compared, where it is a reading."""


@dataclass(frozen=True)
class Case:
    """One infant as of one day, and a later weight."""

    evidence: Evidence
    at_d: float
    truth_g: float


def cases_of_examiner(name: str, count: int, ahead_d: float) -> list[Case]:
    schedule = examiner.SCHEDULES[name]
    return [
        Case(one.evidence, schedule.now_d + ahead_d,
             float(np.interp(schedule.now_d + ahead_d, one.course_d, one.course_g)))
        for one in examiner.infants(POPULATION, schedule, count, seed=11)
    ]  # fmt: skip


def cases_of_term(which: int, count: int, now_d: float, ahead_d: float) -> list[Case]:
    known = [0.0, *(d for d in (3.0, 7.0, 14.0) if d < now_d), now_d]
    ages = np.array([*known, now_d + ahead_d])
    infants = simulate(POPULATIONS[which], GROWTH.reference, ages, count=count, seed=4)
    return [
        Case(_evidence(ages[:-1], row[:-1], male=bool(m)), now_d + ahead_d, float(row[-1]))
        for row, m in zip(infants.read_g, infants.male, strict=True)
    ]


def cases_of_study(start: int, stop: int) -> list[Case]:
    # A ward would enter a weight of the first day as the birth weight.
    study = read_study(DEFAULT_WEIGHTS, day_of_birth_d=0.0)
    gestation = np.nan_to_num(study.weighed.gestation_days)
    task = study.task(start, stop, np.flatnonzero(gestation >= GESTATION_FROM_DAYS))
    found = []
    for i in range(len(task.rows)):
        seen = np.isfinite(task.known.age_d[i])
        if task.at_d[i] - task.last_d[i] <= QUESTION.horizon_d:
            evidence = _evidence(
                task.known.age_d[i, seen],
                task.known.weight_g[i, seen],
                male=bool(task.known.male_share[i]),
                gestation_days=int(task.known.gestation_days[i]),
            )
            found.append(Case(evidence, float(task.at_d[i]), float(task.truth_g[i])))
    return found


def _evidence(ages, weights, *, male: bool, gestation_days: int = 280) -> Evidence:
    born = [float(w) for a, w in zip(ages, weights, strict=True) if a == 0]
    return Evidence(
        now_d=float(ages[-1]),
        birth_weight_g=born[0] if born else None,
        sex="male" if male else "female",
        gestation_days=gestation_days,
        weights=tuple(
            WeightReading(id=f"w{j}", age_d=float(a), weight_g=float(w))
            for j, (a, w) in enumerate(zip(ages, weights, strict=True))
            if a > 0
        ),
    )


def compared(cases: list[Case], noise_g: float) -> str:
    """One row: RMSE and 80 % coverage of the three fans."""
    found = np.array([_three(case) for case in cases])
    truth = np.array([case.truth_g for case in cases])
    cells = []
    for k in range(3):
        mean, sd = found[:, k, 0], np.hypot(found[:, k, 1], noise_g)
        rmse = float(np.sqrt(np.mean((mean - truth) ** 2)))
        cover = float(np.mean(np.abs(mean - truth) < 1.2816 * sd))
        cells.append(f"{rmse:.0f} ({cover:.2f})")
    return f"{len(cases)} | " + " | ".join(cells)


def _three(case: Case) -> list[tuple[float, float]]:
    """(median, SD) of the energy model, the growth prior and both, at the age asked about."""
    estimate = answer(case.evidence, POPULATION, QUESTION, seed=3)
    fan = estimate.forecast
    at = int(np.argmin(np.abs(np.array(fan.age_d) - case.at_d)))
    # Whom the engine refuses gets no fan on the page; here the fan itself is judged.
    asked = msgspec.structs.replace(estimate, cautions=())
    both = with_growth(case.evidence, asked, GROWTH).forecast
    grown = forecast(
        GROWTH.prior,
        GROWTH.reference,
        weighed_of(case.evidence, GROWTH),
        np.array([[fan.age_d[at]]]),
    )

    def normal(fan) -> tuple[float, float]:
        row = fan.weight_g[at]
        return row[3], (row[5] - row[1]) / (2 * 1.2815516)

    return [normal(fan), (float(grown.mean_g[0, 0]), float(grown.sd_g[0, 0])), normal(both)]


def rows(count: int) -> Iterator[tuple[str, str]]:
    for name in track(("A", "B", "C2", "D", "F"), description="energy model's infants"):
        for ahead in (7.0, 14.0):
            yield (
                f"energy examiner, {name}, +{ahead:.0f} d",
                compared(cases_of_examiner(name, count, ahead), 0.0),
            )
    for which, population in enumerate(track(POPULATIONS, description="term infants")):
        for now, ahead in ((7.0, 7.0), (7.0, 14.0), (14.0, 14.0), (28.0, 14.0)):
            yield (
                f"{population.name}, day {now:.0f} + {ahead:.0f}",
                compared(cases_of_term(which, count, now, ahead), NOISE_G),
            )
    if DEFAULT_WEIGHTS.exists():
        for start, stop in ((1, 2), (2, 4), (4, 6)):
            yield (
                f"small infants, week {start} -> {stop}",
                compared(cases_of_study(start, stop), NOISE_G),
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=150)
    chosen = parser.parse_args()
    assert msgspec.structs.asdict(QUESTION)["horizon_d"] >= 14
    part = "| infants | n | energy model | growth prior | pooled |\n|---|---|---|---|---|\n"
    part += "".join(f"| {name} | {row} |\n" for name, row in rows(chosen.count))
    real.fill(real.PAGE, {"joined": part})
    print(part)


if __name__ == "__main__":
    main()
