"""Who agrees to photographs, and what happens to them when somebody no longer does."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from suffice.care.photographs import sealed
from suffice.clinical.entry import Consent, Entry, LatchPhotograph, Record, Withdrawal, standing
from suffice.clinical.entry.consent import last_words
from suffice.errors import InputError, Problem
from suffice.message import message


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


def erase_ended(record: Record) -> None:
    """Erase each picture to which nobody agrees any more, or whose entry was withdrawn.

    Its entry stays, with the marks: they are measures, not the picture.
    """
    named = {
        one.fact.picture.id
        for one in standing(record.entries)
        if isinstance(one.fact, LatchPhotograph) and one.fact.picture
    }
    for entry, fact in photographs(record):
        if fact.picture and (fact.picture.id not in named or not agrees(record, entry.infant_id)):
            sealed.erase(record.family_id, fact.picture.id)
