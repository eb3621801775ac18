"""Cohorts of 10,000 and 40,000 infants through `suffice batch`: seconds, and memory of every process.

The infants are simulated term infants with about seven weights each, rows shuffled, a few of them
spoiled. Each run is a process of its own; memory is the peak resident size of the parent and of the
largest worker, as the operating system counts it.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import polars as pl
from tools.validate.term_infants import POPULATIONS, simulate

from benchmarks.result import Result
from suffice.knowledge.growth_forecast import default_growth

AGES_D = np.array([0, 1, 2, 3, 4, 6, 8, 10, 14, 18, 21, 28], dtype=np.float64)
SHARE_WEIGHED = 0.55
SHARE_SPOILED = 0.003
SEED = 20_260_101
SIZES = (10_000, 40_000)
_RUN = """
import json, resource, sys, time
from pathlib import Path
from suffice.cohort.run import assess_cohort

def own_peak_mb():
    # ru_maxrss would hand down the size of the process that started this one.
    line = next(x for x in open("/proc/self/status") if x.startswith("VmHWM"))
    return int(line.split()[1]) / 1024

if __name__ == "__main__":
    start = time.perf_counter()
    result = assess_cohort(Path(sys.argv[1]), Path(sys.argv[2]), processes=2)
    told = {
        "seconds": time.perf_counter() - start,
        "infants": result.infants_count,
        "problems": result.problems_count,
        "parent_mb": own_peak_mb(),
        "worker_mb": resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024,
    }
    print(json.dumps(told))
"""


def cohort(count: int) -> pl.DataFrame:
    """Weights of `count` simulated infants, one row each, shuffled."""
    _, reference = default_growth()
    chance = np.random.default_rng(SEED)
    made = simulate(POPULATIONS[1], reference, AGES_D, count=count, seed=SEED)
    infant, visit = np.nonzero(chance.random(made.read_g.shape) < SHARE_WEIGHED)
    weight = made.read_g[infant, visit].round()
    spoiled = chance.random(len(weight)) < SHARE_SPOILED
    rows = pl.DataFrame(
        {
            "infant_id": infant,
            "sex": np.where(made.male[infant] == 1, "male", "female"),
            "age_h": AGES_D[visit] * 24,
            "gestation_days": chance.integers(259, 290, count)[infant],
            "birth_weight_g": made.read_g[infant, 0].round(),
            "mode": np.where(chance.random(count) < 0.25, "caesarean", "vaginal")[infant],
            "weight_g": np.where(spoiled, 10 * weight, weight),
        }
    )
    return rows.sample(fraction=1, shuffle=True, seed=SEED)


def measured(folder: Path, count: int) -> dict[str, float]:
    """One run of a cohort of `count` infants, in a process of its own."""
    path, script = folder / f"{count}.parquet", folder / "run_batch.py"
    cohort(count).write_parquet(path)
    script.write_text(_RUN, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, script, path, folder / f"{count}.told.parquet"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return json.loads(done.stdout)


def run() -> list[Result]:
    with tempfile.TemporaryDirectory() as folder:
        small, large = (measured(Path(folder), count) for count in SIZES)
    growth = max(large[k] / small[k] for k in ("parent_mb", "worker_mb"))
    memory = ", ".join(
        f"{size:,}: {one['parent_mb']:.0f} + 2 x {one['worker_mb']:.0f} MB"
        for size, one in zip(SIZES, (small, large), strict=True)
    )
    return [
        Result("10,000 infants, two processes", small["seconds"], "s", 30.0),
        Result("40,000 infants, two processes", large["seconds"], "s"),
        Result("memory, four times the infants", growth, "times", 1.25, detail=memory),
    ]


if __name__ == "__main__":
    for found in run():
        print(found)
