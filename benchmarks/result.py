"""One measured speed beside its target, and how it is timed."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Result:
    """A measurement: `value` in `unit`, and whether it meets `target` (at most or at least)."""

    name: str
    value: float
    unit: str
    target: float | None = None
    at_least: bool = False
    detail: str = ""

    @property
    def meets(self) -> bool | None:
        """Whether the target is met; None where there is none."""
        if self.target is None:
            return None
        return self.value >= self.target if self.at_least else self.value <= self.target


def times_s(act: Callable[[], object], runs: int, warm_up: int = 1) -> list[float]:
    """Seconds of `runs` calls of `act`, after `warm_up` calls that do not count."""
    for _ in range(warm_up):
        act()
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        act()
        taken.append(time.perf_counter() - start)
    return taken


def median_ms(act: Callable[[], object], runs: int, warm_up: int = 1) -> float:
    """Median milliseconds of one call of `act`."""
    return 1000 * statistics.median(times_s(act, runs, warm_up))
