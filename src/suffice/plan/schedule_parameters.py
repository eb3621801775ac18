"""The values with which a plan is fitted into a day, from the content in force."""

from __future__ import annotations

from functools import lru_cache
from typing import ClassVar

from suffice.clinical.parameters import Parameters
from suffice.clinical.working import Constant
from suffice.knowledge.store import Content


class ScheduleParameters(Parameters, frozen=True, kw_only=True):
    """How acts are fitted into a day, and what counts how much where not all of it fits."""

    topic: ClassVar[str] = "schedule"
    keys: ClassVar[dict[str, str]] = {
        "feeds_count_per_day": "feeding.feeds_count_per_day",
        "breast_minutes": "plan.breast_minutes",
        "top_up_minutes": "plan.top_up_minutes",
        "bottle_minutes": "plan.bottle_minutes",
        "expression_minutes": "plan.expression_minutes",
        "session_minutes": "plan.session_minutes",
        "cleaning_minutes": "plan.cleaning_minutes",
        "removal_gap_h": "plan.removal_gap_h",
        "build_until_d": "plan.build_until_d",
    }

    feeds_count_per_day: Constant
    breast_minutes: Constant
    top_up_minutes: Constant
    bottle_minutes: Constant
    expression_minutes: Constant
    session_minutes: Constant
    cleaning_minutes: Constant
    removal_gap_h: Constant
    removal_gap_later_h: Constant
    build_until_d: Constant

    step_minutes: Constant
    start_minutes: Constant
    feeds_apart_minutes: Constant
    sessions_apart_minutes: Constant
    after_expressing_minutes: Constant
    night_from_h: Constant
    night_hours_h: Constant
    sleep_wished_h: Constant
    sleep_from_h: Constant
    sleep_hours_h: Constant
    free_gap_h: Constant
    free_gap_until_d: Constant
    free_gap_later_h: Constant
    free_gap_later_from_d: Constant
    more_feeds_count: Constant
    twins_extra_minutes: Constant

    bottle_weight_ratio: Constant
    session_weight_ratio: Constant
    feed_weight_ratio: Constant
    gap_weight_ratio: Constant
    helper_minutes_ratio: Constant
    small_hours_minutes: Constant
    uneven_minutes: Constant
    small_hours_until_h: Constant

    short_breast_minutes: Constant
    longer_gap_h: Constant
    fewer_sessions_count: Constant
    helper_night_h: Constant
    helper_feed_until_h: Constant


@lru_cache(maxsize=8)
def schedule_parameters(content: Content) -> ScheduleParameters:
    """The values of a schedule; kept.

    Raises:
        ContentError: CONTENT-020 for each constant that is missing, as in a set of the past.
    """
    return ScheduleParameters.from_content(content.flat, content.series)
