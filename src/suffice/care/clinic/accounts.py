"""Accounts of the clinic: invite, change what somebody may do, deactivate, reset, end sessions.

An administrator may do all of it; a lead, for people who belong to no other team and have no duty in
the clinic, and within the lead's own team. Nobody changes what they may do themselves. `access` is
None for whoever runs the program from a shell, who may do all of it.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

import msgspec
from django.contrib.auth.models import User

from suffice.care.clinic import factor, passkey
from suffice.care.clinic.access import Access, need, not_allowed
from suffice.care.clinic.noted import note, of_shell
from suffice.care.clinic.people import (
    new_user,
    problems_of_name,
    problems_of_passphrase,
    problems_of_text,
)
from suffice.care.clinic.roles import Act, Duty, Role
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import accounts as shelf
from suffice.record import repository, teams
from suffice.record.accounts import Account

INVITED_FOR: Final = timedelta(days=7)
RESET_FOR: Final = timedelta(days=1)
"""How long a one-time link can be used: a new colleague may be on leave, who asks for a reset is not."""
TOKEN_BYTES: Final = 24


class Person(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody of the clinic, with the roles in its teams."""

    account: Account
    roles: Mapping[UUID, Role]

    @property
    def duties(self) -> frozenset[Duty]:
        """What the person does for the whole clinic."""
        has = {
            Duty.ADMINISTRATOR: self.account.is_administrator,
            Duty.AUDITOR: self.account.is_auditor,
        }
        return frozenset(duty for duty, has_it in has.items() if has_it)


class Invitation(msgspec.Struct, frozen=True, kw_only=True):
    """Who is invited, and as what.

    Attributes:
        name: The name to sign in with.
        team_id: The team; None where the person is to have a duty only.
        role: The role in it.
        duties: What the person is to do for the whole clinic.
    """

    name: str
    full_name: str = ""
    profession: str = ""
    team_id: UUID | None = None
    role: Role = Role.CONSULTANT
    duties: frozenset[Duty] = frozenset()


def people() -> tuple[Person, ...]:
    """Everybody of the clinic, who cannot sign in any more last."""
    roles = teams.members()
    return tuple(
        Person(
            account=one,
            roles={team: Role(role) for team, role in roles.get(one.id, {}).items()},
        )
        for one in shelf.accounts()
    )


def person_called(name: str) -> Person:
    """Somebody by the name to sign in with.

    Raises:
        InputError: USER-010, when there is nobody of that name.
    """
    for one in people():
        if one.account.name == name:
            return one
    raise InputError(
        Problem(
            code="USER-010",
            what=message("'{name}'", name=name),
            why=message("is the name of nobody here."),
            fix=message("See under Users, or 'suffice user list', what people sign in as."),
            where=message("name"),
        )
    )


def may_manage(access: Access | None, person: Person) -> bool:
    """Whether somebody may change the account of a person."""
    if access is None or access.is_administrator:
        return True
    led = {team for team, role in access.roles.items() if role is Role.LEAD}
    return bool(person.roles) and set(person.roles) <= led and not person.duties


def invite(access: Access | None, asked: Invitation, *, now: datetime) -> str:
    """Make an account whose passphrase the person chooses by a one-time link.

    Returns:
        The token of the link; nothing else knows it.

    Raises:
        InputError: ACCESS-001; USER-001, USER-002, USER-006.
    """
    problems = [
        *problems_of_name(asked.name),
        *problems_of_text(asked.full_name, "full_name"),
        *problems_of_text(asked.profession, "profession"),
    ]
    if problems:
        raise InputError(*problems)
    with repository.one_transaction():
        first = teams.first_team(now=now)
        team_id = asked.team_id or (None if asked.duties else first)
        _may_give(access, team_id, asked.duties)
        user = new_user(asked.name, asked.full_name, is_admin=Duty.ADMINISTRATOR in asked.duties)
        shelf.set_person(
            user.pk,
            profession=asked.profession.strip(),
            is_auditor=Duty.AUDITOR in asked.duties,
        )
        if team_id is not None:
            teams.set_role(user.pk, team_id, asked.role)
        note("user.invited", by=_by(access), about=asked.name)
        return _link(access, user.pk, now=now, lasts=INVITED_FOR)


def reset(access: Access | None, name: str, *, now: datetime) -> str:
    """Let the passphrase of a person be chosen anew; the present one and every session end at once.

    Returns:
        The token of the link.

    Raises:
        InputError: ACCESS-001, USER-007, USER-010.
    """
    person = _managed(access, name)
    # Else a screen that was left open would give its account away: the own page asks for the current passphrase.
    _not_self(access, person)
    with repository.one_transaction():
        user = User.objects.get(pk=person.account.id)
        user.set_unusable_password()
        user.save(update_fields=["password"])
        shelf.end_sessions(user.pk)
        note("user.reset", by=_by(access), about=name)
        return _link(access, user.pk, now=now, lasts=RESET_FOR)


def link_is_of(token: str, *, now: datetime) -> str:
    """The name of the person whose one-time link it is; the link stays as it is.

    Raises:
        InputError: USER-009, when it cannot be used.
    """
    name = shelf.user_of_link(_digest(token), now=now)
    if name is None:
        raise InputError(_no_link())
    return name


def choose_passphrase(token: str, passphrase: str, *, now: datetime) -> User:
    """Take the passphrase that a person chooses by a one-time link, and use the link up.

    Raises:
        InputError: USER-003 for the passphrase, the link stays then; USER-009 for the link.
    """
    problems = problems_of_passphrase(passphrase)
    if problems:
        raise InputError(*problems)
    with repository.one_transaction():
        user_id = shelf.take_link(_digest(token), now=now)
        if user_id is None:
            raise InputError(_no_link())
        user = User.objects.get(pk=user_id)
        user.set_password(passphrase)
        user.save(update_fields=["password"])
        note("user.chose-passphrase", by=user.get_username(), about=user.get_username())
    return user


def set_active(access: Access | None, name: str, *, is_active: bool) -> None:
    """Let a person sign in no more, or again. What the person entered stays; every session ends.

    Raises:
        InputError: ACCESS-001, USER-007, USER-008, USER-010.
    """
    person = _managed(access, name)
    _not_self(access, person)
    with repository.one_transaction():
        if not is_active:
            _somebody_stays(person, person.roles, without_duty=person.account.is_administrator)
            shelf.end_sessions(person.account.id)
            shelf.drop_links(person.account.id)
        User.objects.filter(pk=person.account.id).update(is_active=is_active)
        note("user.activated" if is_active else "user.deactivated", by=_by(access), about=name)


def set_role(access: Access | None, name: str, team_id: UUID, role: Role | None) -> None:
    """Give a person another role in a team, or none; in force from the person's next page.

    Raises:
        InputError: ACCESS-001, USER-007, USER-008, USER-010.
    """
    person = _managed(access, name, joins=team_id)
    _not_self(access, person)
    _may_give(access, team_id, frozenset())
    with repository.one_transaction():
        if person.roles.get(team_id) is Role.LEAD and role is not Role.LEAD:
            _somebody_stays(person, (team_id,), without_duty=False)
        teams.set_role(person.account.id, team_id, role)
        note("user.role", by=_by(access), about=name, why=f"{role or 'none'} in {team_id}")


def set_duty(access: Access | None, name: str, duty: Duty, *, has_it: bool) -> None:
    """Let a person do something for the whole clinic, or no more.

    Raises:
        InputError: ACCESS-001, USER-007, USER-008, USER-010.
    """
    person = _managed(access, name)
    _not_self(access, person)
    _may_give(access, None, frozenset({duty}))
    with repository.one_transaction():
        if duty is Duty.ADMINISTRATOR:
            if not has_it:
                _somebody_stays(person, (), without_duty=True)
            User.objects.filter(pk=person.account.id).update(is_staff=has_it)
        else:
            shelf.set_person(person.account.id, is_auditor=has_it)
        note("user.duty", by=_by(access), about=name, why=f"{duty} {has_it}")


def end_sessions(access: Access | None, name: str) -> int:
    """Sign a person out everywhere; how many sessions ended. One may do this to oneself.

    Raises:
        InputError: ACCESS-001, USER-010.
    """
    person = person_called(name)
    if access is None or access.name != name:
        person = _managed(access, name)
    note("user.sessions-ended", by=_by(access), about=name)
    return shelf.end_sessions(person.account.id)


def remove_factor(access: Access | None, name: str) -> None:
    """Let a person sign in with the passphrase alone again, whose device and recovery codes are lost.

    Every session ends: whoever has the device may be signed in there.

    Raises:
        InputError: ACCESS-001, USER-007, USER-010.
    """
    person = _managed(access, name)
    _not_self(access, person)
    with repository.one_transaction():
        factor.remove(person.account.id, name, by=_by(access))
        passkey.remove(person.account.id, name, None, by=_by(access))
        shelf.end_sessions(person.account.id)


def change_person(access: Access | None, name: str, *, full_name: str, profession: str) -> None:
    """Change what a person is called and their profession; one may change one's own.

    Raises:
        InputError: ACCESS-001, USER-006, USER-010.
    """
    person = person_called(name)
    if access is None or access.name != name:
        person = _managed(access, name)
    problems = [
        *problems_of_text(full_name, "full_name"),
        *problems_of_text(profession, "profession"),
    ]
    if problems:
        raise InputError(*problems)
    with repository.one_transaction():
        User.objects.filter(pk=person.account.id).update(first_name=full_name.strip(), last_name="")
        shelf.set_person(person.account.id, profession=profession.strip())
        note("user.renamed", by=_by(access), about=name)


def _managed(access: Access | None, name: str, *, joins: UUID | None = None) -> Person:
    """The person of that name, whose account somebody may change; who has no role yet may be let in."""
    person = person_called(name)
    if access is not None:
        need(access, Act.PEOPLE)
        is_free = joins is not None and not person.roles and not person.duties
        if not may_manage(access, person) and not is_free:
            raise InputError(not_allowed(Act.PEOPLE))
    return person


def _may_give(access: Access | None, team_id: UUID | None, duties: frozenset[Duty]) -> None:
    """Refuse to let a lead give more than roles in teams that the lead leads."""
    if access is None or access.is_administrator:
        return
    if duties or team_id is None or Act.PEOPLE not in access.acts_in(team_id):
        raise InputError(not_allowed(Act.PEOPLE))


def _not_self(access: Access | None, person: Person) -> None:
    if access is not None and access.user_id == person.account.id:
        raise InputError(
            Problem(
                code="USER-007",
                what=message("This is your own account."),
                why=message("Nobody changes what they may do themselves, or shuts themselves out."),
                fix=message("Ask another administrator or lead to do it."),
            )
        )


def _somebody_stays(
    person: Person, team_ids: Mapping[UUID, Role] | tuple[UUID, ...], *, without_duty: bool
) -> None:
    """Refuse to leave the clinic without an administrator, or a team without a lead."""
    me = {person.account.id}
    left = [one for one in team_ids if person.roles.get(one) is Role.LEAD]
    if (without_duty and set(shelf.administrators()) <= me) or any(
        set(teams.leads_of(team)) <= me for team in left
    ):
        raise InputError(
            Problem(
                code="USER-008",
                what=message("Nobody would be left to do it."),
                why=message("A clinic keeps an administrator, and each team a lead."),
                fix=message("Give that to somebody else first."),
            )
        )


def _link(access: Access | None, user_id: int, *, now: datetime, lasts: timedelta) -> str:
    token = secrets.token_urlsafe(TOKEN_BYTES)
    shelf.put_link(_digest(token), user_id, now=now, by=_by(access), until=now + lasts)
    return token


def _digest(token: str) -> str:
    """A token is drawn from so many that a plain digest tells nothing of it."""
    return hashlib.sha256(token.encode()).hexdigest()


def _by(access: Access | None) -> str:
    return of_shell() if access is None else access.name


def _no_link() -> Problem:
    return Problem(
        code="USER-009",
        what=message("This link cannot be used."),
        why=message("It was used already, it has run out, or a newer one took its place."),
        fix=message("Ask whoever sent it for a new one."),
    )
