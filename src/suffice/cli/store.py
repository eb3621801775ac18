"""Opens the record for a command: settings, and tables where there are none yet."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from suffice.errors import Problem, StorageError, SufficeError
from suffice.message import message


def open_record(*, migrate: bool = True) -> None:
    """Set Django up and bring the tables up to date.

    Args:
        migrate: Whether tables are made or brought up to date.

    Raises:
        StorageError: STORE-001, when the database cannot be reached or written.
    """
    # The record and its keys are for the one who runs this, not for everyone on the computer.
    os.umask(0o077)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "suffice.web.site.settings")
    import django  # noqa: PLC0415 -- heavy: only commands that need the record pay for it

    try:
        django.setup()
    except (OSError, ValueError) as error:
        # The settings make the home folder and read DATABASE_URL.
        raise StorageError(_unopened(str(error))) from error
    if migrate:
        _migrate()
    _speak_as_the_clinic()


def speak_as_a_clinic_that_is_there() -> None:
    """Speak a clinic's language where it has a record already; no home folder is made for it."""
    if Path(os.environ.get("SUFFICE_HOME", "var")).is_dir() or "DATABASE_URL" in os.environ:
        from django.db import DatabaseError  # noqa: PLC0415

        # Without tables there is no clinic yet, and no language but English.
        with suppress(SufficeError, DatabaseError):
            open_record(migrate=False)


def _speak_as_the_clinic() -> None:
    from suffice.care.clinic.clinic import clinic  # noqa: PLC0415
    from suffice.cli.console import speak_as  # noqa: PLC0415

    # A policy that cannot be read is a problem of whoever needs it; this asks for the language only.
    with suppress(SufficeError):
        speak_as(clinic().policy)


def _migrate() -> None:
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import DatabaseError  # noqa: PLC0415

    try:
        with in_turn("tables"):
            call_command("migrate", verbosity=0, interactive=False)
    except DatabaseError as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise StorageError(_unopened(reason)) from error


@contextmanager
def in_turn(what: str) -> Iterator[None]:
    """Let one process at a time do something that two would spoil, like making the tables.

    Whoever comes later waits, and finds it done. The lock ends with the process that holds it.
    """
    from django.conf import settings  # noqa: PLC0415

    with (settings.HOME / f"{what}.lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def _unopened(why: str) -> Problem:
    return Problem(
        code="STORE-001",
        what=message("The database cannot be opened."),
        why=why,
        fix=message("Check DATABASE_URL, or that SUFFICE_HOME is a folder you may write to."),
    )
