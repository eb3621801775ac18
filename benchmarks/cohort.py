"""What an infant of a cohort costs: processor milliseconds of one core, in one part of the batch benchmark's cohort.

The whole of a part (forecast, loss, intake) without the reading of files, and the engine's quick answer for all
infants at once beside the same answer one by one, in the same run.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import msgspec
import numpy as np
import polars as pl

from benchmarks.batch import cohort
from benchmarks.result import Result
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.cohort.intake import intake_of
from suffice.cohort.part import assess_part, gather
from suffice.cohort.rows import checked
from suffice.cohort.stages import setting
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.infant.answer import preview
from suffice.knowledge.store import load

INFANTS = 5_700
"""About what a part of 40,000 rows holds."""
ALONE = 400
RUNS = 5
TARGET_MS = 0.5


def least_s(act: Callable[[], object]) -> float:
    """The least processor seconds of some runs."""
    taken = []
    for _ in range(RUNS):
        start = time.process_time()
        act()
        taken.append(time.process_time() - start)
    return min(taken)


def one_by_one(rows: pl.DataFrame) -> list[Evidence]:
    """The evidence of the first infants, as the engine is asked about one."""
    found = []
    for (_,), mine in rows.sort("age_h").group_by("infant_id", maintain_order=True):
        facts = mine.row(0, named=True)
        found.append(
            Evidence(
                now_d=facts["age_h"] / 24,
                birth_weight_g=facts["birth_weight_g"],
                sex=facts["sex"],
                gestation_days=facts["gestation_days"],
                mode=facts["mode"],
                weights=tuple(
                    WeightReading(id=str(k), age_d=age_h / 24, weight_g=weight_g)
                    for k, (age_h, weight_g) in enumerate(mine.select("age_h", "weight_g").rows())
                ),
            )
        )
    return [
        msgspec.structs.replace(one, now_d=max(r.age_d for r in one.weights))
        for one in found[:ALONE]
    ]


def run() -> list[Result]:
    chosen = setting()
    limits = PlausibilityLimits.from_content(load().flat, load().series)
    rows = cohort(INFANTS).with_row_index("row", offset=1)
    kept, _ = checked(rows, limits, chosen.reference.last_day)
    part, intake = gather(kept, chosen, None), chosen.intake
    alone = one_by_one(kept.filter(pl.col("is_usable")))
    intake_of(part, intake)
    whole_ms, many_ms, alone_ms = (
        1000 * seconds / count
        for seconds, count in (
            (least_s(lambda: assess_part(kept, chosen, None)), INFANTS),
            (least_s(lambda: intake_of(part, intake)), INFANTS),
            (
                least_s(
                    lambda: [preview(one, intake.population, intake.question) for one in alone]
                ),
                len(alone),
            ),
        )
    )
    weights = np.mean([len(one.weights) for one in alone])
    return [
        Result(
            "one infant, everything but the files", whole_ms, "ms of one core", TARGET_MS,
            detail=f"{INFANTS} infants, {weights:.1f} weights each",
        ),
        Result("its quick answer, all at once", many_ms, "ms of one core"),
        Result("its quick answer, one by one", alone_ms, "ms of one core"),
        Result("one by one over all at once", alone_ms / many_ms, "times"),
    ]  # fmt: skip
