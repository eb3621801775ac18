"""What a database reports is said in our words; its own reach no page."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import psycopg
import pytest
from django.db import DatabaseError
from psycopg import errors

from suffice.message import Message
from suffice.record import reasons


def sqlite_fails(work: Callable[[], object]) -> sqlite3.Error:
    with pytest.raises(sqlite3.Error) as raised:
        work()
    return raised.value


def as_django_raises(error: Exception) -> DatabaseError:
    raised = DatabaseError(*error.args)
    raised.__cause__ = error
    return raised


def test_sqlite_is_understood(tmp_path: Path) -> None:
    path = tmp_path / "one.sqlite3"
    first, second = (sqlite3.connect(path, timeout=0, isolation_level=None) for _ in range(2))
    first.execute("CREATE TABLE t (n INTEGER CHECK (n > 0))")
    first.execute("BEGIN IMMEDIATE")
    read_only = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    (tmp_path / "other").write_bytes(b"no database" * 100)
    other = sqlite3.connect(tmp_path / "other")
    seen: dict[Message, sqlite3.Error] = {
        reasons.BUSY: sqlite_fails(lambda: second.execute("BEGIN IMMEDIATE")),
        reasons.AGAINST_A_RULE: sqlite_fails(lambda: first.execute("INSERT INTO t VALUES (0)")),
        reasons.READ_ONLY: sqlite_fails(lambda: read_only.execute("INSERT INTO t VALUES (1)")),
        reasons.DAMAGED: sqlite_fails(lambda: other.execute("SELECT 1 FROM t")),
        reasons.UNREACHABLE: sqlite_fails(lambda: sqlite3.connect(tmp_path / "no" / "folder")),
        reasons.UNKNOWN: sqlite_fails(lambda: first.execute("SELECT nothing")),
    }
    for expected, error in seen.items():
        assert reasons.why(error) == expected
        assert reasons.why(as_django_raises(error)) == expected
    for one in (first, second, read_only, other):
        one.close()


def test_disk_that_is_full_is_said(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / "small.sqlite3", isolation_level=None) as small:
        small.execute("CREATE TABLE t (x)")
        small.execute("PRAGMA max_page_count = 3")
        full = sqlite_fails(
            lambda: small.executemany("INSERT INTO t VALUES (?)", [("x" * 900,)] * 99)
        )
    small.close()
    assert reasons.why(full) == reasons.FULL


@pytest.mark.parametrize(
    ("error", "expected"),
    [
        (psycopg.OperationalError("connection refused by 10.0.0.5"), reasons.UNREACHABLE),
        (psycopg.InterfaceError("closed"), reasons.UNKNOWN),
        (errors.AdminShutdown(), reasons.UNREACHABLE),
        (errors.ConnectionFailure(), reasons.UNREACHABLE),
        (errors.DiskFull(), reasons.FULL),
        (errors.TooManyConnections(), reasons.BUSY),
        (errors.LockNotAvailable(), reasons.BUSY),
        (errors.DeadlockDetected(), reasons.BUSY),
        (errors.ReadOnlySqlTransaction(), reasons.READ_ONLY),
        (errors.InvalidPassword("for user suffice"), reasons.REFUSED),
        (errors.UniqueViolation("Key (name)=(Oriane)"), reasons.AGAINST_A_RULE),
        (errors.DataCorrupted(), reasons.DAMAGED),
        (errors.UndefinedColumn("SELECT secret"), reasons.UNKNOWN),
    ],
)
def test_postgresql_is_understood(error: psycopg.Error, expected: Message) -> None:
    assert reasons.why(error) == expected
    assert reasons.why(as_django_raises(error)) == expected


def test_what_nobody_knows_is_an_error() -> None:
    assert reasons.why(DatabaseError("of no engine")) == reasons.UNKNOWN
