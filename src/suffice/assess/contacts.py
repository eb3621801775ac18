"""What the contacts of a family say: the last one, when somebody saw the family, what is planned, whether care has ended."""

from __future__ import annotations

from datetime import datetime

from suffice.clinical.entry import Contact, Entry, Setting


def last_contact(entries: tuple[Entry, ...]) -> Contact | None:
    """The latest contact; None where there is none."""
    return next((one.fact for one in reversed(entries) if type(one.fact) is Contact), None)


def seen_at(entries: tuple[Entry, ...]) -> datetime | None:
    """When the family was last seen at a contact: on the phone nobody sees an infant."""
    for one in reversed(entries):
        if type(one.fact) is Contact and one.fact.setting != Setting.PHONE:
            return one.true_at
    return None


def next_due(entries: tuple[Entry, ...]) -> datetime | None:
    """What the last contact planned; what one before it planned, where that was written down later.

    A contact entered with an earlier time, after the family was opened, still plans the next one:
    whoever wrote the last contact could not know of it.
    """
    contacts = [(entry, entry.fact) for entry in entries if type(entry.fact) is Contact]
    if not contacts:
        return None
    last, latest = contacts[-1]
    if latest.next_due_at is not None:
        return latest.next_due_at
    for entry, fact in reversed(contacts[:-1]):
        planned = fact.next_due_at
        if planned and entry.entered_at > last.entered_at and planned > last.true_at:
            return planned
    return None


def is_discharged(entries: tuple[Entry, ...]) -> bool:
    """Whether the last contact ended the work, and nothing was seen since: then they are back."""
    return discharge_of(entries) is not None


def discharge_of(entries: tuple[Entry, ...]) -> Entry | None:
    """The contact that ended the work; None where none did, or something was seen since."""
    for entry in reversed(entries):
        if entry.true_at < entries[-1].true_at:
            break
        if isinstance(entry.fact, Contact):
            return entry if entry.fact.discharged else None
    return None
