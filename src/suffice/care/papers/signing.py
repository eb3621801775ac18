"""Sign the note of a contact, and add amendments to it.

What is signed is what was shown: the note as of that instant, in that language, on that sheet. Its words
are kept whole on the record; the entry has an id that follows from the contact, so that a contact has one
signed note however often, or by how many, it is pressed.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Final
from uuid import UUID, uuid5

import msgspec

from suffice.care.family.asking import record_of
from suffice.care.family.recording import record_entry
from suffice.care.papers.making import Asked, folder_of
from suffice.clinical.entry import Amendment, Basis, Entry, Record, SignedNote
from suffice.documents.folder import Folder, Offer
from suffice.documents.kept import digest_of, kept_text, origin_of
from suffice.documents.note import Noted, NotedContact, note
from suffice.documents.page import pdf_of
from suffice.documents.signed_note import Signature
from suffice.errors import InputError, Problem
from suffice.knowledge.policy import Clinic
from suffice.message import message

NOTE: Final = Offer(kind="note", whose=None)
SIGNED: Final = "signed note"
"""Names the entry of the signed note of a contact."""


class Signing(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody signs.

    Attributes:
        asked: How the note was shown; its author signs.
        seen: Digest of the note as it was shown.
        now: The instant.
        actor: The name that they sign in with.
    """

    asked: Asked
    seen: str
    now: datetime
    actor: str


def sign(family_id: UUID, signing: Signing, rules: Clinic, home: Path) -> UUID:
    """Sign the note of the last contact.

    Args:
        family_id: The family.
        signing: What is signed, by whom.
        rules: The clinic as it is set up.
        home: A folder of our own, in which the fonts are kept.

    Returns:
        The id of the signed note; that of the first, where the same person presses twice.

    Raises:
        InputError: SIGN-001, the contact is in progress or there is none; SIGN-002, somebody else has
            signed it; SIGN-003, the note is not any more what was shown.
        StorageError: PAPER-001, RECORD-009.
    """
    folder = folder_of(family_id, signing.asked, rules)
    contact = folder.contact
    if contact is None or contact.end is None:
        raise InputError(_in_progress())
    key = uuid5(contact.id, SIGNED)
    there = _entry(record_of(family_id), key)
    if there is not None:
        if there.entered_by == signing.actor:
            return key
        raise InputError(_signed_already(there))
    if digest_of(_noted(folder, contact).paper) != signing.seen:
        raise InputError(_changed())
    signature = Signature(by=signing.asked.author, at=signing.now)
    noted = _noted(folder, contact, signature)
    fact = SignedNote(
        contact_id=contact.id,
        origin=origin_of(folder.source, noted.paper, pdf_of(noted.paper, home)),
        words=kept_text(noted.paper),
        rests_on=noted.rests_on,
    )
    try:
        record_entry(family_id, _made(key, fact, signing.now, signing.actor), now=signing.now)
    except InputError:
        # Somebody else was faster: what they signed stands.
        faster = _entry(record_of(family_id), key)
        if faster is None:
            raise
        if faster.entered_by == signing.actor:
            return key
        raise InputError(_signed_already(faster)) from None
    return key


def amend(
    family_id: UUID, note_id: UUID, text: str, *, key: UUID, now: datetime, actor: str
) -> None:
    """Add an amendment to a signed note.

    Args:
        family_id: The family.
        note_id: The signed note.
        text: What is added.
        key: Client-made id; a second press adds nothing.
        now: The instant.
        actor: Who adds it.

    Raises:
        InputError: SIGN-004, nothing is written; SIGN-005, the family has no such signed note.
        StorageError: RECORD-009.
    """
    record = record_of(family_id)
    if _entry(record, key) is not None:
        return
    if not text.strip():
        raise InputError(_empty())
    signed = _entry(record, note_id)
    if signed is None or not isinstance(signed.fact, SignedNote):
        raise InputError(_no_note())
    fact = Amendment(note_id=note_id, text=text.strip())
    record_entry(family_id, _made(key, fact, now, actor), now=now)


def _noted(folder: Folder, contact: NotedContact, signature: Signature | None = None) -> Noted:
    noted = note(folder.source, contact, folder.problems, signature)
    return msgspec.structs.replace(noted, paper=folder.cited(noted.paper, NOTE))


def _made(key: UUID, fact: SignedNote | Amendment, now: datetime, actor: str) -> Entry:
    return Entry(
        id=key, fact=fact, basis=Basis.OBSERVED, true_at=now, entered_at=now, entered_by=actor
    )


def _entry(record: Record, key: UUID) -> Entry | None:
    return next((one for one in record.entries if one.id == key), None)


def _in_progress() -> Problem:
    return Problem(
        code="SIGN-001",
        what=message("The contact is not over."),
        why=message("A note is signed once nothing is added to its contact any more."),
        fix=message("End the contact, then read the note and sign it."),
    )


def _signed_already(there: Entry) -> Problem:
    return Problem(
        code="SIGN-002",
        what=message("{who} has signed this note already.", who=there.entered_by),
        why=message("A contact has one signed note, and it never changes."),
        fix=message("Read it, and add an amendment where you would say more."),
    )


def _changed() -> Problem:
    return Problem(
        code="SIGN-003",
        what=message("The note is not any more what was shown."),
        why=message("The content or the policy of the clinic changed in the meantime."),
        fix=message("Read it again, then sign it."),
    )


def _empty() -> Problem:
    return Problem(
        code="SIGN-004",
        what=message("Nothing is written."),
        why=message("An amendment says what is otherwise, or what was left out."),
        fix=message("Write it in a sentence."),
        where="text",
    )


def _no_note() -> Problem:
    return Problem(
        code="SIGN-005",
        what=message("There is no such signed note."),
        why=message("An amendment belongs to one."),
        fix=message("Sign the note first."),
    )
