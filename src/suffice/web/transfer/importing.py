"""Begins the import of a table that waits: at once when it is short, else beside the page."""

from __future__ import annotations

from uuid import UUID

from django.utils import timezone

from suffice.care import jobs, uploads
from suffice.care.clinic.access import Access
from suffice.care.family.transfer import Imported, TableImported, table_work
from suffice.exchange.table.options import CsvOptions
from suffice.web.incident import new_number, report

LONG_BYTES = 200_000
"""From this size on the work is done in a thread of its own, and the page shows how far it is."""


def begin(
    name: UUID,
    content: bytes,
    options: CsvOptions,
    *,
    family_id: UUID | None,
    team_id: UUID | None,
    access: Access,
) -> None:
    """Import a file that waits; nobody waits for a long one, or behind another import."""
    if jobs.is_under_way(name):
        return  # sent twice
    job = jobs.ask(jobs.Kind.IMPORT, by=options.entered_by, job_id=name)
    now = timezone.now()
    real = table_work(
        content, options, now=now, family_id=family_id, access=access, team_id=team_id
    )

    def work(running: jobs.Running) -> tuple[TableImported, jobs.Outcome]:
        done = real(running)
        uploads.forget(name)
        return done

    is_short = len(content) < LONG_BYTES and not jobs.is_busy(jobs.Kind.IMPORT)
    (jobs.run_quietly if is_short else jobs.run_aside)(job, work, on_bug=number_of)


def number_of(bug: Exception) -> str:
    """Put a bug of ours into the log; the number under which it stands there."""
    number = new_number()
    report(number, "import of a table", bug)
    return number


def end_of_family(name: UUID, done: Imported, *, by: str) -> None:
    """Note how the import of a family file ended, and remove the file."""
    counts = {
        "families": 1,
        "opened": int(done.is_new),
        "entries": len(done.appended.new),
        "repeated": len(done.appended.already_there),
    }
    outcome = jobs.Outcome(counts=counts, family_id=done.family_id)
    jobs.note_done(jobs.Kind.IMPORT, outcome, by=by, job_id=name)
    uploads.forget(name)
