"""The table of single changes: what each alone would buy of sleep, or of the parent's minutes.

Each change is tried on the case by itself. A longer gap is among them so that the consultant sees what
it is worth; whether the infant may have it is for her to decide.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from suffice.clinical.entry.clock import What
from suffice.clinical.reading.hours import DAY_MINUTES, Hours, minutes_of, time_of_day_text
from suffice.clinical.units import MINUTES_PER_HOUR
from suffice.message import Words, message
from suffice.plan.schedule import Elapsed, Schedule, longest_sleep_minutes, no_time
from suffice.plan.schedule_case import DayCase
from suffice.plan.schedule_model import night_of
from suffice.plan.schedule_parameters import ScheduleParameters
from suffice.plan.schedule_words import in_h_min


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """One change, and what it buys.

    Attributes:
        what: The change, in words.
        more_sleep_minutes: Unbroken sleep more than without it.
        fewer_minutes: The parent's minutes of a day fewer; None where that is not counted.
        makes_possible: Whether there is no day without it, and one with it.
    """

    what: Words
    more_sleep_minutes: int
    fewer_minutes: float | None = None
    makes_possible: bool = False


class _Tried(NamedTuple):
    """A change that is tried: the words, the changed case, and the minutes it saves."""

    what: Words
    case: DayCase
    fewer_minutes: float | None = None


def changes(
    schedule: Schedule, parameters: ScheduleParameters, elapsed: Elapsed = no_time
) -> tuple[Change, ...]:
    """The single changes that buy something, the one that buys most sleep first; of one feed the best hour.

    Empty where nothing gave way.
    """
    if not schedule.gave and schedule.is_possible:
        return ()
    one_feed = _bought(schedule, _one_feed(schedule.case, parameters), parameters, elapsed)
    others = _bought(schedule, _others(schedule, parameters), parameters, elapsed)
    return tuple(sorted([*one_feed[:1], *others], key=_worth))


def _worth(change: Change) -> tuple[bool, int, float]:
    return (
        not change.makes_possible,
        -change.more_sleep_minutes,
        -(change.fewer_minutes or 0.0),
    )


def _bought(
    schedule: Schedule,
    tried: Iterator[_Tried],
    parameters: ScheduleParameters,
    elapsed: Elapsed,
) -> list[Change]:
    found: list[Change] = []
    for one in tried:
        sleep = longest_sleep_minutes(one.case, parameters, elapsed)
        if sleep is None:
            continue
        change = Change(
            what=one.what,
            more_sleep_minutes=max(0, sleep - schedule.sleep_minutes),
            fewer_minutes=one.fewer_minutes,
            makes_possible=not schedule.is_possible,
        )
        if change.makes_possible or change.more_sleep_minutes or change.fewer_minutes:
            found.append(change)
    return sorted(found, key=_worth)


def _feed_minutes(case: DayCase) -> float:
    """What one feed takes of the parent."""
    if case.at_breast == "not now":
        return case.bottle_minutes
    return case.breast_minutes + (case.milk_minutes if case.milk_feeds_count else 0.0)


def _helped(case: DayCase, hours: Hours) -> DayCase:
    return msgspec.structs.replace(case, helpers=(*case.helpers, hours))


def _one_feed(case: DayCase, parameters: ScheduleParameters) -> Iterator[_Tried]:
    """One feed by a helper, at each hour of the night at which nobody helps yet."""
    if not case.feeds_count or case.keeps_breast:
        return
    hour = round(MINUTES_PER_HOUR)
    night = night_of(parameters)
    until = round(parameters.helper_feed_until_h.value) * hour
    last = until if until > night.starts_minutes else until + DAY_MINUTES
    helped = {minute for one in case.helpers for minute in minutes_of(one)}
    for starts in range(night.starts_minutes, last, hour):
        ends = starts + max(hour, -(-round(case.bottle_minutes) // hour) * hour)
        hours = Hours(starts, ends)
        if helped & set(minutes_of(hours)):
            continue
        yield _Tried(
            message(
                "one feed given by a helper between {start} and {end}",
                start=time_of_day_text(starts % DAY_MINUTES),
                end=time_of_day_text(ends),
            ),
            _helped(case, hours),
            _feed_minutes(case),
        )


def _drawn(schedule: Schedule, what: What, asked: int) -> int:
    """How many acts of the parent the day has; as many as are asked for where there is no day."""
    if not schedule.is_possible:
        return asked
    return sum(one.what == what and one.who == "parent" for one in schedule.acts)


def _others(schedule: Schedule, parameters: ScheduleParameters) -> Iterator[_Tried]:
    case = schedule.case
    night = night_of(parameters)
    whole = Hours(
        night.starts_minutes,
        night.starts_minutes + round(parameters.helper_night_h.value * MINUTES_PER_HOUR),
    )
    if case.feeds_count and not case.keeps_breast:
        yield _Tried(
            message(
                "a helper for the feeds from {start} to {end}",
                start=time_of_day_text(whole.starts_minutes),
                end=time_of_day_text(whole.ends_minutes),
            ),
            _helped(case, whole),
        )
    if case.feeds_count and case.away:
        away = msgspec.structs.replace(case, helpers=(*case.helpers, *case.away))
        yield _Tried(message("a helper for the feeds while away"), away)
    if case.at_breast != "not now" and case.feeds_count:
        yield from _shorter(case, _drawn(schedule, "breast", case.feeds_count))
    if case.feeds_count:
        yield from _longer_gap(case, parameters)
    fewer = round(parameters.fewer_sessions_count.value)
    if case.sessions_count >= fewer:
        left = case.sessions_count - fewer
        # A session that gave way on the clock saves nobody a minute.
        saved = max(_drawn(schedule, "express", case.sessions_count) - left, 0)
        yield _Tried(
            message("{count} sessions fewer", count=fewer),
            msgspec.structs.replace(case, sessions_count=left),
            saved * case.session_minutes or None,
        )


def _shorter(case: DayCase, feeds_count: int) -> Iterator[_Tried]:
    short = case.short_breast_minutes
    if short < case.breast_minutes:
        yield _Tried(
            message("at the breast {minutes} a feed at most", minutes=in_h_min(short)),
            msgspec.structs.replace(case, breast_minutes=short),
            feeds_count * (case.breast_minutes - short) or None,
        )


def _longer_gap(case: DayCase, parameters: ScheduleParameters) -> Iterator[_Tried]:
    more = round(parameters.longer_gap_h.value * MINUTES_PER_HOUR)
    yield _Tried(
        message(
            "a longest gap at night of {longer} instead of {gap}, if the infant may",
            longer=in_h_min(case.gap_night_minutes + more),
            gap=in_h_min(case.gap_night_minutes),
        ),
        msgspec.structs.replace(case, gap_night_minutes=case.gap_night_minutes + more),
    )
