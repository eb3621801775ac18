"""What a start of the program finds and does after one that was killed; prints it as JSON.

    python after_restart.py

The clock of the dead job is set back first, as if the start came a while later.
"""
# ruff: noqa: PLC0415 -- models can be imported only once Django is set up

from __future__ import annotations

import json
from datetime import timedelta

import django


def main() -> None:
    """Print what is seen before the sweep and after it."""
    django.setup()
    from django.db.models import F

    from suffice.care import jobs, upkeep
    from suffice.record import models, repository
    from suffice.record.verify import verify

    def seen() -> dict[str, object]:
        job = models.Job.objects.order_by("-number").first()
        found = None if job is None else jobs.seen(job.id)
        records = repository.read_many(repository.family_ids()).values()
        return {
            "state": None if found is None else str(found.job.state),
            "arrived": None if found is None else found.arrived,
            "families": len(records),
            "entries": sum(len(record.entries) for record in records),
            "rows": models.Entry.everything.count() + models.Family.everything.count(),
            "busy": jobs.is_busy(jobs.Kind.IMPORT),
            "wrong": len(verify().found),
        }

    silent = timedelta(seconds=jobs.SILENT_S + 1)
    models.Job.objects.filter(ended_at=None).update(alive_at=F("alive_at") - silent)
    before = seen()
    upkeep.sweep()
    print(json.dumps({"before": before, "after": seen()}))


if __name__ == "__main__":
    main()
