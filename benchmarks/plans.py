"""Five hundred drawn families: every plan against its rules, and how long its day on the clock takes."""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

from benchmarks.result import Result

FAMILIES = 500
TESTS = Path(__file__).resolve().parent.parent / "tests"


def run() -> list[Result]:
    sys.path.insert(0, str(TESTS))
    from plan_families import drawn_family  # noqa: PLC0415 -- the drawn families of the tests
    from plan_rules import broken, day_of, made  # noqa: PLC0415 -- and their rules

    plans = faults = broken_days = without = 0
    taken: list[float] = []
    worked: list[float] = []
    for seed in range(FAMILIES):
        for one in made(drawn_family(seed)):
            plans += 1
            faults += len(broken(one))
            begun, before = time.perf_counter(), time.process_time()
            found, day_faults = day_of(one)
            taken.append(time.perf_counter() - begun)
            worked.append(time.process_time() - before)
            broken_days += len(day_faults)
            without += not found.is_possible
    detail = f"{plans} plans of {FAMILIES} families"
    days = f"{len(taken) - without} days read by the checker, {without} that name what fights"
    ordered = sorted(taken)
    return [
        Result("rules that a plan breaks", faults, "", 0, detail=detail),
        Result("rules that a day on the clock breaks", broken_days, "", 0, detail=days),
        Result("a day on the clock, median", statistics.median(taken), "s", 1.0, detail=detail),
        Result(
            "the same, processor time",
            statistics.median(worked),
            "s",
            detail="depends less on what else runs",
        ),
        Result("a day on the clock, 9 in 10", ordered[len(taken) * 9 // 10], "s", detail=detail),
        Result("a day on the clock, longest", ordered[-1], "s", detail="without the cap of 5 s"),
    ]
