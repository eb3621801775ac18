"""What a database says of itself: engine, migrations, checksums of its pages. Reads only."""

from __future__ import annotations

from pathlib import Path

from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from suffice.record import sqlite_file

APP = "record"


def engine_name() -> str:
    """The engine with its version, such as 'PostgreSQL 15.4'."""
    if connection.vendor == "sqlite":
        asked, name = "SELECT sqlite_version()", "SQLite"
    else:
        asked, name = "SHOW server_version", "PostgreSQL"
    with connection.cursor() as cursor:
        cursor.execute(asked)
        text = f"{name} {str(cursor.fetchone()[0]).split()[0]}"
        if sqlite_file.is_encrypted():
            cursor.execute("PRAGMA cipher_version")
            text += f", SQLCipher {str(cursor.fetchone()[0]).split()[0]}"
        return text


def is_there() -> bool:
    """Whether there is a database to look at: asking SQLite for a file that is not there makes one."""
    return connection.vendor != "sqlite" or Path(str(connection.settings_dict["NAME"])).is_file()


def newest_migration() -> str:
    """The last migration of the record's own tables that has run; empty where none has."""
    names = (name for app, name in MigrationLoader(connection).applied_migrations if app == APP)
    return max(names, default="")


def pending_migrations() -> tuple[str, ...]:
    """The migrations that have not run yet, in the order in which they will."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return tuple(f"{one.app_label} {one.name}" for one, _backwards in plan)


def keeps_checksums() -> bool:
    """Whether the engine would notice a page that changed on the disk.

    SQLite keeps none, but its pages can be looked at as a whole.
    """
    if connection.vendor == "sqlite":
        return True
    with connection.cursor() as cursor:
        cursor.execute("SHOW data_checksums")
        return bool(cursor.fetchone()[0] == "on")
