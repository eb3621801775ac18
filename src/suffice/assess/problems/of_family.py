"""The problems of a family: for each infant with its parent, from record and assessment."""

from __future__ import annotations

from collections.abc import Collection
from uuid import UUID

from suffice.assess.problems.found import Finds
from suffice.assess.problems.known import Sources, known_finds
from suffice.assess.problems.named import NamedProblems, name_problems
from suffice.assess.problems.observed import latest_contact, looked_at, observed_finds
from suffice.assess.results import FamilyAssessment, InfantAssessment
from suffice.clinical.entry import Entry, Record, about
from suffice.knowledge.store import Content


def problems_of(
    record: Record,
    assessment: FamilyAssessment,
    content: Content,
    *,
    contact_id: UUID | None = None,
    skipped: Collection[str] = (),
) -> dict[UUID, NamedProblems]:
    """The problems of each infant with its parent, by the id of the infant.

    Args:
        record: The whole record.
        assessment: What was assessed of it, as of the time of the question, with the same content.
        content: The content in use.
        contact_id: The contact whose look counts; None for the latest one.
        skipped: Keys that are not to be asked.
    """
    entries = record.entries_at(assessment.as_of)
    contact = contact_id or latest_contact(entries)
    flags = {one.code: one.level for one in assessment.findings}
    return {
        infant.infant_id: name_problems(
            finds_of(entries, infant, assessment, content, contact),
            content,
            flags=flags | {one.code: one.level for one in infant.findings},
            skipped={*skipped, *_by_a_weight_too_soon(infant, content)},
        )
        for infant in assessment.infants
    }


def _by_a_weight_too_soon(infant: InfantAssessment, content: Content) -> frozenset[str]:
    """What only a further weight could tell, while the last one is so new that it would tell nothing more."""
    age_h, least_h = infant.age_h, content.constant("gain.least_between_h").value
    if age_h is None or not infant.usable_weights:
        return frozenset()
    if age_h - infant.usable_weights[-1].age_h >= least_h:
        return frozenset()
    return frozenset(key for key, one in content.known.items() if one.asked_by == "weight")


def finds_of(
    entries: tuple[Entry, ...],
    infant: InfantAssessment,
    assessment: FamilyAssessment,
    content: Content,
    contact_id: UUID | None,
) -> Finds:
    """What is known of one infant and its parent, by key."""
    own, parent = about(entries, infant.infant_id), about(entries, None)
    observed = observed_finds(parent, content, assessment.as_of, contact_id)
    observed |= observed_finds(own, content, assessment.as_of, contact_id)
    given = Sources(
        infant,
        own,
        parent,
        len(assessment.infants),
        assessment.as_of,
        content,
        looked_at(entries, contact_id),
    )
    return {**observed, **known_finds(given, observed)}
