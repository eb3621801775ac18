"""What is done from a shell is on the trail too, under the name of the system's user."""

from __future__ import annotations

import getpass
import os
from contextlib import suppress
from typing import TYPE_CHECKING
from uuid import UUID

from suffice.cli.moment import now_utc
from suffice.errors import StorageError

if TYPE_CHECKING:
    from suffice.care.trail import Act


def note_command(
    act: Act,
    command: str,
    *,
    family_id: UUID | None = None,
    about: str = "",
    is_stored: bool = True,
) -> None:
    """Note a command that has done something; where the store is away it is stored later.

    Args:
        act: What was done.
        command: Which command did it.
        family_id: The family that it was about.
        about: What of it.
        is_stored: Whether to store it now; otherwise the next program does that has the record.
    """
    from suffice.care import trail  # noqa: PLC0415 -- heavy: only commands that open the record

    page = f"suffice {command}"
    trail.note(act, who=_user(), page=page, now=now_utc(), family_id=family_id, about=about)
    if not is_stored:
        return
    with suppress(StorageError, OSError):
        trail.flush()


def _user() -> str:
    """The system's user; by number where the system has no name for it."""
    try:
        return f"{getpass.getuser()} (shell)"
    except (KeyError, OSError):
        return f"{os.getuid()} (shell)"
