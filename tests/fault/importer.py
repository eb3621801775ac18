"""A program that imports a table and says each time that a portion of it was written.

    python importer.py FILE

Killed by test_kill_import.py at one of the points that it prints.
"""
# ruff: noqa: PLC0415 -- models can be imported only once Django is set up

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

import django

NOW = datetime(2026, 6, 1, 9, tzinfo=UTC)
SLICE = 60


def main(file: str) -> None:
    """Import the file in small portions and print how far it is."""
    django.setup()
    from suffice.care.family.transfer import import_csv
    from suffice.exchange.table.options import CsvOptions
    from suffice.record import arrival

    arrival.SLICE_ROWS = SLICE
    said = CsvOptions(
        zone="UTC", entered_by="consultant", entered_at=NOW, source="ward", accept_doubtful=True
    )

    def watch(stage: str, done: int, _total: int) -> None:
        print(stage, done, flush=True)

    done = import_csv(Path(file).read_bytes(), said, now=NOW, watch=watch)
    print("imported", done.entry_count, flush=True)


if __name__ == "__main__":
    main(sys.argv[1])
