"""Restoring: a backup becomes the record, where there is none yet; the whole of it or nothing.

The whole file is opened, authenticated and counted before anything is written in the record's
place. On SQLite the checked copy then takes its name in one step; on PostgreSQL all rows arrive with one
commit. Killed at any moment, what is left is an empty record or a whole one.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path, PurePosixPath

import msgspec
from django.conf import settings

from suffice.care.backup.family_keys import Opening, Ring, keep, ring_beside
from suffice.care.backup.key import OWNERS_FOLDER, Key
from suffice.care.backup.making import (
    BESIDE,
    OPENED,
    PLACE,
    count_members,
    unpack,
    work_folder,
)
from suffice.care.backup.members import MANIFEST, Manifest, read_manifest, read_members
from suffice.care.backup.sealed import Reader, altered, newer
from suffice.care.backup.seals import Seals
from suffice.errors import InputError, Problem, StorageError
from suffice.message import Words, message
from suffice.record import seal, whole
from suffice.record.erasure import erase_again
from suffice.record.values import Stored

ENGINES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}


class Restored(msgspec.Struct, frozen=True, kw_only=True):
    """What was restored, of when it was, and how many seals of its file it does not contain."""

    manifest: Manifest
    stored: Stored
    unsealed_count: int = 0


def restore(path: Path, key: Key, families: Path | None = None) -> Restored:
    """Put a backup in the place of an empty record; what was erased since is not in it.

    Args:
        path: The backup.
        key: The clinic's key.
        families: The file of the families' keys; the copy beside the backup, if left out.

    Raises:
        InputError: BACKUP-006 to BACKUP-010 for a file that cannot be opened, BACKUP-011 for one of
            another engine, BACKUP-012 when the record is not empty, BACKUP-015 when there is no file.
        StorageError: BACKUP-016 when it cannot be written; RECORD-009 when the database refuses.
            The record is empty then as before.
    """
    if whole.holds_anything():
        raise InputError(_not_empty())
    try:
        with work_folder() as work:
            seals, ring = Seals(), ring_beside(path, key, families)
            manifest = _verify(path, key, work, ring, seals)
            if ring.keys:
                # First: what was erased since is erased again even if this is stopped in the middle.
                keep(ring)
            stored = _put(path, key, work, manifest, ring)
    except FileNotFoundError as error:
        raise InputError(_no_file(path)) from error
    except OSError as error:
        raise StorageError(_unwritten(error.strerror or str(error))) from error
    return Restored(manifest=manifest, stored=stored, unsealed_count=seals.missing_count)


def _verify(path: Path, key: Key, work: Path, ring: Ring, seals: Seals) -> Manifest:
    """Read the whole file before anything is written in the record's place."""
    with path.open("rb") as file:
        members = read_members(Reader(file, key, path.name), path.name)
        name, blocks = next(members)
        if name != MANIFEST:
            raise InputError(altered(path.name))
        manifest = read_manifest(blocks, path.name)
        if whole.unknown_migrations(manifest.migrations):
            raise InputError(newer(path.name))
        if manifest.engine != whole.engine():
            raise InputError(_other_engine(path.name, manifest.engine))
        opening = Opening(ring, path.name)
        found = count_members(members, work, opening, seals)
        if not _is_whole(found, manifest, opening):
            raise InputError(altered(path.name))
    return manifest


def _is_whole(found: Stored | None, manifest: Manifest, opening: Opening) -> bool:
    """Whether a copy holds what it should, but for the entries of families that were erased since."""
    wanted, closed = manifest.stored, opening.closed_count
    if not closed or found is None:
        return found == wanted
    return (found.families, found.entries + closed) == (wanted.families, wanted.entries)


def _put(path: Path, key: Key, work: Path, manifest: Manifest, ring: Ring) -> Stored:
    # Those of another record; its own come with it.
    seal.set_aside()
    with path.open("rb") as file:
        opening = Opening(ring, path.name)
        members = opening.members(read_members(Reader(file, key, path.name), path.name))
        if manifest.engine == whole.FILE:
            _put_members(members, work)
            # The copy that was opened and counted a moment ago.
            whole.put_sqlite(work / OPENED)
        else:
            with whole.filling(manifest.migrations):
                _put_members(members, work)
                if not _is_whole(whole.stored(), manifest, opening):
                    raise StorageError(
                        _unwritten(message("it does not contain what the backup contains"))
                    )
    whole.bring_up_to_date()
    for erased in ring.erased:
        erase_again(erased)
    return whole.stored()


def _put_members(members: Iterator[tuple[str, Iterator[bytes]]], work: Path) -> None:
    for name, blocks in members:
        if name.startswith(whole.TABLE):
            whole.put_rows(name.removeprefix(whole.TABLE), blocks)
        elif name == whole.SEQUENCES:
            whole.put_sequences(b"".join(blocks))
        elif name.startswith(PLACE):
            _put_beside(name.removeprefix(PLACE), blocks, work)


def _put_beside(name: str, blocks: Iterator[bytes], work: Path) -> None:
    """A file of its own: without an entry that names it, it means nothing."""
    parts = PurePosixPath(name).parts
    if not parts or parts[0] not in {*BESIDE, seal.FILE} or ".." in parts:
        raise InputError(altered(name))
    to = Path(settings.HOME, *parts)
    to.parent.mkdir(mode=OWNERS_FOLDER, parents=True, exist_ok=True)
    unpack(blocks, work / "beside").replace(to)


def _not_empty() -> Problem:
    return Problem(
        code="BACKUP-012",
        what=message("This record is not empty."),
        why=message("A backup is restored where there is nothing that it could replace."),
        fix=message("Name an empty folder: --into FOLDER; with PostgreSQL an empty DATABASE_URL."),
    )


def _other_engine(name: str, engine: str) -> Problem:
    return Problem(
        code="BACKUP-011",
        what=name,
        why=message(
            "was made of a record in {theirs}, and this one is in {ours}.",
            theirs=ENGINES.get(engine, engine),
            ours=ENGINES[whole.engine()],
        ),
        fix=message("Set DATABASE_URL for PostgreSQL, or leave it out for SQLite, then restore."),
    )


def _no_file(path: Path) -> Problem:
    return Problem(
        code="BACKUP-015",
        what=str(path),
        why=message("is not a file."),
        fix=message("Name the backup itself, a file that ends in .backup."),
    )


def _unwritten(reason: Words) -> Problem:
    return Problem(
        code="BACKUP-016",
        what=message("Nothing was restored: {reason}.", reason=reason),
        why=message("A record is restored whole or not at all."),
        fix=message("Make room on the disk and check who may write there, then restore again."),
    )
