"""Append with chains and without, check everything, note events; prints JSON.

Run by benchmarks.chains with the settings of one database engine.
"""

from __future__ import annotations

import json
import resource
import statistics
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from unittest.mock import patch

import django
from django.core.management import call_command

NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)
APPENDS = 200
FAMILIES, ENTRIES = 200, 100
"""Of each bulk."""
EVENTS = 2000


@contextmanager
def without_chains() -> Iterator[None]:
    """As it was before there were any."""
    with patch("suffice.record.chain.extend", lambda *_args, **_more: None):
        yield


def infant_and_entries(count: int):
    from suffice.clinical import entry  # noqa: PLC0415 -- after django.setup

    infant = entry.Infant(id=uuid.uuid4(), position=1)
    entries = tuple(
        entry.Entry(
            id=uuid.uuid4(), fact=entry.Weight(weight_g=3000.0 + n, clothing="naked"),
            basis=entry.Basis.MEASURED, true_at=NOW - timedelta(minutes=n), entered_at=NOW,
            entered_by="bench", infant_id=infant.id, device="scale 1",
        )
        for n in range(count)
    )  # fmt: skip
    return infant, entries


def append_one_by_one() -> dict[str, float]:
    """Milliseconds of an append of one entry, the two ways in turn on two families."""
    from suffice.record import repository  # noqa: PLC0415

    taken: dict[bool, list[float]] = {True: [], False: []}
    family_of = {True: uuid.uuid4(), False: uuid.uuid4()}
    made = {chained: infant_and_entries(APPENDS) for chained in family_of}
    for chained, key in family_of.items():
        repository.open_family(key, [made[chained][0]], opened_at=NOW, opened_by="bench")
    for number in range(APPENDS):
        for chained, key in family_of.items():
            entry = made[chained][1][number]
            begun = time.perf_counter()
            if chained:
                repository.append(key, [entry])
            else:
                with without_chains():
                    repository.append(key, [entry])
            taken[chained].append(1000 * (time.perf_counter() - begun))
    return {
        "with_ms": statistics.median(taken[True]),
        "without_ms": statistics.median(taken[False]),
    }


def bring_many() -> float:
    """Seconds for which an import of many entries writes, without its rests."""
    from suffice.care import jobs  # noqa: PLC0415
    from suffice.clinical.entry import Record  # noqa: PLC0415
    from suffice.record import arrival, repository  # noqa: PLC0415

    records = []
    for _ in range(FAMILIES):
        infant, entries = infant_and_entries(ENTRIES)
        records.append(Record(family_id=uuid.uuid4(), infants=(infant,), entries=entries))
    number = jobs.done_at_once(jobs.Kind.IMPORT, by="bench")
    with patch.object(arrival, "rest", lambda _s: None):
        begun = time.perf_counter()
        arrival.bring(
            number, records, opened_at=NOW, opened_by="bench", turn=repository.one_transaction,
            progress=lambda _done, _all: None,
        )  # fmt: skip
        return time.perf_counter() - begun


def note_events() -> dict[str, float]:
    """Milliseconds to note an event, and how many a second come into the database."""
    from suffice.care import trail  # noqa: PLC0415
    from suffice.care.trail import Act  # noqa: PLC0415

    def note(act: Act) -> float:
        begun = time.perf_counter()
        trail.note(act, who="bench", page="family", now=NOW, family_id=uuid.uuid4())
        return 1000 * (time.perf_counter() - begun)

    read = [note(Act.READ) for _ in range(EVENTS)]
    forced = [note(Act.EXPORT) for _ in range(100)]
    begun = time.perf_counter()
    flushed = trail.flush()
    return {
        "note_ms": statistics.median(read),
        "forced_ms": statistics.median(forced),
        "flushed_per_s": flushed / (time.perf_counter() - begun),
    }


def main() -> None:
    django.setup()
    call_command("migrate", verbosity=0)
    from suffice.record import newest  # noqa: PLC0415
    from suffice.record.verify import verify  # noqa: PLC0415

    found: dict[str, float] = {"bulk": FAMILIES * ENTRIES} | append_one_by_one()
    # In turn, so that neither has the empty tables for itself.
    bulks = {True: 0.0, False: 0.0}
    for chained in (True, False, False, True):
        if chained:
            bulks[chained] += bring_many()
        else:
            with without_chains():
                bulks[chained] += bring_many()
    found |= {"bulk_with_s": bulks[True] / 2, "bulk_without_s": bulks[False] / 2}
    found |= note_events()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begun, cpu = time.perf_counter(), time.process_time()
    checked = verify()
    found |= {"verify_cpu_s": time.process_time() - cpu, "rows": checked.row_count}
    found["verify_s"] = time.perf_counter() - begun
    found["verify_mb"] = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    begun = time.perf_counter()
    found["looked"] = newest.look(3.0).checked
    found["look_s"] = time.perf_counter() - begun
    print(json.dumps(found))


if __name__ == "__main__":
    main()
