"""The key with which a clinic's backups are sealed: one file, kept away from the backups."""

from __future__ import annotations

import base64
import binascii
import os
import secrets
from hashlib import sha256
from pathlib import Path

import msgspec

from suffice.errors import InputError, Problem
from suffice.message import Words, message

KEY_BYTES = 32
ID_BYTES = 4
MARK = "suffice-backup-key-1:"
LARGEST_FILE_BYTES = 1024
OWNERS = 0o600
"""The rights of a file that its owner alone reads and writes."""
OWNERS_FOLDER = 0o700
OTHERS = 0o077
"""The rights of everybody but the owner of a file."""


class Key(msgspec.Struct, frozen=True, kw_only=True):
    """A key; its `id` stands in the name of each backup and gives nothing of the secret away."""

    secret: bytes

    @property
    def id(self) -> bytes:
        """A few bytes by which a backup says which key opens it."""
        return sha256(b"suffice backup key id" + self.secret).digest()[:ID_BYTES]


def new_key(path: Path) -> Key:
    """Make a key in a new file that its owner alone may read.

    Raises:
        InputError: BACKUP-001, when the file is there already or cannot be written.
    """
    key = Key(secret=secrets.token_bytes(KEY_BYTES))
    text = MARK + base64.b64encode(key.secret).decode() + "\n"
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNERS)
        with os.fdopen(descriptor, "w", encoding="ascii") as opened:
            opened.write(text)
            opened.flush()
            os.fsync(opened.fileno())
    except FileExistsError:
        raise InputError(
            _unusable(
                path,
                message("is there already, and a key that is lost opens no backup any more."),
                message("Name a new file."),
            )
        ) from None
    except OSError as error:
        raise InputError(_unusable(path, *_of_system(error))) from error
    return key


def read_key(path: Path, *, alone: bool = True) -> Key:
    """The key in a file.

    Args:
        path: The file.
        alone: Whether the owner alone may be able to read it; not asked where somebody restores,
            since a stick on which a key was kept may know no rights.

    Raises:
        InputError: BACKUP-001, when it cannot be read or holds no key; BACKUP-002, when others may
            read it.
    """
    try:
        with path.open("rb") as opened:
            rights = os.fstat(opened.fileno()).st_mode
            content = opened.read(LARGEST_FILE_BYTES)
    except OSError as error:
        raise InputError(_unusable(path, *_of_system(error))) from error
    if alone and rights & OTHERS:
        raise InputError(
            Problem(
                code="BACKUP-002",
                what=str(path),
                why=message("can be read by others on this computer."),
                fix=message("Take their rights away: chmod 600 {path}", path=str(path)),
                where="--key",
            )
        )
    return Key(secret=_secret(path, content))


def _secret(path: Path, content: bytes) -> bytes:
    text = content.decode("ascii", "replace").strip()
    try:
        secret = base64.b64decode(text.removeprefix(MARK), validate=True)
    except (binascii.Error, ValueError):
        secret = b""
    if not text.startswith(MARK) or len(secret) != KEY_BYTES:
        raise InputError(
            _unusable(
                path,
                message("contains no key of backups."),
                message("Name the file that suffice backup --new-key made."),
            )
        )
    return secret


def _of_system(error: OSError) -> tuple[Words, Words]:
    reason = error.strerror or type(error).__name__
    return (
        message("cannot be used: {reason}.", reason=reason),
        message("Check the path, and who may read and write there."),
    )


def _unusable(path: Path, why: Words, fix: Words) -> Problem:
    return Problem(code="BACKUP-001", what=str(path), why=why, fix=fix, where="--key")
