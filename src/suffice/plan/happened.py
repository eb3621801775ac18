"""The last plan against what happened since, from what was written down."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime

import msgspec

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Expression, Feed, FeedCount, Plan, about
from suffice.clinical.units import HOURS_PER_DAY
from suffice.message import Amount, Message, Number, Words, message
from suffice.plan.known import Asked

NOT_PLANNED = message("not planned")
NOT_WRITTEN = message("not written down")


class Against(msgspec.Struct, frozen=True, kw_only=True):
    """One thing as it was planned and as it was.

    Attributes:
        name: What it is.
        planned: As planned.
        was: As it was since, a day.
    """

    name: Words
    planned: Words
    was: Words


class SincePlan(msgspec.Struct, frozen=True, kw_only=True):
    """The last plan and what happened since.

    Attributes:
        plan: The plan.
        entry: Its entry.
        days: Since when, in days.
        rows: What was planned against what was.
    """

    plan: Plan
    entry: Entry
    days: float
    rows: tuple[Against, ...]


def since_plan(asked: Asked) -> SincePlan | None:
    """The last plan against what was written down since; None where there is no plan."""
    if not asked.plans:
        return None
    entry, plan = asked.plans[-1]
    days = elapsed_h(entry.true_at, asked.as_of) / HOURS_PER_DAY
    return SincePlan(
        plan=plan, entry=entry, days=days, rows=tuple(_rows(asked, entry.true_at, plan, days))
    )


def _rows(asked: Asked, since: datetime, plan: Plan, days: float) -> Iterator[Against]:
    own = [one.fact for one in asked.own if one.true_at > since]
    parent = [one.fact for one in about(asked.entries, None) if one.true_at > since]
    counted = [fact.count for fact in own if isinstance(fact, FeedCount)]
    feeds = [fact for fact in own if isinstance(fact, Feed)]
    # What lasted less than a day is not made into a day.
    over = max(days, 1.0)
    yield Against(
        name=message("feeds in 24 h"),
        planned=_count(plan.feeds_count),
        was=_count(counted[-1])
        if counted
        else _each_day(len(feeds), over)
        if feeds
        else NOT_WRITTEN,
    )
    given = [
        fact.volume_ml for fact in feeds if fact.milk != "breast" and fact.volume_ml is not None
    ]
    yield Against(
        name=message("supplement in 24 h"),
        planned=_ml(plan.supplement_ml_per_day),
        was=_ml(math.fsum(given) / over) if given else NOT_WRITTEN,
    )
    sessions = sum(isinstance(fact, Expression) for fact in parent)
    yield Against(
        name=message("expression sessions in 24 h"),
        planned=_count(plan.sessions_count),
        was=_each_day(sessions, over) if sessions else NOT_WRITTEN,
    )
    yield Against(name=message("gain since"), planned="", was=_gain(asked, since))


def _count(count: int | None) -> Words:
    return NOT_PLANNED if count is None else message("{count}", count=Number(count, 0))


def _each_day(count: int, days: float) -> Message:
    return message("{count}", count=Number(count / days, 1))


def _ml(ml: float | None) -> Words:
    return NOT_PLANNED if ml is None else message("{ml}", ml=Amount(ml, "mL", 0))


def _gain(asked: Asked, since: datetime) -> Words:
    """The gain between the last weight up to the plan, or the first after it, and the last one."""
    rows = [one for one in asked.infant.weights if one.age_h > 0]
    before = [one for one in rows if one.at <= since]
    after = [one for one in rows if one.at > since]
    first = before[-1] if before else after[0] if after else None
    if first is None or not after or after[-1] is first:
        return message("not weighed since")
    last = after[-1]
    days = elapsed_h(first.at, last.at) / HOURS_PER_DAY
    return message(
        "{rate} ({first} to {last} in {days} days)",
        rate=Amount((last.weight_g - first.weight_g) / days, "g/d", 0),
        first=Amount(first.weight_g, "g"),
        last=Amount(last.weight_g, "g"),
        days=Number(days, 1),
    )
