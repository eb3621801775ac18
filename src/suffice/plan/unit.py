"""The plan of an infant that a unit feeds: how often and how much is ordered there, the parent is told when to express."""

from __future__ import annotations

import msgspec

from suffice.clinical.entry import ParentDay, Plan
from suffice.message import message
from suffice.plan.known import Asked, is_at_breast, is_before_the_breast
from suffice.plan.line import Line
from suffice.plan.parameters import PlanParameters


def is_fed_by_unit(asked: Asked, parameters: PlanParameters) -> bool:
    """Whether a unit feeds it: it is not at the breast, and is on a unit or before 34 weeks since conception.

    Args:
        asked: What is known.
        parameters: The values in force.
    """
    if is_at_breast(asked, parameters):
        return False
    days = [one.fact for one in asked.entries if isinstance(one.fact, ParentDay)]
    is_on_unit = bool(days) and bool(days[-1].is_on_unit)
    return is_on_unit or is_before_the_breast(asked, parameters)


def fed_by_unit(plan: Plan, lines: tuple[Line, ...]) -> tuple[Plan, tuple[Line, ...]]:
    """A plan and its lines without a number of feeds and a gap, which are not the family's to keep.

    Args:
        plan: What would be proposed to a family that feeds it.
        lines: The lines of that.
    """
    without = msgspec.structs.replace(
        plan, feeds_count=None, gap_day_h=None, gap_night_h=None, proposed_feeds_count=None
    )
    feeds = Line(part="feeds", says=(message("The unit feeds it: how often is ordered there."),))
    return without, tuple(feeds if one.part == "feeds" else one for one in lines)
