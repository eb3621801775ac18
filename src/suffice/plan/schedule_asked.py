"""Of a record and a plan: what is to be fitted into the parent's day."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

import msgspec

from suffice.clinical.entry import Entry, ParentDay, Plan
from suffice.clinical.units import HOURS_PER_DAY
from suffice.plan.known import Asked
from suffice.plan.parameters import plan_parameters
from suffice.plan.schedule_case import DayCase, day_case
from suffice.plan.schedule_parameters import schedule_parameters
from suffice.plan.unit import is_fed_by_unit


def parent_day_of(entries: Iterable[Entry]) -> ParentDay | None:
    """The parent's day as it was said last; None where nobody asked."""
    found = [one.fact for one in entries if isinstance(one.fact, ParentDay)]
    return found[-1] if found else None


def case_of(asked: Asked, plan: Plan, infant_ids: Iterable[UUID]) -> DayCase:
    """What is to be fitted into a day: this plan, and the last plan of each of the other infants.

    An infant that has no plan yet is taken to be fed as this one; one alone that is given no milk, or that a unit
    feeds, has no feeds.

    Args:
        asked: What is known.
        plan: The plan of its infant.
        infant_ids: Every infant of the family.
    """
    last = {one.infant_id: one.fact for one in asked.entries if isinstance(one.fact, Plan)}
    others = [last.get(one, plan) for one in infant_ids if one != asked.infant.infant_id]
    case = day_case(
        (plan, *others),
        parent_day_of(asked.entries),
        age_d=(asked.infant.age_h or 0.0) / HOURS_PER_DAY,
        parameters=schedule_parameters(asked.content),
    )
    is_fed = any(one.feeds_count or one.at_breast not in {None, "not now"} for one in others)
    is_by_unit = is_fed_by_unit(asked, plan_parameters(asked.content))
    if (asked.is_given_no_milk and not others) or (is_by_unit and not is_fed):
        return msgspec.structs.replace(case, feeds_count=0, milk_feeds_count=0)
    return case
