"""The refresh of caseload rows as a job: one at a time, whoever asks for it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from suffice.care import jobs
from suffice.care.caseload.rows import refresh_stale, stale_families
from suffice.care.clinic.clinic import clinic
from suffice.errors import StorageError


def bring_up_to_date(
    clock: Callable[[], datetime],
    *,
    by: str,
    workers: int | None = None,
    watch: jobs.Watch | None = None,
    on_bug: Callable[[Exception], str] | None = None,
    waits: bool = True,
) -> int:
    """Assess anew every family whose caseload row no longer holds; what was stored stays.

    Args:
        clock: The instant as of which families are assessed, asked when the job's turn has come.
        by: Who asks for it.
        workers: Processes; None takes as many as there are cores, 1 uses none besides this one.
        watch: Told how far it is.
        on_bug: As in :func:`suffice.care.jobs.run`.
        waits: Whether to wait for another refresh that is at work; else nothing is done then.

    Returns:
        How many caseload rows were computed.

    Raises:
        StorageError: RECORD-009; JOB-001, when it was stopped.
    """
    if not stale_families(clinic(), now=clock()):
        return 0
    if not waits and jobs.is_busy(jobs.Kind.REFRESH):
        jobs.sweep()  # it may have fallen silent; then the next call finds its place free
        return 0

    def work(running: jobs.Running) -> tuple[int, jobs.Outcome]:
        count = refresh_stale(now=clock(), workers=workers, progress=running.stage("assessing"))
        return count, jobs.Outcome(counts={"families": count})

    try:
        return jobs.run(jobs.ask(jobs.Kind.REFRESH, by=by), work, watch=watch, on_bug=on_bug)
    except (jobs.Cancelled, jobs.Superseded) as stop:
        raise StorageError(jobs.stopped()) from stop
