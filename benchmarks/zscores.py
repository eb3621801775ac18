"""One million WHO weight-for-age z-scores: against other Python packages, and bare arithmetic.

The packages score one row a call; they are timed on a sample of the same million rows (the first
ones, within what they accept: pygrowup2 takes neither day 0 nor less than 1 kg) and compared per
row. The bare arithmetic is the formula written straight down in numpy on the same rows: three
table look-ups and ((y / M)^L - 1) / (L S), without a check and without the rule beyond +-3.

The packages get their best of five runs, ours its median: what else the machine does is held against us.

Results must agree before they are timed: a fast wrong answer is not measured.
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Callable
from decimal import Decimal

import numpy as np
from pygrowup import Observation
from rcpchgrowth.global_functions import sds_for_measurement

from benchmarks.result import Result, times_s
from suffice.clinical.growth import who
from suffice.clinical.growth.centile import centile_of_z
from suffice.knowledge.tables import growth_standards

ROWS = 1_000_000
SAMPLE_ROWS = 2_000
RUNS = 15
SEED = 20_260_101


class Cohort:
    """A million infants of 1 to 730 days: sex, age, and weight to the nearest 5 g."""

    def __init__(self) -> None:
        chance = np.random.default_rng(SEED)
        self.standard = growth_standards().who
        self.is_male = chance.random(ROWS) < 0.5
        self.age_d = chance.integers(1, 731, ROWS)
        # A wider spread than the standard's, so that about 2 % lie beyond +-3.
        z = chance.normal(-0.3, 1.25, ROWS)
        weight = who.for_age_value_at_z(self.standard, "weight", self.is_male, self.age_d, z)
        self.weight_g = np.maximum(np.round(weight / 5) * 5, 1_000)

    def ours(self) -> np.ndarray:
        return who.weight_for_age_z(self.standard, self.is_male, self.age_d, self.weight_g)

    def bare(self) -> Callable[[], np.ndarray]:
        """The formula straight down; tables and rows are laid out before the clock starts."""
        table = self.standard.by_age["weight"]
        L, M, S = (part.ravel().copy() for part in (table.skew, table.median, table.cv))
        is_male, age_d, weight_g, size = self.is_male, self.age_d, self.weight_g, table.size

        def arithmetic() -> np.ndarray:
            row = age_d + size * is_male
            l, m, s = L[row], M[row], S[row]  # noqa: E741
            return ((weight_g / m) ** l - 1) / (l * s)

        return arithmetic

    def sample(self) -> list[tuple[str, int, float]]:
        sexes = np.where(self.is_male[:SAMPLE_ROWS], "male", "female").tolist()
        ages, weights = self.age_d[:SAMPLE_ROWS].tolist(), self.weight_g[:SAMPLE_ROWS] / 1000
        return list(zip(sexes, ages, weights.tolist(), strict=True))


def by_rcpchgrowth(rows: list[tuple[str, int, float]]) -> list[float]:
    return [
        sds_for_measurement(
            reference="who",
            age=age_d / 365.25,
            measurement_method="weight",
            observation_value=weight_kg,
            sex=sex,
        )
        for sex, age_d, weight_kg in rows
    ]


def by_pygrowup2(rows: list[tuple[str, int, float]]) -> list[float]:
    return [
        float(Observation(sex=sex, age_in_days=age_d).wfa(Decimal(str(weight_kg))))
        for sex, age_d, weight_kg in rows
    ]


def disagreement(expected: np.ndarray, found: np.ndarray, tolerance: float) -> None:
    worst = float(np.nanmax(np.abs(expected - found)))
    if not worst < tolerance:
        raise SystemExit(f"z-scores differ by {worst:.3g}; nothing was timed")


def ratios(fast: Callable[[], object], slow: Callable[[], object], runs: int) -> list[float]:
    """`fast` over `slow`, timed in turns so that both meet the same machine."""
    times_s(fast, 2)
    times_s(slow, 2)
    return [times_s(fast, 1, 0)[0] / times_s(slow, 1, 0)[0] for _ in range(runs)]


def run() -> list[Result]:
    """The ratios; every package is checked to agree with us first."""
    cohort = Cohort()
    ours = cohort.ours()
    bare = cohort.bare()
    is_inside = np.abs(ours) <= 3
    disagreement(ours[is_inside], bare()[is_inside], 1e-9)
    over_bare = ratios(cohort.ours, bare, RUNS)
    ours_s = statistics.median(times_s(cohort.ours, RUNS))
    rows = cohort.sample()
    per_row_s = {}
    for name, score in {"rcpchgrowth": by_rcpchgrowth, "pygrowup2": by_pygrowup2}.items():
        disagreement(ours[:SAMPLE_ROWS], np.array(score(rows)), 0.011)
        per_row_s[name] = min(times_s(lambda score=score: score(rows), 5, 0)) / len(rows)
    fastest = min(per_row_s, key=per_row_s.__getitem__)
    both_s = statistics.median(times_s(lambda: centile_of_z(cohort.ours()), RUNS))
    results = [
        Result(
            name=f"WHO weight-for-age z, {name} over ours",
            value=seconds * ROWS / ours_s,
            unit="times",
            target=100.0 if name == fastest else None,
            at_least=True,
            detail=f"{1e6 * seconds:.1f} us a row on {SAMPLE_ROWS} of the rows; ours"
            f" {1e3 * ours_s:.1f} ms for {ROWS} rows"
            + (" (the fastest package)" if name == fastest else ""),
        )
        for name, seconds in per_row_s.items()
    ]
    results.append(
        Result(
            name="WHO weight-for-age z, ours over bare numpy arithmetic",
            value=statistics.median(over_bare),
            unit="times",
            target=2.0,
            detail=f"median of {RUNS} runs in turns, {min(over_bare):.2f} to {max(over_bare):.2f};"
            f" {100 * np.mean(~is_inside):.1f} % beyond +-3, which the bare formula leaves out",
        )
    )
    results.append(
        Result(
            name="z and centile together, ours",
            value=1e3 * both_s,
            unit="ms",
            detail=f"{ROWS} rows",
        )
    )
    return results


def main() -> int:
    results = run()
    for result in results:
        sign = "" if result.meets is None else ("met" if result.meets else "MISSED")
        print(f"{result.name}: {result.value:.3g} {result.unit} {sign} ({result.detail})")
    return int(any(result.meets is False for result in results))


if __name__ == "__main__":
    sys.exit(main())
