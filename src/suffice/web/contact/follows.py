"""What follows at once from an answer of the contact: the flags that rest on it, at its question."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from uuid import UUID

from suffice.assess.results import FamilyAssessment, Finding
from suffice.care.contact.visit import Visit
from suffice.clinical.entry import Observation, Sign
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import Content
from suffice.web.family.page import FindingShown, flags_shown, infant_names
from suffice.web.shown.wording import Wording

Follows = Mapping[str, tuple[FindingShown, ...]]
"""Observation to the flags that rest on how it was answered."""


def follows_at(
    visit: Visit,
    assessed: FamilyAssessment,
    infant: UUID | None,
    *,
    content: Content,
    wording: Wording,
) -> Follows:
    """The flags that rest on answers of this contact, by what was asked; notes follow from nothing.

    Args:
        visit: The contact with its answers.
        assessed: What is found of the family now.
        infant: Whose page it is; what is found of another infant stands on that one's.
        content: The content in force, for the signs that answers say.
        wording: How the clinic reads times.
    """
    asked = _asked_by_entry(visit, content)
    found: dict[str, list[Finding]] = {}
    for one in _findings_of(assessed, infant):
        for what in {asked[key] for key in one.entry_ids if key in asked}:
            found.setdefault(what, []).append(one)
    names = infant_names(assessed)
    return {what: flags_shown(each, names, wording) for what, each in found.items()}


def _findings_of(assessed: FamilyAssessment, infant: UUID | None) -> Iterator[Finding]:
    every = (*assessed.findings, *(one for each in assessed.infants for one in each.findings))
    return (one for one in every if one.level != "note" and one.infant_id in (None, infant))


def _asked_by_entry(visit: Visit, content: Content) -> dict[UUID | None, str]:
    """Entry of this contact to what was asked: of an answer, and of the sign that it says."""
    words = content.vocabularies[FOLDER]
    asked: dict[UUID | None, str] = {}
    by_sign: dict[tuple[str, UUID | None, datetime], str] = {}
    for entry in visit.during:
        fact = entry.fact
        if not isinstance(fact, Observation) or fact.contact_id != visit.id:
            continue
        asked[entry.id] = fact.what
        word = words.get(fact.what)
        signs = word.signs if isinstance(word, Observable) else {}
        for one in fact.answers:
            if one in signs:
                by_sign[signs[one], entry.infant_id, entry.true_at] = fact.what
    for entry in visit.during:
        if isinstance(entry.fact, Sign):
            what = by_sign.get((entry.fact.sign, entry.infant_id, entry.true_at))
            if what is not None:
                asked[entry.id] = what
    return asked
