"""One act of a day on the clock, as it is kept with a plan."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from suffice.clinical.reading.hours import DAY_MINUTES

What = Literal["breast", "milk", "bottle", "express", "sleep"]
"""At the breast; the extra milk after it; a whole feed from a bottle or cup; expressing; unbroken sleep."""


class Act(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, order=True):
    """What somebody does, from a minute of the day on; it may pass midnight.

    Attributes:
        starts_minutes: Minutes since midnight, 0 to 1439.
        minutes: How long it takes.
        what: What is done; with more than one infant, for all of them.
        who: The parent, or a helper.
    """

    starts_minutes: Annotated[int, msgspec.Meta(ge=0, lt=DAY_MINUTES)]
    minutes: Annotated[int, msgspec.Meta(ge=1, le=DAY_MINUTES)]
    what: What
    who: Literal["parent", "helper"] = "parent"

    @property
    def ends_minutes(self) -> int:
        """When it is over; beyond 1440 where it passes midnight."""
        return self.starts_minutes + self.minutes
