"""The teams of a clinic: make one, name it."""

from __future__ import annotations

from datetime import datetime
from typing import Final
from uuid import UUID

from suffice.care.clinic.access import Access, need
from suffice.care.clinic.noted import note
from suffice.care.clinic.roles import Act
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import repository, teams

TEAM_NAME_LENGTH: Final = 40


def add_team(access: Access | None, team_id: UUID, name: str, *, now: datetime) -> None:
    """Make a team. Whoever makes it has no role in it.

    Raises:
        InputError: ACCESS-001; TEAM-001 for a name that cannot be used, TEAM-002 for one that is taken.
    """
    if access is not None:
        need(access, Act.TEAMS)
    text = _usable(name)
    with repository.one_transaction():
        teams.first_team(now=now)
        if not teams.add_team(team_id, text, now=now):
            raise InputError(_taken(text))
        note("team.made", by=_by(access), about=text)


def rename_team(access: Access | None, team_id: UUID, name: str) -> None:
    """Call a team otherwise.

    Raises:
        InputError: As :func:`add_team`.
    """
    if access is not None:
        need(access, Act.TEAMS)
    text = _usable(name)
    with repository.one_transaction():
        if not teams.rename_team(team_id, text):
            raise InputError(_taken(text))
        note("team.renamed", by=_by(access), about=text)


def _by(access: Access | None) -> str:
    return "" if access is None else access.name


def _usable(name: str) -> str:
    text = " ".join(name.split())
    if not text or len(text) > TEAM_NAME_LENGTH or not text.isprintable():
        raise InputError(
            Problem(
                code="TEAM-001",
                what=message("'{name}'", name=name[:TEAM_NAME_LENGTH]),
                why=message("cannot be the name of a team."),
                fix=message("Use 1 to {most} characters, on one line.", most=TEAM_NAME_LENGTH),
                where="name",
            )
        )
    return text


def _taken(name: str) -> Problem:
    return Problem(
        code="TEAM-002",
        what=message("'{name}'", name=name),
        why=message("is the name of a team already."),
        fix=message("Choose another name."),
        where="name",
    )
