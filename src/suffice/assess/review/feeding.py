"""Feeds of one infant: how many in the last day that was written down, how long, and how large.

What was not written is not none: a day counts only where no long stretch of it is without a feed.
Entries close together may be parts of one feed, so a count is a pair of bounds. Somebody may also have
counted the feeds of 24 hours. Only here the clock ends something: a count of feeds stands for a day,
and after that feeds are not known. Not known is not calm: what was too few, too long or too short
before is put before the table as old, until a later day or a weight that has risen makes it good.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final, NamedTuple

import msgspec

from suffice.assess.case import Case
from suffice.assess.parameters import FeedLimits
from suffice.assess.review.result import Reviewed, measure, sign, together
from suffice.assess.review.weight import usable
from suffice.assess.rules.table import Gaps, Measure, limit_of
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Feed, FeedCount, TestWeight
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Quantity, Working
from suffice.message import Amount, Instant, Message, Words, message

OLD: Final = "old_"
"""How the name of a measure begins that is too old to stand, and that nothing has made good."""
LARGE: Final = "feeding.large_feed_ml"
"""Series of the volume of one feed that is noted, by age."""


class _Meal(NamedTuple):
    """Entries that may be one feed."""

    parts: tuple[Entry, ...]

    @property
    def at(self) -> datetime:
        return self.parts[0].true_at

    @property
    def minutes(self) -> float | None:
        """How long, all parts together; None where one is not known or is no feed at the breast."""
        each = [
            part.fact.minutes
            for part in self.parts
            if isinstance(part.fact, Feed) and part.fact.milk == "breast"
        ]
        known = [one for one in each if one is not None]
        return sum(known) if known and len(known) == len(self.parts) else None


class _Seen(NamedTuple):
    """What is written down of the feeds of an infant, in order of time.

    Attributes:
        single: Feeds and test weights, one by one.
        counted: Counts of the 24 hours that end with each.
    """

    case: Case
    limits: FeedLimits
    single: tuple[Entry, ...]
    counted: tuple[Entry, ...]

    @property
    def ends(self) -> list[datetime]:
        """The instants with which a day of feeds may end, the latest first."""
        return sorted({one.true_at for one in (*self.single, *self.counted)}, reverse=True)

    def day(self, end: datetime) -> list[Entry]:
        """The single feeds of the 24 hours up to an instant."""
        start = end - timedelta(hours=HOURS_PER_DAY)
        first, last = (bisect_right(self.single, at, key=_true_at) for at in (start, end))
        return list(self.single[first:last])


def _seen_in(case: Case, limits: FeedLimits, entries: Iterable[Entry]) -> _Seen:
    """The feeds of the infant among entries in order of time; none before birth."""
    own = [
        one
        for one in entries
        if one.infant_id == case.infant.id and (case.age_at(one.true_at) or 0.0) >= 0
    ]
    return _Seen(
        case,
        limits,
        tuple(one for one in own if isinstance(one.fact, Feed | TestWeight)),
        tuple(one for one in own if isinstance(one.fact, FeedCount)),
    )


def _true_at(entry: Entry) -> datetime:
    return entry.true_at


class _Stands(NamedTuple):
    """Until when feeds of the past stand.

    Attributes:
        since: What ended later stands still.
        risen_h: A day that ended before this age is made good by a weight that has risen.
    """

    since: datetime
    risen_h: float


def review_feeding(case: Case, limits: FeedLimits, *, has_risen: bool) -> Reviewed:
    """The feeds of the last day as measures, and whether they are known.

    Args:
        case: The infant.
        limits: When feeds are those of a day.
        has_risen: Whether the latest weight is above the lowest one.
    """
    if case.born_at is None or case.age_h is None:
        return Reviewed()
    seen = _seen_in(case, limits, case.entries)
    weighed_h = max((one.age_h for one in usable(case)), default=0.0) if has_risen else 0.0
    since = case.as_of - timedelta(hours=limits.stands_h.value)
    stands = _Stands(since, weighed_h)
    last = next((at for at in seen.ends if at > since), None)
    is_counted = last is not None and _counted_day(seen, last) is not None
    parts = [
        sign("feeds_counted", is_counted),
        *_review_count(seen, stands),
        *_review_minutes(seen, stands),
    ]
    if seen.single and seen.single[-1].true_at > since:
        parts += _largest(case, seen.day(seen.single[-1].true_at))
    return together(parts)


def _review_count(seen: _Seen, stands: _Stands) -> Iterator[Reviewed]:
    """The latest day that is known: as it stands, or as it was where it is old.

    A feed after a long gap takes back no day of too few.
    """
    for end in seen.ends:
        found = _counted_day(seen, end)
        if found is None:
            continue
        is_answered = _is_answered(seen, end, found)
        found = msgspec.structs.replace(found, is_answered=is_answered)
        yield from _named("feeds_count_per_day", found, stands)
        if any(one.true_at == end for one in seen.counted):
            # Older infants feed rarely enough that single feeds do not show a whole day.
            yield from _named("counted_feeds_per_day", found, stands)
        return


def _is_answered(seen: _Seen, end: datetime, found: Measure) -> bool:
    """Whether a physician who knew of a whole day up to then, with no more feeds, has answered."""
    gap_h = seen.limits.longest_gap_h.value
    for then in seen.case.answers.known_then:
        known = _seen_in(seen.case, seen.limits, then.entries)
        last = next((at for at in known.ends if at <= end), None)
        if then.at < end or last is None or elapsed_h(last, end) > gap_h:
            continue
        day = _counted_day(known, last)
        if day is not None and day.value <= found.value:
            return True
    return False


def _named(name: str, found: Measure, stands: _Stands) -> Iterator[Reviewed]:
    """A measure under its name while it stands, then under that of an old one, until it is made good."""
    if found.at is not None and found.at > stands.since:
        yield measure(name, found)
    elif found.age_h >= stands.risen_h:
        yield measure(f"{OLD}{name}", found)


def _counted_day(seen: _Seen, end: datetime) -> Measure | None:
    """The feeds of the day up to an instant; None where feeds of it may be missing.

    What somebody counted, or wrote down feed by feed: whichever is more. Enough that are certain
    are enough, though others may be missing.
    """
    case, limits = seen.case, seen.limits
    if case.born_at is None or end - timedelta(hours=HOURS_PER_DAY) < case.born_at:
        return None
    day = seen.day(end)
    certain = len(_meals(day, limits))
    counts = [one for one in seen.counted if one.true_at == end]
    if counts:
        each = [one.fact.count for one in counts if isinstance(one.fact, FeedCount)]
        found = _count(seen, end, max(certain, *each), max(certain, *each))
    elif _is_full(day, end, limits):
        found = _count(seen, end, certain, len(day))
    elif certain >= limits.feeds_count_per_day.value:
        found = _count(seen, end, certain, certain)
    else:
        return None
    return msgspec.structs.replace(found, entry_ids=tuple(one.id for one in (*day, *counts)))


def _meals(day: Sequence[Entry], limits: FeedLimits) -> list[_Meal]:
    """Entries close to the one before are taken together."""
    near = timedelta(minutes=limits.one_feed_minutes.value)
    meals: list[list[Entry]] = []
    for one in day:
        if meals and one.true_at - meals[-1][-1].true_at < near:
            meals[-1].append(one)
        else:
            meals.append([one])
    return [_Meal(tuple(parts)) for parts in meals]


def _is_full(day: Sequence[Entry], end: datetime, limits: FeedLimits) -> bool:
    """Whether no stretch of the 24 hours up to the last feed, with which they end, is too long."""
    instants = [end - timedelta(hours=HOURS_PER_DAY), *(one.true_at for one in day)]
    return all(elapsed_h(one, two) <= limits.longest_gap_h.value for one, two in pairwise(instants))


def _count(seen: _Seen, end: datetime, low: int, high: int) -> Measure:
    """The feeds that are possible, since few must be certain."""
    limits = seen.limits
    counted: Words = counted_words(high)
    if high != low:
        counted = message("At most {counted}", counted=counted)
    figure = Figure(
        value=float(low),
        unit="{#}/d",
        low=float(low),
        high=float(high),
        working=Working(
            formula=message("feeds of 24 hours, as counted or written down"),
            inputs=(Quantity(name=message("entries"), value=float(high), unit="1"),),
            constants=(limits.longest_gap_h, limits.one_feed_minutes, limits.stands_h),
        ),
    )
    return _measure(seen.case, end, float(high), figure, (("counted", counted),))


def counted_words(count: int) -> Message:
    """So many feeds."""
    return message("{count} feed", plural="{count} feeds", count=count)


def _review_minutes(seen: _Seen, stands: _Stands) -> Iterator[Reviewed]:
    """The shortest and the longest of the timed feeds of the latest day on which enough were timed."""
    limits = seen.limits
    timed = [one for one in seen.single if isinstance(one.fact, Feed) and one.fact.minutes]
    if len(timed) < limits.timed_feeds_count.value:
        return
    for end in seen.ends:
        meals = [one for one in _meals(seen.day(end), limits) if one.minutes is not None]
        if len(meals) < limits.timed_feeds_count.value:
            continue
        minutes = [one.minutes for one in meals if one.minutes is not None]
        gaps: Gaps = (("counted", counted_words(len(meals))),)
        for name, value in (
            ("shortest_feed_minutes", min(minutes)),
            ("longest_feed_minutes", max(minutes)),
        ):
            figure = Figure(
                value=value,
                unit="min",
                working=Working(
                    formula=message("among the timed feeds at the breast of the last day"),
                    constants=(limits.timed_feeds_count, limits.one_feed_minutes),
                ),
            )
            found = _measure(seen.case, meals[-1].at, value, figure, gaps)
            parts = tuple(part.id for one in meals for part in one.parts)
            found = msgspec.structs.replace(found, entry_ids=parts)
            yield from _named(name, found, stands)
        return


def _largest(case: Case, day: Sequence[Entry]) -> Iterator[Reviewed]:
    """The volume of the feed that is largest for its age, where the sources speak of that age."""
    found: list[tuple[float, Entry, float]] = []
    for entry in day:
        fact = entry.fact
        if not isinstance(fact, Feed) or fact.milk == "breast" or fact.volume_ml is None:
            continue
        limit = limit_of(LARGE, case.content, case.age_at(entry.true_at) or 0.0)
        if limit is not None:
            found.append((fact.volume_ml / limit.value, entry, fact.volume_ml))
    if not found:
        return
    _, entry, volume_ml = max(found, key=lambda one: one[0])
    figure = Figure(
        value=volume_ml, unit="mL", working=Working(formula=message("volume of one feed"))
    )
    gaps: Gaps = (("volume", Amount(volume_ml, "mL")), ("at", Instant(entry.true_at)))
    largest = _measure(case, entry.true_at, volume_ml, figure, gaps)
    yield measure("largest_feed_ml", msgspec.structs.replace(largest, entry_ids=(entry.id,)))


def _measure(case: Case, at: datetime, value: float, figure: Figure, gaps: Gaps) -> Measure:
    age_h = case.age_at(at) or 0.0
    return Measure(value=value, age_h=age_h, at=at, figure=figure, gaps=gaps)
