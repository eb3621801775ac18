"""The engine's preview and full answer, by the number of weights; processor time on one core.

Processor time and not the clock, the least of four: what else the machine does is not the engine's. The infants are
the examiner's, with 3 % of weights wrong.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

from tools.validate.examiner import SCHEDULES, infants

from benchmarks.result import Result
from suffice.inference.estimate import Question
from suffice.inference.evidence import Evidence
from suffice.inference.infant.answer import answer, preview
from suffice.inference.infant.population import Population
from suffice.knowledge.store import load

INFANTS = 40
RUNS = 4
SEED = 20_260_101
FULL_TARGETS_MS = {"A": 8.0, "B": 8.0, "C2": 8.0, "D": 25.0, "E": 25.0, "F": 25.0, "G": 100.0}
PREVIEW_TARGET_MS = 2.0


def median_ms(evidence: list[Evidence], ask: Callable[[Evidence, int], object]) -> float:
    """Median over infants of the least processor milliseconds of one answer; each has its seed."""
    taken = []
    for seed, one in enumerate(evidence):
        runs = []
        for _ in range(RUNS):
            start = time.process_time()
            ask(one, seed)
            runs.append(time.process_time() - start)
        taken.append(min(runs))
    return 1000 * statistics.median(taken)


def run() -> list[Result]:
    constants = {key: constant.value for key, constant in load().flat.items()}
    population, question = Population.from_constants(constants), Question.from_constants(constants)
    results = []
    for name, target in FULL_TARGETS_MS.items():
        schedule = SCHEDULES[name]
        evidence = [i.evidence for i in infants(population, schedule, INFANTS, SEED)]
        answer(evidence[0], population, question, 1)
        quick = median_ms(evidence, lambda e, _: preview(e, population, question))
        full = median_ms(evidence, lambda e, seed: answer(e, population, question, seed))
        results += [
            Result(f"preview {name}", quick, "ms", PREVIEW_TARGET_MS, detail=schedule.says),
            Result(f"full answer {name}", full, "ms", target, detail=schedule.says),
        ]
    return results
