"""The key of an encrypted record, and what a file says of the key that it was encrypted with."""

from __future__ import annotations

import hmac
import secrets
from enum import Enum
from hashlib import sha256
from pathlib import Path

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


def look(path: Path) -> Looked:
    """Look at the beginning of a file.

    Never while this process has the file open with SQLite: to close it again would take SQLite's locks away.

    Raises:
        OSError: When it is there and cannot be read.
    """
    try:
        with path.open("rb") as file:
            head = file.read(SALT_BYTES)
    except FileNotFoundError:
        return Looked(Kind.NONE)
    if not head:
        return Looked(Kind.NONE)
    if head == PLAIN:
        return Looked(Kind.PLAIN)
    if head.startswith(MARK):
        return Looked(Kind.ENCRYPTED, head[len(MARK) :][:ID_BYTES])
    return Looked(Kind.OTHER)
