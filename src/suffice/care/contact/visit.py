"""What a contact holds: its questions, the answers so far, those of the contact before, what is open.

A contact in progress is a `ContactStart` after which no `Contact` stands; its id is that of its start.
Every answer is an entry of its own, on the record the moment it is given.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple
from uuid import UUID

import msgspec

from suffice.clinical.entry import (
    Contact,
    ContactStart,
    Entry,
    Observation,
    Record,
    Side,
    standing,
)
from suffice.clinical.entry.consent import last_words
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import Content

BOTH: Side = "both"
SIDES: tuple[Side, Side] = ("left", "right")


class Question(NamedTuple):
    """One thing to look at or to ask: a word of the vocabulary, of whom, on which side."""

    what: str
    infant_id: UUID | None
    side: Side | None


Answers = Mapping[Question, tuple[Entry, ...]]
"""The entries that answer a question, in order of time; more than one where two people differ."""


class Visit(msgspec.Struct, frozen=True, kw_only=True):
    """A contact in progress.

    Attributes:
        id: The id under which its entries belong together: that of its start as first entered.
        start: Its start, as last corrected.
        place: Where it takes place.
        answers: The answers of this contact.
        before: The last answer before this contact.
        during: Every entry of the family that stands and was entered since the start.
        is_agreed: Whether all who were asked agree to assessing and care; None: nobody was.
    """

    id: UUID
    start: Entry
    place: str
    answers: Answers
    before: Mapping[Question, Entry]
    during: tuple[Entry, ...]
    is_agreed: bool | None


def visit_of(record: Record) -> Visit | None:
    """The contact that is in progress, with its answers; None where there is none."""
    entries = standing(record.entries)
    start = _last_start(record, entries)
    if start is None or not isinstance(start.fact, ContactStart):
        return None
    visit_id = first_id(record, start)
    own: dict[Question, list[Entry]] = {}
    before: dict[Question, Entry] = {}
    for entry in entries:
        if not isinstance(entry.fact, Observation):
            continue
        for question in questions_of(entry):
            if entry.fact.contact_id == visit_id:
                own.setdefault(question, []).append(entry)
            elif entry.true_at <= start.true_at and entry.fact.answer is not None:
                before[question] = entry
    agreed = last_words(entries, "assess").values()
    return Visit(
        id=visit_id,
        start=start,
        place=start.fact.place,
        answers={question: tuple(found) for question, found in own.items()},
        before=before,
        during=tuple(e for e in entries if e.entered_at >= start.entered_at and e is not start),
        is_agreed=all(agreed) if agreed else None,
    )


def questions_of(entry: Entry) -> tuple[Question, ...]:
    """What an observation answers: of both sides each side."""
    fact = entry.fact
    if not isinstance(fact, Observation):
        return ()
    sides: Sequence[Side | None] = SIDES if fact.side == BOTH else (fact.side,)
    return tuple(Question(fact.what, entry.infant_id, side) for side in sides)


def asked_in(content: Content, part: str, infants: Iterable[UUID]) -> dict[Question, Observable]:
    """The questions of one part: of the parent, and of each infant; side by side where it has sides."""
    of_infants = tuple(infants)
    found: dict[Question, Observable] = {}
    for key, one in content.vocabularies[FOLDER].items():
        if not isinstance(one, Observable) or one.part != part:
            continue
        for whose in of_infants if one.about == "infant" else (None,):
            for side in SIDES if one.by_side else (None,):
                found[Question(key, whose, side)] = one
    return found


def as_expected(asked: Mapping[Question, Observable], answers: Answers) -> dict[Question, str]:
    """What 'I looked: as expected' says of a part: of each open question its one expected answer.

    Only what the consultant sees for herself: what has to be asked is never taken as answered. A
    question with several expected answers, or with none, is left for her to answer.
    """
    return {
        question: one.expected[0]
        for question, one in asked.items()
        if "consultant" in one.by and len(one.expected) == 1 and not is_answered(answers, question)
    }


def is_answered(answers: Answers, question: Question) -> bool:
    """Whether a question has an answer."""
    return any(
        isinstance(entry.fact, Observation) and entry.fact.answer is not None
        for entry in answers.get(question, ())
    )


def first_id(record: Record, entry: Entry) -> UUID:
    """The id of an entry before it was ever corrected: what belongs to it names that one."""
    every = {one.id: one for one in record.entries}
    while entry.replaces in every:
        entry = every[entry.replaces]
    return entry.id


def _last_start(record: Record, entries: Sequence[Entry]) -> Entry | None:
    """The start of the contact that is in progress."""
    starts = [entry for entry in entries if isinstance(entry.fact, ContactStart)]
    if not starts:
        return None
    last = starts[-1]
    visit_id = first_id(record, last)
    is_over = any(ends(entry, last, visit_id) for entry in entries)
    return None if is_over else last


def ends(entry: Entry, start: Entry, visit_id: UUID) -> bool:
    """Whether a contact that was entered ends the one that is in progress: a colleague's call does not."""
    fact = entry.fact
    if not isinstance(fact, Contact):
        return False
    if fact.contact_id is not None:
        # It says so itself; its time may be of the minute in which the contact began.
        return fact.contact_id == visit_id
    return entry.true_at >= start.true_at and entry.entered_by == start.entered_by
