"""One key for each family: what a backup tells of a family can be read with it alone.

The keys stand in no backup. They are in one file beside the record, `family-keys`, and in one copy of it
beside the backups, sealed by the clinic's key, which every backup replaces. When a family is erased its
key is destroyed in the file at once and in every copy that can be reached (reaching.py), in others by the
next backup; from then on no backup that was ever made can be opened for it.
"""

from __future__ import annotations

import os
import secrets
import zlib
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path, PurePosixPath
from typing import Final
from uuid import UUID

import msgspec
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import settings

from suffice.care.backup.key import Key
from suffice.care.backup.sealed import Reader, Writer, altered
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import erasure, sealed_rows, whole
from suffice.record.erasure import Erased
from suffice.record.key_file import KEY_BYTES, OWNERS

FILE: Final = "family-keys"
NONCE_BYTES: Final = 12
PURPOSE: Final = b"suffice family 1"
TABLE: Final = "sealed-table:"
BESIDE: Final = "sealed-beside/"
PLACE: Final = "beside/"
PHOTOGRAPHS: Final = "photographs"
READ_BYTES: Final = 1024 * 1024

Members = Iterator[tuple[str, Iterator[bytes]]]


class Ring(msgspec.Struct, kw_only=True):
    """The keys of the families, and those that were erased, who have none any more."""

    keys: dict[UUID, bytes] = {}
    erased: tuple[Erased, ...] = ()

    def seal(self, family_id: UUID, content: bytes) -> bytes:
        """Seal what is told of a family, with a new key where it has none yet."""
        key = self.keys.get(family_id) or secrets.token_bytes(KEY_BYTES)
        if all(one.family_id != family_id for one in self.erased):
            self.keys[family_id] = key  # else nobody opens what a stopped erasure left lying
        nonce = secrets.token_bytes(NONCE_BYTES)
        return nonce + AESGCM(key).encrypt(nonce, zlib.compress(content), _about(family_id))


class Opening:
    """Opens what a ring has sealed; counts the entries of erased families, which stay closed."""

    def __init__(self, ring: Ring, name: str) -> None:
        self._ring, self._name = ring, name
        self._erased = {one.family_id for one in ring.erased}
        self.closed_count = 0

    def __call__(self, family_id: UUID, content: bytes, table: str, count: int) -> bytes | None:
        """The content; None of a family that was erased.

        Raises:
            InputError: BACKUP-018, when its key is missing; BACKUP-008, when it was altered.
        """
        key = self._ring.keys.get(family_id)
        if key is None:
            if family_id not in self._erased:
                raise InputError(_no_key(self._name))
            self.closed_count += count if table == "record_entry" else 0
            return None
        try:
            nonce, rest = content[:NONCE_BYTES], content[NONCE_BYTES:]
            return zlib.decompress(AESGCM(key).decrypt(nonce, rest, _about(family_id)))
        except InvalidTag:
            raise InputError(altered(self._name)) from None

    def members(self, members: Members) -> Members:
        """The members of a backup, those of families opened and under the names that they had."""
        for name, blocks in members:
            if name.startswith(TABLE):
                table = name.removeprefix(TABLE)
                yield whole.TABLE + table, sealed_rows.open_lines(blocks, self, table)
            elif name.startswith(BESIDE):
                path = name.removeprefix(BESIDE)
                content = self(family_of(path) or UUID(int=0), b"".join(blocks), "", 0)
                if content is not None:
                    yield PLACE + path, iter([content])
            else:
                yield name, blocks


def seal_members(ring: Ring, members: Members) -> Members:
    """Members as a backup holds them: the rows and photographs of families sealed."""
    for name, content in members:
        table, path = name.removeprefix(whole.TABLE), name.removeprefix(PLACE)
        family_id = family_of(path) if path != name else None
        if table != name and table in sealed_rows.SEALED:
            yield TABLE + table, sealed_rows.seal_lines(content, ring.seal)
        elif family_id is not None:
            yield BESIDE + path, iter([ring.seal(family_id, b"".join(content))])
        else:
            yield name, content


def family_of(path: str) -> UUID | None:
    """The family whose photograph lies under a path; None for another file."""
    match PurePosixPath(path).parts:
        case (folder, family, _name) if folder == PHOTOGRAPHS:
            with suppress(ValueError):
                return UUID(family)
    return None


def ring_for(folder: Path, key: Key) -> Ring:
    """The keys for a backup into a folder: those beside the record, and those of the copy there.

    The copy makes good a file that was lost; a key of a family that was erased is in neither.
    """
    copied = _read_copy(copy_in(folder, key), key) if copy_in(folder, key).exists() else Ring()
    ring = own_ring()
    # A record that was put in the place of another may know less than the copy.
    erased = {one.family_id: one for one in (*copied.erased, *erasure.every())}
    keys = {one: made for one, made in {**copied.keys, **ring.keys}.items() if one not in erased}
    return Ring(keys=keys, erased=tuple(erased.values()))


def own_ring() -> Ring:
    """The keys beside the record; none where there is no file of them yet."""
    with suppress(FileNotFoundError):
        return msgspec.json.decode(_own().read_bytes(), type=Ring)
    return Ring()


def keep(ring: Ring) -> None:
    """Write the keys beside the record, in place of those before."""
    _replace(_own(), [msgspec.json.encode(ring)])


def keep_copy(ring: Ring, folder: Path, key: Key) -> Ring:
    """Write the copy beside the backups in place of the one before; what it holds, read again."""
    path = copy_in(folder, key)
    unfinished = path.with_name(f".{path.name}.unfinished")
    descriptor = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, OWNERS)
    with os.fdopen(descriptor, "wb") as file:
        writer = Writer(file, key)
        writer.write(msgspec.json.encode(ring))
        writer.close()
        file.flush()
        os.fsync(file.fileno())
    found = _read_copy(unfinished, key)
    unfinished.replace(path)
    return found


def strike_copy(folder: Path, key: Key, erased: Iterable[Erased]) -> None:
    """Take the keys of families that were erased from the copy beside the backups.

    Raises:
        OSError: When it is not there, or cannot be replaced.
        InputError: BACKUP-007, BACKUP-008: it was sealed by another key, or altered.
    """
    copied = _read_copy(copy_in(folder, key), key)
    gone = {one.family_id: one for one in (*copied.erased, *erased)}
    kept = {one: made for one, made in copied.keys.items() if one not in gone}
    keep_copy(Ring(keys=kept, erased=tuple(gone.values())), folder, key)


def copy_in(folder: Path, key: Key) -> Path:
    """Where the copy of the keys is, beside the backups of a clinic's key."""
    return folder / f"suffice-{key.id.hex()}.families"


def ring_beside(backup: Path, key: Key, families: Path | None) -> Ring:
    """The keys for opening a backup: of a file that is named, or of the copy beside it.

    Without any it opens only backups from before families had keys.
    """
    path = families or copy_in(backup.parent, key)
    return _read_copy(path, key) if path.exists() or families else Ring()


def destroy(family_ids: Iterable[UUID]) -> None:
    """Destroy the keys of families that were erased, beside the record; the copy follows."""
    ring, gone = own_ring(), set(family_ids)
    if gone & ring.keys.keys():
        kept = {one: made for one, made in ring.keys.items() if one not in gone}
        keep(Ring(keys=kept, erased=tuple(erasure.every())))


def have_keys(family_ids: Iterable[UUID]) -> frozenset[UUID]:
    """Which of some families have a key beside the record."""
    return frozenset(own_ring().keys.keys() & set(family_ids))


def _own() -> Path:
    return Path(settings.HOME) / FILE


def _read_copy(path: Path, key: Key) -> Ring:
    with path.open("rb") as file:
        reader, content = Reader(file, key, path.name), bytearray()
        while piece := reader.read(READ_BYTES):
            content += piece
    try:
        return msgspec.json.decode(content, type=Ring)
    except msgspec.DecodeError:
        raise InputError(altered(path.name)) from None


def _replace(path: Path, content: Iterable[bytes]) -> None:
    made = path.with_name(f"{path.name}.new")
    descriptor = os.open(made, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, OWNERS)
    with os.fdopen(descriptor, "wb") as file:
        file.writelines(content)
        file.flush()
        os.fsync(file.fileno())
    made.replace(path)


def _about(family_id: UUID) -> bytes:
    return PURPOSE + family_id.bytes


def _no_key(name: str) -> Problem:
    return Problem(
        code="BACKUP-018",
        what=name,
        why=message("contains families whose keys are not here."),
        fix=message(
            "Name the file of the keys, which ends in .families and is in the folder of the newest backup:"
            " --families FILE."
        ),
    )
