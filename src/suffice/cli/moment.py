"""Instants as they are typed on a command line."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from suffice.clinical.structure import EARLIEST, LATEST
from suffice.errors import InputError, Problem
from suffice.message import message


def now_utc() -> datetime:
    """This instant."""
    return datetime.now(UTC)


def read_instant(text: str, zone: str, *, option: str = "--as-of") -> datetime:
    """An instant such as ``2026-03-28T09:30`` or ``2026-03-28T09:30+01:00``.

    Args:
        text: ISO 8601 with a time of day; without an offset it is local time of `zone`.
        zone: IANA time zone.
        option: The option it was typed for.

    Raises:
        InputError: CLI-001 when it cannot be read, CLI-002 when the clocks skipped that hour or
            showed it twice, CLI-010 when its year cannot be, CLI-011 when there is no such zone.
    """
    try:
        instant = datetime.fromisoformat(text)
    except ValueError:
        instant = None
    if instant is None or len(text.strip()) <= len("2026-03-28"):
        raise InputError(
            Problem(
                code="CLI-001",
                what=f"'{text}'",
                why=message("is not an instant: an age in hours needs the time of day."),
                fix=message(
                    "Write it like 2026-03-28T09:30, or with its offset, 2026-03-28T09:30+01:00."
                ),
                where=option,
            )
        )
    if not EARLIEST.year <= instant.year < LATEST.year:
        raise InputError(
            Problem(
                code="CLI-010",
                what=f"'{text}'",
                why=message(
                    "is of no year from {first} to {last}.",
                    first=EARLIEST.year,
                    last=LATEST.year - 1,
                ),
                fix=message("Is the year right? Correct it."),
                where=option,
            )
        )
    if instant.tzinfo is not None:
        return instant
    place = _place(zone)
    early = instant.replace(tzinfo=place, fold=0)
    late = instant.replace(tzinfo=place, fold=1)
    if early.utcoffset() != late.utcoffset():
        raise InputError(
            Problem(
                code="CLI-002",
                what=f"'{text}'",
                why=message(
                    "is an hour that the clocks in {zone} skipped or showed twice that night.",
                    zone=zone,
                ),
                fix=message("Add the offset that you mean, for example +01:00."),
                where=option,
            )
        )
    return early


def _place(zone: str) -> ZoneInfo:
    try:
        return ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise InputError(
            Problem(
                code="CLI-011",
                what=f"'{zone}'",
                why=message("is not an IANA time zone."),
                fix=message("Name one such as Europe/Madrid or America/Chicago."),
                where="--zone",
            )
        ) from error
