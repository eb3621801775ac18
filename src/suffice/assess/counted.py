"""The diapers of the last 24 hours in words: the last whole count, and what came since."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from suffice.assess.review.output_count import counted_words
from suffice.clinical.entry import Entry
from suffice.clinical.output import OutputLimits, day_count
from suffice.clinical.output_count import Count, OutputKind, observations
from suffice.message import Instant, Message, message


class CountedNow(NamedTuple):
    """What the last 24 hours held of one kind.

    Attributes:
        kind: Of what.
        seen: The count; of hours that ended earlier where only those were wholly asked about.
        since_count: How many were seen one by one after the hours of the count.
    """

    kind: OutputKind
    seen: Count
    since_count: int

    @property
    def says(self) -> Message:
        """In words: '4 wets', or '4 wets to 06:40 and 1 wet since'."""
        counted = counted_words(self.kind, self.seen.low)
        if not self.since_count:
            return counted
        return message(
            "{counted} to {when} and {more} since",
            counted=counted,
            when=Instant(self.seen.until),
            more=counted_words(self.kind, self.since_count),
        )


def counted_now(
    entries: Iterable[Entry],
    infant_id: UUID,
    kind: OutputKind,
    *,
    born_at: datetime,
    as_of: datetime,
    limits: OutputLimits,
) -> CountedNow:
    """The wets or stools of one infant in the 24 hours that end at an instant.

    Args:
        entries: Those that stand.
        infant_id: Whose.
        kind: Of what.
        born_at: When the infant was born.
        as_of: The instant.
        limits: How old a whole count may be.
    """
    each = tuple(entries)
    seen = day_count(each, infant_id, kind, born_at=born_at, as_of=as_of, limits=limits)
    since = (
        one.count
        for one in observations(each, infant_id, kind)
        if one.true_at > seen.until and not one.over_h
    )
    return CountedNow(kind, seen, sum(since))
