"""The families ranked for one question: as of an instant, or each at an age. Nothing is kept."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator
from datetime import datetime, timedelta
from functools import partial
from uuid import UUID

from suffice.care.caseload.rows import POOL_FROM, SLICE, Progress
from suffice.care.caseload.summary import (
    Question,
    Ranked,
    packed,
    ranked_elsewhere,
    ranked_of,
)
from suffice.care.clinic.clinic import clinic
from suffice.clinical.entry import Record
from suffice.processes import processes
from suffice.record import repository
from suffice.record.planner import know_sizes
from suffice.record.teams import teams_of_families

__all__ = ["Ranked", "ranked_as_of", "ranked_at_age"]


def ranked_as_of(
    as_of: datetime,
    *,
    engine: bool = True,
    workers: int | None = None,
    progress: Progress | None = None,
    team_ids: Collection[UUID] | None = None,
) -> list[Ranked]:
    """All families that were on the list by an instant, ranked as of it, the most urgent first.

    Args:
        as_of: The instant; later facts are not used.
        engine: Whether the engine is asked too.
        workers: Processes; None takes as many as there are cores.
        progress: Called with (done, all).
        team_ids: The teams whose families are ranked; None ranks all.
    """
    question = Question(as_of=as_of, engine=engine)
    return _ranked(question, workers or os.cpu_count() or 1, progress, team_ids)


def ranked_at_age(
    age_d: float,
    *,
    engine: bool = True,
    workers: int | None = None,
    progress: Progress | None = None,
    team_ids: Collection[UUID] | None = None,
) -> list[Ranked]:
    """All families ranked as of an age of the first-born infant, each at its own instant.

    Families without an instant of birth are left out: they have no such instant.

    Args:
        age_d: Age in days.
        engine: Whether the engine is asked too.
        workers: Processes; None takes as many as there are cores.
        progress: Called with (done, all).
        team_ids: The teams whose families are ranked; None ranks all.
    """
    question = Question(age=timedelta(days=age_d), engine=engine)
    return _ranked(question, workers or os.cpu_count() or 1, progress, team_ids)


def _ranked(
    question: Question,
    workers: int,
    progress: Progress | None,
    team_ids: Collection[UUID] | None,
) -> list[Ranked]:
    here = clinic()
    ids = repository.family_ids()
    if team_ids is not None:
        placed = teams_of_families(ids)
        ids = tuple(one for one in ids if placed[one] in team_ids)
    job = partial(ranked_elsewhere, here.policy, question)
    found: list[Ranked] = []
    done = 0
    if len(ids) >= POOL_FROM:
        know_sizes()
    slices = _slices(ids)
    if workers > 1 and len(ids) >= POOL_FROM:
        with processes(workers) as pool:
            for count, rows in pool.map(job, map(_packed, slices)):
                found += rows
                done += count
                if progress:
                    progress(done, len(ids))
    else:
        for records in slices:
            found += ranked_of(records, here, question)
            done += len(records)
            if progress:
                progress(done, len(ids))
    return sorted(found, key=lambda one: (one.rank.sort_key, str(one.name)))


def _packed(records: list[Record]) -> bytes:
    return packed([(0, record) for record in records])


def _slices(ids: tuple[UUID, ...]) -> Iterator[list[Record]]:
    for start in range(0, len(ids), SLICE):
        yield list(repository.read_many(ids[start : start + SLICE]).values())
