"""Answers of a contact that cannot both be so, in words, each with the questions it is asked at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from django.urls import reverse

from suffice.assess.problems.contradiction import Contradiction, contradictions_of
from suffice.assess.problems.words import contradiction_words
from suffice.care.contact.visit import Visit
from suffice.clinical.entry import Record, standing
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import Content
from suffice.web.shown.wording import in_words


class Doubt(NamedTuple):
    """What cannot both be so: of whom, in words, and the question to go to.

    `observations` are the observations that it is about; `entry_ids` the entries that it rests on.
    """

    says: str
    infant: UUID | None
    observations: frozenset[str]
    part: str
    what: str
    entry_ids: frozenset[UUID]

    def link(self, family_id: UUID) -> str:
        """Where one of the answers can be changed."""
        address = reverse("contact-part", args=[family_id, self.part])
        return f"{address}{f'?infant={self.infant}' if self.infant else ''}#{self.what}"


def doubts_in(record: Record, visit: Visit, content: Content, now: datetime) -> list[Doubt]:
    """What cannot both be so among what a contact has, in the order of the content."""
    found = contradictions_of(
        standing(record.entries),
        [one.id for one in record.infants],
        content,
        as_of=now,
        contact_id=visit.id,
        since=visit.start.entered_at,
    )
    return [_doubt(one, infant, content) for one, infant in found.items()]


def doubts_at(doubts: Iterable[Doubt], infant: UUID | None) -> Mapping[str, tuple[str, ...]]:
    """Observation to what is asked about it on a page of one infant and the parent."""
    found: dict[str, tuple[str, ...]] = {}
    for one in doubts:
        if one.infant in (None, infant):
            for what in one.observations:
                found[what] = (*found.get(what, ()), one.says)
    return found


def _doubt(one: Contradiction, infant: UUID | None, content: Content) -> Doubt:
    words = content.vocabularies[FOLDER]
    asked = [key for key in (reason.key for reason in one.reasons) if key in words]
    word = words[asked[0]]
    return Doubt(
        says=in_words(contradiction_words(one, content)),
        infant=infant,
        observations=frozenset(asked),
        part=word.part if isinstance(word, Observable) else "",
        what=asked[0],
        entry_ids=frozenset(made for reason in one.reasons for made in reason.found.entry_ids),
    )
