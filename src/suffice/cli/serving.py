"""One server for one record: a second one is refused, and told where the first one is."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from suffice.errors import InputError, Problem
from suffice.message import message


@contextmanager
def only_server(home: Path, address: str) -> Iterator[None]:
    """Be the one server of the record in `home` for the length of the block.

    The lock ends with the process, however that ends; what stays in the file is only read while
    somebody has the lock.

    Args:
        home: SUFFICE_HOME.
        address: Where this one will be reached, for whoever comes second.

    Raises:
        InputError: SERVE-001, when the record is served already.
    """
    descriptor = os.open(home / "serving", os.O_RDWR | os.O_CREAT, 0o600)
    with os.fdopen(descriptor, "r+", encoding="utf-8") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise InputError(_served_already(home, file.read().strip())) from None
        file.truncate()
        file.write(address)
        file.flush()
        yield


def served_at(home: Path) -> str | None:
    """Where the record in `home` is served; None where no server has it."""
    try:
        with (home / "serving").open(encoding="utf-8") as file:
            try:
                fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
            except BlockingIOError:
                return file.read().strip() or "?"
    except FileNotFoundError:
        pass
    return None


def _served_already(home: Path, address: str) -> Problem:
    return Problem(
        code="SERVE-001",
        what=message("The record in {home} is served already.", home=str(home)),
        why=message(
            "Two servers would keep two versions of the program and two lists at work on one record."
            " The first is at {address}.",
            address=address or "?",
        ),
        fix=message("Stop it first, or name another record with SUFFICE_HOME."),
    )
