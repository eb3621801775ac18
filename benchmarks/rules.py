"""What one family costs: the plain rules, and the problems that are named from them.

Processor time and not the clock, the least of four: what else the machine does is not the rules'.
The families are those of the demo.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial

from benchmarks.result import Result
from suffice.assess.assessment import assess
from suffice.assess.problems.of_family import problems_of
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

AS_OF = datetime(2026, 11, 27, 12, tzinfo=UTC)
RUNS = 4
RULES_TARGET_MS, PROBLEMS_TARGET_MS = 3.0, 5.0


def least_ms(act: Callable[[], object]) -> float:
    """Processor milliseconds of the quickest of some calls."""
    taken = []
    for _ in range(RUNS):
        start = time.process_time()
        act()
        taken.append(time.process_time() - start)
    return 1000 * min(taken)


def run() -> list[Result]:
    content, policy = load(), Policy(zone="Europe/Madrid")
    rules, problems = [], []
    for record in Families(scenario(), now=AS_OF, entered_by="bench").records():
        assessed = assess(record, AS_OF, content, policy, engine=False)
        rules.append(least_ms(partial(assess, record, AS_OF, content, policy, engine=False)))
        problems.append(least_ms(partial(problems_of, record, assessed, content)))
    return [
        Result(name, statistics.median(ms), "ms", target, detail=f"most of one {max(ms):.1f} ms")
        for name, ms, target in (
            ("plain rules, a family", rules, RULES_TARGET_MS),
            ("problems of a family", problems, PROBLEMS_TARGET_MS),
        )
    ]
