"""Asking about one family: its record and its assessment as of an instant.

An assessment is pure, so the same question about the same record has the same answer; the last few
are kept, because a page and its charts ask the same thing within a second.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from datetime import datetime
from threading import Lock
from uuid import UUID

import msgspec

from suffice.assess.assessment import ENGINE_VERSION, assess
from suffice.assess.in_care import can_be_taken
from suffice.assess.results import FamilyAssessment, Finding
from suffice.care.clinic.clinic import clinic
from suffice.clinical.entry import Record
from suffice.knowledge.policy import Clinic
from suffice.knowledge.schema import LEVELS
from suffice.record import arrival, repository
from suffice.record.arrival import Imported

__all__ = ["Answer", "Imported", "ask", "imported_of", "open_flags", "record_name", "record_of"]

KEPT_ANSWERS = 64


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """A family's whole record and what was computed from it."""

    record: Record
    assessment: FamilyAssessment


_Key = tuple[UUID, str, str, int, datetime, datetime | None]
_kept: OrderedDict[_Key, FamilyAssessment] = OrderedDict()
_lock = Lock()


def record_of(family_id: UUID) -> Record:
    """The whole record of a family.

    Raises:
        InputError: RECORD-001, when there is no such family.
        StorageError: RECORD-010.
    """
    return repository.read(family_id)


def ask(
    family_id: UUID,
    *,
    as_of: datetime,
    known_by: datetime | None = None,
    rules: Clinic | None = None,
) -> Answer:
    """The record of a family and its assessment as of an instant.

    Args:
        family_id: The family.
        as_of: Aware instant of the question; later facts are not used.
        known_by: Leaves out what was entered later, and what was imported later, whenever it says
            that it was entered: 'what did we know then'. The record of the answer is without it.
        rules: The clinic as it is set up; None reads it.

    Raises:
        InputError: RECORD-001, when there is no such family.
        StorageError: RECORD-010.
    """
    here = rules or clinic()
    record = repository.read(family_id)
    if known_by is not None:
        record = _known_here(record, known_by)
    return ask_of(record, as_of=as_of, known_by=known_by, rules=here)


def ask_of(
    record: Record, *, as_of: datetime, known_by: datetime | None = None, rules: Clinic
) -> Answer:
    """The same of a record that was read already.

    Args:
        record: The whole record; with `known_by` what was known here by then.
        as_of: Aware instant of the question.
        known_by: As for :func:`ask`.
        rules: The clinic as it is set up.
    """
    here = rules
    newest = record_name(record)
    key = (
        record.family_id,
        newest,
        here.content_key + ENGINE_VERSION,
        here.policy_version,
        as_of,
        known_by,
    )
    with _lock:
        found = _kept.get(key)
    if found is None:
        found = assess(record, as_of, here.content, here.policy, known_by=known_by)
        with _lock:
            _kept[key] = found
            while len(_kept) > KEPT_ANSWERS:
                _kept.popitem(last=False)
    return Answer(record=record, assessment=found)


def _known_here(record: Record, known_by: datetime) -> Record:
    """The record as it was here by an instant."""
    came = arrival.imported(record.family_id)
    known = (
        entry
        for entry in record.entries
        if entry.entered_at <= known_by and (entry.id not in came or came[entry.id].at <= known_by)
    )
    return msgspec.structs.replace(record, entries=tuple(known))


def imported_of(family_id: UUID) -> Mapping[UUID, Imported]:
    """Of each imported entry of a family, who brought it here and when."""
    return arrival.imported(family_id)


def open_flags(record: Record, *, now: datetime, rules: Clinic) -> tuple[Finding, ...]:
    """What is flagged of a family now, by the plain rules, the most urgent first.

    Args:
        record: The whole record.
        now: The instant of the question.
        rules: The clinic as it is set up.
    """
    assessed = assess(record, now, rules.content, rules.policy, engine=False)
    found = [*assessed.findings, *(one for infant in assessed.infants for one in infant.findings)]
    asked = (one for one in found if can_be_taken(one) or one.known)
    return tuple(sorted(asked, key=lambda one: LEVELS.index(one.level)))


def record_name(record: Record) -> str:
    """What tells two states of a record apart: entries are only ever appended."""
    last = record.entries[-1].id if record.entries else ""
    return f"{len(record.entries)}:{last}"
