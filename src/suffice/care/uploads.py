"""Files on their way in, kept beside the record between preview and import.

A file is kept under a random name that only the browser session which sent it knows, readable by
the program's own user, sealed by a key derived from the installation's own, and removed when it was
imported or after a day. All that wait together have a quota, so that nobody fills the disk of the record,
and what one person has sent a smaller one, so that nobody keeps the others from sending.
"""

from __future__ import annotations

import base64
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from uuid import UUID, uuid4

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from suffice.errors import InputError, Problem
from suffice.message import message

KEPT_S = 24 * 60 * 60
QUOTA_BYTES = 400_000_000
"""Of all that wait: some twenty of the largest, and far from what fills a disk."""
OWN_BYTES = 100_000_000
"""Of what one person has sent: five of the largest. With more their own oldest go, and nobody else's."""
KEY_BYTES = 32
NOTED_S = 0.2
"""How often it is noted how far the reading of a file is."""


def folder() -> Path:
    """Where files wait; made readable by the program's own user only."""
    path = Path(settings.HOME) / "imports"
    path.mkdir(mode=0o700, exist_ok=True)
    return path


def keep(content: bytes, *, by: int) -> UUID:
    """Keep a file and return the name under which it waits; old ones are swept away.

    Args:
        content: The file.
        by: The number of the account that sends it.

    Raises:
        InputError: FORM-014, when too much waits already.
    """
    sweep()
    sealed = _seal().encrypt(content)
    _make_room(by, len(sealed))
    if _bytes_of(folder().iterdir()) + len(sealed) > QUOTA_BYTES:
        raise InputError(_no_room())
    name = uuid4()
    path = folder() / f"{name}.{by}.file"
    path.touch(mode=0o600)
    path.write_bytes(sealed)
    return name


def kept(name: UUID) -> bytes | None:
    """A file that waits; None when it is gone."""
    try:
        return _seal().decrypt(_path(name).read_bytes())
    except (FileNotFoundError, InvalidToken):
        # With another secret key nobody is signed in any more who could ask for it.
        return None


def waits(name: UUID) -> bool:
    """Whether a file is still there."""
    return _path(name).exists()


def forget(name: UUID) -> None:
    """Remove a file."""
    _path(name).unlink(missing_ok=True)


def forget_all() -> None:
    """Remove every file that waits, whoever sent it."""
    for path in folder().iterdir():
        path.unlink(missing_ok=True)


def counts() -> tuple[int, int]:
    """How many files wait, and how many of them are past their day; makes no folder."""
    path = Path(settings.HOME) / "imports"
    limit = time.time() - KEPT_S
    ages = []
    for one in path.glob("*.file"):
        with suppress(FileNotFoundError):
            ages.append(one.stat().st_mtime)
    return len(ages), sum(at < limit for at in ages)


@contextmanager
def reading(name: UUID) -> Iterator[Callable[[int, int], None]]:
    """Note how far the reading of a file is, for whoever asks meanwhile, in whatever process.

    Yields:
        What the reader calls with (done, all).
    """
    path = _path_of_reading(name)
    noted = 0.0

    def progress(done: int, total: int) -> None:
        nonlocal noted
        now = time.monotonic()
        if now - noted >= NOTED_S:
            noted = now
            path.write_text(f"{done} {total}", encoding="ascii")

    try:
        yield progress
    finally:
        path.unlink(missing_ok=True)


def how_far(name: UUID) -> tuple[int, int] | None:
    """How much of a file that is being read was read, and of how much; None where it is not."""
    try:
        done, total = map(int, _path_of_reading(name).read_text(encoding="ascii").split())
    except (FileNotFoundError, ValueError):
        # Not there, or at this moment between two notes.
        return None
    return done, total


def sweep() -> None:
    """Remove what nobody has come back for within a day."""
    limit = time.time() - KEPT_S  # the age of a file on disk, not of anything clinical
    for path in folder().iterdir():
        # Another process may be sweeping too.
        with suppress(FileNotFoundError):
            if path.stat().st_mtime < limit:
                path.unlink()


def _make_room(by: int, size: int) -> None:
    """Let the oldest files of one person go until another of `size` bytes fits into their own quota."""
    aged = []
    for path in folder().glob(f"*.{by}.file"):
        with suppress(FileNotFoundError):
            aged.append((path.stat().st_mtime, path))
    for _age, path in sorted(aged):
        if _bytes_of(folder().glob(f"*.{by}.file")) + size <= OWN_BYTES:
            return
        path.unlink(missing_ok=True)


def _bytes_of(paths: Iterable[Path]) -> int:
    total = 0
    for path in paths:
        with suppress(FileNotFoundError):
            total += path.stat().st_size
    return total


def _seal() -> Fernet:
    # Beside an encrypted record the secret key alone, which is on the same disk, opens none.
    salt = None if settings.RECORD_KEY is None else settings.RECORD_KEY.for_("uploads")
    key = HKDF(SHA256(), KEY_BYTES, salt=salt, info=b"suffice upload").derive(
        settings.SECRET_KEY.encode()
    )
    return Fernet(base64.urlsafe_b64encode(key))


def _no_room() -> Problem:
    return Problem(
        code="FORM-014",
        what=message("The file was not taken."),
        why=message("Too many large files wait to be imported already."),
        fix=message("Import those that wait, or come back tomorrow: they are removed after a day."),
    )


def _path_of_reading(name: UUID) -> Path:
    return folder() / f"{name}.reading"


def _path(name: UUID) -> Path:
    of_whom = folder().glob(f"{name}.*.file")
    return next(of_whom, folder() / f"{name}.file")
