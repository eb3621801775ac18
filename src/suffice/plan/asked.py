"""Of a record and its assessment: what a plan for one infant is proposed from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final
from uuid import UUID
from zoneinfo import ZoneInfo

from suffice.assess.problems import problems_of
from suffice.assess.results import FamilyAssessment
from suffice.clinical.entry import Entry, ProblemStatus, Record
from suffice.knowledge.store import Content
from suffice.plan.known import Asked

STILL_OPEN: Final = frozenset({"open", "better"})
"""What was decided of a problem that is not over."""


def asked_of(
    record: Record,
    assessment: FamilyAssessment,
    infant_id: UUID,
    content: Content,
    zone: ZoneInfo,
    contact_id: UUID | None = None,
) -> Asked:
    """What a plan for one infant is proposed from.

    A problem counts where it is named, unless it was decided that it is settled or is none; and where
    it was decided that it is open.

    Args:
        record: The whole record.
        assessment: What was assessed of it, with the same content.
        infant_id: One of its infants.
        content: The content in force.
        zone: The clinic's.
        contact_id: The contact whose look counts; None for the latest one.
    """
    infant = next(one for one in assessment.infants if one.infant_id == infant_id)
    entries = record.entries_at(assessment.as_of)
    found = problems_of(record, assessment, content, contact_id=contact_id)[infant_id]
    decided = _decided(entries, infant_id)
    named = {one.key for one in found.named if decided.get(one.key, "open") in STILL_OPEN}
    return Asked(
        infant=infant,
        of_parent=assessment.findings,
        entries=entries,
        as_of=assessment.as_of,
        content=content,
        zone=zone,
        problems=frozenset(named | {key for key, one in decided.items() if one in STILL_OPEN}),
    )


def _decided(entries: Iterable[Entry], infant_id: UUID) -> dict[str, str]:
    """The last decision on each problem of the infant and of the parent."""
    return {
        one.fact.problem: one.fact.status
        for one in entries
        if isinstance(one.fact, ProblemStatus) and one.infant_id in {infant_id, None}
    }
