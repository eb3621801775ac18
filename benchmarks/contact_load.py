"""A contact in which every question of every part is answered, and what its pages cost; prints JSON.

Run by benchmarks.contact with the settings of one database engine. Wall time of the whole request is
what a person waits for; processor time is what another machine can be compared by.
"""

from __future__ import annotations

import json
import os
import sys
import time
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from random import Random
from typing import TYPE_CHECKING, Any

import django
from django.core.management import call_command

from benchmarks.page_load import client, family, queries_of
from benchmarks.result import median_ms

if TYPE_CHECKING:
    from suffice.clinical.entry import Record

RUNS = 15
AGE_H = 24 * 12
ENTRIES = 100
LEAST_FINDINGS = 300
BUSIEST = "breast"
"""The part with most questions and a drawing."""


def with_contact(record: Record, now: datetime) -> Record:
    """The record with a contact in progress in which every question is answered, by the same draws."""
    import msgspec  # noqa: PLC0415 -- after django.setup

    from suffice.care.contact.visit import asked_in  # noqa: PLC0415 -- after django.setup
    from suffice.clinical import entry  # noqa: PLC0415 -- after django.setup
    from suffice.knowledge.store import load  # noqa: PLC0415 -- after django.setup

    rng, content = Random(20261129), load()
    began = now - timedelta(minutes=30)

    def made(fact: Any, infant_id: uuid.UUID | None) -> Any:
        return entry.Entry(
            id=uuid.UUID(int=rng.getrandbits(128), version=4),
            fact=fact,
            basis=entry.Basis.OBSERVED,
            true_at=began,
            entered_at=began,
            entered_by="bench",
            infant_id=infant_id,
        )

    start = made(entry.ContactStart(place="home"), None)
    answers = [
        made(
            entry.Observation(
                what=question.what,
                answer=rng.choice(word.answers)
                if word.answers
                else f"{(word.least + word.most) / 2:.0f}",
                side=question.side,
                contact_id=start.id,
            ),
            question.infant_id,
        )
        for part in content.parts
        for question, word in asked_in(content, part, [one.id for one in record.infants]).items()
    ]
    if len(answers) < LEAST_FINDINGS:
        raise SystemExit(f"{len(answers)} findings are fewer than {LEAST_FINDINGS}")
    return msgspec.structs.replace(record, entries=(*record.entries, start, *answers))


def processor_ms(act: Callable[[], object]) -> float:
    """Processor milliseconds of the quickest of some calls."""
    taken = []
    for _ in range(RUNS):
        began = time.process_time()
        act()
        taken.append(time.process_time() - began)
    return 1000 * min(taken)


def evaluated_ms(record: Record, now: datetime) -> float:
    """Processor milliseconds of naming the problems of the record."""
    from suffice.assess.assessment import assess  # noqa: PLC0415 -- after django.setup
    from suffice.assess.problems.of_family import problems_of  # noqa: PLC0415 -- after django.setup
    from suffice.knowledge.policy import Policy  # noqa: PLC0415 -- after django.setup
    from suffice.knowledge.store import load  # noqa: PLC0415 -- after django.setup

    content = load()
    assessed = assess(record, now, content, Policy(zone="Europe/Lisbon"), engine=False)
    return processor_ms(partial(problems_of, record, assessed, content))


def main() -> None:
    os.environ.setdefault("SUFFICE_BACKGROUND", "0")
    django.setup()
    call_command("migrate", verbosity=0)
    from django.urls import reverse  # noqa: PLC0415 -- after django.setup

    from suffice.record import repository  # noqa: PLC0415 -- after django.setup

    now = datetime.now(UTC)
    before = family(Random(20261125), now, 0, ENTRIES, AGE_H)
    record = with_contact(before, now)
    repository.open_family(record.family_id, record.infants, opened_at=now, opened_by="bench")
    repository.append(record.family_id, record.entries)
    browser = client()

    def get(url: str) -> None:
        answer = browser.get(url)
        if answer.status_code != 200:
            raise SystemExit(f"{url} answered {answer.status_code}")

    count = len(record.entries) - len(before.entries) - 1
    pages = {
        "contact page": reverse("contact", args=[record.family_id]),
        f"its part '{BUSIEST}'": reverse("contact-part", args=[record.family_id, BUSIEST]),
    }
    rows = [
        {
            "name": f"{name}, {count} findings",
            "value": median_ms(partial(get, url), RUNS),
            "unit": "ms",
            "target": 200.0,
            "detail": f"median of {RUNS}; {processor_ms(partial(get, url)):.0f} ms of the processor; "
            f"{queries_of(partial(get, url))} queries",
        }
        for name, url in pages.items()
    ]
    rows.append(
        {
            "name": f"problems named from {count} findings",
            "value": evaluated_ms(record, now),
            "unit": "ms",
            "target": 5.0,
            "detail": f"processor time, least of {RUNS}",
        }
    )
    json.dump(rows, sys.stdout)


if __name__ == "__main__":
    main()
