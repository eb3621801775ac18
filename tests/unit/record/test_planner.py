"""PostgreSQL is made to know how many entries there are before many families are read."""

from __future__ import annotations

import pytest
from django.db import connection

from suffice.record.planner import know_sizes

pytestmark = pytest.mark.django_db


def known_rows() -> float:
    with connection.cursor() as cursor:
        cursor.execute("SELECT reltuples FROM pg_class WHERE oid = 'record_entry'::regclass")
        return float(cursor.fetchone()[0])


def test_it_looks_once_and_then_only_when_the_record_has_grown() -> None:
    if connection.vendor != "postgresql":
        assert not know_sizes()
        return
    with connection.cursor() as cursor:
        # As right after many entries were stored: nobody has looked yet.
        cursor.execute("UPDATE pg_class SET reltuples = -1 WHERE relname = 'record_entry'")
    assert known_rows() < 0
    assert know_sizes()
    assert known_rows() >= 0
    assert not know_sizes()
