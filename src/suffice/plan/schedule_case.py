"""What is to be fitted into a day: the plans of a family and the parent's day, in minutes of the clock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import msgspec
import numpy as np

from suffice.clinical.entry import ParentDay, Plan
from suffice.clinical.reading.hours import DAY_MINUTES, Hours, hours_of
from suffice.clinical.units import MINUTES_PER_HOUR
from suffice.plan.schedule_parameters import ScheduleParameters


class FeedMilk(msgspec.Struct, frozen=True, kw_only=True):
    """What one infant gets at its feeds, mL: no day may hold less of it than its plan.

    Attributes:
        day_ml: What it gets in 24 h at least: its need, or what its plan comes to where that is less.
        breast_ml: At a feed at the breast.
        milk_ml: As extra milk after or at the breast.
        bottle_ml: From a bottle or cup in place of the breast.
    """

    day_ml: float
    breast_ml: float
    milk_ml: float
    bottle_ml: float


class DayCase(msgspec.Struct, frozen=True, kw_only=True):
    """What is asked of a day, and what it has room for; twins are fed at one time and share all of it.

    Attributes:
        feeds_count: Feeds in 24 h, at least; 0 where others feed.
        gap_day_minutes: Longest time from the start of one feed to the start of the next.
        gap_night_minutes: The same where the gap begins at night; once a night.
        at_breast: At which feeds.
        breast_minutes: Of a feed at the breast, without extra milk.
        short_breast_minutes: Of a short one, which is tried in the table of changes.
        milk_minutes: Of the extra milk after it.
        bottle_minutes: Of a feed that is not at the breast.
        milk_feeds_count: At how many feeds there is extra milk, at least.
        sessions_count: Expression sessions that are asked for.
        session_minutes: Of one session, with setting up.
        removal_gap_minutes: Longest time between two removals of milk; None where that does not matter.
        is_own_milk: Whether what is given instead of the breast has to be expressed first.
        sleep_minutes: Unbroken sleep that is looked for.
        is_sleep_wished: Whether the parent said so; else it is what is usual.
        is_woken: Whether the plan has a longest gap; else the day is drawn with a usual one.
        sleep: Between which hours.
        away: When the parent is not there.
        expresses_away: Whether a session can be away.
        helpers: When somebody can give a feed.
        keeps_breast: Whether no feed at the breast is replaced but while the parent is away: a full breast fills on.
        cleaning_minutes: Of a day; not on the clock.
        milk: What the infant of this plan gets; None where that is not known, or its age alone says the amounts.
    """

    feeds_count: int
    gap_day_minutes: int
    gap_night_minutes: int
    at_breast: Literal["every feed", "some feeds", "not now"]
    breast_minutes: float
    short_breast_minutes: float
    milk_minutes: float
    bottle_minutes: float
    milk_feeds_count: int
    sessions_count: int
    session_minutes: float
    removal_gap_minutes: int | None
    is_own_milk: bool
    sleep_minutes: int
    sleep: tuple[Hours, ...]
    is_sleep_wished: bool = True
    is_woken: bool = True
    away: tuple[Hours, ...] = ()
    expresses_away: bool = False
    helpers: tuple[Hours, ...] = ()
    keeps_breast: bool = False
    cleaning_minutes: float = 0.0
    milk: FeedMilk | None = None


def day_case(
    plans: Sequence[Plan],
    day: ParentDay | None,
    *,
    age_d: float,
    parameters: ScheduleParameters,
) -> DayCase:
    """What is to be fitted into a day.

    Args:
        plans: The plan of each infant of the family, at least one.
        day: The parent's day; None where nobody asked.
        age_d: Age of the infants.
        parameters: The values in force.

    Raises:
        ValueError: Hours of the day that nobody can read; a record refuses them.
    """
    day = day or ParentDay()
    is_fed = not day.is_on_unit
    sessions = max(plan.sessions_count or 0 for plan in plans)
    given = _milk_feeds(plans, parameters) if is_fed else 0
    breast, milk, bottle = _feed_minutes(plans, day, parameters)
    day_gap, night_gap = _gaps(plans, age_d, parameters)
    return DayCase(
        feeds_count=_feeds(plans, parameters) if is_fed else 0,
        gap_day_minutes=day_gap,
        gap_night_minutes=night_gap,
        at_breast=_at_breast(plans),
        breast_minutes=breast,
        short_breast_minutes=_short_minutes(plans, day, parameters),
        milk_minutes=milk,
        bottle_minutes=bottle,
        milk_feeds_count=given,
        sessions_count=sessions,
        session_minutes=_session_minutes(plans, parameters),
        removal_gap_minutes=_removal_gap(plans, sessions, age_d, parameters),
        is_own_milk=not any(
            "donor" in (plan.milk or "") or "formula" in (plan.milk or "") for plan in plans
        ),
        sleep_minutes=_minutes(
            parameters.sleep_wished_h.value if day.sleep_h is None else day.sleep_h
        ),
        sleep=hours_of(day.sleep_between) or (_usual_sleep(parameters),),
        is_sleep_wished=day.sleep_h is not None,
        is_woken=any(plan.gap_day_h is not None or plan.gap_night_h is not None for plan in plans),
        away=hours_of(day.away),
        expresses_away=bool(day.expresses_away),
        helpers=hours_of(day.helpers),
        keeps_breast=any(plan.express_for == "relieve" for plan in plans),
        cleaning_minutes=parameters.cleaning_minutes.value if sessions or given else 0.0,
    )


def least_minutes(case: DayCase) -> float:
    """The minutes that everything asked takes in a day, whoever does it."""
    fed = case.feeds_count
    if case.at_breast == "not now":
        feeding = fed * case.bottle_minutes
    else:
        feeding = fed * case.breast_minutes + case.milk_feeds_count * case.milk_minutes
    return feeding + case.sessions_count * case.session_minutes + case.cleaning_minutes


def _minutes(hours: float) -> int:
    return round(hours * MINUTES_PER_HOUR)


def _usual_sleep(parameters: ScheduleParameters) -> Hours:
    starts = _minutes(parameters.sleep_from_h.value) % DAY_MINUTES
    return Hours(starts, starts + _minutes(parameters.sleep_hours_h.value))


def _feeds(plans: Sequence[Plan], parameters: ScheduleParameters) -> int:
    usual = int(parameters.feeds_count_per_day.value)
    return max(usual if plan.feeds_count is None else plan.feeds_count for plan in plans)


def _at_breast(plans: Sequence[Plan]) -> Literal["every feed", "some feeds", "not now"]:
    """At the breast where one infant of them is."""
    chosen = {plan.at_breast or "every feed" for plan in plans}
    if chosen == {"not now"}:
        return "not now"
    return "some feeds" if "some feeds" in chosen else "every feed"


def _milk_feeds(plans: Sequence[Plan], parameters: ScheduleParameters) -> int:
    """At how many feeds milk is given; at every one where an infant is not at the breast."""
    if any(plan.at_breast == "not now" for plan in plans):
        return _feeds(plans, parameters)
    counts = [
        (plan.supplement_feeds_count or 0)
        if plan.supplement_ml_per_day or plan.supplement_ml
        else 0
        for plan in plans
    ]
    return min(max(counts), _feeds(plans, parameters))


def _feed_minutes(
    plans: Sequence[Plan], day: ParentDay, parameters: ScheduleParameters
) -> tuple[float, float, float]:
    """Minutes at the breast, of the extra milk after it, and of a feed that is not at the breast."""
    usual = parameters.breast_minutes.value
    breast = [
        usual if plan.breast_minutes is None else plan.breast_minutes
        for plan in plans
        if plan.at_breast != "not now"
    ]
    milk = [
        parameters.bottle_minutes.value
        if plan.at_breast == "not now"
        else parameters.top_up_minutes.value
        for plan in plans
        if plan.at_breast == "not now" or plan.supplement_ml_per_day or plan.supplement_ml
    ]
    bottle = [parameters.bottle_minutes.value for _ in plans]
    return (
        _of_all(breast, day, parameters),
        _of_all(milk, day, parameters),
        _of_all(bottle, day, parameters),
    )


def _short_minutes(plans: Sequence[Plan], day: ParentDay, parameters: ScheduleParameters) -> float:
    """Minutes at the breast where each infant is there for a short time."""
    short = parameters.short_breast_minutes.value
    return _of_all([short for one in plans if one.at_breast != "not now"], day, parameters)


def _of_all(each: Sequence[float], day: ParentDay, parameters: ScheduleParameters) -> float:
    """Minutes for all infants: one after another, or together with a little more than the longest."""
    if not day.feeds_together:
        return math.fsum(each)
    extra = parameters.twins_extra_minutes.value * (len(each) - 1)
    return max(each) + extra if each else 0.0


def _gaps(plans: Sequence[Plan], age_d: float, parameters: ScheduleParameters) -> tuple[int, int]:
    """The shortest of the longest gaps, by day and at night."""
    free = _free_gap_h(age_d, parameters)
    by_day = [
        free if plan.gap_day_h is None and plan.gap_night_h is None else plan.gap_day_h
        for plan in plans
    ]
    at_night = [
        max(gap or 0.0, plan.gap_night_h or 0.0) for gap, plan in zip(by_day, plans, strict=True)
    ]
    shortest_night = min(at_night)
    shortest_day = min(shortest_night if gap is None else gap for gap in by_day)
    return _minutes(min(shortest_day, shortest_night)), _minutes(shortest_night)


def _free_gap_h(age_d: float, parameters: ScheduleParameters) -> float:
    """The gap with which a day is drawn where a plan has none: it grows with age, in whole steps of the clock."""
    ages = parameters.free_gap_until_d.value, parameters.free_gap_later_from_d.value
    gaps = parameters.free_gap_h.value, parameters.free_gap_later_h.value
    step_h = parameters.step_minutes.value / MINUTES_PER_HOUR
    return math.floor(float(np.interp(age_d, ages, gaps)) / step_h) * step_h


def _session_minutes(plans: Sequence[Plan], parameters: ScheduleParameters) -> float:
    """What a session takes with setting up: the plan's minutes and what setting up takes."""
    setting_up = parameters.expression_minutes.value - parameters.session_minutes.value
    chosen = [plan.session_minutes for plan in plans if plan.session_minutes]
    return max(chosen, default=parameters.session_minutes.value) + setting_up


def _removal_gap(
    plans: Sequence[Plan], sessions: int, age_d: float, parameters: ScheduleParameters
) -> int | None:
    if not sessions or not any(plan.express_for in {"build", "keep"} for plan in plans):
        return None
    is_early = age_d < parameters.build_until_d.value
    gap = parameters.removal_gap_h if is_early else parameters.removal_gap_later_h
    return _minutes(gap.value)
