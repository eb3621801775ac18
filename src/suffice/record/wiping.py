"""Wiping what was erased out of the files of the database, so that nobody else waits for it.

SQLite writes zeros over what is deleted (`secure_delete`), and its log is emptied at once: nothing of an erased
family was found in its files after that (60 families of 2,000, 2,460 marks). But SQLite promises nothing
about gaps in pages from which rows were once moved. `VACUUM`, which makes the file anew, leaves none, and nobody
can save meanwhile. So it is tried at once for a second; a record that takes longer is left to a quiet moment of
the night, or the next start. That it is owed stands in a file from before the erasure on, and is said.
"""

from __future__ import annotations

import os
import time
from contextlib import suppress
from pathlib import Path
from typing import Final
from uuid import uuid4

from django.conf import settings
from django.db import DatabaseError, connection

OF_FAMILY = (
    ("record_standing", "family_id"),
    ("record_emergencyaccess", "family_id"),
    ("record_placement", "family_id"),
    ("record_erasurerequest", "family_id"),
    ("record_entry", "family_id"),
    ("record_infant", "family_id"),
    ("record_link", "chain"),
    ("record_family", "id"),
)
"""Every table with rows of one family, in the order in which they can be deleted."""


FILE: Final = "wipe-owed"
AT_ONCE_S: Final = 1.0
"""How long the making anew may take while others work; writing it back takes about as long again."""
BUSY_MS: Final = 500
"""How long to wait for others, who wait meanwhile."""
STEPS: Final = 10_000
"""Instructions of SQLite from one look at the clock to the next."""
_anew: set[str] = set()
"""What was owed when this process made the file anew; the log may hold it still."""


def owe() -> None:
    """Note that something is about to be erased; a process that ends before it is wiped leaves the note."""
    made = _file().with_suffix(".new")
    with made.open("w", encoding="ascii") as file:
        file.write(uuid4().hex)
        file.flush()
        os.fsync(file.fileno())
    made.replace(_file())


def is_owed() -> bool:
    """Whether what was erased may still be in the files of the database."""
    return _file().exists()


def wipe(limit_s: float | None = AT_ONCE_S) -> bool:
    """Make SQLite's file anew and empty its log, or let PostgreSQL free the rows.

    Args:
        limit_s: How long the first part may take; None where nobody waits.

    Returns:
        Whether nothing is owed any more. Within a transaction, and where others are at work for too long,
        it stays owed.
    """
    if connection.in_atomic_block:
        return False
    noted = _noted()
    try:
        if not (_sqlite(limit_s, noted) if connection.vendor == "sqlite" else _postgres()):
            return False
    except DatabaseError:
        return False
    if _noted() == noted:  # else somebody erases at this moment
        _file().unlink(missing_ok=True)
    return True


def _sqlite(limit_s: float | None, noted: str) -> bool:
    connection.ensure_connection()
    raw, began_s = connection.connection, time.monotonic()
    with connection.cursor() as cursor:
        (usual_ms,) = cursor.execute("PRAGMA busy_timeout").fetchone()
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
        if limit_s is not None:
            raw.set_progress_handler(lambda: time.monotonic() - began_s > limit_s, STEPS)
        try:
            with suppress(DatabaseError):
                if noted not in _anew:
                    cursor.execute("VACUUM")
                    _anew.clear()
                    _anew.add(noted)
            raw.set_progress_handler(None, 0)
            # Whoever reads for long keeps the log from being emptied.
            (is_busy, *_pages) = cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        finally:
            raw.set_progress_handler(None, 0)
            cursor.execute(f"PRAGMA busy_timeout = {usual_ms}")
    return noted in _anew and not is_busy


def _postgres() -> bool:
    with connection.cursor() as cursor:
        cursor.execute(f"VACUUM {', '.join(table for table, _column in OF_FAMILY)}")
    return True


def _noted() -> str:
    with suppress(OSError):
        return _file().read_text(encoding="ascii")
    return ""


def _file() -> Path:
    return Path(settings.HOME) / FILE
