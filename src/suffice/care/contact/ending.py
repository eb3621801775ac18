"""Ending a contact: once, however many devices have its last page open."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from suffice.care.clinic.people import full_names
from suffice.care.family.recording import record_following
from suffice.clinical.entry import Contact, Entry, Record, standing
from suffice.errors import InputError, Problem
from suffice.message import Instant, message


def end(record: Record, entry: Entry, *, now: datetime, confirmed: bool = False) -> Entry:
    """Put the end of a contact on the record, unless it has ended.

    A second end that says the same is the same end. One that says otherwise, another day for the next contact say,
    is not stored beside the first, and takes its place only as a correction of it.

    Args:
        record: The family's record.
        entry: The end, as a device sends it; it names the contact that it ends.
        now: The instant of entering.
        confirmed: True when the reader has confirmed doubtful values.

    Returns:
        The end that stands: this one, or that of another device which says the same.

    Raises:
        InputError: CONTACT-002, it has ended otherwise; and as :func:`record_following`.
        StorageError: RECORD-009, RECORD-010.
    """
    ended = entry

    def once(there: Record) -> Sequence[Entry]:
        nonlocal ended
        if any(one.id == entry.id for one in there.entries):
            return (entry,)
        first = _end_of(there, entry)
        if first is None:
            return (entry,)
        if first.fact != entry.fact:
            raise InputError(_ended_otherwise(first))
        ended = first
        return ()

    record_following(record.family_id, once, now=now, confirmed=confirmed)
    return ended


def _end_of(record: Record, entry: Entry) -> Entry | None:
    """The end that stands of the contact that an entry ends."""
    for one in standing(record.entries):
        if (
            isinstance(one.fact, Contact)
            and isinstance(entry.fact, Contact)
            and one.fact.contact_id == entry.fact.contact_id
        ):
            return one
    return None


def _ended_otherwise(first: Entry) -> Problem:
    return Problem(
        code="CONTACT-002",
        what=message(
            "This contact has ended already: {who} entered its end ({at}).",
            who=full_names().get(first.entered_by, first.entered_by),
            at=Instant(first.entered_at),
        ),
        why=message("That end says something else than this one, and a contact ends once."),
        fix=message(
            "Look at it on the family's page, and correct it there where this one is right."
        ),
    )
