"""Bringing the tables of a record up to the version of the program: alone, and after a copy.

The copy is a backup like any other, made in the folder of the record with a key that lies beside it, or of an
encrypted record with one that is derived from its own: it
guards against an upgrade that goes wrong, not against the loss of the disk. What is there after a
killed upgrade is the record between two of its steps, each of which happens whole or not at all; the
next start goes on from there.
"""

from __future__ import annotations

import os
import shutil
from datetime import datetime
from pathlib import Path

import msgspec
from django.conf import settings

from suffice.care.backup import reaching
from suffice.care.backup.key import OWNERS_FOLDER, copies_key, new_key, read_key
from suffice.care.backup.making import Made, make_backup
from suffice.errors import Problem, StorageError, SufficeError
from suffice.message import Words, message
from suffice.record import one_version, state, steps, whole
from suffice.record.cipher.key import VARIABLE

FOLDER = "before-upgrade"
KEY = "before-upgrade-key"
KEPT = 3
"""Copies that stay: of the last upgrades."""


class Upgraded(msgspec.Struct, frozen=True, kw_only=True):
    """From where to where the tables were brought, and the copy of before; None of an empty record."""

    before: str
    after: str
    copy: Made | None


def bring_up_to_date(
    *, now: datetime, is_served: bool = False, wait_s: float = one_version.WAIT_S
) -> Upgraded | None:
    """Bring the tables up to date where they are not, and use the record from then on.

    Args:
        now: The instant.
        is_served: Whether a server has the record: one of an old version may not have joined.
        wait_s: How long other programs may take to end.

    Returns:
        What was done; None where they were up to date.

    Raises:
        StorageError: STORE-002 while others use the record, STORE-003 when a newer version made its
            tables, STORE-004 when no copy can be made before; nothing is changed then.
        DatabaseError: When the database cannot be read or changed.
    """
    if settings.RECORD_KEY is not None and (Path(settings.HOME) / KEY).exists():
        # Left by a command that encrypted the record and was killed before its end.
        forget_copies()
    if whole.unknown_migrations(whole.migrations_run()):
        raise StorageError(_newer())
    done = None
    if state.pending_migrations():
        if is_served:
            raise StorageError(_others())
        try:
            with one_version.alone(wait_s):
                done = _bring(now)
        except one_version.OthersError:
            raise StorageError(_others()) from None
    one_version.join()
    return done


def _bring(now: datetime) -> Upgraded:
    before = state.newest_migration()
    copy = _copy(now) if whole.holds_anything() else None
    steps.bring_up_to_date()
    return Upgraded(before=before, after=state.newest_migration(), copy=copy)


def _copy(now: datetime) -> Made:
    home = Path(settings.HOME)
    folder, key_file = home / FOLDER, home / KEY
    try:
        if settings.RECORD_KEY is not None:
            # A key beside the copy would give away what the record keeps.
            key_file, key = Path(os.environ[VARIABLE]), copies_key(settings.RECORD_KEY)
        else:
            key = read_key(key_file) if key_file.exists() else new_key(key_file)
        folder.mkdir(mode=OWNERS_FOLDER, exist_ok=True)
        return make_backup(folder, key, now=now, key_file=key_file, keep=KEPT, noted=False)
    except OSError as error:
        raise StorageError(_no_copy(error.strerror or str(error))) from error
    except SufficeError as error:
        raise StorageError(_no_copy(error.problems[0].why), *error.problems) from error


def forget_copies() -> None:
    """Remove the copies of before upgrades, and the key that lies beside them."""
    home = Path(settings.HOME)
    # First: without it the copies are nothing.
    (home / KEY).unlink(missing_ok=True)
    if (home / FOLDER).exists():
        shutil.rmtree(home / FOLDER)
        reaching.forget_folder(home / FOLDER)


def _newer() -> Problem:
    return Problem(
        code="STORE-003",
        what=message("The record was made by a newer version of the program."),
        why=message("This version does not know its tables, and would write into them wrongly."),
        fix=message("Use the version that made them, or a newer one. Nothing has been changed."),
    )


def _others() -> Problem:
    return Problem(
        code="STORE-002",
        what=message("The record is in use, and its tables are those of an older version."),
        why=message("Two versions of the program must not write into one record at once."),
        fix=message("Stop the server and every other command, then start this one again."),
    )


def _no_copy(why: Words) -> Problem:
    return Problem(
        code="STORE-004",
        what=message("The record was not brought up to date: no copy of it could be made before."),
        why=why,
        fix=message(
            "Make room on the disk of the record, then try again. Nothing has been changed."
        ),
    )
