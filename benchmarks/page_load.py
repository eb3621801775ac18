"""Fill a record with 2,000 open families and 200,000 entries and time the pages; prints JSON.

Run by benchmarks.pages with the settings of one database engine. The families are drawn at random
with a fixed seed; ages run from two hours to ten weeks.
"""

from __future__ import annotations

import json
import os
import sys
import time
import uuid
from datetime import UTC, datetime
from random import Random

import django
from django.core.management import call_command
from tools.drawn_family import family

from benchmarks.result import median_ms

FAMILIES = 2_000
ENTRIES_EACH = 100
LONG = 2_000
LONG_AGE_H = 24 * 40
RUNS = 15


def fill(now: datetime) -> uuid.UUID:
    """Store the families; returns the id of the one with the long record."""
    from django.db import transaction  # noqa: PLC0415 -- after django.setup

    from suffice.record import repository  # noqa: PLC0415 -- after django.setup

    rng = Random(20261125)
    long = family(rng, now, 0, LONG, LONG_AGE_H)
    with transaction.atomic():
        for record in [long, *(family(rng, now, n, ENTRIES_EACH) for n in range(1, FAMILIES))]:
            repository.open_family(
                record.family_id, record.infants, opened_at=now, opened_by="bench"
            )
            repository.append(record.family_id, record.entries)
    return long.family_id


def client():
    from django.contrib.auth import get_user_model  # noqa: PLC0415 -- after django.setup
    from django.test import Client  # noqa: PLC0415 -- after django.setup

    from suffice.care.clinic.people import add_user  # noqa: PLC0415 -- after django.setup

    add_user("bench", uuid.uuid4().hex, now=datetime.now(UTC))
    user = get_user_model().objects.get(username="bench")
    signed_in = Client()
    signed_in.force_login(user)
    return signed_in


def queries_of(act) -> int:
    from django.db import connection  # noqa: PLC0415 -- after django.setup
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415 -- after django.setup

    with CaptureQueriesContext(connection) as caught:
        act()
    return len(caught)


def main() -> None:
    os.environ.setdefault("SUFFICE_BACKGROUND", "0")
    django.setup()
    call_command("migrate", verbosity=0)
    from django.urls import reverse  # noqa: PLC0415 -- after django.setup

    from suffice.care.caseload.rows import refresh_stale  # noqa: PLC0415 -- after django.setup

    now = datetime.now(UTC)
    long_id = fill(now)
    began = time.perf_counter()
    done = refresh_stale(now=now)
    refreshed_s = time.perf_counter() - began
    browser = client()

    def get(url: str) -> None:
        answer = browser.get(url)
        if answer.status_code != 200:
            raise SystemExit(f"{url} answered {answer.status_code}")

    caseload, page = reverse("caseload"), reverse("family", args=[long_id])
    rows = [
        {
            "name": "2,000 families assessed anew",
            "value": refreshed_s,
            "unit": "s",
            "detail": f"{done} families, {FAMILIES * ENTRIES_EACH:,} entries, {os.cpu_count()} cores",
        },
        {
            "name": "caseload page, 2,000 families",
            "value": median_ms(lambda: get(caseload), RUNS),
            "unit": "ms",
            "detail": f"median of {RUNS}; {queries_of(lambda: get(caseload))} queries",
        },
        {
            "name": "family page, 2,000 entries",
            "value": median_ms(lambda: get(page), RUNS),
            "unit": "ms",
            "detail": f"median of {RUNS}, each as of now; {queries_of(lambda: get(page))} queries",
        },
    ]
    json.dump(rows, sys.stdout)


if __name__ == "__main__":
    main()
