"""Open weights of a study of small infants, and the tasks they set.

The file holds one row per weight: id, sex, gest_days, visit_week, age_days, weight_g (300 infants
of low birth weight weighed at 0 to 26 weeks; it is kept beside the checkout and is no part of it).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from tools.validate.weight_forecasts import Task

from suffice.inference.growth.prior import Floats, Weighed
from suffice.knowledge.growth_forecast import default_growth

ROOT = Path(__file__).resolve().parents[2]
DEFAULT_WEIGHTS = ROOT.parent / "shared" / "data" / "weights" / "life6mo_300.csv"
WEEKS = (0, 1, 2, 4, 6, 10, 14, 18, 26)
TASKS = (
    (1, 2), (1, 4), (1, 6), (1, 10), (2, 4), (2, 6), (2, 10), (4, 6), (4, 10), (4, 14),
    (6, 10), (10, 14), (14, 18), (18, 26),
)  # fmt: skip
IMPLAUSIBLE_GESTATION_DAYS = 210
SLIP_G = 400.0
DAY_OF_BIRTH_D = 0.5
"""Ages are whole days, and the first weight is the study's, not the one at birth: what was taken on
the day of birth was taken half a day after it, in the middle."""
HALVES_SEED = 7


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


def read_study(path: Path, *, day_of_birth_d: float = DAY_OF_BIRTH_D) -> Study:
    """The study's weights, one row an infant; weights of day 0 get the age `day_of_birth_d`."""
    with path.open(newline="", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    ids = sorted({row["id"] for row in rows}, key=int)
    age = np.full((len(ids), len(WEEKS)), np.nan)
    weight, gestation, male = age.copy(), np.full(len(ids), np.nan), np.zeros(len(ids))
    for row in rows:
        i, j = ids.index(row["id"]), WEEKS.index(int(float(row["visit_week"])))
        age[i, j] = float(row["age_days"]) or day_of_birth_d
        weight[i, j] = float(row["weight_g"])
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
    """Two halves of the infants, the first the one called development half."""
    order = np.random.default_rng(HALVES_SEED).permutation(count)
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
