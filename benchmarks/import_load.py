"""Import a large table in one process while another one saves entries; prints JSON.

Run by benchmarks.imports with the settings of one database engine.

    python -m benchmarks.import_load                 make the record, import, save beside it
    python -m benchmarks.import_load import FILE     the process that imports
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

import django
from django.core.management import call_command

INFANTS = 200
WEIGHTS_EACH = 80
REST_S = 0.05
"""Between one save and the next: a ward where somebody always saves."""
NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)
BORN_AT = NOW - timedelta(days=90)


def table() -> str:
    """A table of `INFANTS` infants, each weighed once a day."""
    rows = ["infant,sex,birth date,birth time,date,time,weight g"]
    for infant in range(1, INFANTS + 1):
        for day in range(WEIGHTS_EACH):
            at = BORN_AT + timedelta(days=5 + day)
            weight = 3000 + infant % 300 + 25 * day
            rows.append(f"{infant},female,{BORN_AT:%Y-%m-%d},09:00,{at:%Y-%m-%d},09:00,{weight}")
    return "\n".join(rows)


def import_table(file: str) -> None:
    """Import the table as the command line does."""
    from suffice.care.family.transfer import import_csv  # noqa: PLC0415 -- after django.setup
    from suffice.exchange.table.options import CsvOptions  # noqa: PLC0415

    options = CsvOptions(
        zone="UTC", entered_by="bench", entered_at=NOW, source="bench", accept_doubtful=True
    )
    done = import_csv(Path(file).read_bytes(), options, now=NOW)
    print(done.entry_count)


def save_beside(importing: subprocess.Popen[str]) -> list[float]:
    """Save a feed again and again until the import has ended: seconds of each save."""
    from suffice.care.family.recording import open_family, record_entry  # noqa: PLC0415
    from suffice.clinical import entry  # noqa: PLC0415

    infant = entry.Infant(id=uuid.uuid4(), position=1)

    def made(fact: entry.AnyFact, at: datetime) -> entry.Entry:
        return entry.Entry(
            id=uuid.uuid4(), fact=fact, basis=entry.Basis.REPORTED, true_at=at, entered_at=NOW,
            entered_by="bench", infant_id=infant.id,
        )  # fmt: skip

    birth = entry.Birth(zone="UTC", sex="female", birth_weight_g=3400.0, gestation_days=275)
    record = entry.Record(
        family_id=uuid.uuid4(), infants=(infant,), entries=(made(birth, BORN_AT),),
    )  # fmt: skip
    open_family(record, now=NOW, actor="bench")
    taken = []
    while importing.poll() is None:
        at = BORN_AT + timedelta(minutes=10 * len(taken))
        begun = time.perf_counter()
        record_entry(
            record.family_id, made(entry.Feed(milk="breast", minutes=12), at), now=NOW,
            confirmed=True,
        )  # fmt: skip
        taken.append(time.perf_counter() - begun)
        time.sleep(REST_S)
    return taken


def main() -> None:
    django.setup()
    if len(sys.argv) > 1:
        import_table(sys.argv[2])
        return
    call_command("migrate", verbosity=0)
    file = Path(os.environ["SUFFICE_HOME"]) / "table.csv"
    file.write_text(table())
    begun = time.perf_counter()
    command = [sys.executable, "-m", "benchmarks.import_load", "import", str(file)]
    importing = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    taken = save_beside(importing)
    took_s = time.perf_counter() - begun
    if importing.returncode:
        raise SystemExit("the import failed")
    entries = int((importing.stdout.read() if importing.stdout else "0") or 0)
    print(
        json.dumps(
            {"longest_s": max(taken), "saves": len(taken), "took_s": took_s, "entries": entries}
        )
    )


if __name__ == "__main__":
    main()
