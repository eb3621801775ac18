"""Who agrees to photographs, and what happens to them when somebody no longer does."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from uuid import UUID

from suffice.care.photographs import sealed
from suffice.clinical.entry import Consent, Entry, LatchPhotograph, Record, Withdrawal, standing
from suffice.clinical.entry.consent import last_words
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import repository


def agrees(record: Record, infant_id: UUID | None) -> bool:
    """Whether photographs of an infant at the breast may be kept.

    Each person's last word counts. The parent is always in the picture, so somebody must agree and
    neither the parent nor the infant's own consent may have ended.
    """
    last = last_words(standing(record.entries), "photograph")
    words = [given for whose, given in last.items() if whose in {None, infant_id}]
    return bool(words) and all(words)


def check_consent(record: Record, infant_id: UUID | None) -> None:
    """Refuse a photograph to which nobody agreed.

    Raises:
        InputError: PHOTO-001.
    """
    if not agrees(record, infant_id):
        raise InputError(
            Problem(
                code="PHOTO-001",
                what=message("A photograph"),
                why=message("is kept only once the family has agreed to it, with a date."),
                fix=message("Ask, and enter the consent to photographs first."),
                where="photo",
            )
        )


def photographs(record: Record) -> list[tuple[Entry, LatchPhotograph]]:
    """Every entry of a photograph, superseded and withdrawn ones included."""
    return [(one, one.fact) for one in record.entries if isinstance(one.fact, LatchPhotograph)]


def may_end(entries: Iterable[Entry]) -> bool:
    """Whether new entries may end a consent, or take a photograph back."""
    return any(isinstance(one.fact, Consent | Withdrawal) for one in entries)


def erase_ended(family_id: UUID) -> None:
    """Erase each picture to which nobody agrees any more, or whose entry was withdrawn or never stored.

    The entry of one that ended stays, with the marks: they are measures, not the picture. Pictures are
    put on the disk by whoever writes to the family (:func:`suffice.care.contact.photograph.keep_photograph`),
    so while nobody else does, one that no entry names was left by a program that was stopped.

    Raises:
        InputError: RECORD-001, when there is no such family.
        StorageError: RECORD-009, RECORD-010.
    """
    with repository.one_writer(family_id):
        record = repository.read(family_id)
        named = {
            one.fact.picture.id
            for one in standing(record.entries)
            if isinstance(one.fact, LatchPhotograph)
            and one.fact.picture
            and agrees(record, one.infant_id)
        }
        sealed.erase_others(family_id, named)


def erase_ended_everywhere() -> None:
    """Finish what a program that was stopped did not come to, of every family that has pictures.

    Raises:
        StorageError: RECORD-009, RECORD-010.
    """
    for family_id in sealed.families():
        with suppress(InputError):  # erased meanwhile: its pictures go with it
            erase_ended(family_id)
