"""Fill an empty record with invented families and signed-in sessions; prints them as JSON.

python -m tools.attack.filled FAMILIES ENTRIES SESSIONS
"""
# ruff: noqa: PLC0415 -- models can be imported only once Django is set up

from __future__ import annotations

import json
import os
import sys
import time
from datetime import UTC, datetime
from random import Random

import django

from tools.drawn_family import family


def main(families: int, entries: int, sessions: int) -> None:
    """Print {"families": [ids], "sessions": [keys], "assessed_s": seconds}."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "suffice.web.site.settings")
    os.environ["SUFFICE_BACKGROUND"] = "0"
    django.setup()
    from django.contrib.auth import get_user_model
    from django.db import transaction
    from django.test import Client

    from suffice.care.caseload.rows import refresh_stale
    from suffice.record import repository

    now, dice = datetime.now(UTC), Random(20261129)
    with transaction.atomic():
        records = [family(dice, now, number, entries) for number in range(families)]
        for record in records:
            repository.open_family(
                record.family_id, record.infants, opened_at=now, opened_by="load"
            )
            repository.append(record.family_id, record.entries)
    began = time.monotonic()
    refresh_stale(now=now)
    assessed_s = time.monotonic() - began
    keys = []
    for user in get_user_model().objects.all():
        for _ in range(sessions):
            client = Client()
            client.force_login(user)
            keys.append(client.cookies["sessionid"].value)
        break
    ids = [str(record.family_id) for record in records]
    print(json.dumps({"families": ids, "sessions": keys, "assessed_s": assessed_s}))


if __name__ == "__main__":
    main(*(int(one) for one in sys.argv[1:]))
