"""The problems of a family: for each infant with its parent, from record and assessment."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Final, Protocol
from uuid import UUID

import msgspec

from suffice.assess.died import INFANT_DIED, REASON, living
from suffice.assess.problems.found import Finds
from suffice.assess.problems.known import Sources, known_finds
from suffice.assess.problems.named import NamedProblems, name_problems
from suffice.assess.problems.observed import latest_contact, looked_at, observed_finds
from suffice.assess.results import FamilyAssessment, InfantAssessment
from suffice.assess.rules.table import Found
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Record, about
from suffice.knowledge.observable import FOLDER
from suffice.knowledge.store import Content

A_DEATH: Final = "infant_died"
"""Key of the find that an infant of the family has died."""
A_LIFE: Final = "infant_lives"
"""Key of the find whether another infant of the family lives, where one has died."""
MULTIPLE: Final = "multiple"
"""What is known where several infants are fed."""


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
    alive = living(assessment.infants)
    if not alive:
        # With nobody left to feed, what is the parent's own stays, under the first-born.
        return {
            one.infant_id: _of_parent(entries, one, assessment, content, contact)
            for one in assessment.infants[:1]
        }
    return {
        infant.infant_id: name_problems(
            finds_of(entries, infant, assessment, content, contact),
            content,
            flags=flags | {one.code: one.level for one in infant.findings},
            skipped={*skipped, *_by_a_weight_too_soon(infant, content)},
        )
        for infant in alive
    }


def _of_parent(
    entries: tuple[Entry, ...],
    infant: InfantAssessment,
    assessment: FamilyAssessment,
    content: Content,
    contact_id: UUID | None,
) -> NamedProblems:
    """The parent's own problems after the death of every infant; nothing is asked that has to do with feeding one."""
    finds = finds_of(entries, infant, assessment, content, contact_id)
    named = name_problems(
        finds, content, flags={one.code: one.level for one in assessment.findings}
    )
    own = tuple(one for one in named.problems if one.problem.about == "parent")
    return msgspec.structs.replace(named, problems=own, ask=())


def _by_a_weight_too_soon(infant: InfantAssessment, content: Content) -> frozenset[str]:
    """What only a further weight could tell, while the last one is so new that it would tell nothing more."""
    age_h, least_h = infant.age_h, content.constant("gain.least_between_h").value
    if age_h is None or not infant.usable_weights:
        return frozenset()
    if age_h - infant.usable_weights[-1].age_h >= least_h:
        return frozenset()
    return frozenset(key for key, one in content.known.items() if one.asked_by == "weight")


class Assessed(Protocol):
    """What is read of an assessment beside the infant's own: of a part of one too."""

    @property
    def infants(self) -> tuple[InfantAssessment, ...]:
        """The assessed infants."""

    @property
    def as_of(self) -> datetime:
        """The instant of the question."""


def finds_of(
    entries: tuple[Entry, ...],
    infant: InfantAssessment,
    assessment: Assessed,
    content: Content,
    contact_id: UUID | None,
    *,
    stands: bool = False,
) -> Finds:
    """What is known of one infant and its parent, by key; `stands` as in :func:`observed_finds`."""
    own, parent = about(entries, infant.infant_id), about(entries, None)
    as_of = assessment.as_of
    observed = observed_finds(parent, content, as_of, contact_id, stands=stands)
    if infant.died is None:
        observed |= observed_finds(own, content, as_of, contact_id, stands=stands)
    given = Sources(
        _since_birth(infant, assessment.as_of),
        own if infant.died is None else (),
        parent,
        len(living(assessment.infants)),
        assessment.as_of,
        content,
        looked_at(entries, contact_id),
    )
    finds = {**observed, **known_finds(given, observed)}
    if infant.died is not None:
        finds = {key: one for key, one in finds.items() if not _is_of_infant(key, content)}
        finds.setdefault(REASON, (Found((INFANT_DIED,), entry_ids=(infant.died.entry_id,)),))
    deaths = tuple(one.died.entry_id for one in assessment.infants if one.died is not None)
    if deaths:
        finds[A_DEATH] = (Found(("yes",), entry_ids=deaths),)
        finds[A_LIFE] = (Found(("yes" if living(assessment.infants) else "no",), entry_ids=deaths),)
    if len(assessment.infants) > 1 == len(living(assessment.infants)):
        # One is left: nobody is told how two are fed.
        finds.pop(MULTIPLE, None)
    return finds


def _since_birth(infant: InfantAssessment, as_of: datetime) -> InfantAssessment:
    """The same as old as the parent's time since birth, which goes on when an infant has died."""
    if infant.died is None or infant.born_at is None:
        return infant
    return msgspec.structs.replace(infant, age_h=elapsed_h(infant.born_at, as_of))


def _is_of_infant(key: str, content: Content) -> bool:
    """Whether a find is about the infant, not about its parent."""
    word = content.vocabularies[FOLDER].get(key) or content.known.get(key)
    return word is not None and word.about == "infant"
