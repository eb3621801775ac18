"""Whether this computer's clock was set back: entries are dated by it, and links say when they were made."""

from __future__ import annotations

from datetime import datetime, timedelta

from suffice.record import models

BACK = timedelta(minutes=5)
"""Clocks of two servers may differ, and a clock that is set right may go back a little."""
CODE = "clock"
"""Under this code it is kept beside damage that is known, though nothing is damaged."""


def ahead_of(now: datetime) -> datetime | None:
    """When the newest link was made, where that is later than `now` by more than some minutes."""
    newest = models.Link.objects.order_by("-seq").values_list("made_at", flat=True).first()
    return newest if newest is not None and newest > now + BACK else None


def notice(now: datetime) -> None:
    """Keep that the clock went back, where something is stored earlier than the newest link."""
    before = ahead_of(now)
    if before is not None:
        span = f"{before.isoformat()} {now.isoformat()}"
        models.Damage.objects.create(code=CODE, form="", key=span)


def set_back() -> tuple[datetime, datetime] | None:
    """The last time that the clock went back, as (before, after); None where it never did."""
    found = models.Damage.objects.filter(code=CODE).order_by("-number")
    key = found.values_list("key", flat=True).first()
    if key is None:
        return None
    before, after = map(datetime.fromisoformat, key.split())
    return before, after
