"""Instants as they are typed on a command line."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from suffice.errors import InputError, Problem


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
            showed it twice.
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
                why="is not an instant: an age in hours needs the time of day.",
                fix="Write it like 2026-03-28T09:30, or with its offset, 2026-03-28T09:30+01:00.",
                where=option,
            )
        )
    if instant.tzinfo is not None:
        return instant
    place = ZoneInfo(zone)
    early = instant.replace(tzinfo=place, fold=0)
    late = instant.replace(tzinfo=place, fold=1)
    if early.utcoffset() != late.utcoffset():
        raise InputError(
            Problem(
                code="CLI-002",
                what=f"'{text}'",
                why=f"is an hour that the clocks in {zone} skipped or showed twice that night.",
                fix="Add the offset that you mean, for example +01:00.",
                where=option,
            )
        )
    return early
