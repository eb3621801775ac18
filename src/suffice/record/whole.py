"""The whole record as streams of bytes, out of the database and into an empty one.

SQLite gives one consistent copy of its file by its own backup interface, PostgreSQL the rows of
every table by COPY within one snapshot; neither waits for whoever saves meanwhile, and neither
keeps anybody waiting. Sessions and counts of wrong passphrases are left out: after a restore everybody
signs in anew.
"""
# ruff: noqa: S608 -- all SQL is put together from names of tables, quoted by the database's own rules

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.utils import DatabaseError

from suffice.record import sqlite_file, steps
from suffice.record.append_only import IDENTITIES
from suffice.record.repository import one_transaction, unavailable
from suffice.record.row_text import instant
from suffice.record.sealed_rows import SEALED
from suffice.record.values import Stored

LEFT_OUT = ("django_session", "record_signintries")
MARKS_OF_THE_PROGRAM = ("django_migrations",)
FIRST = ("record_family", "record_infant", "record_entry")
"""Triggers ask for the family and infant of an entry, so these go in first, in this order."""
LAST = ("record_arrival",)
"""Once an import has arrived nothing may be added to it."""
HELD = ("record_family", "record_entry", "record_policyversion", "auth_user")
"""A record with a row in any of these is not empty."""
FILE = "sqlite"
TABLE = "table:"
SEQUENCES = "sequences"


def engine() -> str:
    """The engine of the database: ``sqlite`` or ``postgresql``."""
    return connection.vendor


def migrations_run() -> tuple[tuple[str, str], ...]:
    """The migrations that have run, as app and name."""
    return tuple(sorted(MigrationLoader(connection).applied_migrations))


def unknown_migrations(names: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """Those of `names` that this version of the program does not have."""
    return sorted(set(names) - set(MigrationLoader(connection).disk_migrations))


def holds_anything() -> bool:
    """Whether anything is on the record, or anybody may sign in."""
    try:
        tables = set(connection.introspection.table_names())
        with connection.cursor() as cursor:
            for table in HELD:
                if table in tables:
                    cursor.execute(f"SELECT EXISTS (SELECT 1 FROM {table})")
                    if cursor.fetchone()[0]:
                        return True
    except DatabaseError as error:
        raise unavailable(error) from error
    return False


def stored() -> Stored:
    """How much there is: rows of an import that has not arrived yet included."""
    with connection.cursor() as cursor:
        return _stored(cursor)


def _stored(cursor: Any) -> Stored:
    counts = []
    for table in ("record_family", "record_entry"):
        cursor.execute(f"SELECT count(*) FROM {table}")
        counts.append(int(cursor.fetchone()[0]))
    cursor.execute("SELECT max(entered_at) FROM record_entry")
    newest = cursor.fetchone()[0]
    if isinstance(newest, str):
        newest = instant(newest)
    newest_at = newest and newest.astimezone(UTC)
    return Stored(families=counts[0], entries=counts[1], newest_at=newest_at)


# --- SQLite -----------------------------------------------------------------------------------


def _file() -> Path:
    return Path(str(connection.settings_dict["NAME"]))


def copy_sqlite(to: Path) -> Stored:
    """Copy the database into a new file, while others save; sessions are taken out of the copy.

    Raises:
        StorageError: RECORD-009, when it cannot be read or the copy cannot be written.
    """
    try:
        with (
            closing(sqlite_file.open_file(_file(), read_only=True)) as ours,
            closing(sqlite_file.open_file(to)) as copy,
        ):
            # In one step: copied in several it would begin again at every save.
            ours.backup(copy, pages=-1)
            copy.execute("PRAGMA journal_mode=DELETE")
            listed = copy.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            for table in {name for (name,) in listed}.intersection(LEFT_OUT):
                copy.execute(f"DELETE FROM {table}")
            copy.commit()
            return _stored(copy.cursor())
    except sqlite_file.errors() as error:
        raise unavailable(error) from error


def look_at_sqlite(file: Path) -> Stored | None:
    """Open a copy, check each of its pages and count; None where it is damaged."""
    try:
        with closing(sqlite_file.open_file(file, read_only=True)) as copy:
            if copy.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
                return None
            return _stored(copy.cursor())
    except sqlite_file.errors():
        return None


def put_sqlite(file: Path) -> None:
    """Put a checked copy in the place of an empty record: there at once, or not at all."""
    place = _file()
    connection.close()
    for ending in ("-wal", "-shm"):
        place.with_name(place.name + ending).unlink(missing_ok=True)
    file.replace(place)
    descriptor = os.open(place.parent, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


# --- PostgreSQL -------------------------------------------------------------------------------


@contextmanager
def one_snapshot() -> Iterator[Stored]:
    """For the length of the block PostgreSQL shows the record as it is at its beginning."""
    with one_transaction(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield _stored(cursor)


def rows_of_tables() -> Iterator[tuple[str, Iterator[bytes]]]:
    """Each table as a member, and the state of its sequences; within :func:`one_snapshot`."""
    for table in _tables():
        yield TABLE + table, _rows(table)
    yield SEQUENCES, _sequences()


def _tables() -> list[str]:
    there = set(connection.introspection.table_names())
    apart = {*LEFT_OUT, *MARKS_OF_THE_PROGRAM, *FIRST, *LAST}
    return [*FIRST, *sorted(there - apart), *(one for one in LAST if one in there)]


def _rows(table: str) -> Iterator[bytes]:
    quoted = connection.ops.quote_name
    with connection.cursor() as cursor:
        columns = [
            one.name for one in connection.introspection.get_table_description(cursor, table)
        ]
        listed = ", ".join(quoted(name) for name in columns)
        yield f"{','.join(columns)}\n".encode()
        keys = connection.introspection.get_primary_key_columns(cursor, table) or columns
        # In the order in which they were stored: an entry comes after the one that it replaces.
        first = ["seq"] if "seq" in columns else keys
        # Those of a family together, as they are sealed.
        by = ["family_id", *first] if table in SEALED else first
        order = ", ".join(quoted(name) for name in by)
        select = f"SELECT {listed} FROM {quoted(table)} ORDER BY {order}"
        with connection.wrap_database_errors, cursor.copy(f"COPY ({select}) TO STDOUT") as copy:
            yield from (bytes(row) for row in copy)


def _sequences() -> Iterator[bytes]:
    """Numbers of jobs never come twice, so the counters are kept and not only the largest rows."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT sequencename, last_value FROM pg_sequences"
            " WHERE schemaname = current_schema() AND last_value IS NOT NULL ORDER BY 1"
        )
        for name, value in cursor.fetchall():
            yield f"{name} {value}\n".encode()


@contextmanager
def filling(migrations: Iterable[tuple[str, str]]) -> Iterator[None]:
    """Make the tables as they were when the copy was taken; what is put in then arrives at once.

    Raises:
        StorageError: RECORD-009, when the database refuses; nothing was stored then.
    """
    try:
        executor = steps.InOneTransaction(connection)
        executor.migrate(_last_of_each_app(executor.loader, set(migrations)))
    except DatabaseError as error:
        raise unavailable(error) from error
    with one_transaction(), connection.cursor() as cursor:
        for table in _tables():
            if table not in IDENTITIES:
                # What making the tables has put in, such as the list of kinds of rows.
                cursor.execute(f"DELETE FROM {connection.ops.quote_name(table)}")
        yield


def _last_of_each_app(
    loader: MigrationLoader, names: set[tuple[str, str]]
) -> list[tuple[str, str]]:
    """Those of `names` that no other of the same app builds on."""
    built_on = {
        before
        for name in names
        for before in loader.disk_migrations[name].dependencies
        if before[0] == name[0]
    }
    return sorted(names - built_on)


def put_rows(table: str, blocks: Iterator[bytes]) -> None:
    """Put the rows of a table in; within :func:`filling`."""
    first, _, rest = next(blocks).partition(b"\n")
    head = first.decode()
    quoted = connection.ops.quote_name
    columns = ", ".join(quoted(name) for name in head.split(","))
    into = f"COPY {quoted(table)} ({columns}) FROM STDIN"
    with (
        connection.wrap_database_errors,
        connection.cursor() as cursor,
        cursor.copy(into) as copy,
    ):
        copy.write(rest)
        for block in blocks:
            copy.write(block)


def count_rows(table: str, blocks: Iterable[bytes]) -> tuple[int, datetime | None]:
    """How many rows a table's member holds, and the latest `entered_at` among them, if it has one."""
    lines = lines_of_rows(blocks)
    columns = next(lines, b"").decode().split(",")
    place = columns.index("entered_at") if table == "record_entry" else None
    count, newest = 0, b""
    for line in lines:
        count += 1
        if place is not None:
            # All are in UTC and of one form, so that the order of the text is that of time.
            newest = max(newest, line.split(b"\t")[place])
    return count, instant(newest.decode()).astimezone(UTC) if newest else None


def lines_of_rows(blocks: Iterable[bytes]) -> Iterator[bytes]:
    """The lines of a table's member: its columns, then its rows."""
    kept = b""
    for block in blocks:
        *whole, kept = (kept + block).split(b"\n")
        yield from whole


def put_sequences(content: bytes) -> None:
    """Let the counters go on where they were."""
    with connection.cursor() as cursor:
        for line in content.decode().splitlines():
            name, value = line.rsplit(" ", 1)
            cursor.execute(
                "SELECT setval(%s::regclass, %s)", [connection.ops.quote_name(name), int(value)]
            )


def bring_up_to_date() -> None:
    """Run the migrations that the copy did not have yet."""
    try:
        steps.bring_up_to_date()
    except DatabaseError as error:
        raise unavailable(error) from error
