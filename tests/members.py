"""People of a clinic for tests: who belongs to which team, in which role."""
# ruff: noqa: PLC0415 -- nothing of Django may be imported before it is set up

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING
from uuid import UUID

if TYPE_CHECKING:
    from django.contrib.auth.models import User


def a_member(
    name: str,
    role: str | None = "consultant",
    *,
    team: UUID | None = None,
    passphrase: str | None = None,
    is_administrator: bool = False,
    is_auditor: bool = False,
) -> User:
    """A user with a role in a team (the first, unless named); without a role for None."""
    from django.contrib.auth.models import User

    from suffice.record import models, teams

    user = User.objects.create_user(name, password=passphrase, is_staff=is_administrator)
    if role is not None:
        first = teams.first_team(now=datetime.now(UTC))
        teams.set_role(user.pk, team or first, role)
    if is_auditor:
        models.Person.objects.create(user=user, is_auditor=True)
    return user
