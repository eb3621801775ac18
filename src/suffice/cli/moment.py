"""The instant of a command."""

from __future__ import annotations

from datetime import UTC, datetime


def now_utc() -> datetime:
    """This instant."""
    return datetime.now(UTC)
