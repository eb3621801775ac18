"""Papers for families: how long one takes at the median, and five hundred of them on two cores.

A paper is timed as its page makes it: from the record to the file, the assessment included. The families
are those of the drawn plans (`tests/plan_families.py`), each with the plan that is proposed for it.
"""

from __future__ import annotations

import multiprocessing
import statistics
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import timedelta
from pathlib import Path

from benchmarks.result import Result

FAMILIES = 500
CORES = 2
TESTS = Path(__file__).resolve().parent.parent / "tests"


def one_paper(seed: int) -> tuple[float, float, int]:
    """Seconds by the clock and of the processor for the plan of a drawn family, and its pages."""
    sys.path.insert(0, str(TESTS))
    from plan_families import BORN_AT, drawn_family  # noqa: PLC0415 -- the drawn families of the tests
    from plan_rules import agreed_source, made_at  # noqa: PLC0415
    from suffice.documents.page import page_count, pdf_of  # noqa: PLC0415
    from suffice.documents.plan_page import plan_page  # noqa: PLC0415

    home = Path(tempfile.gettempdir()) / "suffice-bench-papers"
    family = drawn_family(seed)
    as_of = BORN_AT + timedelta(days=family.day)
    begun, before = time.perf_counter(), time.process_time()
    made = made_at(family.record, as_of, problems=family.problems)[0]
    source = agreed_source(made, made.proposal.plan)
    pdf = pdf_of(plan_page(source, made.asked.infant.infant_id), home)
    return time.perf_counter() - begun, time.process_time() - before, page_count(pdf)


def run() -> list[Result]:
    """One after another for the median, then all at once on two cores."""
    one_paper(0)
    alone = [one_paper(seed) for seed in range(1, 61)]
    # Fresh processes: the threads that set a paper do not outlive a fork.
    fresh = multiprocessing.get_context("spawn")
    begun = time.perf_counter()
    with ProcessPoolExecutor(CORES, mp_context=fresh) as pool:
        every = list(pool.map(one_paper, range(FAMILIES), chunksize=10))
    whole_s = time.perf_counter() - begun
    median_ms = 1000 * statistics.median(taken for taken, _, _ in alone)
    worked_ms = 1000 * statistics.median(worked for _, worked, _ in alone)
    worked_s = sum(worked for _, worked, _ in every)
    over = sum(pages > 1 for _, _, pages in every)
    detail = "from the record to the file, the assessment included"
    return [
        Result("a family's plan as PDF, median", median_ms, "ms", 300.0, detail=detail),
        Result(
            "the same, processor time", worked_ms, "ms", detail="depends less on what else runs"
        ),
        Result(f"{FAMILIES} of them on {CORES} cores", whole_s, "s", 60.0, detail=detail),
        Result("the same, processor time", worked_s, "s", detail="of all processes together"),
        Result("pages too many", over, "", 0, detail="a plan has one page"),
    ]
