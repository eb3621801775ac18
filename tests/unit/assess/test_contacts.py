"""What the contacts of a family say."""

from __future__ import annotations

from datetime import timedelta

from msgspec.structs import replace

from people import BORN_AT, an_entry
from suffice.assess.contacts import discharge_of, is_discharged, last_contact, next_due, seen_at
from suffice.clinical.entry import Contact, Setting, Wet


def a_contact(at_h: float, *, written_h: float | None = None, **fields):
    contact = Contact(**{"setting": Setting.CLINIC, **fields})
    entry = an_entry(f"contact {at_h}", contact, infant=None, at_h=at_h)
    if written_h is None:
        return entry
    return replace(entry, entered_at=BORN_AT + timedelta(hours=written_h))


def test_without_a_contact_nothing_is_said():
    assert (last_contact(()), seen_at(()), next_due(()), discharge_of(())) == (None,) * 4


def test_the_last_contact_counts():
    assert last_contact((a_contact(5), a_contact(9, setting=Setting.HOME))).setting == Setting.HOME


def test_on_the_phone_nobody_is_seen():
    entries = (a_contact(5), a_contact(9, setting=Setting.PHONE))
    assert seen_at(entries) == BORN_AT + timedelta(hours=5)


def test_what_the_last_contact_planned_is_due():
    due = BORN_AT + timedelta(hours=50)
    assert next_due((a_contact(5), a_contact(9, next_due_at=due))) == due


def test_an_earlier_contact_written_later_still_plans_the_next():
    due = BORN_AT + timedelta(hours=50)
    assert next_due((a_contact(5, written_h=10, next_due_at=due), a_contact(9))) == due


def test_care_ends_until_something_is_seen_again():
    ended = a_contact(5, discharged=True)
    assert is_discharged((ended,))
    assert not is_discharged((ended, an_entry("wet", Wet(), infant=None, at_h=6)))
