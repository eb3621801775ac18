"""What a database says of itself."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.db import connection

from suffice.record import state

pytestmark = pytest.mark.django_db


def test_the_engine_is_said_with_its_version() -> None:
    name = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}[connection.vendor]
    assert re.fullmatch(rf"{name} \d+(\.\d+)+", state.engine_name())


def test_the_tables_of_a_test_are_up_to_date() -> None:
    assert state.pending_migrations() == ()
    assert re.match(r"\d{4}_", state.newest_migration())


def test_a_migration_that_has_not_run_is_pending() -> None:
    newest = state.newest_migration()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'record' AND name = %s", [newest])
    assert state.pending_migrations() == (f"record {newest}",)


def test_a_file_that_is_not_there_is_not_made(monkeypatch, tmp_path: Path) -> None:
    if connection.vendor != "sqlite":
        assert state.is_there()
        return
    missing = tmp_path / "none.sqlite3"
    monkeypatch.setitem(connection.settings_dict, "NAME", missing)
    assert not state.is_there()
    assert not missing.exists()
