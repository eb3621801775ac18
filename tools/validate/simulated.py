"""The engine on simulated infants; writes var/validate/simulated.json and docs/validation/simulated.md.

    python -m tools.validate.simulated [--n 1000] [--only schedules robustness closeness ...]

Parts that are not run keep their last results. Seeds are fixed; the infants come from an examiner
that steps the equations through time and draws single feeds (tools/validate/examiner.py).
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from rich.progress import Progress
from tools.validate.aggregates import PUBLISHED, simulated
from tools.validate.examiner import PLAIN, SCHEDULES, World, infants
from tools.validate.report import page
from tools.validate.robustness import judge_flags, judge_robustness
from tools.validate.schedules import judge_all

from suffice.inference.estimate import Question
from suffice.inference.evidence import Evidence
from suffice.inference.infant.answer import answer, preview
from suffice.inference.infant.population import Population
from suffice.knowledge.store import load

ROOT = Path(__file__).resolve().parents[2]
RESULTS = ROOT / "var" / "validate" / "simulated.json"
PAGE = ROOT / "docs" / "validation" / "simulated.md"
SEED = 20261125
SPEED_INFANTS, SPEED_RUNS = 50, 4
NUTS_PER_SCHEDULE, NUTS_SEED = 16, 20260101
NO_OUTLIERS = World(outlier_fraction=0.0)


def speed(p: Population, question: Question, progress: Progress) -> dict[str, dict[str, float]]:
    """Processor milliseconds of preview and full answer, the whole of it, by schedule."""

    def milliseconds(evidence: Evidence, ask: Callable[[Evidence], object]) -> float:
        taken = []
        for _ in range(SPEED_RUNS):
            start = time.process_time()
            ask(evidence)
            taken.append(time.process_time() - start)
        return 1000 * min(taken)

    found = {}
    for name, schedule in progress.track(SCHEDULES.items(), description="speed"):
        examined = infants(p, schedule, SPEED_INFANTS, SEED)
        quick = [milliseconds(i.evidence, lambda e: preview(e, p, question)) for i in examined]
        full = [milliseconds(i.evidence, lambda e: answer(e, p, question, 1)) for i in examined]
        found[name] = {
            "weights": len(schedule.weights_d),
            "preview_median": float(np.median(quick)),
            "preview_p95": float(np.percentile(quick, 95)),
            "full_median": float(np.median(full)),
            "full_p95": float(np.percentile(full, 95)),
        }
    return found


def main() -> None:
    """Run the parts asked for and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=1000, help="infants per schedule")
    parts = ("aggregates", "schedules", "no_outliers", "robustness", "flags", "closeness", "speed")
    parser.add_argument("--only", nargs="*", choices=parts, default=parts)
    chosen = parser.parse_args()
    constants = {key: constant.value for key, constant in load().flat.items()}
    p, question = Population.from_constants(constants), Question.from_constants(constants)
    results: dict[str, Any] = json.loads(RESULTS.read_text()) if RESULTS.exists() else {}
    with Progress() as progress:

        def closeness() -> object:
            from tools.validate.mcmc import judge_closeness  # noqa: PLC0415 -- jax is slow to load

            return judge_closeness(
                p, question, NUTS_PER_SCHEDULE, NUTS_SEED, progress, RESULTS.parent / "nuts"
            )

        run: dict[str, Callable[[], object]] = {
            "aggregates": lambda: {"published": PUBLISHED, "simulated": simulated(p)},
            "schedules": lambda: judge_all(p, question, chosen.n, SEED, progress, PLAIN),
            "no_outliers": lambda: judge_all(
                p, question, chosen.n, SEED + 50_000, progress, NO_OUTLIERS
            ),
            "robustness": lambda: judge_robustness(p, question, chosen.n, SEED + 70_000, progress),
            "flags": lambda: judge_flags(p, question, chosen.n, SEED + 90_000, progress),
            "closeness": closeness,
            "speed": lambda: speed(p, question, progress),
        }
        for part in parts:
            if part in chosen.only:
                results[part] = run[part]()
                RESULTS.parent.mkdir(parents=True, exist_ok=True)
                RESULTS.write_text(json.dumps(results, indent=1))
    PAGE.parent.mkdir(parents=True, exist_ok=True)
    PAGE.write_text(page(results))
    print(f"wrote {PAGE.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
