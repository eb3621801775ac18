"""The papers that a family was given, as its page lists them."""

from __future__ import annotations

from datetime import UTC
from typing import Final
from urllib.parse import urlencode
from uuid import UUID

import msgspec
from django.urls import reverse

from suffice.care.papers.giving import given_papers
from suffice.clinical.entry import PaperGiven, Record
from suffice.web.shown.fact import value_word
from suffice.web.shown.wording import Wording

PARENT: Final = "parent"
"""How an address names the parent."""


class GivenShown(msgspec.Struct, frozen=True, kw_only=True):
    """A paper that was given, as the family's page lists it."""

    at: str
    what: str
    title: str
    language: str
    version: str
    by: str
    link: str


def given_shown(
    record: Record, family_id: UUID, people: dict[str, str], wording: Wording
) -> tuple[GivenShown, ...]:
    """What a family was given, the latest first.

    Args:
        record: The record.
        family_id: The family.
        people: What people are called, by the names that they sign in with.
        wording: How the clinic reads times.
    """
    return tuple(
        GivenShown(
            at=wording.short_when(one.entry.true_at),
            what=value_word(one.fact.paper),
            title=one.fact.title or "",
            language=value_word(one.fact.language),
            version="" if one.fact.origin is None else one.fact.origin.content_version,
            by=people.get(one.entry.entered_by, one.entry.entered_by),
            link=_address(family_id, one.entry.id, one.fact, one.entry.infant_id),
        )
        for one in given_papers(record)
    )


def _address(family_id: UUID, given_id: UUID, fact: PaperGiven, whose: UUID | None) -> str:
    """Where a paper that was given is made again; empty where nothing is known of what it was made from."""
    if fact.origin is None or fact.paper == "note":
        return ""
    origin = fact.origin
    query = {
        "kind": fact.paper,
        **({"sheet": origin.sheet} if origin.sheet else {}),
        "whose": PARENT if whose is None else str(whose),
        "as_of": origin.as_of.astimezone(UTC).isoformat().replace("+00:00", "Z"),
        "language": origin.language,
        "size": origin.size,
        "given": str(given_id),
    }
    return f"{reverse('papers', args=[family_id])}?{urlencode(query)}"
