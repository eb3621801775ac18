"""What somebody did that a clinic wants to know of later: one call where it is done, kept by the trail."""

from __future__ import annotations

import getpass
import os
from typing import Final
from uuid import UUID

from django.utils import timezone

from suffice.care import trail
from suffice.care.trail import Act
from suffice.message import Message, message

EVENTS: dict[str, tuple[Act, Message]] = {
    "user.added": (Act.PEOPLE, message("a user: added")),
    "user.invited": (Act.PEOPLE, message("a user: invited")),
    "user.reset": (Act.PEOPLE, message("a user: new passphrase asked for")),
    "user.chose-passphrase": (Act.ACCOUNT, message("a user: passphrase chosen")),
    "passphrase.changed": (Act.ACCOUNT, message("a passphrase: changed")),
    "unlocked": (Act.SIGN_IN, message("a screen: unlocked")),
    "user.activated": (Act.PEOPLE, message("a user: let in again")),
    "user.deactivated": (Act.PEOPLE, message("a user: deactivated")),
    "user.role": (Act.PEOPLE, message("a user: role changed")),
    "user.duty": (Act.PEOPLE, message("a user: duty changed")),
    "user.sessions-ended": (Act.PEOPLE, message("a user: signed out everywhere")),
    "user.renamed": (Act.PEOPLE, message("a user: name or profession changed")),
    "factor.set": (Act.ACCOUNT, message("one-time codes: set up")),
    "factor.renewed": (Act.ACCOUNT, message("one-time codes: new recovery codes")),
    "factor.recovery-used": (Act.ACCOUNT, message("one-time codes: a recovery code used up")),
    "factor.removed": (Act.ACCOUNT, message("one-time codes: removed")),
    "outside.linked": (Act.PEOPLE, message("a user: linked to an account elsewhere")),
    "outside.unlinked": (Act.PEOPLE, message("a user: linked to no account elsewhere any more")),
    "passkey.added": (Act.ACCOUNT, message("a passkey: added")),
    "passkey.removed": (Act.ACCOUNT, message("a passkey: removed")),
    "team.made": (Act.PEOPLE, message("a team: made")),
    "team.renamed": (Act.PEOPLE, message("a team: renamed")),
    "family.searched-elsewhere": (Act.SEARCH, message("a family of another team: searched for")),
    "family.opened-in-emergency": (Act.READ, message("a family of another team: opened")),
    "emergency.seen": (Act.TRAIL, message("what others opened in an emergency")),
    "family.erasure-asked": (Act.RECORD, message("a family: its erasure was asked for")),
    "family.erasure-taken-back": (Act.RECORD, message("a family: its erasure was refused")),
    "family.erased": (Act.RECORD, message("a family: erased")),
    "family.passed-on": (Act.PEOPLE, message("a family: passed on")),
}
"""What was done, by the word that the trail keeps: which act that is, and how a page says it."""

SHELL: Final = " (shell)"
"""Behind the name of a system's user, who has done something from a shell; no name to sign in with has a space."""


def of_shell() -> str:
    """The system's user, by whom something is done from a shell; by number where the system has no name."""
    try:
        return f"{getpass.getuser()}{SHELL}"
    except (KeyError, OSError):
        return f"{os.getuid()}{SHELL}"


def note(
    what: str, *, by: str, about: str = "", family_id: UUID | None = None, why: str = ""
) -> None:
    """Put on the trail that something was done.

    Args:
        what: What was done, a word of :data:`EVENTS`.
        by: The name that whoever did it signs in with, or :func:`of_shell`; empty for nobody who has signed in.
        about: The name of the user or team that it was done to.
        family_id: The family that it is about, if it is about one.
        why: The reason that was given; never a value of the record.
    """
    act, _ = EVENTS[what]
    trail.note(
        act, who=by, page=what, now=timezone.now(), family_id=family_id, about=about, why=why
    )
