"""Teams as they are kept: who belongs to which, to which a family belongs, who opened one in an emergency.

A family belongs to the team of its newest placement, and to the first team where it has none: so a
record from before there were teams needs no row more, and no family is ever without a team.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec
from django.db.models import Exists, OuterRef, QuerySet, Subquery, UUIDField, Value
from django.db.models.functions import Coalesce

from suffice.record import chain, models
from suffice.record.repository import one_transaction

FIRST_TEAM = UUID("00000000-0000-4000-8000-0000000007ea")
"""The team of everybody and everything, unless others are made."""
FIRST_NAME = "Team 1"
_CHUNK = 500


class TeamRow(msgspec.Struct, frozen=True, kw_only=True):
    """A team; `role` is that of the person who was asked for, None where there is none."""

    id: UUID
    name: str
    role: str | None = None


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """When, by whom and to whom in its team a family was passed on, and what was said with it."""

    colleague: str | None
    at: datetime
    by: str
    note: str


class Opened(msgspec.Struct, frozen=True, kw_only=True):
    """A family that somebody opened in an emergency.

    Attributes:
        user: The name that the person signs in with.
        until: The end of it.
        seen_at: When a lead of the family's team has seen it; None before.
    """

    number: int
    family_id: UUID
    team_id: UUID
    user: str
    reason: str
    begun_at: datetime
    until: datetime
    seen_at: datetime | None
    seen_by: str


class Membership(msgspec.Struct, frozen=True, kw_only=True):
    """What is kept of a person's place in the clinic.

    Attributes:
        teams: Every team, by name, with the person's role in it.
        is_auditor: Whether the person reads the audit trail.
        has_colleagues: Whether anybody else may enter something for any family.
        has_codes: Whether the person signs in with a one-time code too.
        has_passkey: Whether the person has a passkey.
    """

    teams: tuple[TeamRow, ...]
    is_auditor: bool
    has_colleagues: bool
    has_codes: bool
    has_passkey: bool


def membership_of(user_id: int) -> Membership:
    """A person's place in the clinic, in one query."""
    role = models.Member.objects.filter(team=OuterRef("id"), user=user_id).values("role")[:1]
    person = models.Person.objects.filter(user=user_id)
    writing = models.Member.objects.filter(role__in=["consultant", "lead"], user__is_active=True)
    rows = models.Team.objects.annotate(
        role=Subquery(role),
        auditor=Subquery(person.values("is_auditor")[:1]),
        factor=Exists(person.filter(factor_from__isnull=False)),
        passkey=Exists(models.Passkey.objects.filter(user=user_id)),
        others=Exists(writing.exclude(user=user_id)),
    )
    found = list(
        rows.order_by("name").values_list(
            "id", "name", "role", "auditor", "others", "factor", "passkey"
        )
    )
    return Membership(
        teams=tuple(TeamRow(id=row[0], name=row[1], role=row[2]) for row in found),
        is_auditor=any(row[3] for row in found),
        has_colleagues=any(row[4] for row in found),
        has_codes=any(row[5] for row in found),
        has_passkey=any(row[6] for row in found),
    )


def first_team(*, now: datetime) -> UUID:
    """The first team; made where it is missing."""
    models.Team.objects.get_or_create(
        id=FIRST_TEAM, defaults={"name": FIRST_NAME, "opened_at": now}
    )
    return FIRST_TEAM


def team_names() -> dict[UUID, str]:
    """Every team's name, in the order of the names."""
    return dict(models.Team.objects.order_by("name").values_list("id", "name"))


def add_team(team_id: UUID, name: str, *, now: datetime) -> bool:
    """Make a team; False when the name is taken by another. The same again changes nothing."""
    with one_transaction():
        if models.Team.objects.filter(name=name).exclude(id=team_id).exists():
            return False
        models.Team.objects.get_or_create(id=team_id, defaults={"name": name, "opened_at": now})
    return True


def rename_team(team_id: UUID, name: str) -> bool:
    """Call a team otherwise; False when the name is taken by another."""
    with one_transaction():
        if models.Team.objects.filter(name=name).exclude(id=team_id).exists():
            return False
        models.Team.objects.filter(id=team_id).update(name=name)
    return True


def members() -> dict[int, dict[UUID, str]]:
    """The roles of everybody: user to team to role."""
    found: dict[int, dict[UUID, str]] = {}
    for user, team, role in models.Member.objects.values_list("user_id", "team_id", "role"):
        found.setdefault(user, {})[team] = role
    return found


def set_role(user_id: int, team_id: UUID, role: str | None) -> None:
    """Give a person a role in a team, another one, or none any more."""
    with one_transaction():
        if role is None:
            models.Member.objects.filter(team=team_id, user=user_id).delete()
        else:
            models.Member.objects.update_or_create(
                team_id=team_id, user_id=user_id, defaults={"role": role}
            )


def leads_of(team_id: UUID) -> tuple[int, ...]:
    """Who leads a team and may sign in; the row of the team is held until the transaction ends."""
    list(models.Team.objects.select_for_update().filter(id=team_id))
    leads = models.Member.objects.filter(team=team_id, role="lead", user__is_active=True)
    return tuple(leads.values_list("user_id", flat=True))


# --- whose a family is ------------------------------------------------------------------------


def with_team(families: QuerySet[models.Family]) -> QuerySet[Any]:
    """Families with `team`, the one to which each belongs."""
    newest = models.Placement.objects.filter(family_id=OuterRef("id")).order_by("-number")
    placed = Subquery(newest.values("team_id")[:1])
    first = Value(FIRST_TEAM, UUIDField())
    return families.annotate(team=Coalesce(placed, first, output_field=UUIDField()))


def team_of(family_id: UUID) -> UUID | None:
    """The team of a family that is on the record; None where there is no such family."""
    found = with_team(models.Family.objects.filter(id=family_id))
    return found.values_list("team", flat=True).first()


def teams_of_families(family_ids: Collection[UUID]) -> dict[UUID, UUID]:
    """The team of each of the families that are on the record."""
    ids = list(family_ids)
    found: dict[UUID, UUID] = {}
    for start in range(0, len(ids), _CHUNK):
        some = models.Family.objects.filter(id__in=ids[start : start + _CHUNK])
        found.update(with_team(some).values_list("id", "team"))
    return found


def place(
    family_ids: Iterable[UUID],
    team_id: UUID,
    *,
    colleague_id: int | None = None,
    now: datetime,
    by: str,
    note: str = "",
) -> None:
    """Let families belong to a team from now on, and to a colleague in it, if one is named."""
    with one_transaction():
        rows = models.Placement.objects.bulk_create(
            models.Placement(
                family_id=one,
                team_id=team_id,
                colleague_id=colleague_id,
                placed_at=now,
                placed_by=by,
                note=note,
            )
            # In one order: who places the same families at once does not wait in a circle.
            for one in sorted(family_ids)
        )
        for row in rows:
            chain.extend(row.family_id.hex, [row])


def place_opened(
    family_ids: Iterable[UUID], team_id: UUID | None, *, now: datetime, by: str, arrival: int | None
) -> None:
    """Let families that are opened now, in the caller's transaction, belong to a team.

    In the first team they need no row.
    """
    if team_id is None or team_id == FIRST_TEAM:
        return
    rows = models.Placement.objects.bulk_create(
        models.Placement(
            family_id=one, team_id=team_id, placed_at=now, placed_by=by, arrival=arrival
        )
        for one in family_ids
    )
    if arrival is not None:
        chain.extend(chain.of_import(arrival), rows, arrival=arrival)
        return
    for row in rows:
        chain.extend(row.family_id.hex, [row])


def passed_on() -> dict[UUID, tuple[int, datetime]]:
    """The families that a colleague has now, with the colleague and since when; the others have none."""
    newest = models.Placement.objects.filter(family_id=OuterRef("family_id")).order_by("-number")
    rows = models.Placement.objects.filter(
        number=Subquery(newest.values("number")[:1]), colleague__isnull=False
    )
    return {
        family: (colleague, at)
        for family, colleague, at in rows.values_list("family_id", "colleague_id", "placed_at")
    }


def newest_place(family_id: UUID) -> Place | None:
    """The newest placement of a family; None where it was never passed on."""
    rows = models.Placement.objects.filter(family_id=str(family_id)).order_by("-number")
    row = rows.values_list("colleague__username", "placed_at", "placed_by", "note").first()
    return None if row is None else Place(colleague=row[0], at=row[1], by=row[2], note=row[3])


# --- opened in an emergency -------------------------------------------------------------------


def open_in_emergency(
    family_id: UUID, user_id: int, reason: str, *, now: datetime, until: datetime
) -> None:
    """Note that a person opens a family of another team, and why."""
    with one_transaction():
        models.EmergencyAccess.objects.create(
            family_id=str(family_id), user_id=user_id, reason=reason, begun_at=now, until=until
        )


def is_open_to(family_id: UUID, user_id: int, *, now: datetime) -> bool:
    """Whether a person has opened a family in an emergency, and the time for it is not over."""
    opened = models.EmergencyAccess.objects.filter(family_id=str(family_id), user_id=user_id)
    return opened.filter(begun_at__lte=now, until__gt=now).exists()


def open_to(user_id: int, *, now: datetime) -> frozenset[UUID]:
    """The families that a person has open in an emergency."""
    opened = models.EmergencyAccess.objects.filter(
        user_id=user_id, begun_at__lte=now, until__gt=now
    )
    return frozenset(opened.values_list("family_id", flat=True))


def opened_of(team_ids: Collection[UUID], *, only_unseen: bool = False) -> tuple[Opened, ...]:
    """What was opened in an emergency of the families of some teams, the latest first."""
    rows = models.EmergencyAccess.objects.order_by("-number")
    if only_unseen:
        rows = rows.filter(seen_at__isnull=True)
    names = ("number", "family_id", "user__username", "reason", "begun_at", "until")
    found = list(rows.values_list(*names, "seen_at", "seen_by"))
    teams = teams_of_families({row[1] for row in found})
    return tuple(
        Opened(
            number=row[0],
            family_id=row[1],
            team_id=teams[row[1]],
            user=row[2],
            reason=row[3],
            begun_at=row[4],
            until=row[5],
            seen_at=row[6],
            seen_by=row[7],
        )
        for row in found
        if teams.get(row[1]) in team_ids
    )


def note_seen(numbers: Collection[int], *, now: datetime, by: str) -> None:
    """Note that a lead has seen them."""
    with one_transaction():
        rows = models.EmergencyAccess.objects.filter(number__in=numbers, seen_at__isnull=True)
        rows.update(seen_at=now, seen_by=by)


def within(
    families: QuerySet[models.Family], team_ids: Collection[UUID] | None
) -> QuerySet[models.Family]:
    """The families of some teams; None leaves all of them."""
    return families if team_ids is None else with_team(families).filter(team__in=list(team_ids))
