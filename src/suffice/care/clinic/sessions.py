"""Sign-ins that have ended by themselves: what is kept of them is deleted."""

from __future__ import annotations

from datetime import datetime

from django.contrib.sessions.models import Session


def forget_ended(*, now: datetime) -> int:
    """Delete sessions whose time is over; how many there were.

    Nothing is written where there is none: an upkeep every minute must not take the write lock for
    nothing.
    """
    ended = Session.objects.filter(expire_date__lt=now)
    if not ended.exists():
        return 0
    return ended.delete()[0]
