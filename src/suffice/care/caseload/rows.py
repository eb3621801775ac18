"""Caseload rows: the kept result of each family's assessment, from which the caseload is listed.

A caseload row is derived and never truth. It is computed when entries are recorded, and again when
time, content, policy or engine have moved on; until then the caseload shows it with its as-of.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterator, Sequence
from datetime import datetime
from functools import partial
from uuid import UUID

from suffice.assess.assessment import ENGINE_VERSION
from suffice.care.caseload.summary import (
    InfantLine,
    Slice,
    packed,
    rows_elsewhere,
    rows_of,
)
from suffice.care.clinic.clinic import clinic
from suffice.knowledge.policy import Clinic
from suffice.processes import processes
from suffice.record import caseload as shelf
from suffice.record import repository
from suffice.record.planner import know_sizes
from suffice.record.values import CaseloadRow

__all__ = ["InfantLine", "refresh", "refresh_stale", "stale_families"]

SLICE = 50
"""Families read, assessed and stored at a time: few queries, and little lost when stopped."""
POOL_FROM = 120
"""Below this many families, starting processes costs more than it saves."""

Progress = Callable[[int, int], None]
"""Called with (done, all)."""


def refresh(family_ids: Sequence[UUID], here: Clinic, *, now: datetime) -> int:
    """Compute and store the caseload rows of some families; how many there were.

    Reads the records in three queries and stores in one, whatever the number (up to 500).
    """
    rows = rows_of(_read(family_ids), here, now=now)
    if rows:
        shelf.put_rows(rows)
    return len(rows)


def stale_families(here: Clinic, *, now: datetime) -> tuple[UUID, ...]:
    """The families whose caseload row no longer holds at an instant; one query."""
    return shelf.stale(
        at=now,
        content_version=here.content_key,
        engine_version=ENGINE_VERSION,
        policy_version=here.policy_version,
    )


def refresh_stale(
    *,
    now: datetime,
    family_ids: Collection[UUID] | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> int:
    """Bring every caseload row that no longer holds up to date.

    Records are read and caseload rows stored here, in slices; many families are assessed in several
    processes. What was stored before an interruption stays.

    Args:
        now: The instant as of which families are assessed.
        family_ids: Only these; None for all whose caseload row no longer holds.
        workers: Processes; None takes as many as there are cores, 1 uses none besides this one.
        progress: Called after each slice with the number done and the number there is to do.

    Returns:
        How many caseload rows were computed.
    """
    here = clinic()
    wanted = list(stale_families(here, now=now) if family_ids is None else family_ids)
    report = progress or _unwatched
    report(0, len(wanted))
    slices = [wanted[start : start + SLICE] for start in range(0, len(wanted), SLICE)]
    workers = workers or os.cpu_count() or 1
    done = 0
    if len(wanted) >= POOL_FROM:
        know_sizes()
    assess_slices = _in_pool if workers > 1 and len(wanted) >= POOL_FROM else _in_process
    for rows in assess_slices(slices, here, now, workers):
        shelf.put_rows(rows)
        done += len(rows)
        report(done, len(wanted))
    return done


def _read(family_ids: Sequence[UUID]) -> Slice:
    """The records of some families with their newest entries; the number is read first.

    Were an entry to arrive in between, the caseload row would count as stale, never as current.
    """
    seqs = repository.latest_seqs(family_ids)
    records = repository.read_many(family_ids)
    return [(seqs.get(key, 0), record) for key, record in records.items()]


def _in_process(
    slices: list[list[UUID]], here: Clinic, now: datetime, _workers: int
) -> Iterator[list[CaseloadRow]]:
    for ids in slices:
        yield rows_of(_read(ids), here, now=now)


def _in_pool(
    slices: list[list[UUID]], here: Clinic, now: datetime, workers: int
) -> Iterator[list[CaseloadRow]]:
    """The same in processes that never touch the database; at most two slices each in flight."""
    job = partial(rows_elsewhere, here.policy, here.policy_version, now)
    with processes(workers) as pool:
        waiting = []
        for ids in slices:
            waiting.append(pool.submit(job, packed(_read(ids))))
            if len(waiting) >= 2 * workers:
                yield waiting.pop(0).result()
        for future in waiting:
            yield future.result()


def _unwatched(_done: int, _total: int) -> None:
    """Progress that nobody watches."""
