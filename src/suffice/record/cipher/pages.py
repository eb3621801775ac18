"""The pages of an encrypted file as they would be in one that is not, and back, without a file between.

A backup holds the copy of a record not encrypted within its own seal, so that whoever has the key of the backups
can restore it, with or without the key of the record, and so that its form is one. This turns the
one into the other page by page, on its way into the seal or out of it. SQLCipher 4's page of 4,096 bytes: 4,016
encrypted by AES-256-CBC (of the first page all but its first 16, which are the salt), 16 of the
initialization vector, 64 of HMAC-SHA512 over both and the page's number in 4 bytes, little-endian. Its key is derived
from the file's by PBKDF2 in two rounds, with each byte of the salt against 0x3A. A page of zeros is one that was never written.
"""
# ruff: noqa: S608 -- all SQL is put together from names of tables of our own copy

from __future__ import annotations

import errno
import hmac
import os
import secrets
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from hashlib import pbkdf2_hmac
from itertools import chain
from pathlib import Path

from cryptography.hazmat.primitives.ciphers import Cipher, algorithms, modes

from suffice.record.cipher.driver import begin, opened
from suffice.record.cipher.key import PLAIN, SALT_BYTES, RecordKey
from suffice.record.key_file import OWNERS

PAGE_BYTES = 4096
IV_BYTES = 16
RESERVED_BYTES = 80
BODY_BYTES = PAGE_BYTES - RESERVED_BYTES
LOCK_PAGE = 2**30 // PAGE_BYTES + 1
"""SQLite writes nothing there."""
SIZE_AT, RESERVED_AT = slice(16, 18), 20
"""Where the first page says how large pages are, and how much at the end of each is not SQLite's."""
NOTHING = bytes(PAGE_BYTES)
COUNTERS = "sqlite_sequence"
TOGETHER = 64
"""Pages that are handed on at once."""


class _Pages:
    def __init__(self, key: RecordKey, salt: bytes) -> None:
        self._aes = algorithms.AES(key.raw)
        other = bytes(one ^ 0x3A for one in salt)
        self._mac_key = pbkdf2_hmac("sha512", key.raw, other, 2, len(key.raw))

    def opened(self, number: int, page: bytes) -> bytes:
        if page == NOTHING or number == LOCK_PAGE:
            return NOTHING
        begin = SALT_BYTES if number == 1 else 0
        sealed, vector = page[begin:BODY_BYTES], page[BODY_BYTES : BODY_BYTES + IV_BYTES]
        if not hmac.compare_digest(
            self._mac(number, sealed + vector), page[BODY_BYTES + IV_BYTES :]
        ):
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        decryptor = Cipher(self._aes, modes.CBC(vector)).decryptor()
        body = decryptor.update(sealed) + decryptor.finalize()
        return PLAIN[:begin] + body + bytes(RESERVED_BYTES)

    def sealed(self, number: int, page: bytes, salt: bytes) -> bytes:
        if number == LOCK_PAGE:
            return NOTHING
        begin = SALT_BYTES if number == 1 else 0
        vector = secrets.token_bytes(IV_BYTES)
        encryptor = Cipher(self._aes, modes.CBC(vector)).encryptor()
        body = encryptor.update(page[begin:BODY_BYTES]) + encryptor.finalize() + vector
        return salt[:begin] + body + self._mac(number, body)

    def _mac(self, number: int, content: bytes) -> bytes:
        return hmac.digest(self._mac_key, content + number.to_bytes(4, "little"), "sha512")


def read(path: Path, key: RecordKey) -> Iterator[bytes]:
    """An encrypted file that nobody has open, as one that is not encrypted.

    Raises:
        OSError: When a page of it is not what was written.
    """
    with path.open("rb") as file:
        pages = _Pages(key, file.read(SALT_BYTES))
        file.seek(0)
        number = 0
        while block := file.read(TOGETHER * PAGE_BYTES):
            found = []
            for at in range(0, len(block), PAGE_BYTES):
                number += 1
                found.append(pages.opened(number, block[at : at + PAGE_BYTES]))
            yield b"".join(found)


def write(blocks: Iterable[bytes], path: Path, key: RecordKey) -> None:
    """Write what is not encrypted into an encrypted file; it is on the disk then."""
    pages = _in_pages(blocks)
    first = next(pages, b"")
    is_ours = int.from_bytes(first[SIZE_AT], "big") == PAGE_BYTES
    if is_ours and first[RESERVED_AT] == RESERVED_BYTES:
        _seal(chain([first], pages), path, key)
    else:
        _export(chain([first], pages), path, key)
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _in_pages(blocks: Iterable[bytes]) -> Iterator[bytes]:
    kept = bytearray()
    for block in blocks:
        kept += block
        whole = len(kept) - len(kept) % PAGE_BYTES
        for at in range(0, whole, PAGE_BYTES):
            yield bytes(kept[at : at + PAGE_BYTES])
        del kept[:whole]
    if kept:
        yield bytes(kept)


def _seal(pages: Iterable[bytes], path: Path, key: RecordKey) -> None:
    salt = key.new_salt()
    sealing = _Pages(key, salt)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, OWNERS)
    with os.fdopen(descriptor, "wb") as file:
        for number, page in enumerate(pages, 1):
            file.write(sealing.sealed(number, page, salt))


def _export(pages: Iterable[bytes], path: Path, key: RecordKey) -> None:
    """The copy of a record that was not encrypted has no room in its pages: made anew, out of the memory."""
    path.unlink(missing_ok=True)
    begin(path, key)
    with closing(sqlite3.connect(":memory:")) as copy, closing(opened(path, key)) as new:
        copy.deserialize(b"".join(pages))
        made = "SELECT sql FROM sqlite_master WHERE type {} 'table' AND name NOT LIKE 'sqlite_%' AND sql <> ''"
        for (statement,) in copy.execute(made.format("=")):
            new.execute(statement)
        # Counters last: they stand in a table of SQLite's own, which is there as soon as one counts.
        tables = copy.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND (name NOT LIKE 'sqlite_%'"
            f" OR name = '{COUNTERS}') ORDER BY name = '{COUNTERS}', name"
        )
        for (name,) in tables.fetchall():
            if name == COUNTERS:
                new.execute(f"DELETE FROM {COUNTERS}")
            rows = copy.execute(f'SELECT * FROM "{name}"')
            gaps = ", ".join("?" * len(rows.description))
            new.executemany(f'INSERT INTO "{name}" VALUES ({gaps})', rows)
        # Triggers last, which would have a say in each row.
        for (statement,) in copy.execute(made.format("<>")):
            new.execute(statement)
        new.commit()
