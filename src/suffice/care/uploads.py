"""Files on their way in, kept beside the record between preview and import.

A file is kept under a random name that only the browser session which sent it knows, readable by
the program's own user, and removed when it was imported or after a day.
"""

from __future__ import annotations

import time
from contextlib import suppress
from pathlib import Path
from uuid import UUID, uuid4

from django.conf import settings

KEPT_S = 24 * 60 * 60


def folder() -> Path:
    """Where files wait; made readable by the program's own user only."""
    path = Path(settings.HOME) / "imports"
    path.mkdir(mode=0o700, exist_ok=True)
    return path


def keep(content: bytes) -> UUID:
    """Keep a file and return the name under which it waits; old ones are swept away."""
    sweep()
    name = uuid4()
    path = _path(name)
    path.touch(mode=0o600)
    path.write_bytes(content)
    return name


def kept(name: UUID) -> bytes | None:
    """A file that waits; None when it is gone."""
    try:
        return _path(name).read_bytes()
    except FileNotFoundError:
        return None


def waits(name: UUID) -> bool:
    """Whether a file is still there."""
    return _path(name).exists()


def forget(name: UUID) -> None:
    """Remove a file."""
    _path(name).unlink(missing_ok=True)


def sweep() -> None:
    """Remove what nobody has come back for within a day."""
    limit = time.time() - KEPT_S  # the age of a file on disk, not of anything clinical
    for path in folder().iterdir():
        # Another process may be sweeping too.
        with suppress(FileNotFoundError):
            if path.stat().st_mtime < limit:
                path.unlink()


def _path(name: UUID) -> Path:
    return folder() / f"{name}.file"
