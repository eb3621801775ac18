"""Jobs as they are kept: who asked for what, how far it is, how it ended; no part of the record.

A job gives a sign of life while it is at work. Whoever finds one silent for long marks it as
interrupted; from then on :func:`turn` refuses the one that fell silent, should it wake again, so
that nothing is written in the name of a job that somebody has cleared up after.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from enum import StrEnum
from uuid import UUID

import msgspec
from django.db import DatabaseError, IntegrityError, transaction
from django.db.models import Q

from suffice.record import models
from suffice.record.repository import one_transaction, unavailable


class State(StrEnum):
    """Where a job is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"
    INTERRUPTED = "interrupted"


UNDER_WAY = (State.WAITING, State.RUNNING)


class Cancelled(Exception):  # noqa: N818 -- no error: somebody asked for it
    """The job was asked to stop, and nothing more may be written for it."""


class Superseded(Exception):  # noqa: N818 -- no error of the job's
    """The job was taken for dead and cleared up after; nothing more may be written for it."""


class Job(msgspec.Struct, frozen=True, kw_only=True):
    """A job as it is kept.

    Attributes:
        number: Counts up and is never given twice; an import's :class:`Arrival` has it too.
        id: That under which it can be seen; work that is tried again is another job of this id.
        kind: What it does.
        stage: The part of the work that it is at, of which `done` of `total` are done.
        started_by: The user who asked for it.
        alive_at: Its latest sign of life.
        holds_slot: Whether it, or what it left behind, still keeps others of its kind waiting.
        incident: The number under which a bug of ours stands in the log.
        result: What it came to, as its use case wrote it; empty before the end.
    """

    number: int
    id: UUID
    kind: str
    state: State
    stage: str
    done: int
    total: int
    started_by: str
    asked_at: datetime
    alive_at: datetime
    ended_at: datetime | None
    is_cancel_asked: bool
    holds_slot: bool
    incident: str
    result: str

    @property
    def ended(self) -> bool:
        """Whether it will do nothing more."""
        return self.state not in UNDER_WAY


def add(job_id: UUID, kind: str, *, started_by: str, now: datetime) -> Job:
    """A new job, which waits for its turn."""
    with one_transaction():
        row = models.Job.objects.create(
            id=job_id,
            kind=kind,
            state=State.WAITING,
            started_by=started_by,
            asked_at=now,
            alive_at=now,
        )
    return _job(row)


def find(job_id: UUID) -> Job | None:
    """The latest job under an id; None where there is none."""
    row = models.Job.objects.filter(id=job_id).order_by("-number").first()
    return None if row is None else _job(row)


def take(number: int, *, slot: str, now: datetime) -> bool:
    """Let a waiting job begin, unless another holds its slot."""
    waiting = models.Job.objects.filter(number=number, state=State.WAITING)
    try:
        with transaction.atomic():
            return waiting.update(state=State.RUNNING, slot=slot, alive_at=now) == 1
    except IntegrityError:
        return False
    except DatabaseError as error:
        raise unavailable(error) from error


def sign(number: int, *, stage: str, done: int, total: int, now: datetime) -> bool:
    """Give a sign of life with how far the job is; whether it should go on."""
    with one_transaction():
        mine = models.Job.objects.filter(number=number, state__in=UNDER_WAY)
        mine.update(stage=stage, done=done, total=total, alive_at=now)
        found = models.Job.objects.filter(number=number).values_list("state", "is_cancel_asked")
        state, is_cancel_asked = found.first() or (State.RUNNING, False)
    return state in UNDER_WAY and not is_cancel_asked


@contextmanager
def turn(number: int) -> Iterator[None]:
    """One short transaction of a job at work; all writes for it that must not come late.

    Raises:
        Cancelled: When it was asked to stop. Once the block is over, a later wish finds it written.
        Superseded: When it was taken for dead.
    """
    with one_transaction():
        mine = models.Job.objects.select_for_update().filter(number=number)
        state, is_cancel_asked = mine.values_list("state", "is_cancel_asked").first() or ("", False)
        if state != State.RUNNING:
            raise Superseded
        if is_cancel_asked:
            raise Cancelled
        yield


def is_taken(slot: str) -> bool:
    """Whether a job holds a slot."""
    return models.Job.objects.filter(slot=slot).exists()


def ask_to_cancel(job_id: UUID) -> None:
    """Ask a job to stop; one that has ended is left alone."""
    with one_transaction():
        under_way = models.Job.objects.filter(id=job_id, state__in=UNDER_WAY)
        under_way.update(is_cancel_asked=True)


def end(number: int, state: State, *, result: str, incident: str = "", now: datetime) -> bool:
    """Note how a job ended, unless somebody else has; it keeps its slot until :func:`free`."""
    with one_transaction():
        under_way = models.Job.objects.filter(number=number, state__in=UNDER_WAY)
        changed = under_way.update(
            state=state, result=result, incident=incident, ended_at=now, alive_at=now
        )
    return changed == 1


def free(number: int) -> None:
    """Let others of its kind begin: nothing is left of the job that they could meet."""
    with one_transaction():
        models.Job.objects.filter(number=number).update(slot=None)


def interrupt(*, silent_since: datetime, now: datetime) -> None:
    """Mark as interrupted what was under way and has given no sign of life since an instant."""
    with one_transaction():
        silent = models.Job.objects.filter(state__in=UNDER_WAY, alive_at__lt=silent_since)
        silent.update(state=State.INTERRUPTED, ended_at=now)


def silent_count(since: datetime) -> int:
    """How many are under way and have given no sign of life since an instant."""
    return models.Job.objects.filter(state__in=UNDER_WAY, alive_at__lt=since).count()


def uncleared() -> tuple[Job, ...]:
    """Jobs that have ended and of which something may be left."""
    left = models.Job.objects.filter(slot__isnull=False)
    return tuple(_job(row) for row in left.exclude(state__in=UNDER_WAY).order_by("number"))


def forget(*, ended_before: datetime) -> int:
    """Remove jobs that ended long ago and left nothing; how many they were."""
    old = Q(slot__isnull=True, ended_at__lt=ended_before)
    with one_transaction():
        count, _each = models.Job.objects.filter(old).delete()
    return count


def _job(row: models.Job) -> Job:
    return Job(
        number=row.number,
        id=row.id,
        kind=row.kind,
        state=State(row.state),
        stage=row.stage,
        done=row.done,
        total=row.total,
        started_by=row.started_by,
        asked_at=row.asked_at,
        alive_at=row.alive_at,
        ended_at=row.ended_at,
        is_cancel_asked=row.is_cancel_asked,
        holds_slot=row.slot is not None,
        incident=row.incident,
        result=row.result,
    )
