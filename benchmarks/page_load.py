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
from datetime import UTC, datetime, timedelta
from random import Random

import django
from django.core.management import call_command

from benchmarks.result import median_ms

FAMILIES = 2_000
ENTRIES_EACH = 100
LONG = 2_000
LONG_AGE_H = 24 * 40
WEIGHTS_MOST = 20
RUNS = 15


def facts(rng: Random, age_h: float, count: int, birth_weight_g: float):
    """Kind of fact and its age in hours, `count` of them, as a family's log would hold them.

    One in ten is a weight, but at most `WEIGHTS_MOST` in all: nobody weighs every hour.
    """
    from suffice.clinical import entry  # noqa: PLC0415 -- after django.setup

    for k in range(count):
        at_h = age_h * (k + 1) / (count + 1)
        kind = k % 10
        if kind == 0 and k % max(10, count // WEIGHTS_MOST) < 10:
            days = at_h / 24
            lost = 0.06 * min(days / 3, 1.0) if days < 3 else 0.06
            gained = max(days - 3, 0) * 28
            weight = birth_weight_g * (1 - lost) + gained + rng.gauss(0, 30)
            yield at_h, entry.Weight(weight_g=round(weight), clothing="naked")
        elif kind in {1, 2, 3, 4}:
            yield at_h, entry.Feed(milk="breast", side="left", minutes=20)
        elif kind == 5:
            yield at_h, entry.Feed(milk="formula", volume_ml=float(rng.randrange(10, 60, 5)))
        elif kind in {6, 7}:
            yield at_h, entry.Wet()
        elif kind == 8:
            yield at_h, entry.Stool(colour="yellow")
        else:
            yield at_h, entry.Temperature(temperature_c=36.8)


def family(rng: Random, now: datetime, number: int, count: int, age_h: float | None = None):
    """One invented family's record, its infant of the age given or of any."""
    from suffice.clinical import entry  # noqa: PLC0415 -- after django.setup

    age_h = age_h or rng.uniform(2, 24 * 70)
    born_at = now - timedelta(hours=age_h)
    infant = entry.Infant(id=uuid.UUID(int=rng.getrandbits(128), version=4), position=1)
    birth_weight_g = round(rng.gauss(3400, 400))

    def made(fact, at_h, infant_id):
        at = born_at + timedelta(hours=at_h)
        return entry.Entry(
            id=uuid.UUID(int=rng.getrandbits(128), version=4),
            fact=fact,
            basis=entry.Basis.REPORTED,
            true_at=at,
            entered_at=at,
            entered_by="bench",
            infant_id=infant_id,
        )

    birth = entry.Birth(
        zone="Europe/Lisbon",
        sex=rng.choice(["male", "female"]),
        gestation_days=rng.randrange(259, 290),
        birth_weight_g=birth_weight_g,
        mode=rng.choice(["vaginal", "caesarean"]),
    )
    entries = [
        made(birth, 0.0, infant.id),
        made(entry.Identity(name=f"Family {number}"), 0.0, None),
        made(entry.Contact(setting=rng.choice(list(entry.Setting))), 0.0, None),
    ]
    rest = count - len(entries)
    entries += [made(f, h, infant.id) for h, f in facts(rng, age_h, rest, birth_weight_g)]
    return entry.Record(
        family_id=uuid.UUID(int=rng.getrandbits(128), version=4),
        infants=(infant,),
        entries=tuple(entries),
    )


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
