"""Rows of families in a copy of the record, sealed family by family by whoever holds their keys.

A copy that is kept for years must not outlive the erasure of a family. So what is told of a family
stands in it as blocks that only the family's own key opens: in a SQLite copy in a table of their own, in
the rows of PostgreSQL as lines ``family <tab> rows <tab> block``.
"""
# ruff: noqa: S608 -- all SQL is put together from names of our own tables, or of the copy's columns

from __future__ import annotations

import base64
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from itertools import groupby
from pathlib import Path
from typing import Any
from uuid import UUID

import msgspec

from suffice.record import sqlite_file

SEALED = {
    "record_entry": "seq",
    "record_placement": "number",
    "record_emergencyaccess": "number",
    "record_standing": "record_seq",
}
"""Tables with anything about a family that is more than an id, each with the order of its rows."""
BLOCK_ROWS = 2000
BLOCKS = "sealed_rows"
TRIGGER = "trigger"

Seal = Callable[[UUID, bytes], bytes]
"""Seals a block of a family."""
Open = Callable[[UUID, bytes, str, int], bytes | None]
"""Opens one, of so many rows of a table; None where the family was erased."""


def seal_file(file: Path, seal: Seal) -> None:
    """Seal the rows of families in a SQLite copy; its triggers are put by, and come back with the rows.

    Args:
        file: The copy; it is made anew, so that nothing stays readable in pages that were freed.
        seal: Seals a block.
    """
    with closing(sqlite_file.open_file(file)) as copy:
        copy.execute(
            f"CREATE TABLE {BLOCKS} (of TEXT NOT NULL, family TEXT NOT NULL, count INTEGER NOT NULL,"
            " content BLOB NOT NULL)"
        )
        triggers = copy.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        for name, statement in triggers.fetchall():
            copy.execute(f'DROP TRIGGER "{name}"')
            copy.execute(f"INSERT INTO {BLOCKS} VALUES (?, '', 0, ?)", (TRIGGER, statement))
        for table, order in SEALED.items():
            columns = _columns(copy, table)
            if "family_id" not in columns:
                continue  # a copy of an earlier version, made before its upgrade
            place = columns.index("family_id")
            rows = copy.execute(f"SELECT * FROM {table} ORDER BY family_id, {order}")
            for family, block in _blocks(rows, place):
                sealed = seal(UUID(family), msgspec.json.encode(block))
                copy.execute(
                    f"INSERT INTO {BLOCKS} VALUES (?, ?, ?, ?)", (table, family, len(block), sealed)
                )
            copy.execute(f"DELETE FROM {table}")
        if _columns(copy, "record_job"):
            copy.execute("UPDATE record_job SET result = ''")
        copy.commit()
        copy.execute("VACUUM")


def open_file(file: Path, opened: Open) -> None:
    """Put the rows of a SQLite copy back where they were; a copy without sealed rows stays as it is."""
    with closing(sqlite_file.open_file(file)) as copy:
        there = copy.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (BLOCKS,)).fetchone()
        if there is None:
            return
        found = copy.execute(
            f"SELECT of, family, count, content FROM {BLOCKS} WHERE of <> ?", (TRIGGER,)
        )
        for table, family, count, content in found:
            block = opened(UUID(family), content, table, count) if table in SEALED else None
            if block is None:
                continue
            gaps = ", ".join("?" * len(_columns(copy, table)))
            copy.executemany(f"INSERT INTO {table} VALUES ({gaps})", msgspec.json.decode(block))
        triggers = copy.execute(f"SELECT content FROM {BLOCKS} WHERE of = ?", (TRIGGER,)).fetchall()
        copy.execute(f"DROP TABLE {BLOCKS}")
        for (statement,) in triggers:
            copy.execute(statement)
        copy.commit()


def _columns(copy: sqlite3.Connection, table: str) -> list[str]:
    return [row[1] for row in copy.execute(f"PRAGMA table_info({table})")]


def _blocks(rows: Iterable[Sequence[Any]], place: int) -> Iterator[tuple[str, list[Sequence[Any]]]]:
    """Rows that follow one another and are of one family."""
    for family, of_family in groupby(rows, key=lambda row: row[place]):
        name = family.decode() if isinstance(family, bytes) else str(family)
        block: list[Sequence[Any]] = []
        for row in of_family:
            block.append(row)
            if len(block) == BLOCK_ROWS:
                yield name, block
                block = []
        if block:
            yield name, block


def seal_lines(rows: Iterable[bytes], seal: Seal) -> Iterator[bytes]:
    """The rows of one table of PostgreSQL, its columns first, with those of families sealed."""
    lines = iter(rows)
    head = next(lines)
    yield head
    place = head.decode().strip().split(",").index("family_id")
    split = (line.rstrip(b"\n").split(b"\t") for line in lines)
    for family, block in _blocks(split, place):
        content = b"".join(b"\t".join(row) + b"\n" for row in block)
        sealed = base64.b64encode(seal(UUID(family), content))
        yield f"{family}\t{len(block)}\t".encode() + sealed + b"\n"


def open_lines(blocks: Iterable[bytes], opened: Open, table: str) -> Iterator[bytes]:
    """The same rows as they were."""
    kept, is_head = b"", True
    for piece in blocks:
        *lines, kept = (kept + piece).split(b"\n")
        for line in lines:
            if is_head:
                is_head = False
                yield line + b"\n"
                continue
            family, count, content = line.split(b"\t")
            block = opened(
                UUID(family.decode()), base64.b64decode(content), table, int(count.decode())
            )
            if block is not None:
                yield block
