"""The triggers out of the way, as for somebody who may do everything with the database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection

from suffice.record import append_only


@contextmanager
def triggers_lifted() -> Iterator[None]:
    """For the length of the block nothing refuses a change."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            # Else no trigger can be dropped before the transaction of the test has ended.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    append_only.remove(connection)
    yield
    append_only.install(connection)
