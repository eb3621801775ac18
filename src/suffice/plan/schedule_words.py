"""What gave way in a day, and why there is none, in words: found by reading the clock, not the solver."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from suffice.clinical.entry.clock import Act
from suffice.clinical.reading.hours import DAY_MINUTES, Hours, minutes_of
from suffice.clinical.units import MINUTES_PER_HOUR
from suffice.message import Listed, Message, Number, Words, message
from suffice.plan.schedule_case import DayCase, least_minutes
from suffice.plan.schedule_parameters import ScheduleParameters


def in_h_min(minutes: float) -> Message:
    """A length of time as '2 h 20 min', without what is nought."""
    hours, rest = divmod(round(minutes), round(MINUTES_PER_HOUR))
    if not rest:
        return message("{hours} h", hours=Number(hours, 0))
    if not hours:
        return message("{minutes} min", minutes=Number(rest, 0))
    return message("{hours} h {minutes} min", hours=Number(hours, 0), minutes=Number(rest, 0))


def gaps_of(starts: Sequence[int]) -> list[tuple[int, int]]:
    """Starts in a day, each with the time to the next one round the clock."""
    ordered = sorted(starts)
    if not ordered:
        return []
    turned = [*ordered, ordered[0] + DAY_MINUTES]
    return [(one, other - one) for one, other in pairwise(turned)]


def feed_starts(acts: Sequence[Act]) -> list[int]:
    """When feeds begin: at the breast, or with a bottle."""
    return [one.starts_minutes for one in acts if one.what in {"breast", "bottle"}]


def gave_of(case: DayCase, acts: Sequence[Act], *, is_proven: bool) -> Iterator[Words]:
    """What gave way against what was asked."""
    yield from _hours_add(case)
    slept = sum(one.minutes for one in acts if one.what == "sleep")
    if slept < case.sleep_minutes and case.is_sleep_wished:
        yield message(
            "Unbroken sleep: {found}; {wished} is wished for.",
            found=in_h_min(slept),
            wished=in_h_min(case.sleep_minutes),
        )
        yield from _alone(case)
    elif slept < case.sleep_minutes and case.is_woken:
        yield from _alone(case)
    sessions = sum(one.what == "express" for one in acts)
    if sessions < case.sessions_count:
        yield message(
            "Expression sessions: {found} of {asked} find a place.",
            found=sessions,
            asked=case.sessions_count,
        )
    if sessions > case.sessions_count:
        yield message(
            "{count} session more than asked for: what a helper gives instead of the breast is"
            " expressed first.",
            plural="{count} sessions more than asked for: what a helper gives instead of the breast is"
            " expressed first.",
            count=sessions - case.sessions_count,
        )
    bottles = sum(one.what == "bottle" for one in acts)
    if case.at_breast != "not now" and bottles:
        yield message(
            "{count} feed is given by the helper, not at the breast.",
            plural="{count} feeds are given by the helper, not at the breast.",
            count=bottles,
        )
    yield from _more_milk(case, acts, bottles)
    feeds = len(feed_starts(acts))
    if feeds > case.feeds_count:
        yield message(
            "Feeds: {found}, where at least {asked} are asked for; the longest gap needs them.",
            found=feeds,
            asked=case.feeds_count,
        )
    yield from _removals(case, acts)
    if not is_proven:
        yield message("The best that was found in a few seconds; a better day may exist.")


def _more_milk(case: DayCase, acts: Sequence[Act], bottles: int) -> Iterator[Words]:
    """Extra milk at more feeds than asked for, so that the day holds no less milk than the plan."""
    if case.milk is None or case.at_breast == "not now" or not case.milk_feeds_count:
        return
    given = sum(one.what == "milk" for one in acts)
    if bottles and given + bottles > case.milk_feeds_count:
        yield message(
            "Milk is given at {found} feeds, where {asked} are asked for: a helper's bottle is one feed's share,"
            " without what the breast gives.",
            found=given + bottles,
            asked=case.milk_feeds_count,
        )


def _alone(case: DayCase) -> Iterator[Words]:
    if case.feeds_count and not case.helpers and case.is_woken:
        feed = case.bottle_minutes if case.at_breast == "not now" else case.breast_minutes
        yield message(
            "Alone nobody sleeps longer than the longest gap between two feeds less one feed"
            " ({gap} less {feed}); fewer sessions change nothing in that.",
            gap=in_h_min(case.gap_night_minutes),
            feed=in_h_min(feed),
        )


def _removals(case: DayCase, acts: Sequence[Act]) -> Iterator[Words]:
    """The longest time between two removals of milk, where it is over what is asked."""
    if case.removal_gap_minutes is None:
        return
    starts = [one.starts_minutes for one in acts if one.what in {"breast", "express"}]
    gaps = gaps_of(starts) or [(0, DAY_MINUTES)]
    longest = max(gap for _start, gap in gaps)
    if longest > case.removal_gap_minutes:
        yield message(
            "The longest time between two removals of milk is {found}; {asked} is asked.",
            found=in_h_min(longest),
            asked=in_h_min(case.removal_gap_minutes),
        )


def _hours_add(case: DayCase) -> Iterator[Words]:
    """Sleep, being away and the whole plan against the hours of a day."""
    away = len({minute for one in case.away for minute in minutes_of(one)})
    at_home = away if not case.expresses_away else 0
    whole = case.sleep_minutes + at_home + least_minutes(case)
    if whole > DAY_MINUTES and not case.helpers:
        yield message(
            "Sleep, being away and the plan come to {whole} of 24 h.", whole=in_h_min(whole)
        )


# ---- no day ----------------------------------------------------------------------------------


def conflicts_of(case: DayCase, parameters: ScheduleParameters) -> Iterator[Words]:
    """Which rules of a case cannot be kept together; at least one sentence."""
    found = [*_hours_add(case), *_too_many(case, parameters), *_nobody_feeds(case)]
    if not found:
        found.append(
            message(
                "Feeds no more than {gap} apart, and nobody who does two things at once: no day keeps both."
                " Add a helper, or change the hours.",
                gap=in_h_min(case.gap_night_minutes),
            )
        )
    yield from found


def _too_many(case: DayCase, parameters: ScheduleParameters) -> Iterator[Words]:
    apart = parameters.feeds_apart_minutes.value
    if case.feeds_count * apart > DAY_MINUTES:
        yield message(
            "{feeds} feeds at least {apart} apart are more than a day has.",
            feeds=case.feeds_count,
            apart=in_h_min(apart),
        )
    one = case.bottle_minutes
    if case.at_breast != "not now":
        one = case.breast_minutes + (case.milk_minutes if case.milk_feeds_count else 0.0)
    if one > case.gap_night_minutes:
        yield message(
            "One feed takes {minutes}, longer than the longest gap of {gap}.",
            minutes=in_h_min(one),
            gap=in_h_min(case.gap_night_minutes),
        )


def _nobody_feeds(case: DayCase) -> Iterator[Words]:
    """Hours away in which nobody can feed, longer than a gap may be."""
    helped = {minute for one in case.helpers for minute in minutes_of(one)}
    away = {minute for one in case.away for minute in minutes_of(one)}
    bare = [
        run
        for run in _runs(away - helped)
        if run.minutes > case.gap_day_minutes - _shortest_feed(case)
    ]
    if bare:
        yield message(
            "Nobody feeds {hours}, and no gap may be longer than {gap}: enter who feeds then.",
            hours=Listed(tuple(str(one) for one in bare), word="and"),
            gap=in_h_min(case.gap_day_minutes),
        )


def _shortest_feed(case: DayCase) -> float:
    if case.at_breast == "not now":
        return case.bottle_minutes
    is_with_milk = case.milk_feeds_count >= case.feeds_count
    return case.breast_minutes + (case.milk_minutes if is_with_milk else 0.0)


def _runs(minutes: set[int]) -> list[Hours]:
    """Minutes of the day as stretches, round the clock."""
    if len(minutes) == DAY_MINUTES:
        return [Hours(0, DAY_MINUTES)]
    begins = sorted(one for one in minutes if (one - 1) % DAY_MINUTES not in minutes)
    found: list[Hours] = []
    for one in begins:
        last = one
        while last % DAY_MINUTES in minutes:
            last += 1
        found.append(Hours(one, last))
    return found
