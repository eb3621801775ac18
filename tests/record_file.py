"""The file of a record, looked at past the program: encrypted where the run or the test says so."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from suffice.record.cipher import driver
from suffice.record.cipher.key import KEPT_AS, VARIABLE, RecordKey


def a_key(folder: Path, name: str = "record-key") -> tuple[Path, RecordKey]:
    """A new key in a file of its own."""
    place = folder / name
    return place, RecordKey(secret=KEPT_AS.make(place))


def connected(path: Path, key_file: str | None = None) -> sqlite3.Connection:
    """A connection to the file of a record.

    Args:
        path: The file.
        key_file: Where its key is; what the environment names, if left out; empty for none.
    """
    named = os.environ.get(VARIABLE, "") if key_file is None else key_file
    if not named:
        return sqlite3.connect(path)
    return driver.opened(path, RecordKey(secret=KEPT_AS.read(Path(named))))
