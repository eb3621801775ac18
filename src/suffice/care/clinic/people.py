"""Who may sign in: named users, each with a passphrase of their own."""

from __future__ import annotations

import re
import secrets

from django.contrib.auth import get_user_model
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from suffice.errors import InputError, Problem
from suffice.message import message

FULL_NAME_LENGTH = 60
NAME = re.compile(r"[a-z0-9][a-z0-9._-]{1,29}")
WORD_COUNT = 5
ALPHABET = "abcdefghijkmnpqrstuvwxyz23456789"
WORD_LENGTH = 4


def add_user(name: str, passphrase: str, *, full_name: str = "", is_admin: bool = False) -> None:
    """Let a person sign in.

    Args:
        name: 2 to 30 small letters, digits, dots, hyphens or underscores; stands in every entry.
        passphrase: At least ten characters; kept only as an Argon2 digest.
        full_name: The person's own name, shown in place of the other; may be empty.
        is_admin: Whether the person may change the policy.

    Raises:
        InputError: USER-001 for the name, USER-002 when it is taken, USER-003 for the passphrase,
            USER-006 for the person's own name.
    """
    problems = _problems_of_full_name(full_name)
    if not NAME.fullmatch(name):
        problems.append(
            Problem(
                code="USER-001",
                what=message("'{name}'", name=name),
                why=message("is not a user name: every entry that the person makes carries it."),
                fix=message("Use 2 to 30 small letters, digits, dots, hyphens or underscores."),
                where=message("name"),
            )
        )
    try:
        validate_password(passphrase)
    except ValidationError as error:
        problems.append(
            Problem(
                code="USER-003",
                what=message("The passphrase cannot be used."),
                why=" ".join(error.messages),
                fix=message("Take four or five words that nobody would guess together."),
                where=message("passphrase"),
            )
        )
    if problems:
        raise InputError(*problems)
    users = get_user_model().objects
    with transaction.atomic():
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
        users.create_user(
            username=name, password=passphrase, first_name=full_name.strip(), is_staff=is_admin
        )


def change_full_name(name: str, full_name: str) -> None:
    """Change what a person is called; earlier entries show the new name too.

    Args:
        name: The name that the person signs in with.
        full_name: The person's own name; empty to be called by the other.

    Raises:
        InputError: USER-006 for a name that does not fit on a line.
    """
    problems = _problems_of_full_name(full_name)
    if problems:
        raise InputError(*problems)
    get_user_model().objects.filter(username=name).update(
        first_name=full_name.strip(), last_name=""
    )


def full_names() -> dict[str, str]:
    """What people are called, by the names that they sign in with; only those who said it."""
    users = get_user_model().objects.exclude(first_name="", last_name="")
    return {one.get_username(): one.get_full_name() for one in users}


def _problems_of_full_name(full_name: str) -> list[Problem]:
    text = full_name.strip()
    if len(text) <= FULL_NAME_LENGTH and text.isprintable():
        return []
    return [
        Problem(
            code="USER-006",
            what=message("A name of {count} characters", count=len(text)),
            why=message("does not fit on a line next to an entry."),
            fix=message("Use at most {most} characters, on one line.", most=FULL_NAME_LENGTH),
            where="full_name",
        )
    ]


def has_users() -> bool:
    """Whether anybody can sign in."""
    return bool(get_user_model().objects.exists())


def is_passphrase_of(name: str, passphrase: str) -> bool:
    """Whether a person still signs in with this passphrase."""
    user = get_user_model().objects.filter(username=name).first()
    return user is not None and user.check_password(passphrase)


def new_passphrase() -> str:
    """A passphrase that nobody can guess: groups of letters and digits, 100 bits."""
    words = (
        "".join(secrets.choice(ALPHABET) for _ in range(WORD_LENGTH)) for _ in range(WORD_COUNT)
    )
    return "-".join(words)
