"""Until when milk can be used: where it was kept, from when on, and what happened to it since.

A container has one state at a time. Each state has its longest time; in the room, the fridge, a cold box
and the freezer it counts from when the milk was expressed, thawed and warmed from when that began. What
was once thawed is never frozen again, and nothing that was past its time becomes good by being moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final, Literal

import msgspec

from suffice.clinical.units import DAYS_PER_MONTH, HOURS_PER_DAY
from suffice.clinical.working import Constant

State = Literal["room", "fridge", "freezer", "cold box", "thawing", "thawed", "warmed"]
End = Literal["used", "discarded"]
FRESH: Final[frozenset[State]] = frozenset({"room", "fridge", "freezer", "cold box"})
"""States in which milk was never thawed."""
LATE_NOTE: Final = ("thawed", "thawing")
"""That it began to thaw, noted after it was thawed: it gives no time anew."""


class StorageProfile(msgspec.Struct, frozen=True, kw_only=True):
    """How long milk keeps in one place of care; a family is given one profile."""

    room: Constant
    fridge: Constant
    freezer: Constant
    cold_box: Constant
    thawed: Constant
    warmed: Constant

    def time_in(self, state: State) -> Constant:
        """The longest time of a state."""
        return {
            "room": self.room,
            "fridge": self.fridge,
            "freezer": self.freezer,
            "cold box": self.cold_box,
            "thawing": self.thawed,
            "thawed": self.thawed,
            "warmed": self.warmed,
        }[state]


class Moved(msgspec.Struct, frozen=True):
    """What was done with a container, and when."""

    to: State | End
    at: datetime


class UseBy(msgspec.Struct, frozen=True, kw_only=True):
    """Until when a container can be used, and why.

    Attributes:
        at: Discard it at this instant.
        state: Where it is now, or how it ended.
        since: Since when it is there.
        limit: The longest time that decides; None where a donor bank's own date does.
        was_late: Whether it was moved on after its time had run out.
    """

    at: datetime
    state: State | End
    since: datetime
    limit: Constant | None
    was_late: bool = False


def hours_of(limit: Constant) -> float:
    """A time of the content in hours."""
    per_unit = {"h": 1.0, "d": float(HOURS_PER_DAY), "mo": DAYS_PER_MONTH * HOURS_PER_DAY}
    return limit.value * per_unit[limit.unit]


def use_by(
    expressed_at: datetime,
    place: State,
    moves: Sequence[Moved],
    profile: StorageProfile,
    expires_at: datetime | None = None,
) -> UseBy:
    """Until when a container can be used.

    Args:
        expressed_at: When it was expressed; of donor milk, when it came.
        place: Where it was put first.
        moves: What was done with it since, in order of time.
        profile: The times of the place of care.
        expires_at: The date of a donor bank, which is never outlived; it takes the place of the
            time in the freezer.
    """
    found = _entered(expressed_at, expressed_at, place, profile, expires_at)
    was_thawed = place not in FRESH
    for one in moves:
        late = found.was_late or one.at > found.at
        if one.to in {"used", "discarded"}:
            return UseBy(at=found.at, state=one.to, since=one.at, limit=found.limit, was_late=late)
        state: State = one.to  # type: ignore[assignment]  # the ends were returned just now
        then = _entered(expressed_at, one.at, state, profile, expires_at)
        if was_thawed and state in FRESH:
            then = msgspec.structs.replace(then, at=found.at, limit=found.limit)
        elif late or "warmed" in {found.state, state} or (found.state, state) == LATE_NOTE:
            # Whatever is done now, the time it had is not outlived.
            then = min(found, then, key=lambda one: one.at)
        found = UseBy(at=then.at, state=state, since=one.at, limit=then.limit, was_late=late)
        was_thawed = was_thawed or state not in FRESH
    return found


def _entered(
    expressed_at: datetime,
    at: datetime,
    state: State,
    profile: StorageProfile,
    expires_at: datetime | None,
) -> UseBy:
    """The time of a container that comes into a state."""
    limit = profile.time_in(state)
    begins = expressed_at if state in FRESH else at
    until = begins + timedelta(hours=hours_of(limit))
    if expires_at is not None and (state == "freezer" or expires_at < until):
        return UseBy(at=expires_at, state=state, since=at, limit=None)
    return UseBy(at=until, state=state, since=at, limit=limit)
