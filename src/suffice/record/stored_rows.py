"""Every row that is stored, as its digest is made of it: for checking the chains, and for making them.

Reads past the models, as text that either engine casts alike, and in a snapshot that waits for no
writer and keeps none waiting.
"""
# ruff: noqa: S608 -- all SQL is put together from names of our own tables and columns

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from django.db import connection, transaction

from suffice.record import sqlite_file
from suffice.record.chain import FORMS, canonical_id, columns_of, digest_of, key_of

FETCHED_ROWS = 2000

Read = Callable[[str], Iterator[tuple[Any, ...]]]
"""Runs a query and gives its rows one after another."""


@contextmanager
def one_view() -> Iterator[Read]:
    """For the length of the block, the database as it is at its beginning.

    Within a transaction of the caller's, as that sees it.
    """
    if connection.in_atomic_block:
        yield _here
    elif connection.vendor == "sqlite":
        # Our own connection would take the lock of writers for a transaction.
        path = Path(str(connection.settings_dict["NAME"]))
        with closing(sqlite_file.open_file(path, read_only=True)) as apart:
            apart.isolation_level = None
            apart.execute("BEGIN")
            yield lambda query: _fetched(apart.execute(query))
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield _here


def _here(query: str) -> Iterator[tuple[Any, ...]]:
    with connection.chunked_cursor() as cursor:
        cursor.execute(query)
        yield from _fetched(cursor)


def _fetched(cursor: Any) -> Iterator[tuple[Any, ...]]:
    while rows := cursor.fetchmany(FETCHED_ROWS):
        yield from rows


class StoredRow:
    """A row by its key and digest, with its family (None: of none) and its import."""

    __slots__ = ("arrival", "digest", "family", "key")

    def __init__(self, form: str, values: tuple[Any, ...]) -> None:
        self.key = key_of(form, values)
        self.digest = digest_of(form, values)
        columns, family = FORMS[form].columns, FORMS[form].family
        self.family = None if family is None else canonical_id(values[columns.index(family)])
        self.arrival = values[columns.index("arrival")] if "arrival" in columns else None


def stored_rows(form: str, read: Read, *, where: str = "") -> Iterator[StoredRow]:
    """Every row of a form, in the order in which they were stored where that is known."""
    columns = columns_of(form)
    listed = ", ".join(
        f"CAST({column.name} AS text)" if column.say else column.name for column in columns
    )
    order = "seq" if "seq" in FORMS[form].columns else FORMS[form].key
    query = f"SELECT {listed} FROM {FORMS[form].table} {where} ORDER BY {order}"
    return (StoredRow(form, values) for values in read(query))
