"""What follows at once from an answer of the contact: the flags that rest on it, and what does not fit it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import datetime
from hashlib import sha256
from typing import NamedTuple
from uuid import UUID

from suffice.assess.results import FamilyAssessment, Finding
from suffice.care.contact.visit import Visit
from suffice.clinical.entry import Observation, Sign
from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.schema import LEVELS
from suffice.knowledge.store import Content
from suffice.web.family.page import FindingShown, flags_shown, infant_names
from suffice.web.shown.doubts import Doubt
from suffice.web.shown.wording import Wording


class Following(NamedTuple):
    """A flag that follows from an answer; `key` changes with what it rests on."""

    key: str
    shown: FindingShown


Follows = Mapping[str, tuple[Following, ...]]
"""Observation to the flags that rest on how it was answered."""


class FollowsNow(NamedTuple):
    """What the answers of a part have led to: every red flag, the other flags of its questions, what does not fit.

    Attributes:
        mark: Changes where one of them comes or goes, and only then.
        flags: The most urgent first.
        doubts: What cannot both be so, in words.
    """

    mark: str
    flags: tuple[Following, ...]
    doubts: tuple[str, ...]


def follows_now(
    visit: Visit,
    assessed: FamilyAssessment,
    asked: Collection[str],
    doubts: Iterable[Doubt],
    *,
    content: Content,
    wording: Wording,
) -> FollowsNow:
    """What stands at the edge of a part: it says at once what its next load says in its place.

    Args:
        visit: The contact with its answers.
        assessed: What is found of the family now.
        asked: The observations that the part asks.
        doubts: What cannot both be so in the contact.
        content: The content in force, for the signs that answers say.
        wording: How the clinic reads times.
    """
    by_entry = _asked_by_entry(visit, content)
    found = [
        one
        for one in _every(assessed)
        if one.colour == "red" or any(by_entry.get(key) in asked for key in one.entry_ids)
    ]
    flags = _following(found, assessed, wording)
    says = dict.fromkeys(one.says for one in doubts if not one.observations.isdisjoint(asked))
    keys = sorted([*(one.key for one in flags), *says])
    return FollowsNow(sha256("\n".join(keys).encode()).hexdigest()[:16], flags, tuple(says))


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
    return {what: _following(each, assessed, wording) for what, each in found.items()}


def _following(
    findings: Iterable[Finding], assessed: FamilyAssessment, wording: Wording
) -> tuple[Following, ...]:
    """Flags as they are shown, the most urgent first."""
    names = infant_names(assessed)
    ranked = sorted(findings, key=lambda one: LEVELS.index(one.level))
    return tuple(
        Following(_key(one), shown)
        for one in ranked
        for shown in flags_shown([one], names, wording)
    )


def _key(finding: Finding) -> str:
    rests_on = sorted(str(one) for one in finding.entry_ids)
    return " ".join([finding.code, str(finding.infant_id or ""), *rests_on])


def _every(assessed: FamilyAssessment) -> Iterator[Finding]:
    every = (*assessed.findings, *(one for each in assessed.infants for one in each.findings))
    return (one for one in every if one.level != "note")


def _findings_of(assessed: FamilyAssessment, infant: UUID | None) -> Iterator[Finding]:
    return (one for one in _every(assessed) if one.infant_id in (None, infant))


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
