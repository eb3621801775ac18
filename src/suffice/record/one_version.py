"""One version of the program for one record: whoever writes, and whoever changes the tables, never at once.

A program that may write *joins*: on SQLite its process shares a lock on a file beside the record, on
PostgreSQL each of its connections shares a lock of the database. A program that brings the tables up
to date takes the same lock for itself, so that it waits for nobody in the middle: it begins when no
other has joined, or not at all. Whoever joins later finds the tables as they are then, and one whose
version does not know them is refused, at each connection: a program that went on running while
another brought the tables up to date included.

The locks end with the process or the connection, however either ends.
"""

from __future__ import annotations

import fcntl
import os
import pkgutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DatabaseError, OperationalError, connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.signals import connection_created

from suffice.message import Message, message
from suffice.record import migrations
from suffice.record.state import APP

FILE = "programs.lock"
OWNERS = 0o600
KEY = 0x5FF1CE
"""The lock's number in a PostgreSQL database."""
WAIT_S = 10.0
"""A command that reads or enters something is over by then; a server is not."""
AGAIN_S = 0.1
NEWER = message("A newer version of the program has brought its tables up to date.")
CHANGING = message("Its tables are being brought up to date.")

_joined: dict[Path, int] = {}
"""The file that this process shares a lock on, by its path."""


class OtherVersionError(OperationalError):
    """This program may not use the database as it is now; `why` says it in our words."""

    def __init__(self, why: Message) -> None:
        super().__init__(str(why))
        self.why = why


class OthersError(Exception):
    """Other programs use the record, so that its tables cannot be changed."""


def join() -> None:
    """Use the record from now on, until this process ends; waits while its tables are changed.

    Each connection is asked when it is made; one that is there already at once.

    Raises:
        OtherVersionError: When this version does not know the tables.
    """
    if connection.vendor == "sqlite":
        fcntl.flock(_file(), fcntl.LOCK_SH)
    connection_created.connect(_admit, dispatch_uid="suffice one version")
    if connection.connection is not None:
        _admit(None, connection)


@contextmanager
def alone(wait_s: float = WAIT_S) -> Iterator[None]:
    """For the length of the block no other program uses the record, and none can begin to.

    Raises:
        OthersError: When others have not ended within `wait_s`.
    """
    if connection.vendor == "sqlite":
        descriptor = _file()
        _take(lambda: _locked(descriptor), wait_s)
        try:
            yield
        finally:
            fcntl.flock(descriptor, fcntl.LOCK_UN)
        return
    _take(lambda: _asked("pg_try_advisory_lock"), wait_s)
    try:
        yield
    finally:
        _asked("pg_advisory_unlock")


def _take(attempt: Callable[[], bool], wait_s: float) -> None:
    until = time.monotonic() + wait_s
    while not attempt():
        if time.monotonic() > until:
            raise OthersError
        time.sleep(AGAIN_S)


def _file() -> int:
    path = Path(settings.HOME) / FILE
    if path not in _joined:
        _joined[path] = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, OWNERS)
    return _joined[path]


def _locked(descriptor: int) -> bool:
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _asked(function: str) -> bool:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {function}(%s)", [KEY])
        return bool(cursor.fetchone()[0])


def _admit(sender: object, connection: BaseDatabaseWrapper, **_: Any) -> None:  # noqa: ARG001
    """Let a connection be used where its tables are known, and nobody is changing them."""
    refused: Message | None = None
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_lock_shared(%s)", [KEY])
            refused = None if cursor.fetchone()[0] else CHANGING
    if refused is None and not _is_known(_newest(connection)):
        refused = NEWER
    if refused is not None:
        # A connection that stays would not be asked again.
        connection.close()
        raise OtherVersionError(refused)


def _newest(asked: BaseDatabaseWrapper) -> str:
    """The last migration of the record's tables; empty where there are none yet."""
    try:
        with asked.cursor() as cursor:
            cursor.execute("SELECT max(name) FROM django_migrations WHERE app = %s", [APP])
            return str(cursor.fetchone()[0] or "")
    except DatabaseError:
        return ""


def _is_known(name: str) -> bool:
    return not name or name in _known()


@cache
def _known() -> frozenset[str]:
    """The migrations of this version, as they were when it was first asked."""
    return frozenset(one.name for one in pkgutil.iter_modules(migrations.__path__))
