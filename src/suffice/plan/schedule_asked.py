"""Of a record and a plan: what is to be fitted into the parent's day."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

import msgspec

from suffice.clinical.entry import Entry, ParentDay, Plan
from suffice.clinical.units import HOURS_PER_DAY
from suffice.plan.by_age import amounts_by_day, rounded_up
from suffice.plan.known import Asked, taken_at_breast
from suffice.plan.need import no_less
from suffice.plan.parameters import plan_parameters
from suffice.plan.schedule_case import DayCase, FeedMilk, day_case
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
    case = msgspec.structs.replace(case, milk=milk_of_day(asked, plan))
    is_fed = any(one.feeds_count or one.at_breast not in {None, "not now"} for one in others)
    is_by_unit = is_fed_by_unit(asked, plan_parameters(asked.content))
    if (asked.is_given_no_milk and not others) or (is_by_unit and not is_fed):
        return msgspec.structs.replace(case, feeds_count=0, milk_feeds_count=0, milk=None)
    return case


def milk_of_day(asked: Asked, plan: Plan) -> FeedMilk | None:
    """What the infant gets at its feeds by a plan, so that no day on the clock gives it less.

    What it takes at the breast is what was measured, else what its need leaves to the breast. In the first days the
    protocols say an amount a feed and no need of a day: there is nothing to hold a day to.

    Args:
        asked: What is known.
        plan: The plan of its infant.

    Returns:
        None where the need, the feeds, or in a plan that gives all of it the amount is not known.
    """
    parameters, infant = plan_parameters(asked.content), asked.infant
    need, feeds = no_less(asked.need).per_day, plan.feeds_count
    if infant.age_h is None or need is None or not feeds:
        return None
    if amounts_by_day(infant.age_h, infant.gestation_days, parameters):
        return None
    milk = plan.supplement_ml or 0.0
    given = milk * (plan.supplement_feeds_count or 0) or plan.supplement_ml_per_day or 0.0
    if plan.at_breast == "not now":
        if not milk:
            return None
        whole = min(need.value, milk * feeds)
        return FeedMilk(day_ml=whole, breast_ml=0.0, milk_ml=milk, bottle_ml=milk)
    measured = taken_at_breast(asked)
    taken = max(need.value - given, 0.0) if measured is None else measured.value
    # What a helper's bottle holds, as the family's page says it.
    bottle = max(rounded_up(need.value / feeds, parameters), milk)
    whole = min(need.value, taken + given)
    return FeedMilk(day_ml=whole, breast_ml=taken / feeds, milk_ml=milk, bottle_ml=bottle)
