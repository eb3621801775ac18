"""Feeds of one infant: how many in the last day that was written down, how long, and how large.

What was not written is not none: a day counts only where no long stretch of it is without a feed.
Entries close together may be parts of one feed, so a count is a pair of bounds. Only here the clock
ends something: a count of feeds stands for a day, and after that feeds are not known.
"""

from __future__ import annotations

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
from suffice.clinical.entry import Entry, Feed, TestWeight
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Figure, Quantity, Working
from suffice.message import Amount, Instant, Message, Words, message

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


def review_feeding(case: Case, limits: FeedLimits, *, has_risen: bool) -> Reviewed:
    """The feeds of the last day as measures, and whether they are known.

    Args:
        case: The infant.
        limits: When feeds are those of a day.
        has_risen: Whether the latest weight is above the lowest one.
    """
    if case.born_at is None or case.age_h is None:
        return Reviewed()
    feeds = _feeds_of(case, case.entries)
    since = case.as_of - timedelta(hours=limits.stands_h.value)
    last = feeds[-1].true_at if feeds else None
    weighed_h = max((one.age_h for one in usable(case)), default=0.0) if has_risen else 0.0
    if last is None or last <= since:
        old = _review_full_day(case, feeds, limits, since, weighed_h)
        return together([sign("feeds_counted", False), *old])  # noqa: FBT003
    day = _day_up_to(last, feeds)
    meals = _meals(day, limits)
    is_full = _is_full(case, day, last, limits)
    parts = [sign("feeds_counted", is_full)]
    if is_full:
        parts.append(measure("feeds_count_per_day", _count(case, day, meals, limits)))
    else:
        # A feed after a long gap takes back no day of too few: the latest full day stands.
        parts += _review_full_day(case, feeds, limits, since, weighed_h)
    parts += [*_minutes(case, meals, limits), *_largest(case, day)]
    return together(parts)


def _day_up_to(last: datetime, feeds: Sequence[Entry]) -> list[Entry]:
    """The feeds of the 24 hours up to one of them."""
    start = last - timedelta(hours=HOURS_PER_DAY)
    return [one for one in feeds if start < one.true_at <= last]


def _review_full_day(
    case: Case,
    feeds: Sequence[Entry],
    limits: FeedLimits,
    since: datetime,
    risen_h: float,
) -> Iterator[Reviewed]:
    """The latest day that was fully written down: as it stands, or as it was where it is old."""
    for one in reversed(feeds):
        last = one.true_at
        day = _day_up_to(last, feeds)
        if not _is_full(case, day, last, limits):
            continue
        found = _count(case, day, _meals(day, limits), limits)
        if last > since:
            yield measure("feeds_count_per_day", found)
        elif (case.age_at(last) or 0.0) >= risen_h:
            yield measure("old_feeds_count_per_day", found)
        return


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


def _is_full(case: Case, day: Sequence[Entry], last: datetime, limits: FeedLimits) -> bool:
    """Whether no stretch of the 24 hours up to the last feed is too long without one."""
    born_at = case.born_at
    start = last - timedelta(hours=HOURS_PER_DAY)
    if born_at is None or start < born_at:
        return False
    instants = [start, *(one.true_at for one in day)]
    return all(elapsed_h(one, two) <= limits.longest_gap_h.value for one, two in pairwise(instants))


def _count(case: Case, day: Sequence[Entry], meals: Sequence[_Meal], limits: FeedLimits) -> Measure:
    """The feeds that are possible, since few must be certain."""
    low, high, last = len(meals), len(day), day[-1].true_at
    counted: Words = counted_words(high)
    if high != low:
        counted = message("At most {counted}", counted=counted)
    figure = Figure(
        value=float(low),
        unit="{#}/d",
        low=float(low),
        high=float(high),
        working=Working(
            formula=message("feeds written down in the 24 hours up to the last"),
            inputs=(Quantity(name=message("entries"), value=float(high), unit="1"),),
            constants=(limits.longest_gap_h, limits.one_feed_minutes, limits.stands_h),
        ),
    )
    found = _measure(case, last, float(high), figure, (("counted", counted),))
    return msgspec.structs.replace(
        found,
        is_answered=_is_answered(case, day, last, limits),
        entry_ids=tuple(one.id for one in day),
    )


def _is_answered(case: Case, day: Sequence[Entry], last: datetime, limits: FeedLimits) -> bool:
    """Whether a physician who knew the day as fully written down, with no more feeds, has answered."""
    for told in case.answers.told:
        known = _day_up_to(last, _feeds_of(case, told.entries))
        is_known = told.at >= last and 0 < len(known) <= len(day)
        if not is_known or elapsed_h(known[-1].true_at, last) > limits.longest_gap_h.value:
            continue
        if _is_full(case, known, last, limits):
            return True
    return False


def _feeds_of(case: Case, entries: Iterable[Entry]) -> list[Entry]:
    return [
        one
        for one in entries
        if isinstance(one.fact, Feed | TestWeight)
        and one.infant_id == case.infant.id
        and (case.age_at(one.true_at) or 0.0) >= 0
    ]


def counted_words(count: int) -> Message:
    """So many feeds."""
    return message("{count} feed", plural="{count} feeds", count=count)


def _minutes(case: Case, meals: Sequence[_Meal], limits: FeedLimits) -> Iterator[Reviewed]:
    """The shortest and the longest of the timed feeds, where enough were timed."""
    timed = [(one.minutes, one) for one in meals if one.minutes is not None]
    if len(timed) < limits.timed_feeds_count.value:
        return
    minutes = [one for one, _ in timed]
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
        gaps: Gaps = (("counted", counted_words(len(timed))),)
        found = _measure(case, meals[-1].at, value, figure, gaps)
        entry_ids = tuple(part.id for _, one in timed for part in one.parts)
        yield measure(name, msgspec.structs.replace(found, entry_ids=entry_ids))


def _largest(case: Case, day: Sequence[Entry]) -> Iterator[Reviewed]:
    """The volume of the feed that is largest for its age, where the sources speak of that age."""
    volumes: list[tuple[float, Entry, float]] = []
    for entry in day:
        fact = entry.fact
        if not isinstance(fact, Feed) or fact.milk == "breast" or fact.volume_ml is None:
            continue
        limit = limit_of(LARGE, case.content, case.age_at(entry.true_at) or 0.0)
        if limit is not None:
            volumes.append((fact.volume_ml / limit.value, entry, fact.volume_ml))
    if not volumes:
        return
    _, entry, volume_ml = max(volumes, key=lambda one: one[0])
    figure = Figure(
        value=volume_ml, unit="mL", working=Working(formula=message("volume of one feed"))
    )
    gaps: Gaps = (("volume", Amount(volume_ml, "mL")), ("at", Instant(entry.true_at)))
    found = _measure(case, entry.true_at, volume_ml, figure, gaps)
    yield measure("largest_feed_ml", msgspec.structs.replace(found, entry_ids=(entry.id,)))


def _measure(case: Case, at: datetime, value: float, figure: Figure, gaps: Gaps) -> Measure:
    age_h = case.age_at(at) or 0.0
    return Measure(value=value, age_h=age_h, at=at, figure=figure, gaps=gaps)
