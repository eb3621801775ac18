"""Accounts at an identity provider outside (OpenID Connect), each linked by an administrator to one here.

Nobody gets an account by signing in outside, and nobody links themselves. A link names what the provider
calls the person (subject), or an address of mail that the provider has verified; with the first sign-in the
subject takes its place, so that an address that is given to somebody else later opens nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from suffice.care.clinic.access import Access, not_allowed
from suffice.care.clinic.accounts import person_called
from suffice.care.clinic.noted import note
from suffice.care.clinic.roles import Act
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import outside as shelf

LINK_LENGTH: Final = 255
"""A subject has at most 255 characters (OpenID Connect Core, 2)."""


def link(access: Access, name: str, issuer: str, linked: str, *, now: datetime) -> None:
    """Let a person sign in with an account at a provider; an empty `linked` takes that away.

    Args:
        access: What whoever links may do.
        name: The name that the person signs in with here.
        issuer: The provider.
        linked: Its subject, or an address of mail.
        now: The instant.

    Raises:
        InputError: ACCESS-001, for anybody but an administrator; USER-010; USER-015, when somebody else
            is linked to it, or it is too long.
    """
    if not access.is_administrator:
        raise InputError(not_allowed(Act.PEOPLE))
    person, linked = person_called(name), linked.strip()
    is_mail = "@" in linked
    is_kept = len(linked) <= LINK_LENGTH and shelf.put_outside(
        person.account.id,
        issuer=issuer,
        subject="" if is_mail else linked,
        mail=linked.casefold() if is_mail else "",
        now=now,
        by=access.name,
    )
    if not is_kept:
        raise InputError(_taken())
    note("outside.linked" if linked else "outside.unlinked", by=access.name, about=name)


def person_of(issuer: str, claims: Mapping[str, Any]) -> int:
    """The number of the person to whom an account at a provider is linked.

    Args:
        issuer: The provider.
        claims: What it says of who signed in; checked by the caller to be its word.

    Raises:
        InputError: USER-016, when nobody is linked to it.
    """
    subject, mail = str(claims.get("sub", "")), str(claims.get("email", "")).casefold()
    if subject:
        found = shelf.outside_of(issuer, subject=subject)
        if found is None and mail and claims.get("email_verified") is True:
            found = shelf.take_outside(issuer, mail=mail, subject=subject)
        if found is not None:
            return found
    raise InputError(_not_linked())


def linked_to(user_id: int) -> str:
    """What a person is linked to: a subject, or an address until the first sign-in; empty for nothing."""
    return shelf.outside_kept(user_id)


def _taken() -> Problem:
    return Problem(
        code="USER-015",
        what=message("This account was not linked."),
        why=message("Somebody else is linked to it, or it is no name of an account."),
        fix=message(
            "Enter the subject or the e-mail address that the provider shows for the person."
        ),
        where="linked",
    )


def _not_linked() -> Problem:
    return Problem(
        code="USER-016",
        what=message("You are not signed in."),
        why=message("Your account there is not linked to any account here."),
        fix=message("Ask an administrator to link it, or sign in with your name and passphrase."),
    )
