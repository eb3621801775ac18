"""Gains of an infant over about a month: one slow month, two running, a loss, and a drop."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import takewhile
from operator import attrgetter
from typing import NamedTuple

import msgspec

from suffice.assess.review.gain_course import GainCourse, GainSpan, Judged, uncleared
from suffice.assess.review.gain_measure import (
    gaps_of,
    in_grams,
    in_share,
    latest_words,
    looked_at,
    unanswered_spans,
)
from suffice.assess.review.result import Reviewed, measure, sign
from suffice.assess.rules.table import hours_of
from suffice.clinical.working import Working
from suffice.message import Instant, message


class Month(NamedTuple):
    """A gain over about a month, and whether it and the one before were slow.

    Attributes:
        found: The gain and its place.
        before: The gain of the month before; None where that is not known.
        is_twice: Whether both lie below the line of a slow month.
    """

    found: Judged
    before: GainSpan | None
    is_twice: bool


def review_months(course: GainCourse) -> Iterator[Reviewed]:
    """What gains over about a month, or over longer, put before the table."""
    latest = len(course.series) - 1
    month = _month(course, latest)
    if month is not None:
        yield measure("month_gain_fraction", in_share(course, month.found))
    well = course.lines.well_fraction.value
    months = uncleared(
        course, lambda place: _month(course, place), lambda one: one.found.share >= well
    )
    twice = next((one for one in months if one.is_twice and one.before is not None), None)
    if twice is not None and twice.before is not None:
        run = takewhile(lambda one: one.is_twice, months)
        since = _first_of(course, [one.found for one in run])
        yield _two_spans("two_slow_months", course, twice.before, twice.found.span, since)
    yield from _loss_of_older(course)
    yield from _drop(course)


def _month(course: GainCourse, place: int) -> Month | None:
    """The gain over about a month up to a weight, and the one before it."""
    found = _month_span(course, place)
    if found is None:
        return None
    earlier = _month_span(course, course.series.index(found.first))
    placed = course.place_of(found, tells=True)
    line = course.lines.note_fraction.value
    is_twice = (
        earlier is not None and max(placed.share, course.place_of(earlier, tells=True).share) < line
    )
    return Month(placed, earlier, is_twice)


def _month_span(course: GainCourse, place: int) -> GainSpan | None:
    """About a month up to a weight, none of it before the age from which there are lines."""
    rules, lines = course.rules, course.lines
    if not place or course.series[place].age_h >= hours_of(rules.until_age_d):
        return None
    span = course.over(
        place, rules.month_least_days.value, rules.month_most_days.value, rules.month_days.value
    )
    if span is None or span.first.age_h < hours_of(lines.lines_from_age_d):
        return None
    return span if course.corrected_d(span.first.age_h) >= 0 else None


def _loss_of_older(course: GainCourse) -> Iterator[Reviewed]:
    """A gain of an older infant over a month or longer that no later gain has ended."""
    rules = course.rules
    from_h = hours_of(rules.older_from_age_d)
    latest = len(course.series) - 1
    if course.series[latest].age_h < from_h:
        return

    def over_a_month(place: int) -> GainSpan | None:
        first = course.latest_before(place, hours_of(rules.older_least_days))
        last = course.series[place]
        return None if first is None else GainSpan(first, last, course.gain(first, last))

    losing = uncleared(course, over_a_month, lambda one: one.gain.g_per_day.value >= 0)
    found = unanswered_spans(course, [one for one in losing if one.last.age_h >= from_h])
    if found:
        worst = min(found, key=lambda one: one.gain.g_per_day.high or 0.0)
        yield measure("gain_over_a_month_g_per_day", in_grams(course, worst))


class Drop(NamedTuple):
    """A gain beside the one before it.

    Attributes:
        before: What was gained up to its first weight.
        now: The gain.
        has_dropped: Whether it fell by more than both may be off, and is a slow one.
        has_surely_dropped: Whether it is slow with all of its interval too, or so low that one of it is looked at.
    """

    before: GainSpan
    now: Judged
    has_dropped: bool
    has_surely_dropped: bool


def _drop(course: GainCourse) -> Iterator[Reviewed]:
    """A gain that was good and is not any more, and that no good one has ended since."""
    well = course.lines.well_fraction.value
    found = uncleared(
        course,
        lambda place: _dropped(course, place),
        lambda one: one.now.tells and one.now.share >= well,
    )
    for name, is_so in (
        ("gain_has_dropped", attrgetter("has_dropped")),
        ("gain_has_surely_dropped", attrgetter("has_surely_dropped")),
    ):
        since = _first_of(course, [one.now for one in takewhile(is_so, found)])
        for one in list(filter(is_so, found))[:1]:
            yield _two_spans(name, course, one.before, one.now.span, since)


def _first_of(course: GainCourse, run: Sequence[Judged]) -> datetime | None:
    """When the first of gains was weighed that follow one another, the latest first; None without any."""
    return course.case.at_age(run[-1].age_h) if run else None


def _dropped(course: GainCourse, place: int) -> Drop | None:
    now = course.judged(place)
    if now is None or course.corrected_d(now.age_h) < 0:
        return None
    before = course.judged(course.series.index(now.span.first))
    # From the birth weight on, loss and gain are one: that says little of how fast it gained.
    if before is None or before.span.first.is_birth:
        return None
    fall = before.span.gain.g_per_day.value - now.span.gain.g_per_day.value
    noise = before.span.half_width_g_per_day + now.span.half_width_g_per_day
    lines = course.lines
    slow = lines.note_fraction.value
    has_dropped = fall > noise and now.share < slow
    is_sure = now.share_high < slow or now.share < lines.look_fraction.value
    return Drop(before.span, now, has_dropped, has_dropped and is_sure)


def _two_spans(
    name: str, course: GainCourse, before: GainSpan, now: GainSpan, shown_since: datetime | None
) -> Reviewed:
    """A sign that rests on two gains, one after the other."""
    gained, earlier = dict(gaps_of(now)), dict(gaps_of(before))
    found = sign(
        name,
        True,  # noqa: FBT003  # it is so
        *latest_words(course, now),
        looked_at=looked_at(course),
        age_h=now.last.age_h,
        is_answered=course.case.answers.cover_weights(now.last, now.first, before.first),
        degree=-now.gain.g_per_day.value,
        entry_ids=(before.first.entry_id, now.first.entry_id, now.last.entry_id),
        working=Working(
            formula=message("two gains, the second after the first"),
            inputs=(
                *before.gain.g_per_day.working.inputs,
                *now.gain.g_per_day.working.inputs,
            ),
            constants=now.gain.g_per_day.working.constants,
        ),
        gain=gained["gain"],
        before=earlier["gain"],
        until=Instant(course.case.at_age(now.last.age_h)),
        at=Instant(course.case.at_age(now.last.age_h)),
    )
    (seen,) = found.signs[name]
    return Reviewed(signs={name: (msgspec.structs.replace(seen, shown_since=shown_since),)})
