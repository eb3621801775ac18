"""Keep a photograph of a latch, and mark it."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from uuid import UUID, uuid5

import msgspec
from django.db import DatabaseError

from suffice.care.contact.one_latch import check_room
from suffice.care.family.recording import correct_entry, record_following
from suffice.care.photographs import sealed
from suffice.care.photographs.consent import check_consent, erase_ended
from suffice.care.photographs.picture import decoded
from suffice.clinical.entry import Basis, Entry, LatchPhotograph, Record
from suffice.clinical.entry.latch_photograph import KeptPicture
from suffice.errors import SufficeError


def keep_photograph(
    record: Record,
    content: bytes,
    fact: LatchPhotograph,
    *,
    key: UUID,
    infant_id: UUID | None,
    taken_at: datetime | None = None,
    now: datetime,
    actor: str,
) -> None:
    """Put a photograph on the disk and its entry on the record: both, or neither.

    Args:
        record: The family's record.
        content: The file that was chosen.
        fact: What is said of it; its picture is added here.
        key: Client-made id of the entry; a second press keeps the same photograph.
        infant_id: Of whom.
        taken_at: When it was taken, where it waited on a device since; None: now.
        now: The instant.
        actor: Who keeps it.

    Raises:
        InputError: PHOTO-001 to PHOTO-004, PHOTO-009.
        StorageError: PHOTO-005, PHOTO-006, RECORD-009.
    """
    check_consent(record, infant_id)
    if any(one.id == key for one in record.entries):
        return
    picture = decoded(content)
    picture_id = uuid5(key, "picture")
    kept = KeptPicture(
        id=picture_id,
        digest=sealed.digest_of(picture.content),
        width_count=picture.width_count,
        height_count=picture.height_count,
    )
    entry = Entry(
        id=key,
        fact=msgspec.structs.replace(fact, picture=kept),
        basis=Basis.MEASURED,
        true_at=taken_at or now,
        entered_at=now,
        entered_by=actor,
        infant_id=infant_id,
    )

    def once(there: Record) -> tuple[Entry, ...]:
        # The same press may have come by another way, and another device may have been faster.
        if any(one.id == key for one in there.entries):
            return ()
        check_consent(there, infant_id)
        check_room(there, fact)
        # Only here: the consent, or the family, may have gone while the file was read, and whoever
        # takes either away waits for this, and erases after it.
        sealed.keep(record.family_id, picture_id, picture.content)
        return (entry,)

    try:
        record_following(record.family_id, once, now=now)
    except BaseException:
        # Unless another press of the same stored the entry after this one failed.
        with suppress(SufficeError, DatabaseError):
            erase_ended(record.family_id)
        raise


def mark_photograph(
    record: Record,
    entry: Entry,
    fact: LatchPhotograph,
    *,
    key: UUID,
    now: datetime,
    actor: str,
) -> None:
    """Put marks on the record, in the place of those before.

    Args:
        record: The family's record.
        entry: The photograph as it stands.
        fact: The same with new marks, and what is said of it now.
        key: Client-made id of the correction.
        now: The instant.
        actor: Who marked it.

    Raises:
        InputError: MARK-001 to MARK-004; RECORD-004, somebody else was faster.
        StorageError: RECORD-009.
    """
    if any(one.id == key for one in record.entries):
        return
    corrected = msgspec.structs.replace(entry, id=key, fact=fact, entered_at=now, entered_by=actor)
    correct_entry(record.family_id, entry.id, corrected, now=now)
