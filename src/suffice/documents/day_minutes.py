"""How long a day with the plan takes, as the papers say it: by the day that was drawn, else by the plan's own counts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from suffice.clinical.entry import Plan
from suffice.clinical.entry.clock import Act
from suffice.knowledge.store import Content
from suffice.message import Message, message
from suffice.plan.express import day_minutes
from suffice.plan.parameters import plan_parameters
from suffice.plan.schedule_words import in_h_min


class Minutes(NamedTuple):
    """Minutes of 24 h for the parent, cleaning with them, and for a helper."""

    parent: float
    helper: float


def minutes_of(acts: Sequence[Act], plan: Plan, content: Content) -> Minutes | None:
    """What a day takes; None where the plan leaves open how often is fed, and no day was drawn.

    Args:
        acts: The day that was drawn; empty where none was.
        plan: The plan.
        content: The content in force, for the minutes that are assumed.
    """
    parameters = plan_parameters(content)
    if acts:
        does = [one for one in acts if one.what != "sleep"]
        asked = plan.sessions_count or plan.supplement_feeds_count
        cleans = bool(asked) or any(one.what != "breast" for one in does)
        cleaning = parameters.cleaning_minutes.value if cleans else 0.0
        parent = math.fsum(one.minutes for one in does if one.who == "parent")
        helper = math.fsum(one.minutes for one in does if one.who == "helper")
        return Minutes(parent + cleaning, helper)
    if plan.feeds_count is None:
        return None
    given = day_minutes(
        feeds_count=plan.feeds_count,
        at_breast=plan.at_breast in {"every feed", "some feeds"},
        supplement_feeds_count=plan.supplement_feeds_count or 0,
        sessions_count=plan.sessions_count or 0,
        parameters=parameters,
    )
    return Minutes(given.inputs[0].value, 0.0)


def family_minutes(found: Minutes) -> Message:
    """The heading of what a family does each day, with how long that takes."""
    if not found.helper:
        return message("Each day: about {parent} in all", parent=in_h_min(found.parent))
    return message(
        "Each day: about {parent} for you, {helper} for your helper",
        parent=in_h_min(found.parent),
        helper=in_h_min(found.helper),
    )


def noted_minutes(found: Minutes, acts: Sequence[Act]) -> Message:
    """The same for a note: how they were counted."""
    parent, helper = in_h_min(found.parent), in_h_min(found.helper)
    if not acts:
        return message(
            "By its counts the plan takes about {parent} in 24 h, cleaning with it; no day was drawn.",
            parent=parent,
        )
    return message(
        "The day that was drawn takes the parent {parent} in 24 h, cleaning with it, and helpers {helper}.",
        parent=parent,
        helper=helper,
    )
