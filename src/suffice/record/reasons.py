"""Why the database did not do it, in words of our own.

What a database says itself names hosts, users, tables and sometimes values: it belongs on no page.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Final

from suffice.errors import Problem
from suffice.message import Message, message
from suffice.record import sqlite_file
from suffice.record.one_version import OtherVersionError

if TYPE_CHECKING:
    import psycopg

BUSY: Final = message("It was busy with other changes for too long.")
FULL: Final = message("The disk is full.")
READ_ONLY: Final = message("It may not be written to.")
DAMAGED: Final = message("Its file is damaged.")
UNREACHABLE: Final = message("It does not answer.")
REFUSED: Final = message("It does not let the program in.")
AGAINST_A_RULE: Final = message("The change is against one of its rules.")
UNKNOWN: Final = message("It reports an error.")

_SQLITE: Final = {
    "SQLITE_BUSY": BUSY,
    "SQLITE_LOCKED": BUSY,
    "SQLITE_FULL": FULL,
    "SQLITE_READONLY": READ_ONLY,
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_NOTADB": DAMAGED,
    "SQLITE_CANTOPEN": UNREACHABLE,
    "SQLITE_IOERR": UNREACHABLE,
    "SQLITE_CONSTRAINT": AGAINST_A_RULE,
}
"""By the name of the result; longer names begin with one of these."""
_POSTGRESQL: Final = {
    "53100": FULL,
    "25006": READ_ONLY,
    "55P03": BUSY,
    "XX001": DAMAGED,
    "XX002": DAMAGED,
    "08": UNREACHABLE,
    "23": AGAINST_A_RULE,
    "28": REFUSED,
    "40": BUSY,
    "53": BUSY,
    "57": UNREACHABLE,
}
"""By the state that the server reports, or by the class of states that it begins with."""


def why(error: Exception) -> Message:
    """The reason of a database's error.

    Args:
        error: As Django raises it, with the driver's own as its cause, or that one itself.
    """
    if isinstance(error, OtherVersionError):
        return error.why
    cause = error.__cause__ or error
    if isinstance(cause, sqlite_file.errors()):
        name = getattr(cause, "sqlite_errorname", None) or ""
        return next((_SQLITE[one] for one in _SQLITE if name.startswith(one)), UNKNOWN)
    # Where its driver was never loaded, no error is PostgreSQL's; loading it takes a tenth of a start.
    if (driver := sys.modules.get("psycopg")) and isinstance(cause, driver.Error):
        return _of_postgresql(cause, driver.OperationalError)
    return UNKNOWN


def _of_postgresql(cause: psycopg.Error, operational: type[psycopg.Error]) -> Message:
    if cause.sqlstate is None:  # nobody was there to report one
        return UNREACHABLE if isinstance(cause, operational) else UNKNOWN
    return _POSTGRESQL.get(cause.sqlstate) or _POSTGRESQL.get(cause.sqlstate[:2], UNKNOWN)


def refused(error: Exception) -> Problem:
    """The problem of a change that is against a rule of the database."""
    return Problem(
        code="RECORD-009",
        what=message("The database refused the change; nothing was stored."),
        why=why(error),
        fix=message(
            "Load the page again and enter it once more; if it recurs, this is a defect to report."
        ),
    )


def unreached(error: Exception) -> Problem:
    """The problem of a database that did not answer, or could not."""
    return Problem(
        code="RECORD-009",
        what=message("The record could not be read or written; nothing was stored."),
        why=why(error),
        fix=message("Check that the disk has room and the database runs, then try again."),
    )
