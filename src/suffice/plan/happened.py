"""The last plan against what happened since, from what was written down."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime

import msgspec

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Expression, Feed, FeedCount, Plan, about
from suffice.clinical.units import HOURS_PER_DAY
from suffice.message import Amount, Number, Words, message
from suffice.plan.known import Asked, weights_since_birth

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


class Written(msgspec.Struct, frozen=True, kw_only=True):
    """On how many of the days since the plan something was written down: the others say nothing of what was.

    Attributes:
        days: Days of 24 h from the plan on in which something was.
        of: Days since the plan, begun ones too.
        over: By how many days what was written down is divided, at least one: what lasted less than a
            day is not made into a day.
    """

    days: int
    of: int
    over: float

    @classmethod
    def of_times(cls, times: Sequence[datetime], since: datetime, days: float) -> Written:
        """Of what was written down at these times after the plan."""
        written = len({int(elapsed_h(since, at) // HOURS_PER_DAY) for at in times})
        return cls(days=written, of=math.ceil(days), over=max(min(written, days), 1.0))

    def with_days(self, was: Words) -> Words:
        """What was, with on how many days it was written down where these are not all."""
        if self.days >= self.of:
            return was
        return message(
            "{was}; written down on {days} of {all} days", was=was, days=self.days, all=self.of
        )


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
    own = [one for one in asked.own if one.true_at > since]
    parent = [one for one in about(asked.entries, None) if one.true_at > since]
    counted = [one.fact.count for one in own if isinstance(one.fact, FeedCount)]
    feeds = [one.fact for one in own if isinstance(one.fact, Feed)]
    fed = Written.of_times([one.true_at for one in own if isinstance(one.fact, Feed)], since, days)
    yield Against(
        name=message("feeds in 24 h"),
        planned=_count(plan.feeds_count),
        was=_count(counted[-1])
        if counted
        else fed.with_days(message("{count}", count=Number(len(feeds) / fed.over, 1)))
        if feeds
        else NOT_WRITTEN,
    )
    given = [
        fact.volume_ml for fact in feeds if fact.milk != "breast" and fact.volume_ml is not None
    ]
    yield Against(
        name=message("supplement in 24 h"),
        planned=_grown(plan.supplement_ml_per_day, asked.held[-1].supplement_ml_per_day),
        was=fed.with_days(_ml(math.fsum(given) / fed.over)) if given else NOT_WRITTEN,
    )
    sessions = [one.true_at for one in parent if isinstance(one.fact, Expression)]
    expressed = Written.of_times(sessions, since, days)
    yield Against(
        name=message("expression sessions in 24 h"),
        planned=_count(plan.sessions_count),
        was=expressed.with_days(message("{count}", count=Number(len(sessions) / expressed.over, 1)))
        if sessions
        else NOT_WRITTEN,
    )
    yield Against(name=message("gain since"), planned="", was=_gain(asked, since))


def _count(count: int | None) -> Words:
    return NOT_PLANNED if count is None else message("{count}", count=Number(count, 0))


def _ml(ml: float | None) -> Words:
    return NOT_PLANNED if ml is None else message("{ml}", ml=Amount(ml, "mL", 0))


def _grown(agreed_ml: float | None, now_ml: float | None) -> Words:
    """What a plan says a day; where that grows with the age, both what was agreed on and what it has come to."""
    if agreed_ml is None or now_ml is None or agreed_ml == now_ml:
        return _ml(now_ml)
    return message(
        "{first}, now {now}", first=Amount(agreed_ml, "mL", 0), now=Amount(now_ml, "mL", 0)
    )


def _gain(asked: Asked, since: datetime) -> Words:
    """The gain between the last weight up to the plan, or the first after it, and the last one."""
    rows = weights_since_birth(asked.infant)
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
