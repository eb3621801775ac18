"""Opening a file of SQLCipher: the one place where a key is handed to it."""

from __future__ import annotations

import fcntl
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from sqlcipher3 import dbapi2

from suffice.record.cipher.key import RecordKey


def opened(
    path: Path, key: RecordKey | None, *, read_only: bool = False, **options: Any
) -> sqlite3.Connection:
    """A connection to a file that is there.

    Args:
        path: The file.
        key: Its key; None of a file that is not encrypted.
        read_only: Whether nothing may be changed.
        options: As Python's own `sqlite3.connect` takes them.
    """
    uri = f"{path.absolute().as_uri()}?mode={'ro' if read_only else 'rw'}"
    made: sqlite3.Connection = dbapi2.connect(uri, uri=True, **options)
    # What it would write to standard error of each page that it cannot read.
    made.execute("PRAGMA cipher_log_level = NONE")
    if key is not None:
        made.execute(f'PRAGMA key = "{spelt(key)}"')
    made.execute("PRAGMA temp_store = MEMORY")
    return made


def spelt(key: RecordKey | None, salt: bytes = b"") -> str:
    """A key as SQLCipher takes it; of a file that is to be made, with its salt."""
    return "" if key is None else f"x'{key.raw.hex()}{salt.hex()}'"


def begin(path: Path, key: RecordKey) -> None:
    """Make an empty encrypted file where there is none, with the id of its key; one that is there stays."""
    with _alone_in(path.parent) as folder:
        if path.exists() and path.stat().st_size:
            return
        descriptor, name = tempfile.mkstemp(prefix=f"{path.name}.", dir=path.parent)
        os.close(descriptor)
        made = Path(name)
        try:
            with closing(dbapi2.connect(name)) as new:
                new.execute("PRAGMA cipher_log_level = NONE")
                new.execute(f'PRAGMA key = "{spelt(key, key.new_salt())}"')
                # To change it at all writes the first page.
                new.execute("PRAGMA journal_mode = WAL")
                new.execute("PRAGMA journal_mode = DELETE")
            made.replace(path)
            os.fsync(folder)
        finally:
            made.unlink(missing_ok=True)


@contextmanager
def _alone_in(folder: Path) -> Iterator[int]:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield descriptor
    finally:
        os.close(descriptor)
