"""Whoever writes and whoever changes the tables are never in one record at once, on either engine."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest
from django.db import connection, connections
from django.db.backends.signals import connection_created

from suffice.errors import StorageError
from suffice.record import one_version, repository

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path) -> Iterator[Path]:
    settings.HOME = tmp_path
    yield tmp_path
    connection_created.disconnect(dispatch_uid="suffice one version")
    for descriptor in one_version._joined.values():
        os.close(descriptor)
    one_version._joined.clear()
    connections.close_all()


@contextmanager
def another_program(home: Path, *, alone: bool = False) -> Iterator[None]:
    """Another program that has joined, or that has the record for itself, as its locks say."""
    if connection.vendor == "sqlite":
        with (home / one_version.FILE).open("w") as file:
            fcntl.flock(file, fcntl.LOCK_EX if alone else fcntl.LOCK_SH)
            yield
        return
    database = connection.settings_dict
    names = {
        "dbname": "NAME",
        "user": "USER",
        "password": "PASSWORD",
        "host": "HOST",
        "port": "PORT",
    }
    asked = {name: database[key] for name, key in names.items() if database[key]}
    lock = "pg_advisory_lock" if alone else "pg_advisory_lock_shared"
    with psycopg.connect(**asked, autocommit=True) as other:
        other.execute(f"SELECT {lock}({one_version.KEY})")
        yield


def test_tables_are_changed_by_nobody_while_another_program_has_joined(home: Path) -> None:
    with another_program(home), pytest.raises(one_version.OthersError):
        one_version.alone(0.2).__enter__()
    with one_version.alone(0.2):
        pass


def test_programs_that_only_write_do_not_wait_for_one_another(home: Path) -> None:
    with another_program(home):
        one_version.join()
        assert repository.family_ids() == ()


def test_who_has_joined_can_be_alone_when_the_others_have_ended(home: Path) -> None:
    one_version.join()
    repository.family_ids()
    with another_program(home), pytest.raises(one_version.OthersError):
        one_version.alone(0.2).__enter__()
    with one_version.alone(0.2):
        pass


def test_a_connection_is_refused_while_tables_are_changed(home: Path) -> None:
    if connection.vendor == "sqlite":
        pytest.skip("on SQLite the process waits, as it has joined before it connects")
    one_version.join()
    connection.close()
    with another_program(home, alone=True), pytest.raises(one_version.OtherVersionError):
        connection.ensure_connection()
    assert repository.family_ids() == ()


def test_a_program_that_goes_on_after_an_upgrade_is_refused_at_its_next_connection() -> None:
    one_version.join()
    assert repository.family_ids() == ()
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES ('record', '9999_later', %s)",
            ["2026-06-01 00:00:00+00:00"],
        )
    try:
        for _ in range(2):
            connection.close()
            with pytest.raises(StorageError) as refused, repository.one_transaction():
                raise AssertionError("a newer version's tables were let in")
            assert refused.value.problems[0].why == one_version.NEWER
        connection.close()
    finally:
        connection_created.disconnect(dispatch_uid="suffice one version")
        with connection.cursor() as cursor:
            cursor.execute("DELETE FROM django_migrations WHERE name = '9999_later'")


def test_a_database_without_tables_is_nobody_elses() -> None:
    assert one_version._is_known("")
    assert one_version._is_known("0001_initial")
    assert not one_version._is_known("9999_later")
