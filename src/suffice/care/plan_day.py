"""The day of a plan on the clock, found within five seconds, and what single changes would buy.

What was found is kept for a while: a page asks for it when it is shown, and again when the plan is kept.
"""

from __future__ import annotations

import time
from functools import lru_cache

from suffice.knowledge.store import Content
from suffice.plan.schedule import Elapsed, Schedule, scheduled
from suffice.plan.schedule_case import DayCase
from suffice.plan.schedule_changes import Change, changes
from suffice.plan.schedule_parameters import schedule_parameters


@lru_cache(maxsize=128)
def schedule_of(case: DayCase, content: Content) -> Schedule:
    """The day of a case."""
    return scheduled(case, schedule_parameters(content), _clock())


@lru_cache(maxsize=128)
def changes_of(case: DayCase, content: Content) -> tuple[Change, ...]:
    """The single changes that would buy something."""
    return changes(schedule_of(case, content), schedule_parameters(content), _clock())


def _clock() -> Elapsed:
    """Seconds from now on."""
    begun = time.monotonic()
    return lambda: time.monotonic() - begun
