"""What can happen while a feed is watched, and what a list of such events must keep to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, Literal

import msgspec

from suffice.clinical.parameters import Parameters
from suffice.clinical.units import MS_PER_MINUTE
from suffice.clinical.working import Constant
from suffice.errors import InputError, Problem
from suffice.message import Message, message

What = Literal["left", "right", "swallow", "away", "back", "pause", "on", "off"]
"""'left', 'right': the infant goes on that side; 'swallow': one was heard or seen; 'away', 'back':
nobody watches, and watches again; 'pause', 'on': the side is interrupted, and goes on; 'off': the
infant comes off, or is taken off."""

ORDER: dict[str, int] = {
    what: place
    for place, what in enumerate(("off", "on", "back", "left", "right", "swallow", "pause", "away"))
}
"""Which comes first of two events of the same millisecond."""


class FeedEvent(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One event of a watched feed, `at_ms` milliseconds after the feed began."""

    at_ms: int
    what: What


class EventLimits(Parameters, frozen=True, kw_only=True):
    """How much a watched feed may hold; more is a clock that jumped, or a page left open."""

    topic: ClassVar[str] = "watched_feed"

    longest_minutes: Constant
    """Of the whole feed."""
    most_count: Constant
    """Events."""


def ordered(events: Sequence[FeedEvent]) -> tuple[FeedEvent, ...]:
    """The events by time; in whatever order they arrived the result is the same."""
    return tuple(sorted(events, key=lambda one: (one.at_ms, ORDER[one.what])))


def check_events(events: Sequence[FeedEvent], limits: EventLimits) -> None:
    """Refuse what cannot be the events of one feed.

    Raises:
        InputError: WATCH-001 for an event before the beginning, WATCH-002 for one that is later
            than any feed lasts, WATCH-003 for more events than a feed can have, WATCH-004 where no
            side is named before the first swallow.
    """
    if len(events) > limits.most_count.value:
        raise _refused(
            "WATCH-003",
            message("{count} events", count=len(events)),
            message("are more than a feed has: at most {most}.", most=int(limits.most_count.value)),
            message("Enter the feed in parts."),
        )
    in_order = ordered(events)
    if in_order and in_order[0].at_ms < 0:
        raise _refused(
            "WATCH-001",
            message("an event before the feed began"),
            message("cannot belong to it: a clock may have been set in between."),
            message("Undo it, or begin the feed again."),
        )
    if in_order and in_order[-1].at_ms > limits.longest_minutes.value * MS_PER_MINUTE:
        raise _refused(
            "WATCH-002",
            message(
                "an event {minutes} min after the feed began",
                minutes=in_order[-1].at_ms // MS_PER_MINUTE,
            ),
            message(
                "is later than a feed lasts: at most {most} min.",
                most=int(limits.longest_minutes.value),
            ),
            message("Undo it; a clock may have been set, or the page was left open."),
        )
    first = next((one.what for one in in_order if one.what not in {"away", "back"}), "left")
    if first not in {"left", "right"}:
        raise _refused(
            "WATCH-004",
            message("a feed without a side at its beginning"),
            message("cannot be read: each swallow belongs to a side."),
            message("Say on which side the infant went first."),
        )


def _refused(code: str, what: Message, why: Message, fix: Message) -> InputError:
    return InputError(Problem(code=code, what=what, why=why, fix=fix))
