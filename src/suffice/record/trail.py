"""The trail: what people did and saw, appended and chained like the record; see care/trail.py."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from uuid import UUID

import msgspec
from django.db.models import Q, QuerySet

from suffice.record import chain, models, teams
from suffice.record.repository import one_transaction

EXPORTED_ROWS = 2000
"""Fetched together while the trail is exported."""


class Event(msgspec.Struct, frozen=True, kw_only=True):
    """Something that somebody did or saw.

    Attributes:
        id: Made where it happened, so that it is stored once however often it is sent.
        who: The name that the person signs in with; empty where nobody was signed in.
        act: What it was, as :class:`suffice.care.trail.Act` names it.
        page: The name of the page's address, or of the command.
        method: Of the request; empty for a command.
        status: Of the answer; 0 for a command.
        family_id: The family that it was about.
        about: What of it: the id of an entry, the kind of a paper. Never what somebody typed.
        why: The reason that was asked for, where one is.
        address: Where the request came from.
    """

    id: UUID
    at: datetime
    who: str
    act: str
    page: str
    method: str = ""
    status: int = 0
    family_id: UUID | None = None
    about: str = ""
    why: str = ""
    address: str = ""


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """Which events are asked for; None and empty: any.

    Attributes:
        teams: Only what is about families of these teams, and what their people did.
        since: At this instant or later.
        until: Before this instant.
    """

    who: str = ""
    act: str = ""
    family_id: UUID | None = None
    since: datetime | None = None
    until: datetime | None = None
    teams: tuple[UUID, ...] | None = None


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """An event with its number on the trail."""

    number: int
    event: Event


def put(events: Sequence[Event]) -> int:
    """Append events, in one transaction; how many were not there yet.

    Raises:
        StorageError: RECORD-009; none is stored then.
    """
    with one_transaction():
        ids = [event.id for event in events]
        there = set(models.TrailEvent.objects.filter(id__in=ids).values_list("id", flat=True))
        fresh = {event.id: event for event in events if event.id not in there}
        rows = models.TrailEvent.objects.bulk_create(
            models.TrailEvent(**msgspec.structs.asdict(event)) for event in fresh.values()
        )
        chain.extend(chain.TRAIL, rows)
    return len(rows)


def newest(asked: Asked, *, most: int, before: int | None = None) -> list[Kept]:
    """Events, the newest first.

    Args:
        asked: Which.
        most: How many at most.
        before: Those before this number only, for the next page.
    """
    found = _found(asked)
    if before is not None:
        found = found.filter(seq__lt=before)
    return [_kept(row) for row in found.order_by("-seq")[:most]]


def every(asked: Asked) -> Iterator[Event]:
    """All events that are asked for, the oldest first, a part at a time."""
    last = 0
    while rows := list(_found(asked).filter(seq__gt=last).order_by("seq")[:EXPORTED_ROWS]):
        yield from (_kept(row).event for row in rows)
        last = rows[-1].seq


def _found(asked: Asked) -> QuerySet[models.TrailEvent]:
    wanted: dict[str, object] = {
        "who": asked.who,
        "act": asked.act,
        "family_id": asked.family_id,
        "at__gte": asked.since,
        "at__lt": asked.until,
    }
    found = models.TrailEvent.objects.filter(**{key: one for key, one in wanted.items() if one})
    if asked.teams is None:
        return found
    families = teams.within(models.Family.objects.all(), asked.teams).values("id")
    people = models.Member.objects.filter(team__in=asked.teams).values("user__username")
    return found.filter(Q(family_id__in=families) | Q(who__in=people))


def _kept(row: models.TrailEvent) -> Kept:
    values = {name: getattr(row, name) for name in Event.__struct_fields__}
    return Kept(number=row.seq, event=Event(**values))
