"""A sealed file: encrypted and authenticated in chunks, so that any length needs little memory.

Format, all numbers big-endian::

    header   8 bytes "SUFFICEB", 1 byte format, 4 bytes id of the key, 16 bytes salt
    chunk    1 byte kind (0: more follow, 1: the last), 4 bytes length, then so many bytes
    ...

Each chunk is up to 1 MiB, packed by zlib and sealed by AES-256-GCM. The key of a file is made by
HKDF-SHA256 from the clinic's key and the salt, so that the number of a chunk serves as its nonce. Header
and kind are authenticated with each chunk: whatever is changed, left out, repeated, put in another
order or added is found, and so is an end that is missing. This is the STREAM construction of Hoang,
Reyhanitabar, Rogaway and Vizar (2015).
"""

from __future__ import annotations

import secrets
import struct
import zlib
from collections.abc import Iterator
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from suffice.care.backup.key import ID_BYTES, Key
from suffice.errors import InputError, Problem
from suffice.message import Message, message
from suffice.record.key_file import KEY_BYTES

MAGIC = b"SUFFICEB"
FORMAT = 1
SALT_BYTES = 16
CHUNK_BYTES = 1024 * 1024
MOST_SEALED_BYTES = CHUNK_BYTES + 64 * 1024
"""A chunk that cannot be packed grows a little, by zlib's own frame and by the tag."""
PACKED_LEVEL = 3
MORE, LAST = 0, 1
HEADER = struct.Struct(f">8sB{ID_BYTES}s{SALT_BYTES}s")
CHUNK = struct.Struct(">BI")
NONCE = struct.Struct(">4xQ")


class Writer:
    """Seals what is written to it; the file is whole only after `close`."""

    def __init__(self, file: BinaryIO, key: Key) -> None:
        salt = secrets.token_bytes(SALT_BYTES)
        self._file = file
        self._header = HEADER.pack(MAGIC, FORMAT, key.id, salt)
        self._cipher = _cipher(key, salt)
        self._number = 0
        self._waiting = bytearray()
        file.write(self._header)

    def write(self, content: bytes) -> None:
        """Add content."""
        self._waiting += content
        while len(self._waiting) > CHUNK_BYTES:
            self._seal(bytes(self._waiting[:CHUNK_BYTES]), MORE)
            del self._waiting[:CHUNK_BYTES]

    def close(self) -> None:
        """Write the last chunk; the file itself stays open."""
        self._seal(bytes(self._waiting), LAST)
        self._waiting.clear()

    def _seal(self, content: bytes, kind: int) -> None:
        packed = zlib.compress(content, PACKED_LEVEL)
        nonce = NONCE.pack(self._number)
        sealed = self._cipher.encrypt(nonce, packed, self._header + bytes([kind]))
        self._file.write(CHUNK.pack(kind, len(sealed)) + sealed)
        self._number += 1


class Reader:
    """Opens a sealed file; nothing that it gives is unauthenticated.

    Raises:
        InputError: BACKUP-006 for another key, BACKUP-007 where the end is missing, BACKUP-008 where
            something was altered, BACKUP-009 for no backup, BACKUP-010 for a newer format.
    """

    def __init__(self, file: BinaryIO, key: Key, name: str) -> None:
        self._file, self._name = file, name
        self._header = file.read(HEADER.size)
        if self._header[: len(MAGIC)] != MAGIC[: len(self._header)] or not self._header:
            raise InputError(_no_backup(name))
        if len(self._header) < HEADER.size:
            raise InputError(_torn(name))
        _, form, key_id, salt = HEADER.unpack(self._header)
        if form > FORMAT:
            raise InputError(newer(name))
        if key_id != key.id:
            raise InputError(_other_key(name, key_id, key))
        self._cipher = _cipher(key, salt)
        self._chunks = self._opened()
        self._waiting = bytearray()

    def read(self, count: int) -> bytes:
        """The next `count` bytes; fewer only at the end."""
        while len(self._waiting) < count:
            chunk = next(self._chunks, None)
            if chunk is None:
                break
            self._waiting += chunk
        content = bytes(self._waiting[:count])
        del self._waiting[:count]
        return content

    def _opened(self) -> Iterator[bytes]:
        kind, number = MORE, 0
        while kind != LAST:
            head = self._file.read(CHUNK.size)
            if len(head) < CHUNK.size:
                raise InputError(_torn(self._name))
            kind, length = CHUNK.unpack(head)
            if length > MOST_SEALED_BYTES:
                raise InputError(altered(self._name))
            sealed = self._file.read(length)
            if len(sealed) < length:
                raise InputError(_torn(self._name))
            try:
                packed = self._cipher.decrypt(
                    NONCE.pack(number), sealed, self._header + bytes([kind])
                )
            except InvalidTag:
                raise InputError(altered(self._name)) from None
            yield zlib.decompress(packed)
            number += 1
        if self._file.read(1):
            raise InputError(altered(self._name))


def _cipher(key: Key, salt: bytes) -> AESGCM:
    made = HKDF(algorithm=SHA256(), length=KEY_BYTES, salt=salt, info=b"suffice backup 1")
    return AESGCM(made.derive(key.secret))


TAKE_ANOTHER: Message = message("Use another backup, and find out what happened to this one.")


def altered(name: str) -> Problem:
    """BACKUP-008: what is there is not what was written."""
    return Problem(
        code="BACKUP-008",
        what=name,
        why=message("is damaged or was altered: its seal is broken."),
        fix=TAKE_ANOTHER,
    )


def newer(name: str) -> Problem:
    """BACKUP-010: made by a version of the program that knows more than this one."""
    return Problem(
        code="BACKUP-010",
        what=name,
        why=message("was made by a newer version of the program."),
        fix=message("Install that version or a later one, then restore."),
    )


def _torn(name: str) -> Problem:
    return Problem(
        code="BACKUP-007",
        what=name,
        why=message("is cut off: its end is missing."),
        fix=TAKE_ANOTHER,
    )


def _no_backup(name: str) -> Problem:
    return Problem(
        code="BACKUP-009",
        what=name,
        why=message("is no backup of Suffice."),
        fix=message("Name a file that suffice backup made."),
    )


def _other_key(name: str, key_id: bytes, key: Key) -> Problem:
    return Problem(
        code="BACKUP-006",
        what=name,
        why=message(
            "was sealed with another key ({wanted}, not {given}).",
            wanted=key_id.hex(),
            given=key.id.hex(),
        ),
        fix=message("Give the key that was in use when it was made."),
        where="--key",
    )
