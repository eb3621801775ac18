"""What can happen while a feed is watched, and what a list of such events must keep to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import ClassVar, Literal

import msgspec

from suffice.clinical.parameters import Parameters
from suffice.clinical.units import MS_PER_MINUTE
from suffice.clinical.working import Constant
from suffice.errors import Problem
from suffice.message import Message, Number, message

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


def event_problems(events: Sequence[FeedEvent], limits: EventLimits) -> tuple[Problem, ...]:
    """What keeps events from being those of one feed: WATCH-001 to WATCH-004, empty when nothing.

    The readings of a feed ask this first: what it refuses may be of any length.
    """
    if len(events) > limits.most_count.value:
        return (
            _refused(
                "WATCH-003",
                message("{count} event", plural="{count} events", count=len(events)),
                message(
                    "are more than a feed has: at most {most}.", most=int(limits.most_count.value)
                ),
                message("Enter the feed in parts."),
            ),
        )
    in_order = ordered(events)
    return tuple(_of_the_clock(in_order, limits)) + tuple(_of_the_side(in_order))


def _of_the_clock(events: Sequence[FeedEvent], limits: EventLimits) -> Iterator[Problem]:
    """Events before the beginning of the feed, or later than any feed lasts."""
    most = int(limits.longest_minutes.value)
    if events and events[0].at_ms < 0:
        yield _refused(
            "WATCH-001",
            message("an event before the feed began"),
            message("cannot belong to it: a clock may have been set in between."),
            message("Undo it, or begin the feed again."),
        )
    if events and events[-1].at_ms > most * MS_PER_MINUTE:
        late = events[-1].at_ms // MS_PER_MINUTE
        yield _refused(
            "WATCH-002",
            message("an event {minutes} min after the feed began", minutes=Number(late, 0)),
            message("is later than a feed lasts: at most {most} min.", most=most),
            message("Undo it; a clock may have been set, or the page was left open."),
        )


def _of_the_side(events: Sequence[FeedEvent]) -> Iterator[Problem]:
    """A swallow, a pause or an end before any side was named."""
    first = next((one.what for one in events if one.what not in {"away", "back"}), "left")
    if first not in {"left", "right"}:
        yield _refused(
            "WATCH-004",
            message("a feed without a side at its beginning"),
            message("cannot be read: each swallow belongs to a side."),
            message("Say on which side the infant went first."),
        )


def _refused(code: str, what: Message, why: Message, fix: Message) -> Problem:
    return Problem(code=code, what=what, why=why, fix=fix, where="events")
