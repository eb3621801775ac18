"""Contacts, notes and withdrawals."""

from __future__ import annotations

import msgspec
import pytest

from clinical_constants import hours
from entry_limits import codes, problems, read
from suffice.clinical.entry.contact import SETTING, Contact, Note, Setting, Withdrawal
from suffice.clinical.entry.field import Moment, Written, fields_of


@pytest.mark.parametrize(
    ("due_h", "expected"),
    [(None, []), (73, []), (72, ["CONTACT-001"]), (71, ["CONTACT-001"])],
)
def test_the_next_contact_lies_after_this_one(due_h, expected):
    due = None if due_h is None else hours(due_h)
    fact = Contact(setting=Setting.HOME, next_due_at=due)
    assert codes(fact, infant_id=None, current=()) == expected
    assert codes(fact, infant_id=None) == expected


def test_a_next_contact_in_the_past_is_a_question_about_its_own_field():
    (problem,) = problems(Contact(setting=Setting.HOME, next_due_at=hours(1)), infant_id=None)
    assert (problem.where, problem.doubtful) == ("next_due_at", True)


def test_the_next_contact_may_lie_ahead_of_the_entry():
    declared = fields_of(Contact)["next_due_at"]
    assert isinstance(declared, Moment)
    assert not declared.is_past


def test_every_place_of_care_can_be_chosen_once():
    chosen = [value for value, _ in SETTING.choices]
    assert sorted(chosen) == sorted(Setting)
    assert [Setting(value) for value in chosen] == [
        read(kind="contact", setting=value).setting for value in chosen
    ]


def test_a_contact_says_where_and_ends_no_care_of_itself():
    with pytest.raises(msgspec.ValidationError, match="setting"):
        read(kind="contact")
    with pytest.raises(msgspec.ValidationError):
        read(kind="contact", setting="car")
    contact = Contact(setting=Setting.PHONE)
    assert (contact.discharged, contact.next_due_at) == (False, None)


def test_a_note_has_room_for_a_visit_and_a_reason_for_a_sentence():
    note, reason = fields_of(Note)["text"], fields_of(Withdrawal)["reason"]
    assert isinstance(note, Written)
    assert isinstance(reason, Written)
    assert note.is_long
    assert not reason.is_long
    assert note.longest_characters > reason.longest_characters > 0


@pytest.mark.parametrize("fields", [{"kind": "note"}, {"kind": "withdrawal"}, {"kind": "gossip"}])
def test_words_that_were_not_said_are_refused(fields):
    with pytest.raises(msgspec.ValidationError):
        read(**fields)


def test_whose_each_can_be():
    assert Contact.declared.about == "parent"
    assert {Note.declared.about, Withdrawal.declared.about} == {"either"}
