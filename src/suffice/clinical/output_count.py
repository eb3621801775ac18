"""How many wets or stools there were in a stretch of time, as far as the entries tell.

One entry says either 'one at this instant' or 'so many in the hours that end here', and two of
them may speak of the same diapers. So a count is a pair of bounds: `low` diapers are certain;
no more than `high` are possible where spans cover the whole stretch, and where they do not,
`high` is not known. Not written down is never zero.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from itertools import groupby
from typing import Final, Literal
from uuid import UUID

import msgspec

from suffice.clinical.entry import Entry, Stool, Wet
from suffice.clinical.units import SECONDS_PER_HOUR

OutputKind = Literal["wet", "stool"]
KIND_OF: Final[Mapping[OutputKind, type[Wet | Stool]]] = {"wet": Wet, "stool": Stool}
"""The kind of entry that says it."""


class Observation(msgspec.Struct, frozen=True, kw_only=True):
    """`count` at one instant (`over_h` None or 0), or in the `over_h` hours that end there."""

    count: int
    true_at: datetime
    over_h: float | None = None
    entry_id: UUID | None = None


class Count(msgspec.Struct, frozen=True, kw_only=True):
    """Bounds of a count in the `window_h` hours that end at `until`.

    Attributes:
        low: So many are certain.
        high: No more are possible; None = not known, since the stretch is not wholly covered.
        until: End of the stretch; earlier than asked where only an earlier one is covered.
        window_h: Length of the stretch; shorter than asked just after birth.
        covered_fraction: Share of the stretch that spans cover.
    """

    low: int
    high: int | None
    until: datetime
    window_h: float
    covered_fraction: float

    @property
    def is_known(self) -> bool:
        """Whether the whole stretch was asked about."""
        return self.high is not None


def observations(
    entries: Iterable[Entry], infant_id: UUID, kind: OutputKind
) -> tuple[Observation, ...]:
    """The counts of one kind of one infant, in the order given."""
    wanted = KIND_OF[kind]
    return tuple(
        Observation(
            count=entry.fact.count,
            true_at=entry.true_at,
            over_h=entry.fact.over_h,
            entry_id=entry.id,
        )
        for entry in entries
        if type(entry.fact) is wanted and entry.infant_id == infant_id
    )


def disputed(seen: Iterable[Observation]) -> tuple[Observation, ...]:
    """What was seen within hours of which a count says that there was none, in order of time.

    One seen at the very start or end of those hours contradicts nothing.

    Args:
        seen: Observations in any order.
    """
    each = list(seen)
    none = [
        (one.true_at - timedelta(hours=one.over_h), one.true_at)
        for one in each
        if one.over_h and not one.count
    ]
    if not none:
        return ()
    found = (
        one
        for one in each
        if one.count and not one.over_h and any(start < one.true_at < end for start, end in none)
    )
    return tuple(sorted(found, key=lambda one: one.true_at))


def count(
    seen: Sequence[Observation],
    as_of: datetime,
    *,
    window_h: float,
    born_at: datetime,
    stale_h: float = 0.0,
) -> Count:
    """Bounds of the count in the last `window_h` hours.

    Where spans do not cover the hours up to `as_of`, the latest stretch that they do cover, and
    that ends no more than `stale_h` before, is used instead, and `until` says so; not where more
    have been seen in the hours asked about than that stretch can have held.

    Args:
        seen: Observations in any order; those after `as_of` are left out.
        as_of: Instant of the question.
        window_h: Length of the stretch, above 0.
        born_at: Instant of birth; a stretch never begins before it.
        stale_h: How old the end of a covered stretch may be.
    """
    end = as_of.astimezone(UTC)
    # What ended before every stretch that can be asked for says nothing of it.
    since = end - timedelta(hours=window_h + stale_h)
    kept = [one for one in seen if since < one.true_at <= as_of]
    ends = {one.true_at.astimezone(UTC) for one in kept if one.over_h}
    fresh = sorted((at for at in ends if end - at <= timedelta(hours=stale_h)), reverse=True)
    birth = born_at.astimezone(UTC)
    asked = max(birth, end - timedelta(hours=window_h))
    spans = _spans(kept)
    stretches = sorted((*spans, *_instants(kept)), key=lambda one: (one.end, one.start))
    certain = _most_certain(stretches, asked, end)
    for until in (end, *fresh):
        start = max(birth, until - timedelta(hours=window_h))
        high = _least_cover(spans, start, until) if start < until else None
        if high is None:
            continue
        low = _most_certain(stretches, start, until)
        if until != end and certain > max(low, high):
            # More were seen by now than the latest stretch held: neither it nor an older one stands.
            break
        return _count(low, max(low, high), start, until, 1.0)
    return _count(certain, None, asked, end, _covered_fraction(spans, asked, end))


def _count(
    low: int, high: int | None, start: datetime, until: datetime, covered_fraction: float
) -> Count:
    return Count(
        low=low,
        high=high,
        until=until,
        window_h=(until - start).total_seconds() / SECONDS_PER_HOUR,
        covered_fraction=covered_fraction,
    )


class _Stretch(msgspec.Struct, frozen=True):
    """Start (open) and end (closed) of an observation, and its count.

    An instant stands for the moment just before it up to it: the second part of a mark is 0 for
    'just before', 1 for 'at'.
    """

    start: tuple[datetime, int]
    end: tuple[datetime, int]
    count: int


def _spans(seen: Iterable[Observation]) -> list[_Stretch]:
    """What was counted over a stretch, by its end."""
    spans = [
        _Stretch((at - timedelta(hours=one.over_h), 1), (at, 1), one.count)
        for one in seen
        if one.over_h
        for at in (one.true_at.astimezone(UTC),)
    ]
    return sorted(spans, key=lambda one: one.end)


def _instants(seen: Iterable[Observation]) -> list[_Stretch]:
    """One stretch for each instant; several entries of one instant are added."""
    single = sorted(
        ((one.true_at.astimezone(UTC), one.count) for one in seen if not one.over_h),
        key=lambda pair: pair[0],
    )
    return [
        _Stretch((at, 0), (at, 1), sum(number for _, number in group))
        for at, group in groupby(single, key=lambda pair: pair[0])
    ]


def _most_certain(stretches: Iterable[_Stretch], start: datetime, end: datetime) -> int:
    """The largest sum over observations inside a stretch that do not overlap (exact).

    They come by their ends, and those of one end by their starts.
    """
    first, last = (start, 1), (end, 1)
    inside = (one for one in stretches if one.end <= last and one.start >= first)
    # Ends rise, and so do the best sums up to them: what ended in time is found by bisection.
    ends: list[tuple[datetime, int]] = []
    best = [0]
    for one in inside:
        before = best[bisect_right(ends, one.start)]
        ends.append(one.end)
        best.append(max(best[-1], before + one.count))
    return best[-1]


def _least_cover(spans: Iterable[_Stretch], start: datetime, end: datetime) -> int | None:
    """The smallest sum over spans that together cover the stretch; None when none do (exact)."""
    reached: list[tuple[datetime, int]] = [(start, 0)]
    for one in spans:
        costs = [cost for at, cost in reached if at >= one.start[0]]
        if costs and one.end[0] > start:
            reached.append((one.end[0], min(costs) + one.count))
    return min((cost for at, cost in reached if at >= end), default=None)


def _covered_fraction(spans: Iterable[_Stretch], start: datetime, end: datetime) -> float:
    """Share of the stretch that lies in at least one span."""
    if end <= start:
        return 0.0
    covered, reached = timedelta(0), start
    for one in sorted(spans, key=lambda each: each.start):
        begin, finish = max(one.start[0], reached), min(one.end[0], end)
        if finish > begin:
            covered += finish - begin
            reached = finish
    return covered / (end - start)
