"""Making a backup: a sealed copy of the whole record, opened and counted before it gets its name.

What is in it: the database, and what lies beside it and belongs to the record (see BESIDE). What is
not: sessions and the secret key that signs them, files that wait to be imported, the log.
"""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

import msgspec
from django.conf import settings

from suffice.care.backup import family_keys, reaching
from suffice.care.backup.family_keys import Members, Opening, Ring, seal_members
from suffice.care.backup.key import Key
from suffice.care.backup.members import (
    MANIFEST,
    Manifest,
    blocks_of,
    read_manifest,
    read_members,
    write_end,
    write_member,
)
from suffice.care.backup.sealed import Reader, Writer, altered
from suffice.care.backup.seals import LINKS, Seals, written
from suffice.care.backup.shelf import (
    WORK,
    LastGood,
    keep_newest,
    name_of,
    note_good,
    sync_folder,
)
from suffice.errors import InputError, Problem, StorageError
from suffice.message import message
from suffice.record import seal, sqlite_file, whole
from suffice.record.key_file import OWNERS
from suffice.record.sealed_rows import open_file, seal_file
from suffice.record.values import Stored

BESIDE = ("photographs", "photograph-key")
"""Folders and files of SUFFICE_HOME that belong to the record, where they are there."""
PLACE = "beside/"
OPENED = "opened.sqlite3"
"""The SQLite database of a backup, unpacked to be looked at."""


class Made(msgspec.Struct, frozen=True, kw_only=True):
    """A backup that was made, opened and counted.

    Attributes:
        removed: How many old ones made room for it.
        unsealed_count: How many seals that were written down its copy of the record does not contain.
    """

    path: Path
    size_bytes: int
    stored: Stored
    removed: int
    unsealed_count: int = 0


def make_backup(
    folder: Path,
    key: Key,
    *,
    now: datetime,
    key_file: Path | None = None,
    keep: int | None = None,
    noted: bool = True,
) -> Made:
    """Make a backup in a folder, while others save.

    Args:
        folder: Where it goes: a folder on another disk, a mounted share.
        key: What it is sealed with.
        now: The instant, for its name.
        key_file: Where the key is, so that a key beside the backups is refused.
        keep: How many backups stay there, this one included; all, if left out.
        noted: Whether it counts as the clinic's last good backup.

    Raises:
        InputError: BACKUP-003 when the key would be kept with the backups, BACKUP-004 when the folder
            is not there, BACKUP-014 when there is nothing to be backed up.
        StorageError: BACKUP-005 when it cannot be written, BACKUP-013 when it does not hold what it
            should, RECORD-009 when the record cannot be read. No half backup is left, and the
            earlier ones stay.
    """
    if key_file is not None and _is_within(key_file, folder):
        raise InputError(_key_beside(key_file))
    if not folder.is_dir():
        raise InputError(_no_folder(folder))
    if not whole.holds_anything():
        raise InputError(_nothing())
    path = folder / name_of(key, now)
    unfinished = folder / f".{path.name}.unfinished"
    try:
        with work_folder() as work:
            _clear_unfinished(folder, key)
            seals, ring = Seals(), family_keys.ring_for(folder, key)
            manifest = _write(unfinished, key, work, now, ring)
            # Before the backup has its name: what it holds can be opened with what is there.
            family_keys.keep(ring)
            ring = family_keys.keep_copy(ring, folder, key)
            if key_file is not None:
                struck = {one.family_id for one in ring.erased}
                reaching.note_folder(folder, key, key_file, struck)
            if _held(unfinished, key, work, ring, seals) != manifest.stored:
                raise StorageError(_not_whole(path))
            unfinished.replace(path)
            sync_folder(folder)
            if noted:
                note_good(LastGood(path=str(path.absolute()), made_at=now, stored=manifest.stored))
            removed = keep_newest(path, key, keep) if keep else 0
            size_bytes = path.stat().st_size
    except OSError as error:
        raise StorageError(_unwritable(folder, error)) from error
    except InputError as error:
        # What was written a moment ago cannot be opened: the disk, not the person, is at fault.
        raise StorageError(_not_whole(path)) from error
    finally:
        unfinished.unlink(missing_ok=True)
    return Made(
        path=path,
        size_bytes=size_bytes,
        stored=manifest.stored,
        removed=removed,
        unsealed_count=seals.missing_count,
    )


@contextmanager
def work_folder() -> Iterator[Path]:
    """A folder beside the record for the length of the block; what a killed command left goes."""
    home = Path(settings.HOME)
    for left in home.glob(f"{WORK}*"):
        shutil.rmtree(left, ignore_errors=True)
    with tempfile.TemporaryDirectory(prefix=WORK, dir=home) as made:
        yield Path(made)


def _clear_unfinished(folder: Path, key: Key) -> None:
    for left in folder.glob(f".suffice-{key.id.hex()}-*.unfinished"):
        left.unlink(missing_ok=True)


def _write(unfinished: Path, key: Key, work: Path, now: datetime, ring: Ring) -> Manifest:
    # Before the database, so that it contains every seal that is written down.
    sealed = written()
    descriptor = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNERS)
    with os.fdopen(descriptor, "wb") as file:
        writer = Writer(file, key)
        manifest = (
            _write_sqlite(writer, work, now, ring)
            if whole.engine() == whole.FILE
            else _write_postgres(writer, now, ring)
        )
        # After the database, so that whatever an entry names is there.
        beside = ((name, _content_of(path)) for name, path in _beside())
        for name, content in seal_members(ring, beside):
            write_member(writer, name, content)
        write_member(writer, PLACE + seal.FILE, [sealed])
        write_end(writer)
        file.flush()
        os.fsync(file.fileno())
    return manifest


def _write_sqlite(writer: Writer, work: Path, now: datetime, ring: Ring) -> Manifest:
    copy = work / "copy.sqlite3"
    manifest = _manifest(whole.copy_sqlite(copy), now)
    seal_file(copy, ring.seal)
    write_member(writer, MANIFEST, [msgspec.json.encode(manifest)])
    write_member(writer, whole.FILE, sqlite_file.not_encrypted(copy))
    copy.unlink()
    return manifest


def _write_postgres(writer: Writer, now: datetime, ring: Ring) -> Manifest:
    with whole.one_snapshot() as stored:
        manifest = _manifest(stored, now)
        write_member(writer, MANIFEST, [msgspec.json.encode(manifest)])
        for name, rows in seal_members(ring, whole.rows_of_tables()):
            write_member(writer, name, rows)
    return manifest


def _manifest(stored: Stored, now: datetime) -> Manifest:
    return Manifest(
        program=version("suffice"),
        engine=whole.engine(),
        made_at=now,
        migrations=whole.migrations_run(),
        stored=stored,
    )


def _beside() -> Iterator[tuple[str, Path]]:
    home = Path(settings.HOME)
    for name in BESIDE:
        place = home / name
        files = sorted(place.rglob("*")) if place.is_dir() else [place]
        for path in files:
            if path.is_file() and not path.is_symlink():
                yield PLACE + path.relative_to(home).as_posix(), path


def _content_of(path: Path) -> Iterator[bytes]:
    try:
        yield from blocks_of(path)
    except FileNotFoundError:
        # Taken away meanwhile, as somebody's withdrawn consent asks for.
        return


def _held(path: Path, key: Key, work: Path, ring: Ring, seals: Seals) -> Stored | None:
    """Open a backup and count what it holds; None where the copy within is damaged."""
    with path.open("rb") as file:
        members = read_members(Reader(file, key, path.name), path.name)
        name, blocks = next(members)
        if name != MANIFEST:
            raise InputError(altered(path.name))
        read_manifest(blocks, path.name)
        return count_members(members, work, Opening(ring, path.name), seals)


def count_members(members: Members, work: Path, opening: Opening, seals: Seals) -> Stored | None:
    """Read every member to its end and count; None where the copy within is damaged.

    The copy of a SQLite record is left in the folder of the work, its families opened.
    """
    counted: dict[str, tuple[int, datetime | None]] = {}
    found: Stored | None = None
    for name, blocks in opening.members(members):
        if name == whole.FILE:
            found = _open_sqlite(blocks, work / OPENED, opening)
            seals.read_sqlite(work / OPENED)
        elif name == PLACE + seal.FILE:
            seals.read_file(blocks)
        elif name == whole.TABLE + LINKS:
            seals.read_links(blocks)
        elif name.startswith(whole.TABLE):
            table = name.removeprefix(whole.TABLE)
            counted[table] = whole.count_rows(table, blocks)
    if counted:
        families, _ = counted["record_family"]
        entries, newest_at = counted["record_entry"]
        return Stored(families=families, entries=entries, newest_at=newest_at)
    return found


def _open_sqlite(blocks: Iterator[bytes], to: Path, opening: Opening) -> Stored | None:
    try:
        sqlite_file.put(blocks, to)
        open_file(to, opening)
    except sqlite_file.errors():
        return None
    return whole.look_at_sqlite(to)


def unpack(blocks: Iterator[bytes], to: Path) -> Path:
    """Write a member into a new file that is on the disk when this returns."""
    descriptor = os.open(to, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, OWNERS)
    with os.fdopen(descriptor, "wb") as file:
        for block in blocks:
            file.write(block)
        file.flush()
        os.fsync(file.fileno())
    return to


def _is_within(file: Path, folder: Path) -> bool:
    return folder.resolve() in file.resolve().parents


def _key_beside(key_file: Path) -> Problem:
    return Problem(
        code="BACKUP-003",
        what=str(key_file),
        why=message("is kept with the backups: whoever takes them would have the key too."),
        fix=message("Keep the key elsewhere, and a copy of it away from this computer."),
        where="--key",
    )


def _no_folder(folder: Path) -> Problem:
    return Problem(
        code="BACKUP-004",
        what=str(folder),
        why=message("is not a folder."),
        fix=message("Make it, or mount the disk or share that it is on."),
    )


def _unwritable(folder: Path, error: OSError) -> Problem:
    is_full = error.errno in {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
    return Problem(
        code="BACKUP-005",
        what=message("No backup was made in {folder}; the earlier ones stay.", folder=str(folder)),
        why=message("There is no room left on a disk.")
        if is_full
        else message("The system refused: {reason}.", reason=error.strerror or str(error)),
        fix=message(
            "Make room there and on the disk of the record, or name another folder, then try again."
        ),
    )


def _not_whole(path: Path) -> Problem:
    return Problem(
        code="BACKUP-013",
        what=message("The backup {name} was not kept.", name=path.name),
        why=message("Opened after writing, it did not contain what the record contains."),
        fix=message("Check the disk and the record, then try again; the earlier backups stay."),
    )


def _nothing() -> Problem:
    return Problem(
        code="BACKUP-014",
        what=message("There is nothing to back up."),
        why=message("This record has no family, no entry and nobody who signs in."),
        fix=message("Check SUFFICE_HOME and DATABASE_URL: they may name another record."),
    )
