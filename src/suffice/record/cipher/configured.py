"""Which key the environment names for the record, and whether it is that of the file which is there.

Said before anything is opened: a key that is named and encrypts nothing, and a record whose key is not
named, are refused in words of our own.
"""

from __future__ import annotations

import os
from importlib.util import find_spec
from pathlib import Path

from suffice.errors import InputError, Problem, StorageError
from suffice.message import message
from suffice.record.cipher.key import KEPT_AS, VARIABLE, Kind, Looked, RecordKey, look

RECORD = "suffice.sqlite3"
"""The name of the record's file."""
DRIVER = "sqlcipher3"
ENDING = ".changing"


def unfinished(record: Path) -> Path:
    """Where the new file is while a record is encrypted; what a killed command left there is nothing."""
    return record.with_name(record.name + ENDING)


def key_of(record: Path) -> RecordKey | None:
    """The key of the record; None where it is not encrypted, and is not to be.

    Raises:
        InputError: STORE-005, STORE-006, of a file that is no key or that others read; STORE-007 and
            STORE-008, when record and environment do not go together.
        StorageError: STORE-009, another key; STORE-010, what opens it is not installed.
        OSError: When the record cannot be read.
    """
    named, found = os.environ.get(VARIABLE, ""), look(record)
    if not named:
        if found.kind is Kind.ENCRYPTED:
            raise InputError(_no_key_named(record, found))
        return None
    need_driver()
    key = RecordKey(secret=KEPT_AS.read(Path(named)))
    if found.kind is Kind.PLAIN:
        raise InputError(_not_encrypted(record))
    need_own(record, found, key)
    return key


def need_driver() -> None:
    """Refuse where what opens encrypted files is not installed.

    Raises:
        StorageError: STORE-010.
    """
    if find_spec(DRIVER) is None:
        raise StorageError(_no_driver())


def need_own(record: Path, found: Looked, key: RecordKey) -> None:
    """Refuse where a file was encrypted with another key.

    Raises:
        StorageError: STORE-009.
    """
    if found.kind is Kind.ENCRYPTED and found.key_id != key.id:
        raise StorageError(_other_key(record, found, key))


def refuse_key() -> None:
    """Refuse a key where the record is not in SQLite: it would encrypt nothing.

    Raises:
        InputError: STORE-011.
    """
    if os.environ.get(VARIABLE):
        raise InputError(
            Problem(
                code="STORE-011",
                what=VARIABLE,
                why=message(
                    "encrypts a record in SQLite, and DATABASE_URL names another database."
                ),
                fix=message(
                    "Leave one of them out. With PostgreSQL the disk of its server must be encrypted."
                ),
                where=VARIABLE,
            )
        )


def _no_key_named(record: Path, found: Looked) -> Problem:
    return Problem(
        code="STORE-007",
        what=str(record),
        why=message("is encrypted with the key {id}, and no key is named.", id=found.key_id.hex()),
        fix=message("Name the file of its key with {variable}.", variable=VARIABLE),
        where=VARIABLE,
    )


def _not_encrypted(record: Path) -> Problem:
    return Problem(
        code="STORE-008",
        what=str(record),
        why=message("is not encrypted, and {variable} names a key for it.", variable=VARIABLE),
        fix=message(
            "Encrypt it: stop the server, then suffice encrypt. Or leave {variable} out.",
            variable=VARIABLE,
        ),
        where=VARIABLE,
    )


def _other_key(record: Path, found: Looked, key: RecordKey) -> Problem:
    return Problem(
        code="STORE-009",
        what=str(record),
        why=message(
            "is encrypted with the key {its}, and the key that is named is {named}.",
            its=found.key_id.hex(),
            named=key.id.hex(),
        ),
        fix=message("Name the file of its own key with {variable}.", variable=VARIABLE),
        where=VARIABLE,
    )


def _no_driver() -> Problem:
    return Problem(
        code="STORE-010",
        what=VARIABLE,
        why=message("names a key, and what opens encrypted records is not installed."),
        fix=message("Install it: python3 tools/setup.py encrypted."),
        where=VARIABLE,
    )
