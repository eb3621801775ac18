"""Encrypting a record that is there, and back, and with another key: a new file in the place of the old one.

The new one is written beside the old one, read back whole and compared with it row by row, and flushed to the disk;
then it takes the name in one step. Killed before that, the record is as it was; after it, as it was
asked for. The old file has no name then. Where it was not encrypted it is written over before it goes.
"""
# ruff: noqa: S608 -- all SQL is put together from names of tables of our own

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from itertools import zip_longest
from pathlib import Path

from sqlcipher3 import dbapi2

from suffice.errors import Problem, StorageError
from suffice.message import Words, message
from suffice.record.cipher.configured import unfinished
from suffice.record.cipher.driver import opened, spelt
from suffice.record.cipher.key import RecordKey
from suffice.record.key_file import OWNERS

ZEROS = bytes(1024 * 1024)
ALL = "SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY type, name"
TABLES = "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
CARRIED = ("user_version", "application_id")
"""What the head of a file keeps for whoever uses it."""


def convert(record: Path, old: RecordKey | None, new: RecordKey | None) -> None:
    """Put the same record, encrypted otherwise, in the place of a file that nobody uses.

    Args:
        record: The file.
        old: Its key; None where it is not encrypted.
        new: The key from then on; None for none.

    Raises:
        StorageError: STORE-013, when it cannot be written or does not hold the same; the record is as it was.
    """
    made = unfinished(record)
    try:
        _settle(record, old)
        made.unlink(missing_ok=True)
        made.touch(mode=OWNERS)
        _write(record, old, made, new)
        _sync(made)
        if not _is_same(record, old, made, new):
            raise StorageError(_not_done(message("Read back, it did not contain the same.")))
        _put(made, record, is_plain=old is None)
    except (OSError, dbapi2.Error) as error:
        raise StorageError(_not_done(_reason(error))) from error
    finally:
        made.unlink(missing_ok=True)


def _settle(record: Path, key: RecordKey | None) -> None:
    """Bring what is in the log into the file, so that the file alone is the record."""
    with closing(opened(record, key)) as file:
        (mode,) = file.execute("PRAGMA journal_mode = DELETE").fetchone()
        if mode != "delete":
            raise StorageError(_not_done(message("Another program has it open.")))


def _write(record: Path, old: RecordKey | None, made: Path, new: RecordKey | None) -> None:
    with closing(opened(record, old)) as file:
        salt = new.new_salt() if new else b""
        file.execute("ATTACH ? AS made KEY ?", (str(made), spelt(new, salt)))
        file.execute("PRAGMA made.journal_mode = OFF")
        file.execute("PRAGMA made.synchronous = OFF")
        file.execute("SELECT sqlcipher_export('made')").fetchall()
        for name in CARRIED:
            (value,) = file.execute(f"PRAGMA main.{name}").fetchone()
            file.execute(f"PRAGMA made.{name} = {value}")
        file.execute("DETACH made")


def _is_same(record: Path, old: RecordKey | None, made: Path, new: RecordKey | None) -> bool:
    with (
        closing(opened(record, old, read_only=True)) as before,
        closing(opened(made, new, read_only=True)) as after,
    ):
        if after.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
            return False
        if after.execute("PRAGMA cipher_integrity_check").fetchall() and new is not None:
            return False
        if before.execute(ALL).fetchall() != after.execute(ALL).fetchall():
            return False
        tables = [name for (name,) in before.execute(TABLES)]
        return all(
            row == other and [*map(type, row)] == [*map(type, other)]
            for name in tables
            for row, other in zip_longest(_rows(before, name), _rows(after, name), fillvalue=())
        )


def _rows(file: sqlite3.Connection, table: str) -> Iterator[tuple[object, ...]]:
    yield from file.execute(f'SELECT * FROM "{table}"')


def _put(made: Path, record: Path, *, is_plain: bool) -> None:
    descriptor = os.open(record, os.O_WRONLY)
    try:
        made.replace(record)
        _sync(record.parent)
        if is_plain:
            # The record is encrypted by now; where this does not succeed, only its traces stay.
            with suppress(OSError):
                _write_over(descriptor)
    finally:
        os.close(descriptor)


def _write_over(descriptor: int) -> None:
    left = os.fstat(descriptor).st_size
    while left > 0:
        left -= os.write(descriptor, ZEROS[: min(left, len(ZEROS))])
    os.fsync(descriptor)


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _reason(error: Exception) -> Words:
    if isinstance(error, OSError):
        return error.strerror or type(error).__name__
    if getattr(error, "sqlite_errorname", "") == "SQLITE_FULL":
        return message("The disk is full.")
    return message("A file cannot be read or written.")


def _not_done(why: Words) -> Problem:
    return Problem(
        code="STORE-013",
        what=message("The record stays as it was."),
        why=why,
        fix=message(
            "Stop every program that uses it, make as much room as it takes, and try again."
        ),
    )
