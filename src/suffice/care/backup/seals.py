"""The seals of a record in its backup: the file of them, and whether the copy contains every one.

A copy without a seal that was written down is one of a record whose history was changed, or that was put
back from an older copy: it is kept all the same, and said.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import closing, suppress
from pathlib import Path

from suffice.record import chain, seal, sqlite_file
from suffice.record.whole import lines_of_rows

LINKS = "record_link"
ASKED = "SELECT hash FROM record_link WHERE chain = ?"


def written() -> bytes:
    """The file as it is now; empty where there is none. To be read before the database is copied."""
    with suppress(FileNotFoundError):
        return seal.path().read_bytes()
    return b""


class Seals:
    """The seals of one backup: those that were written down, and those that the copy contains."""

    def __init__(self) -> None:
        self._written: set[str] = set()
        self._there: set[str] = set()

    @property
    def missing_count(self) -> int:
        """How many were written down and are not in the copy."""
        return len(self._written - self._there)

    def read_file(self, blocks: Iterable[bytes]) -> None:
        """Take in the file of the seals."""
        self._written = {line.hash for line in seal.lines_of(b"".join(blocks))}

    def read_links(self, blocks: Iterable[bytes]) -> None:
        """Take in the links of a PostgreSQL copy."""
        rows: Iterator[bytes] = lines_of_rows(blocks)
        columns = next(rows, b"").decode().split(",")
        if not {"chain", "hash"} <= set(columns):
            return
        of, hashed = columns.index("chain"), columns.index("hash")
        wanted = chain.SEALS.encode()
        for row in rows:
            values = row.split(b"\t")
            if values[of] == wanted:
                self._there.add(values[hashed].decode())

    def read_sqlite(self, file: Path) -> None:
        """Take in the links of an SQLite copy."""
        with (
            suppress(*sqlite_file.errors()),
            closing(sqlite_file.open_file(file, read_only=True)) as copy,
        ):
            self._there |= {hashed for (hashed,) in copy.execute(ASKED, [chain.SEALS])}
