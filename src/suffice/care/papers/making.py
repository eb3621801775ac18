"""The papers of a family: which there are, and each made from the record as it was known then.

A paper is made from what was on the record at its instant, so it can be made again to the byte however
much is entered later; a change of content or policy is seen in its foot.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

import msgspec

from suffice.assess.private import open_entries, without_private
from suffice.assess.problems import problems_of
from suffice.care.contact.visit import ends, first_id
from suffice.care.family.asking import ask
from suffice.clinical.entry import ContactStart, Observation, Record
from suffice.clinical.entry.consent import consents
from suffice.documents.folder import Folder
from suffice.documents.frame import Source
from suffice.documents.note import NotedContact
from suffice.knowledge.policy import Clinic, Language, PaperSize
from suffice.knowledge.store import Content


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """How a paper is wanted.

    Attributes:
        as_of: For when it says what it says, and by when an entry had to be on the record.
        language: Its language.
        size: The sheet.
        author: Who hands it out, as people call them.
        people: What people are called, by the names that they sign in with.
        is_cited: Whether papers for clinicians have their sources behind them.
    """

    as_of: datetime
    language: Language
    size: PaperSize
    author: str
    people: Mapping[str, str] = {}
    is_cited: bool = False


def folder_of(family_id: UUID, asked: Asked, rules: Clinic) -> Folder:
    """All that the papers of a family are made from.

    Args:
        family_id: The family.
        asked: How the papers are wanted.
        rules: The clinic as it is set up.

    Raises:
        InputError: RECORD-001, when there is no such family.
        StorageError: RECORD-010.
    """
    found = ask(family_id, as_of=asked.as_of, known_by=asked.as_of, rules=rules)
    record = found.record
    entries = open_entries(record.entries_at(asked.as_of), rules.content)
    source = Source(
        assessment=without_private(found.assessment, rules.content),
        entries=entries,
        content=rules.content,
        policy=msgspec.structs.replace(rules.policy, language=asked.language),
        size=asked.size,
        author=asked.author,
        people=asked.people,
        revision=len(record.entries),
        policy_version=rules.policy_version,
    )
    contact = noted_contact(record, asked.as_of, rules.content)
    problems = problems_of(
        record,
        found.assessment,
        rules.content,
        contact_id=None if contact is None else contact.id,
    )
    return Folder(
        record=record,
        source=source,
        problems=problems,
        contact=contact,
        is_cited=asked.is_cited,
    )


def noted_contact(record: Record, as_of: datetime, content: Content) -> NotedContact | None:
    """The last contact that began by an instant, over or not; None where none did.

    Args:
        record: The record as it was known then.
        as_of: The instant.
        content: What says which signs are private; of them nothing is noted.
    """
    entries = open_entries(record.entries_at(as_of), content)
    starts = [one for one in entries if isinstance(one.fact, ContactStart)]
    if not starts:
        return None
    start = starts[-1]
    visit_id = first_id(record, start)
    end = next((one for one in entries if ends(one, start, visit_id)), None)
    last = end.entered_at if end else as_of
    return NotedContact(
        id=visit_id,
        start=start,
        end=end,
        observations=tuple(
            one
            for one in entries
            if isinstance(one.fact, Observation) and one.fact.contact_id == visit_id
        ),
        during=tuple(
            one
            for one in entries
            if start.entered_at <= one.entered_at <= last and one is not start
        ),
        consents=consents(entries),
    )
