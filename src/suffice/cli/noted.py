"""What is done from a shell is on the trail too, under the name of the system's user."""

from __future__ import annotations

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
    from suffice.care.clinic.noted import of_shell  # noqa: PLC0415

    page = f"suffice {command}"
    trail.note(act, who=of_shell(), page=page, now=now_utc(), family_id=family_id, about=about)
    if not is_stored:
        return
    with suppress(StorageError, OSError):
        trail.flush()
