"""The key of an encrypted record, and what a file says of the key that it was encrypted with."""

from __future__ import annotations

import hmac
import os
import secrets
from enum import Enum
from hashlib import sha256
from pathlib import Path
from typing import Final

import msgspec

from suffice.message import message
from suffice.record.key_file import KeyFile

VARIABLE = "SUFFICE_RECORD_KEY"
"""Names the file of the key."""
MARK = b"suf1"
ID_BYTES = 4
SALT_BYTES = 16
PLAIN = b"SQLite format 3\0"
KEPT_AS = KeyFile(
    mark="suffice-record-key-1:",
    unusable="STORE-005",
    shared="STORE-006",
    where=VARIABLE,
    kept=message("is there already, and with a key that is lost the record is lost."),
    no_key=message("contains no key of a record."),
    made_by=message("Name the file that suffice encrypt --make-key made."),
)


class RecordKey(msgspec.Struct, frozen=True, kw_only=True):
    """The clinic's key: what encrypts the file, and whatever else, is derived from it."""

    secret: bytes

    def __repr__(self) -> str:
        return f"<key {self.id.hex()} of a record>"

    @property
    def id(self) -> bytes:
        """A few bytes by which the file says which key opens it."""
        return sha256(b"suffice record key id" + self.secret).digest()[:ID_BYTES]

    @property
    def raw(self) -> bytes:
        """The 32 bytes that SQLCipher is given as they are, without stretching them at each connection."""
        return self.for_("the file")

    def for_(self, purpose: str) -> bytes:
        """32 bytes for a purpose of their own (HMAC-SHA256), from which the key does not follow."""
        return hmac.digest(self.secret, f"suffice record 1: {purpose}".encode(), "sha256")

    def new_salt(self) -> bytes:
        """The first 16 bytes of a new file, which are readable: that it is ours, of which key, and chance."""
        return MARK + self.id + secrets.token_bytes(SALT_BYTES - len(MARK) - ID_BYTES)


class Kind(Enum):
    """What a file of the record is."""

    NONE = "none"
    PLAIN = "plain"
    ENCRYPTED = "encrypted"
    OTHER = "other"


class Looked(msgspec.Struct, frozen=True):
    """What a file of the record is, and of an encrypted one the id of its key."""

    kind: Kind
    key_id: bytes = b""


_LOOKED_AT: Final[dict[tuple[int, int], int]] = {}
"""Descriptors of the files that were looked at, by device and number of the file."""


def _never_closed(path: Path) -> int:
    """A descriptor to read a file by, one for each file as long as this process lives.

    Whoever closes any descriptor of a file takes from the process every lock that SQLite holds on it (POSIX).
    Another program that closes the record then takes itself for the last, and removes the log under us.

    Raises:
        OSError: When it is not there or cannot be read.
    """
    about = path.stat()
    found = _LOOKED_AT.get((about.st_dev, about.st_ino))
    if found is None:
        found = os.open(path, os.O_RDONLY)
        opened = os.fstat(found)
        _LOOKED_AT[opened.st_dev, opened.st_ino] = found
    return found


def look(path: Path) -> Looked:
    """Look at the beginning of a file, also while this process has it open with SQLite.

    Raises:
        OSError: When it is there and cannot be read.
    """
    try:
        head = os.pread(_never_closed(path), SALT_BYTES, 0)
    except FileNotFoundError:
        return Looked(Kind.NONE)
    if not head:
        return Looked(Kind.NONE)
    if head == PLAIN:
        return Looked(Kind.PLAIN)
    if head.startswith(MARK):
        return Looked(Kind.ENCRYPTED, head[len(MARK) :][:ID_BYTES])
    return Looked(Kind.OTHER)
