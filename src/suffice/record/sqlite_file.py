"""The one way past Django to a SQLite file: the record's own, or a copy of it.

Whether it is encrypted is the same for all of them, so nobody else opens one with a driver of its own.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path

from django.conf import settings

from suffice.record.key_file import OWNERS

BLOCK_BYTES = 256 * 1024


def is_encrypted() -> bool:
    """Whether the record, and each copy that is made of it here, is encrypted whole."""
    return settings.RECORD_KEY is not None


def open_file(path: Path, *, read_only: bool = False) -> sqlite3.Connection:
    """A connection to a file; one that is not there is made, readable by its owner only.

    Raises:
        sqlite3.Error, or that of the other driver: see :func:`errors`.
    """
    if not read_only and not path.exists():
        path.touch(mode=OWNERS)
    if settings.RECORD_KEY is not None:
        from suffice.record.cipher import driver  # noqa: PLC0415 -- an extra that not everybody has

        if not read_only:
            driver.begin(path, settings.RECORD_KEY)
        return driver.opened(path, settings.RECORD_KEY, read_only=read_only)
    if read_only:
        return sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
    return sqlite3.connect(path)


def errors() -> tuple[type[Exception], ...]:
    """What a driver of SQLite raises."""
    if settings.RECORD_KEY is None:
        return (sqlite3.Error,)
    from sqlcipher3 import dbapi2  # noqa: PLC0415

    return (sqlite3.Error, dbapi2.Error)


def not_encrypted(path: Path) -> Iterator[bytes]:
    """A copy as one that is not encrypted, block by block; it is never on the disk like that.

    Raises:
        OSError: When a page of it is not what was written.
    """
    if settings.RECORD_KEY is not None:
        from suffice.record.cipher import pages  # noqa: PLC0415

        yield from pages.read(path, settings.RECORD_KEY)
        return
    with path.open("rb") as opened:
        while block := opened.read(BLOCK_BYTES):
            yield block


def put(blocks: Iterable[bytes], path: Path) -> None:
    """Write a copy that arrives as one that is not encrypted, as files are here; on the disk then."""
    if settings.RECORD_KEY is not None:
        from suffice.record.cipher import pages  # noqa: PLC0415

        pages.write(blocks, path, settings.RECORD_KEY)
        return
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, OWNERS)
    with os.fdopen(descriptor, "wb") as file:
        file.writelines(blocks)
        file.flush()
        os.fsync(file.fileno())
