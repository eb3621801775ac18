"""Passing families on: one of them, or the list of a shift, to a colleague or to another team."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final
from uuid import UUID

import msgspec
from django.contrib.auth import get_user_model

from suffice.care.clinic.access import Access, check_family
from suffice.care.clinic.noted import note
from suffice.care.clinic.roles import ACTS, Act, Role
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import repository, teams
from suffice.record.teams import Place

NOTE_LENGTH: Final = 500


class Colleague(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody whom a family can be passed on to, in one team."""

    user_id: int
    name: str
    called: str
    team_id: UUID


def colleagues() -> tuple[Colleague, ...]:
    """Everybody whom a family can be passed on to: who may enter something for it, in each team."""
    users = get_user_model().objects.filter(is_active=True)
    roles = teams.members()
    found = [
        Colleague(
            user_id=one.pk,
            name=one.get_username(),
            called=one.get_full_name() or one.get_username(),
            team_id=team_id,
        )
        for one in users
        for team_id, role in roles.get(one.pk, {}).items()
        if Act.WRITE in ACTS[Role(role)]
    ]
    return tuple(sorted(found, key=lambda one: (one.called.casefold(), one.name)))


def pass_on(
    access: Access,
    family_ids: Sequence[UUID],
    *,
    team_id: UUID,
    colleague_id: int | None,
    text: str,
    now: datetime,
) -> None:
    """Give families to a colleague, or to a team; all of them or none.

    Args:
        access: What whoever passes them on may do.
        family_ids: The families.
        team_id: The team that they belong to from now on.
        colleague_id: The colleague in it; None for the team as a whole.
        text: What to say to whoever takes them; may be empty.
        now: The instant.

    Raises:
        InputError: RECORD-001, ACCESS-001; TEAM-003 for a team or colleague that cannot take them;
            TEAM-004 for a note that is too long.
    """
    if len(text) > NOTE_LENGTH:
        raise InputError(_too_long(text))
    takes = any((one.user_id, one.team_id) == (colleague_id, team_id) for one in colleagues()) or (
        colleague_id is None and team_id in access.teams
    )
    if not takes or not family_ids:
        raise InputError(_no_recipient())
    with repository.one_transaction():
        for family_id in family_ids:
            check_family(access, family_id, Act.PASS_ON, now=now)
        teams.place(
            family_ids,
            team_id,
            colleague_id=colleague_id,
            now=now,
            by=access.name,
            note=text,
        )
        for family_id in family_ids:
            note("family.passed-on", by=access.name, family_id=family_id, about=str(team_id))


def _no_recipient() -> Problem:
    return Problem(
        code="TEAM-003",
        what=message("Nothing was passed on."),
        why=message("There is no such colleague or team, or no family was chosen."),
        fix=message("Choose a colleague or a team, and at least one family."),
        where="to",
    )


def _too_long(text: str) -> Problem:
    return Problem(
        code="TEAM-004",
        what=message("A note of {count} characters", count=len(text)),
        why=message("is longer than anybody reads at a change of shift."),
        fix=message("Use at most {most} characters.", most=NOTE_LENGTH),
        where="text",
    )


def last_passed_on(family_id: UUID) -> Place | None:
    """When, by whom and to whom a family was last passed on; None where it never was."""
    return teams.newest_place(family_id)
