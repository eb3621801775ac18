"""Batch and page on rough infants: rounded, clothed, mistaken, at mixed intervals; fills fan.md.

    python -m tools.validate.rough [--count N] [--page N]

Every number of the prior was chosen without these infants.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator

import numpy as np
from rich.progress import track
from tools.validate import real
from tools.validate.fan import (
    GROWTH,
    PAGE,
    PAGE_UNTIL_D,
    SUMMARY_HEAD,
    PageFan,
    batch,
    crossed_site,
    in_short,
    some,
)
from tools.validate.ridge import ridge_errors
from tools.validate.rough_infants import WORLDS, RoughInfants, RoughWorld, rough
from tools.validate.scoring import rmse
from tools.validate.study import halves
from tools.validate.weight_forecasts import Spread, Task, score

from suffice.inference.growth.prior import Weighed

SEED = 41
FURTHEST_D = 75
"""Days ahead the page is asked: 60 planned, and as much as visits are early and late."""
TASKS: dict[str, tuple[tuple[int, int], ...]] = {
    "monthly": ((0, 30), (30, 58), (30, 90), (58, 90)),
    "weekly": (
        (7, 14), (7, 28), (14, 21), (14, 28), (14, 42), (21, 28), (28, 35), (28, 56), (42, 56),
        (42, 84), (56, 70), (56, 91),
    ),
    "mixed": (
        (3, 10), (5, 10), (5, 14), (5, 30), (10, 21), (14, 30), (30, 60), (30, 90), (60, 90),
    ),
}  # fmt: skip


def weighed_of(infants: RoughInfants) -> Weighed:
    """All their weights, whatever is known of how they were taken left out."""
    count = len(infants.male)
    return Weighed(
        age_d=infants.age_d,
        weight_g=infants.read_g,
        male_share=infants.male,
        gestation_days=np.full(count, 280.0),
        caesarean_share=np.full(count, GROWTH.prior.caesarean_share),
    )


def tasks_of(world: RoughWorld, infants: RoughInfants) -> Iterator[Task]:
    """What is known up to one visit, and the weight of a later one."""
    whole = weighed_of(infants)
    for start, stop in TASKS[world.visits]:
        i, j = (int(np.flatnonzero(infants.planned_d == day)[0]) for day in (start, stop))
        yield Task(
            name=f"{start} -> {stop}",
            rows=np.arange(whole.count),
            known=whole.until(infants.age_d[:, i]),
            last_d=infants.age_d[:, i],
            last_g=infants.read_g[:, i],
            at_d=infants.age_d[:, j],
            truth_g=infants.read_g[:, j],
            is_slip=infants.is_slip[:, i] | infants.is_slip[:, j],
        )


def _row(name: str, tasks: list[Task], foretell: Callable[[Task], Spread]) -> str:
    split = halves(tasks[0].known.count)
    ridge = [rmse(ridge_errors(one, split)) for one in tasks]
    return in_short(name, [score(one, foretell(one)) for one in tasks], ridge)


def rows_of(world: RoughWorld, count: int, page: int, seed: int) -> Iterator[str]:
    """The rows of one world: batch, with a site of 100 others, and the page on some of them."""
    infants = rough(world, GROWTH.reference, count, seed)
    tasks = list(tasks_of(world, infants))
    yield _row(f"{world}: batch", tasks, batch())
    yield _row(f"{world}: with a site", tasks, crossed_site(weighed_of(infants), batch))
    if page:
        chosen = np.arange(min(page, count))
        asked = [some(one, chosen) for one in tasks if np.median(one.last_d) <= PAGE_UNTIL_D]
        yield _row(f"{world}: page, {len(chosen)}", asked, PageFan(horizon_d=FURTHEST_D))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=200, help="infants of each world")
    parser.add_argument("--page", type=int, default=0, help="of them asked about on the page")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--print-only", action="store_true")
    chosen = parser.parse_args()
    rows: list[str] = []
    for number, world in enumerate(track(WORLDS, description="rough infants")):
        rows.extend(rows_of(world, chosen.count, chosen.page, chosen.seed + number))
    part = SUMMARY_HEAD + "\n" + "\n".join(rows) + "\n"
    print(part)
    if not chosen.print_only:
        real.fill(PAGE, {"rough": part})


if __name__ == "__main__":
    main()
