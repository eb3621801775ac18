"""Work that goes on after the answer: who asked for it, how far it is, how it ended.

A use case hands :func:`run` what is to be done. It waits until no other job of its kind is at work,
gives a sign of life every second, stops soon after somebody cancels it, and what it writes under its
number (:mod:`suffice.record.arrival`) comes onto the record whole or is deleted. Where the program
was stopped in the middle, the job falls silent: the next one of its kind, or :func:`sweep`, marks it
as interrupted and clears up after it.

```
waiting ──> running ──> done | failed | cancelled
   └────────────┴─────> interrupted              (no sign of life for SILENT_S)
```
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from datetime import timedelta
from enum import StrEnum
from threading import Event, Thread
from typing import TypeVar
from uuid import UUID, uuid4

import msgspec
from django.db import connections
from django.utils import timezone

from suffice.errors import Problem, StorageError, SufficeError
from suffice.message import message
from suffice.record import arrival
from suffice.record import jobs as shelf
from suffice.record.jobs import Cancelled, Job, State, Superseded

__all__ = ["Cancelled", "Job", "Kind", "Outcome", "Running", "State", "Superseded"]

logger = logging.getLogger("suffice.jobs")

SIGN_OF_LIFE_S = 1.0
SILENT_S = 15.0
"""A job that gave no sign of life for so long is not at work any more."""
WAIT_S = 0.5
"""How often a waiting job looks whether its turn has come."""
KEPT_D = 7
"""How long it can be seen how a job ended."""
PROBLEMS_KEPT = 200

_Done = TypeVar("_Done")
Progress = Callable[[int, int], None]
"""Called with (done, all)."""
Watch = Callable[[str, int, int], None]
"""Called with (stage, done, all)."""


class Kind(StrEnum):
    """What a job does. Only one of a kind is at work at a time."""

    IMPORT = "import"
    REFRESH = "refresh"


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What a job came to.

    Attributes:
        counts: How many of what, by a word of its use case.
        problems: Why it failed, or what it left out; the first ones.
        problems_count: How many there were.
        family_id: The family that it was about, if it was about one.
    """

    counts: dict[str, int] = {}
    problems: tuple[Problem, ...] = ()
    problems_count: int = 0
    family_id: UUID | None = None


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """A job as a page shows it.

    Attributes:
        job: Where it is.
        outcome: What it came to; empty while it is under way, and where it was interrupted.
        arrived: How many entries it put on the record, if it put any: also of a job that was
            interrupted after they had arrived. None where nothing of it is on the record.
    """

    job: Job
    outcome: Outcome
    arrived: int | None

    @property
    def can_cancel(self) -> bool:
        """Whether asking it to stop would still change something."""
        return not (self.job.ended or self.job.is_cancel_asked or self.arrived is not None)


class Running:
    """A job at work, in the hands of its use case."""

    def __init__(self, number: int, watch: Watch | None = None) -> None:
        self.number = number
        self.at = ("", 0, 0)
        self._watch = watch
        self._should_stop = Event()

    def stage(self, name: str) -> Progress:
        """What a part of the work reports its progress to; a report stops a cancelled job.

        Raises:
            Cancelled: From what is returned, when the job was asked to stop or taken for dead.
        """

        def progress(done: int, total: int) -> None:
            self.at = (name, done, total)
            if self._watch:
                self._watch(name, done, total)
            if self._should_stop.is_set():
                raise Cancelled

        return progress

    def turn(self) -> AbstractContextManager[None]:
        """One short transaction for what the job writes; see :func:`suffice.record.jobs.turn`."""
        return shelf.turn(self.number)

    def stop(self) -> None:
        """Let it end at its next report."""
        self._should_stop.set()


def ask(kind: Kind, *, by: str, job_id: UUID | None = None) -> Job:
    """A new job, which waits to be run.

    Args:
        kind: What it does.
        by: The user who asked for it.
        job_id: The id under which it can be seen; made up if left out.
    """
    # A name that no database stores is refused with the entries that bear it, each with its row.
    name = by.encode("utf-8", "replace").decode().replace("\0", "?")
    return shelf.add(job_id or uuid4(), kind, started_by=name, now=timezone.now())


def run(
    job: Job,
    work: Callable[[Running], tuple[_Done, Outcome]],
    *,
    watch: Watch | None = None,
    on_bug: Callable[[Exception], str] | None = None,
) -> _Done:
    """Wait for the job's turn, do the work here, and note how it ended; raises what the work raised.

    Args:
        job: A job that waits.
        work: Gives what the caller wants of it, and the outcome that is kept.
        watch: Told how far it is.
        on_bug: Told of a bug of ours; gives the number under which it stands in the log.

    Raises:
        Cancelled: Nothing of the job is on the record.
        SufficeError: As the work does; nothing of the job is on the record, unless it had arrived.
        Superseded: When it was taken for dead meanwhile.
    """
    running = Running(job.number, watch)
    try:
        with _signs_of_life(running):
            _wait_for_turn(job, running)
            done, outcome = work(running)
    except Cancelled:
        _end(job, State.CANCELLED, Outcome())
        raise
    except KeyboardInterrupt:
        _end(job, State.INTERRUPTED, Outcome())
        raise
    except Superseded:
        # Whoever took it for dead has noted that, and clears up.
        raise
    except SufficeError as refusal:
        _end(job, State.FAILED, failed(refusal))
        raise
    except Exception as bug:
        _end(job, State.FAILED, Outcome(), incident=on_bug(bug) if on_bug else "")
        raise
    _end(job, State.DONE, outcome)
    return done


def run_aside(
    job: Job,
    work: Callable[[Running], tuple[object, Outcome]],
    *,
    on_bug: Callable[[Exception], str],
) -> None:
    """The same in a thread of its own; how it ended is seen by :func:`seen` only."""

    def aside() -> None:
        try:
            run_quietly(job, work, on_bug=on_bug)
        finally:
            connections.close_all()

    Thread(target=aside, name=f"{job.kind} {job.number}", daemon=True).start()


def run_quietly(
    job: Job,
    work: Callable[[Running], tuple[object, Outcome]],
    *,
    on_bug: Callable[[Exception], str],
) -> None:
    """The same here, raising nothing."""
    # `run` has noted each of them.
    with suppress(Exception):
        run(job, work, on_bug=on_bug)


def failed(refusal: SufficeError) -> Outcome:
    """The outcome of a job that was refused something."""
    return Outcome(problems=refusal.problems[:PROBLEMS_KEPT], problems_count=len(refusal.problems))


def seen(job_id: UUID) -> Seen | None:
    """A job as it is by now; one that fell silent is shown as interrupted. None: there is none."""
    job = shelf.find(job_id)
    if job is None:
        return None
    silent_s = (timezone.now() - job.alive_at).total_seconds()
    if not job.ended and silent_s > SILENT_S:
        job = msgspec.structs.replace(job, state=State.INTERRUPTED)
    outcome = msgspec.json.decode(job.result, type=Outcome) if job.result else Outcome()
    arrived = arrival.entry_count(job.number) if arrival.has_arrived(job.number) else None
    return Seen(job=job, outcome=outcome, arrived=arrived)


def note_done(kind: Kind, outcome: Outcome, *, by: str, job_id: UUID) -> None:
    """Keep the outcome of work that was done at once, so that it can be seen like a job's."""
    job = ask(kind, by=by, job_id=job_id)
    _end(job, State.DONE, outcome)


def done_at_once(kind: Kind, *, by: str) -> int:
    """The number of a job that whoever asks does at once, within one transaction with this."""
    job = ask(kind, by=by)
    result = msgspec.json.encode(Outcome()).decode()
    shelf.end(job.number, State.DONE, result=result, now=timezone.now())
    return job.number


def is_under_way(job_id: UUID) -> bool:
    """Whether the latest job of an id waits or is at work."""
    found = seen(job_id)
    return found is not None and not found.job.ended


def is_busy(kind: Kind) -> bool:
    """Whether a job of this kind is at work, or has left something that must be cleared first."""
    return shelf.is_taken(kind)


def cancel(job_id: UUID) -> None:
    """Ask a job to stop; one that has ended is left alone."""
    shelf.ask_to_cancel(job_id)


def sweep() -> None:
    """Mark what fell silent as interrupted, clear up after it, and forget what ended long ago."""
    now = timezone.now()
    shelf.interrupt(silent_since=now - timedelta(seconds=SILENT_S), now=now)
    for job in shelf.uncleared():
        _clear(job)
    shelf.forget(ended_before=now - timedelta(days=KEPT_D))


def _clear(job: Job) -> None:
    """Delete what an ended job wrote and did not bring onto the record, and let the next begin."""
    arrival.drop(job.number)
    shelf.free(job.number)


def _wait_for_turn(job: Job, running: Running) -> None:
    progress = running.stage("waiting")
    while not shelf.take(job.number, slot=job.kind, now=timezone.now()):
        progress(0, 0)
        time.sleep(WAIT_S)
        sweep()


def _end(job: Job, state: State, outcome: Outcome, *, incident: str = "") -> None:
    """Note an end and clear up; where the database is away, the next sweep does it."""
    result = msgspec.json.encode(outcome).decode()
    try:
        shelf.end(job.number, state, result=result, incident=incident, now=timezone.now())
        _clear(job)
    except StorageError:
        logger.warning("the end of job %d could not be noted", job.number)


@contextmanager
def _signs_of_life(running: Running) -> Iterator[None]:
    """Signs of life, with how far the job is, for the length of the block."""
    over = Event()

    def sign() -> None:
        try:
            while not over.wait(SIGN_OF_LIFE_S):
                stage, done, total = running.at
                # A database that is away for a moment ends no job; silence for long does.
                with suppress(StorageError):
                    goes_on = shelf.sign(
                        running.number, stage=stage, done=done, total=total, now=timezone.now()
                    )
                    if not goes_on:
                        running.stop()
        finally:
            connections.close_all()

    thread = Thread(target=sign, name="signs of life", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def stopped() -> Problem:
    """The words for whoever waits in front of a job that was cancelled or taken for dead."""
    return Problem(
        code="JOB-001",
        what=message("The work was stopped."),
        why=message(
            "Somebody cancelled it, or it gave no sign of life for a while and was taken for dead;"
            " nothing of it was stored."
        ),
        fix=message("Begin it again; nothing is stored twice."),
    )
