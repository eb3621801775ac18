"""Who may sign in: named users, each with a passphrase of their own."""

from __future__ import annotations

import re
import secrets
from datetime import datetime

from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from suffice.care.clinic.noted import note
from suffice.care.clinic.roles import Role
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import repository, teams

FULL_NAME_LENGTH = 60
NAME = re.compile(r"[a-z0-9][a-z0-9._-]{1,29}")
WORD_COUNT = 5
ALPHABET = "abcdefghijkmnpqrstuvwxyz23456789"
WORD_LENGTH = 4


def add_user(
    name: str,
    passphrase: str,
    *,
    now: datetime,
    full_name: str = "",
    is_admin: bool = False,
    by: str = "",
) -> None:
    """Let a person sign in, as a consultant of the first team, or as its lead.

    Args:
        name: 2 to 30 small letters, digits, dots, hyphens or underscores; stands in every entry.
        passphrase: At least ten characters; kept only as an Argon2 digest.
        now: The instant.
        full_name: The person's own name, shown in place of the other; may be empty.
        is_admin: Whether the person leads the team, and looks after the accounts of the clinic.
        by: Who lets the person in; empty for the first user, who comes without anybody.

    Raises:
        InputError: USER-001 for the name, USER-002 when it is taken, USER-003 for the passphrase,
            USER-006 for the person's own name.
    """
    problems = [*problems_of_text(full_name, "full_name"), *problems_of_name(name)]
    problems += problems_of_passphrase(passphrase)
    if problems:
        raise InputError(*problems)
    role = Role.LEAD if is_admin else Role.CONSULTANT
    with repository.one_transaction():
        user = new_user(name, full_name, is_admin=is_admin)
        user.set_password(passphrase)
        user.save(update_fields=["password"])
        teams.set_role(user.pk, teams.first_team(now=now), role)
        note("user.added", by=by, about=name)


def add_first_user(name: str, passphrase: str, *, now: datetime, full_name: str) -> bool:
    """Let somebody in who needs nobody's leave, because nobody is there yet; of two at once one is the first.

    Returns:
        False where somebody was there by then.

    Raises:
        InputError: As :func:`add_user`.
    """
    with repository.one_transaction():
        teams.leads_of(teams.first_team(now=now))  # holds the team until the end
        if has_users():
            return False
        add_user(name, passphrase, now=now, full_name=full_name, is_admin=True)
    return True


def new_user(name: str, full_name: str, *, is_admin: bool) -> User:
    """A user without a passphrase, within the caller's transaction.

    Raises:
        InputError: USER-002, when the name is taken.
    """
    users = User.objects
    if users.filter(username=name).exists():
        raise InputError(
            Problem(
                code="USER-002",
                what=message("'{name}'", name=name),
                why=message("can sign in already, and every name belongs to one person."),
                fix=message("Choose another name."),
                where=message("name"),
            )
        )
    return users.create_user(
        username=name, password=None, first_name=full_name.strip(), is_staff=is_admin
    )


def problems_of_name(name: str) -> list[Problem]:
    """What is wrong with a name to sign in with."""
    if NAME.fullmatch(name):
        return []
    return [
        Problem(
            code="USER-001",
            what=message("'{name}'", name=name),
            why=message("is not a user name: every entry that the person makes carries it."),
            fix=message("Use 2 to 30 small letters, digits, dots, hyphens or underscores."),
            where=message("name"),
        )
    ]


def problems_of_passphrase(passphrase: str) -> list[Problem]:
    """What is wrong with a passphrase."""
    try:
        validate_password(passphrase)
    except ValidationError as error:
        return [
            Problem(
                code="USER-003",
                what=message("The passphrase cannot be used."),
                why=" ".join(error.messages),
                fix=message("Take four or five words that nobody would guess together."),
                where=message("passphrase"),
            )
        ]
    return []


def change_full_name(name: str, full_name: str) -> None:
    """Change what a person is called; earlier entries show the new name too.

    Args:
        name: The name that the person signs in with.
        full_name: The person's own name; empty to be called by the other.

    Raises:
        InputError: USER-006 for a name that does not fit on a line.
    """
    problems = problems_of_text(full_name, "full_name")
    if problems:
        raise InputError(*problems)
    User.objects.filter(username=name).update(first_name=full_name.strip(), last_name="")


def full_names() -> dict[str, str]:
    """What people are called, by the names that they sign in with; only those who said it."""
    users = User.objects.exclude(first_name="", last_name="")
    return {one.get_username(): one.get_full_name() for one in users}


def problems_of_text(text: str, where: str) -> list[Problem]:
    """What is wrong with a person's own name, or profession: either stands on a line with others."""
    text = text.strip()
    if len(text) <= FULL_NAME_LENGTH and text.isprintable():
        return []
    return [
        Problem(
            code="USER-006",
            what=message("A name of {count} characters", count=len(text)),
            why=message("does not fit on a line next to an entry."),
            fix=message("Use at most {most} characters, on one line.", most=FULL_NAME_LENGTH),
            where=where,
        )
    ]


def has_users() -> bool:
    """Whether anybody can sign in."""
    return bool(User.objects.exists())


def is_user(name: str) -> bool:
    """Whether somebody signs in with this name."""
    return bool(User.objects.filter(username=name).exists())


def user_names() -> tuple[str, ...]:
    """The names that people sign in with, in order."""
    return tuple(User.objects.order_by("username").values_list("username", flat=True))


def is_passphrase_of(name: str, passphrase: str) -> bool:
    """Whether a person still signs in with this passphrase."""
    user = User.objects.filter(username=name).first()
    return user is not None and user.check_password(passphrase)


def new_passphrase() -> str:
    """A passphrase that nobody can guess: groups of letters and digits, 100 bits."""
    words = (
        "".join(secrets.choice(ALPHABET) for _ in range(WORD_LENGTH)) for _ in range(WORD_COUNT)
    )
    return "-".join(words)
