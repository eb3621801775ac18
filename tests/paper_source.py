"""What papers are made from in tests: the invented families of the demo, at one instant."""

from __future__ import annotations

import os
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

import msgspec

from suffice.assess.assessment import assess
from suffice.assess.problems import problems_of
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical.entry import (
    AnyFact,
    Basis,
    Consent,
    Contact,
    ContactStart,
    Entry,
    Handover,
    Identity,
    Observation,
    ProblemStatus,
    Record,
    Setting,
    Weight,
)
from suffice.documents.folder import Folder
from suffice.documents.frame import Source
from suffice.documents.note import NotedContact
from suffice.documents.page import Paper, PaperSize
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

NOW = datetime(2026, 11, 28, 10, 0, tzinfo=UTC)
CLINIC = "Larkhaven Infant Feeding Service"
SIZES: tuple[PaperSize, ...] = ("A4", "letter")


@cache
def records() -> Mapping[str, Record]:
    """Key of each family of the demo to its record."""
    made = Families(scenario(), now=NOW, entered_by="consultant").records()
    return dict(zip([one.key for one in scenario().family], made, strict=True))


def folder(key: str, *, size: PaperSize = "A4", **policy: Any) -> Folder:
    """What the papers of a family of the demo are made from, without the engine."""
    return folder_of_record(records()[key], size=size, **policy)


def folder_of_record(
    record: Record, *, size: PaperSize = "A4", visit: UUID | None = None, **policy: Any
) -> Folder:
    """The same of any record, with the contact of that id."""
    settings = Policy(**{"zone": "Europe/London", "clinic_name": CLINIC} | policy)
    content = load()
    assessed = assess(record, NOW, content, settings, engine=False)
    source = Source(
        assessment=assessed,
        entries=record.entries_at(NOW),
        content=content,
        policy=settings,
        size=size,
        author="Mara Lindgren",
        people={"consultant": "Mara Lindgren"},
        revision=len(record.entries),
        policy_version=1,
    )
    contact = None if visit is None else noted(record, visit)
    problems = problems_of(record, assessed, content, contact_id=visit)
    return Folder(record=record, source=source, problems=problems, contact=contact)


VISIT = uuid5(NAMESPACE_URL, "suffice:papers/visit")
STARTED = NOW - timedelta(minutes=70)


def visited(record: Record, *more: tuple[AnyFact, UUID | None]) -> Record:
    """A record with a contact of fifty minutes at the end: a look at the feed, a weight, a handover.

    Args:
        record: The record.
        more: What else is entered in it, each with whom it is about.
    """
    infant = record.infants[-1].id
    seen: list[tuple[AnyFact, UUID | None]] = [
        (Consent(to="assess", given=True, by="mother"), None),
        (Weight(weight_g=2260, clothing="naked"), infant),
        (Observation(what="gape", answer="short", side="left", contact_id=VISIT), infant),
        (Observation(what="gape", answer="clear", side="right", contact_id=VISIT), infant),
        (Observation(what="chin", answer="no", side="left", contact_id=VISIT), infant),
        (Observation(what="nipple_after", answer="creased", side="left", contact_id=VISIT), infant),
        (Observation(what="pain_end", answer="6", side="left", contact_id=VISIT), None),
        (ProblemStatus(problem="shallow_latch", status="open", contact_id=VISIT), infant),
        (Handover(to="physician", name="Dr Ferreira", how="phone", asked="sodium today"), infant),
        *more,
        (Contact(setting=Setting.HOME, next_due_at=NOW + timedelta(days=1)), None),
    ]
    start = ContactStart(place="home", reason="sore nipples", goal="only the breast")
    entries = [_entered(VISIT, start, None, STARTED)]
    for number, (fact, whose) in enumerate(seen, start=1):
        key = uuid5(VISIT, str(number))
        entries.append(
            _entered(key, fact, whose, STARTED + timedelta(minutes=number * 50 / len(seen)))
        )
    return msgspec.structs.replace(record, entries=(*record.entries, *entries))


def _entered(key: UUID, fact: AnyFact, whose: UUID | None, at: datetime) -> Entry:
    return Entry(
        id=key,
        fact=fact,
        basis=Basis.OBSERVED,
        true_at=at,
        entered_at=at,
        entered_by="consultant",
        infant_id=whose,
        device="scale 1" if isinstance(fact, Weight) else None,
    )


def noted(record: Record, visit: UUID) -> NotedContact:
    """The contact of that id, as the note is given it."""
    entries = record.entries_at(NOW)
    start = next(one for one in entries if one.id == visit)
    return NotedContact(
        id=visit,
        start=start,
        end=next(
            one for one in entries if isinstance(one.fact, Contact) and one.true_at > start.true_at
        ),
        observations=tuple(one for one in entries if isinstance(one.fact, Observation)),
        during=tuple(one for one in entries if one.entered_at > start.entered_at),
        consents=tuple(one for one in entries if isinstance(one.fact, Consent)),
    )


def renamed(record: Record, name: str) -> Record:
    """A record in which everybody has another name."""
    entries = tuple(
        msgspec.structs.replace(one, fact=Identity(name=name))
        if isinstance(one.fact, Identity)
        else one
        for one in record.entries
    )
    return msgspec.structs.replace(record, entries=entries)


def letters(made: Folder) -> list[Paper]:
    """Every letter of a family."""
    return [made.paper(one) for one in made.offers() if one.kind == "letter"]


def fonts_home() -> Path:
    """A folder for the fonts of papers: the home of the run, which goes when it ends."""
    return Path(os.environ["SUFFICE_HOME"])
