"""What the family's page says of feeds without the parent: the hours away, and a bottle that a helper gives."""

from __future__ import annotations

from collections.abc import Iterator

from suffice.assess.results import InfantAssessment
from suffice.clinical.entry import Plan
from suffice.clinical.reading.hours import DAY_MINUTES, Hours, hours_of, time_of_day_text
from suffice.clinical.units import HOURS_PER_DAY, MINUTES_PER_HOUR
from suffice.documents.day_clock import clock_of
from suffice.documents.frame import Source, measured
from suffice.message import Listed, Message, Number, message
from suffice.plan.by_age import amounts_by_day, rounded_up
from suffice.plan.need import need_of, no_less
from suffice.plan.parameters import plan_parameters
from suffice.plan.schedule_asked import parent_day_of


def away_lines(source: Source, plan: Plan, infant: InfantAssessment) -> Iterator[Message]:
    """The lines for the longest time away; none where it is short, or the infant is not fed at the breast alone.

    Args:
        source: What the paper is made from.
        plan: The plan that holds.
        infant: Whose it is.
    """
    day, parameters = parent_day_of(source.entries), plan_parameters(source.content)
    away = max(hours_of(day.away if day else None), key=lambda one: one.minutes, default=None)
    is_fed_so = plan.at_breast in {"every feed", "some feeds"} and not plan.supplement_ml_per_day
    if day is None or away is None or not is_fed_so or plan.express_for == "wean":
        return
    hours = away.minutes / MINUTES_PER_HOUR
    if hours < parameters.away_least_h.value:
        return
    starts, ends = (time_of_day_text(one) for one in (away.starts_minutes, away.ends_minutes))
    if plan.sessions_count and day.expresses_away is not False:
        yield from _expressed(source, away, Number(parameters.away_gap_h.value))
    if (infant.age_h or 0.0) < parameters.away_amount_from_d.value * HOURS_PER_DAY:
        yield message(
            "Ask us how much milk to leave for *{starts} to {ends}*.", starts=starts, ends=ends
        )
        return
    low, high = (
        measured(source.policy, round(one.value * hours))
        for one in (parameters.away_low_ml, parameters.away_high_ml)
    )
    yield message(
        "For *{starts} to {ends}* leave *{low} to {high}* of your milk, in small portions.",
        starts=starts, ends=ends, low=low, high=high,
    )  # fmt: skip


def milk_instead(source: Source, plan: Plan, infant: InfantAssessment) -> Message | None:
    """How much is in a bottle that a helper gives in place of the breast; None where the clock has no such bottle.

    Args:
        source: What the paper is made from.
        plan: The plan that holds.
        infant: Whose it is.
    """
    is_fed_so = plan.at_breast in {"every feed", "some feeds"}
    if not is_fed_so or not any(one.what == "bottle" for one in clock_of(source.entries)):
        return None
    need = no_less(need_of(infant, source.content)).per_day
    parameters, age_h = plan_parameters(source.content), infant.age_h
    if age_h is None or need is None or not plan.feeds_count:
        return message("ask us how much")
    # In the first days the protocol's amount of its age; then what it needs at a feed, extra milk among it.
    by_day = amounts_by_day(age_h, infant.gestation_days, parameters)
    ml = by_day[0].ml if by_day else rounded_up(need.value / plan.feeds_count, parameters)
    return measured(source.policy, max(ml, plan.supplement_ml or 0.0))


def _expressed(source: Source, away: Hours, gap_h: Number) -> Iterator[Message]:
    """At the times of the clock that was agreed on; with none, so many hours apart."""
    own = [one for one in clock_of(source.entries) if one.what == "express" and one.who == "parent"]
    since = sorted((one.starts_minutes - away.starts_minutes) % DAY_MINUTES for one in own)
    times = [time_of_day_text(away.starts_minutes + one) for one in since if one < away.minutes]
    if times:
        yield message("While you are away express at *{times}*.", times=Listed(tuple(times), "and"))
    elif not own:
        yield message("While you are away express every *{hours} hours*.", hours=gap_h)
