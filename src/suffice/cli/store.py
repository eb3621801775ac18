"""Opens the record for a command: settings, and tables where there are none yet."""

from __future__ import annotations

import fcntl
import os
import resource
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from suffice.errors import InputError, Problem, StorageError, SufficeError
from suffice.message import message

if TYPE_CHECKING:
    from suffice.care.upgrade import Upgraded


def open_record(*, migrate: bool = True) -> None:
    """Set Django up and bring the tables up to date.

    Args:
        migrate: Whether tables are made or brought up to date.

    Raises:
        StorageError: STORE-001, when the database cannot be reached or written; STORE-002 to STORE-004,
            when its tables are not those of this version and cannot be brought up to date.
        InputError: CLI-017, when a variable of the environment is not what it should be.
    """
    # The record and its keys are for the one who runs this, not for everyone on the computer.
    os.umask(0o077)
    _leave_no_core()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "suffice.web.site.settings")
    import django  # noqa: PLC0415 -- heavy: only commands that need the record pay for it
    from django.core.exceptions import ImproperlyConfigured  # noqa: PLC0415

    try:
        django.setup()
    except ImproperlyConfigured as error:
        variable, value = error.args
        raise InputError(_unusable(variable, value)) from error
    except (OSError, ValueError) as error:
        # The settings make the home folder and read DATABASE_URL.
        raise StorageError(_unopened(str(error))) from error
    if migrate:
        _bring_up_to_date()
    _speak_as_the_clinic()


def _leave_no_core() -> None:
    """Let a crash write no memory to a disk: families are in it as they are read, and the key of the record."""
    _soft, hard = resource.getrlimit(resource.RLIMIT_CORE)
    resource.setrlimit(resource.RLIMIT_CORE, (0, hard))


def speak_as_a_clinic_that_is_there() -> None:
    """Speak a clinic's language where it has a record already; no home folder is made for it."""
    if Path(os.environ.get("SUFFICE_HOME", "var")).is_dir() or "DATABASE_URL" in os.environ:
        with suppress(SufficeError):
            open_record(migrate=False)


def _speak_as_the_clinic() -> None:
    from django.db import DatabaseError  # noqa: PLC0415

    from suffice.care.clinic.clinic import clinic  # noqa: PLC0415
    from suffice.cli.console import speak_as  # noqa: PLC0415

    # A policy that cannot be read is a problem of whoever needs it; this asks for the language only,
    # and where there are no tables yet there is none.
    with suppress(SufficeError, DatabaseError):
        speak_as(clinic().policy)


def join_record() -> None:
    """Use a record whose tables another process of this program has brought up to date.

    Raises:
        StorageError: RECORD-009, when they are those of another version.
    """
    from django.db import DatabaseError  # noqa: PLC0415

    from suffice.record import one_version  # noqa: PLC0415
    from suffice.record.repository import unavailable  # noqa: PLC0415

    try:
        one_version.join()
    except DatabaseError as error:
        raise unavailable(error) from error


def _bring_up_to_date() -> None:
    from django.conf import settings  # noqa: PLC0415
    from django.db import DatabaseError  # noqa: PLC0415

    from suffice.care.upgrade import bring_up_to_date  # noqa: PLC0415
    from suffice.cli.moment import now_utc  # noqa: PLC0415
    from suffice.cli.serving import served_at  # noqa: PLC0415

    try:
        with in_turn("tables"):
            _look_again(Path(settings.HOME))
            served = served_at(Path(settings.HOME)) is not None
            done = bring_up_to_date(now=now_utc(), is_served=served)
    except DatabaseError as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise StorageError(_unopened(reason)) from error
    if done is not None and done.copy is not None:
        _speak_as_the_clinic()
        _say_upgraded(done, str(done.copy.path))
    elif done is not None and not done.before:
        _say_begun(Path(settings.HOME))


def _look_again(home: Path) -> None:
    """Remove what a killed `suffice encrypt` left, and see that the record is as it was when this began.

    Raises:
        StorageError: STORE-014, when it was encrypted, or is no longer, since the settings were read.
    """
    from django.conf import settings  # noqa: PLC0415

    from suffice.record.cipher.configured import RECORD, unfinished  # noqa: PLC0415
    from suffice.record.cipher.key import Kind, look  # noqa: PLC0415

    unfinished(home / RECORD).unlink(missing_ok=True)
    other = Kind.ENCRYPTED if settings.RECORD_KEY is None else Kind.PLAIN
    if not os.environ.get("DATABASE_URL") and look(home / RECORD).kind is other:
        raise StorageError(_changed_meanwhile())


def _say_begun(home: Path) -> None:
    """Say that a record was begun: in the wrong folder it would be taken for the clinic's, emptied."""
    from suffice.cli.console import err, print_words  # noqa: PLC0415

    if "DATABASE_URL" in os.environ:
        begun = message("A new record was begun, in the database that DATABASE_URL names.")
    else:
        begun = message("A new record was begun in {path}.", path=str(home.resolve()))
    print_words(begun, to=err)


def _say_upgraded(done: Upgraded, path: str) -> None:
    from suffice.cli.console import err, print_words  # noqa: PLC0415

    print_words(
        message(
            "The tables were brought up to date, from {before} to {after}. The record as it was before is"
            " in {path}.",
            before=done.before,
            after=done.after,
            path=path,
        ),
        to=err,
    )


@contextmanager
def in_turn(what: str) -> Iterator[None]:
    """Let one process at a time do something that two would spoil, like making the tables.

    Whoever comes later waits, and finds it done. The lock ends with the process that holds it.
    """
    from django.conf import settings  # noqa: PLC0415

    with (settings.HOME / f"{what}.lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def _unusable(variable: str, value: str) -> Problem:
    return Problem(
        code="CLI-017",
        what=f"{variable}={value}",
        why=message("is no setting that the program can use."),
        fix=message("Correct it as docs/deployment.md explains, or leave it out."),
    )


def _changed_meanwhile() -> Problem:
    return Problem(
        code="STORE-014",
        what=message("Nothing was read or stored."),
        why=message("The record was encrypted, or is no longer, since this program was started."),
        fix=message("Start it again, with the key that the record has now."),
    )


def _unopened(why: str) -> Problem:
    return Problem(
        code="STORE-001",
        what=message("The database cannot be opened."),
        why=why,
        fix=message("Check DATABASE_URL, or that SUFFICE_HOME is a folder you may write to."),
    )
