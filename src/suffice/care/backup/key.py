"""The key with which a clinic's backups are sealed: one file, kept away from the backups."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import msgspec

from suffice.message import message
from suffice.record.cipher.key import KEPT_AS as OF_RECORD
from suffice.record.cipher.key import RecordKey
from suffice.record.key_file import KeyFile

ID_BYTES = 4
OWNERS_FOLDER = 0o700
KEPT_AS = KeyFile(
    mark="suffice-backup-key-1:",
    unusable="BACKUP-001",
    shared="BACKUP-002",
    where="--key",
    kept=message("is there already, and a key that is lost opens no backup any more."),
    no_key=message("contains no key of backups."),
    made_by=message("Name the file that suffice backup --new-key made."),
)


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
    return Key(secret=KEPT_AS.make(path))


def read_key(path: Path, *, alone: bool = True) -> Key:
    """The key in a file; of the key of a record, that of the copies made before its upgrades.

    Args:
        path: The file.
        alone: Whether the owner alone may be able to read it; not asked where somebody restores,
            since a stick on which a key was kept may know no rights.

    Raises:
        InputError: BACKUP-001, when it cannot be read or holds no key; BACKUP-002, when others may
            read it.
    """
    content = KEPT_AS.content(path, alone=alone)
    of_record = OF_RECORD.secret_in(content)
    if of_record is not None:
        return copies_key(RecordKey(secret=of_record))
    return Key(secret=KEPT_AS.need(path, content))


def copies_key(key: RecordKey) -> Key:
    """The key of the copies that are made before the upgrades of an encrypted record."""
    return Key(secret=key.for_("before an upgrade"))
