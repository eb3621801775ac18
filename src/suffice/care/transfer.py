"""Whole families in and out as JSON files."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

import msgspec

from suffice.care.clinic import clinic
from suffice.care.plausible import checker
from suffice.care.standing import refresh
from suffice.errors import InputError
from suffice.exchange.family_json import Decoded, FamilyFile, decode, encode
from suffice.knowledge.store import load
from suffice.record import repository
from suffice.record.standing import Appended


class Imported(msgspec.Struct, frozen=True, kw_only=True):
    """What an import did; a file imported before adds nothing."""

    family_id: UUID
    is_new: bool
    appended: Appended


def read_family_file(content: bytes) -> Decoded:
    """A family file, checked against the content as it ships; touches no record.

    Raises:
        InputError: FAMILY-001 to FAMILY-005, RECORD-003 to RECORD-007 and impossible values.
    """
    return decode(content, checker(load()))


def import_family(content: bytes, *, now: datetime, confirmed: bool = False) -> Imported:
    """Put a family file on the record, whole or not at all; entries already there are left alone.

    Args:
        content: The bytes of the file.
        now: The instant, for the family's standing.
        confirmed: True when the reader has confirmed the doubtful values in it.

    Raises:
        InputError: As :func:`read_family_file`; RECORD-001 to RECORD-008. Doubtful values raise too
            until they are confirmed.
        StorageError: RECORD-009.
    """
    here = clinic()
    decoded = decode(content, checker(here.content))
    if decoded.doubts and not confirmed:
        raise InputError(*decoded.doubts)
    head, record = decoded.file.family, decoded.file.record
    with repository.one_transaction():
        is_new = repository.open_family(
            record.family_id,
            record.infants,
            opened_at=head.opened_at,
            opened_by=head.opened_by,
        )
        appended = repository.append(record.family_id, record.entries, exact=True)
    if is_new or appended.new:
        refresh([record.family_id], here, now=now)
    return Imported(family_id=record.family_id, is_new=is_new, appended=appended)


def export_family(family_id: UUID) -> bytes:
    """A family as a JSON file; importing it elsewhere gives the same record.

    Raises:
        InputError: RECORD-001, when there is no such family.
        StorageError: RECORD-010.
    """
    record = repository.read(family_id)
    opened_at, opened_by = repository.opening(family_id)
    return encode(FamilyFile.of(record, opened_at=opened_at, opened_by=opened_by))
