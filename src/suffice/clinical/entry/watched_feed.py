"""A feed at the breast that somebody watched, event by event."""

from __future__ import annotations

from typing import Annotated, ClassVar

from suffice.clinical.entry.field import Counted, Fact, Happened, Kind
from suffice.clinical.entry.position import POSITION, Position
from suffice.clinical.feed.event import FeedEvent
from suffice.message import Message, message

WORST_PAIN_COUNT = 10
"""Top of the scale of 0 to 10 on which the parent says it."""


def _pain(label: Message, phrase: Message) -> Counted:
    return Counted(
        label=label,
        help=message("0 no pain, 10 the worst; as the parent says it"),
        phrase=phrase,
        least_count=0,
        most_count=WORST_PAIN_COUNT,
    )


class WatchedFeed(Fact, tag="watched feed", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A feed at the breast as it was watched, from its beginning (`true_at`).

    What it says is computed from the events, never stored; weights before and after are a test
    weight of their own.
    """

    declared: ClassVar[Kind] = Kind(
        name=message("watched feed"),
        title=message("Watched feed"),
        when=message("When it began"),
    )

    events: Annotated[
        tuple[FeedEvent, ...],
        Happened(
            label=message("Events"),
            help=message("What happened, and when, in minutes and seconds after the beginning"),
        ),
    ] = ()
    position: Annotated[Position | None, POSITION] = None
    pain_start: Annotated[
        int | None,
        _pain(message("Pain at the start"), message("pain {value} of 10 at the start")),
    ] = None
    pain_end: Annotated[
        int | None, _pain(message("Pain at the end"), message("pain {value} of 10 at the end"))
    ] = None
