"""IANA time zones: whether a name is one, and what is said where it is none. Asked nowhere else."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from suffice.errors import Problem
from suffice.message import message


def is_zone(name: str) -> bool:
    """Whether `name` is a time zone that this machine knows."""
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        return False
    return True


def no_zone(name: str, *, where: str) -> Problem:
    """What is wrong with a name that is no IANA time zone."""
    return Problem(
        code="CLOCK-005",
        what=message("'{name}'", name=name),
        why=message("is not an IANA time zone, so ages in hours would be wrong."),
        fix=message("Enter one such as Europe/Madrid or America/Chicago."),
        where=where,
    )
