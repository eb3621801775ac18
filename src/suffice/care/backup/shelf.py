"""Where backups are: their names, how long they are kept, and the note of the last good one."""

from __future__ import annotations

import os
import re
from contextlib import suppress
from datetime import datetime
from pathlib import Path

import msgspec
from django.conf import settings

from suffice.care.backup.key import Key
from suffice.record.values import Stored

ENDING = ".backup"
NAME = re.compile(r"suffice-([0-9a-f]{8})-\d{8}T\d{6}Z\.backup")
NOTE = "last-backup.json"
WORK = "backup-work-"
"""How the folders begin in which a copy is made or looked at; none outlives its command."""


class LastGood(msgspec.Struct, frozen=True, kw_only=True):
    """The last backup that was opened after it was written, and held what it should."""

    path: str
    made_at: datetime
    stored: Stored


def name_of(key: Key, made_at: datetime) -> str:
    """The file name of a backup; the id of the key parts the backups of two clinics in one folder."""
    return f"suffice-{key.id.hex()}-{made_at:%Y%m%dT%H%M%SZ}{ENDING}"


def on_shelf(folder: Path, key: Key) -> list[Path]:
    """The backups in a folder that were sealed with a key, the oldest first."""
    found = [
        path
        for path in folder.iterdir()
        if (match := NAME.fullmatch(path.name)) and match[1] == key.id.hex()
    ]
    return sorted(found, key=lambda path: path.name)


def keep_newest(made: Path, key: Key, count: int) -> int:
    """Remove the oldest backups until `count` are left, the one just made among them.

    It stays even where a clock that was set back makes it look like the oldest.
    """
    others = [path for path in on_shelf(made.parent, key) if path != made]
    old = others[: max(0, len(others) + 1 - count)]
    for path in old:
        path.unlink()
    return len(old)


def last_good() -> LastGood | None:
    """The note of the last good backup; None where there is none, or none that can be read."""
    with suppress(OSError, msgspec.DecodeError):
        return msgspec.json.decode(_note().read_bytes(), type=LastGood)
    return None


def note_good(last: LastGood) -> None:
    """Note the last good backup beside the record."""
    made = _note().with_suffix(".new")
    made.write_bytes(msgspec.json.encode(last))
    made.replace(_note())


def _note() -> Path:
    return Path(settings.HOME) / NOTE


def sync_folder(folder: Path) -> None:
    """Let a new name in a folder survive a power cut, where the file system can say so."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
