"""When a plan weighs the infant and sees the family again: noon of a day, never the hour of the night it is made.

The date of the assessment says from when weights can tell; a plan has to name a day in any case, and an
earlier one where something is flagged. Where two of them differ the page says one, with its reason.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Final

from suffice.assess.results import WeighAgain
from suffice.clinical.units import HOURS_PER_DAY
from suffice.knowledge.problem import LookAgain
from suffice.message import Instant, Message, Words, message
from suffice.plan.by_age import is_late_preterm
from suffice.plan.express import ONE_SIDE, SORE
from suffice.plan.known import Asked, weights_since_birth
from suffice.plan.parameters import PlanParameters
from suffice.plan.size import Known, is_before_term
from suffice.plan.supplement import Supplement

NOON: Final = time(12)
"""Where only a day is named, its middle."""
OF_MILK: Final = frozenset({"weight", "gain", "intake", "milk", "combined"})
"""Topics of flags that the next weight has to answer soon."""
URGENT: Final = frozenset({"physician", "emergency"})
"""Levels of a flag at which it is weighed the next day."""
A_DAY: Final = timedelta(days=1)
TWO_DAYS_H: Final = 2 * HOURS_PER_DAY
"""Up to here hours that a problem gives are kept to the hour."""
DAY_FROM: Final = time(8)
"""From when on somebody is seen on a day that is not named by its noon; judgement, ours."""
DAY_UNTIL: Final = time(18)
"""Until when; judgement, ours."""
BY_STEP: Final = "weaning_off_supplement"
"""A problem that is looked at again when the next step is decided, not by a date of its own."""
CHANGES: Final = frozenset({"first", "up", "down", "back"})
"""Moves after which the family is seen within two days."""


def is_soon(asked: Asked, milk: Supplement) -> bool:
    """Whether the family is seen within two days: a supplement that changes, something open, a red or hard breast."""
    if milk.is_given and milk.move in CHANGES:
        return True
    flagged = (*asked.open_findings, *asked.of_parent)
    return bool(asked.problems & (SORE | ONE_SIDE)) or any(
        one.level not in {"note", "look"} for one in flagged
    )


def weigh_at_of(
    asked: Asked, known: Known, milk: Supplement, parameters: PlanParameters
) -> datetime:
    """When it is weighed: the earliest of what asks for it.

    The assessment's date; what a named problem says of a weight; a step, or two days, where a supplement is given;
    two days where it is short or its weight, gain or intake is flagged or its weight loss looked at; the next day
    where a physician is called for that, or such an infant, or one that is given a supplement and does not rise yet,
    was born at 34 to 36 weeks and is not at term; and in any case by when the last weight is too old.
    """
    again, local = asked.infant.weigh_again, asked.as_of.astimezone(asked.zone)
    found: list[datetime] = list(_asked_for(asked, known, milk, local, parameters))
    if again is not None and again.on is not None:
        noon = datetime.combine(again.on, NOON, tzinfo=asked.zone)
        # A weight that is asked for today is taken at this contact, not at the noon that is still to come.
        is_now = again.by == "overdue" or again.on <= local.date()
        found.append(local if is_now else noon)
    stands = asked.infant.weight_stands_until
    if stands is None:
        # No weight is known, or not even a birth: there is nothing to wait for.
        found.append(local)
    else:
        noon = _noon_on(stands.astimezone(asked.zone))
        found.append(max(local, noon if noon > local or stands <= asked.as_of else noon + A_DAY))
    return min(found)


def _asked_for(
    asked: Asked, known: Known, milk: Supplement, local: datetime, parameters: PlanParameters
) -> Iterator[datetime]:
    """What the plan itself asks a weight for."""
    if milk.is_given or milk.move == "settle":
        if milk.move in {"hold", "down", "settle"}:
            # A step is decided by a weight that is at least so late.
            days = timedelta(days=parameters.step_days.value)
            noon = _noon_on(local + days)
            yield noon if noon >= local + days else noon + A_DAY
        else:
            yield noon_within(local, parameters.after_supplement_h.value)
    of_milk = [one for one in asked.open_findings if one.topic in OF_MILK]
    flagged = any(one.level != "look" for one in of_milk)
    lost = any(one.topic == "weight" and one.judged != "not known" for one in of_milk)
    if asked.is_short or flagged or lost:
        yield noon_within(local, parameters.after_supplement_h.value)
    if asked.is_short and any(one.level in URGENT for one in of_milk):
        yield noon_within(local, HOURS_PER_DAY)
    for one in looks_again(asked):
        # One that rises is not weighed every day.
        is_daily = one.within_h <= HOURS_PER_DAY
        if one.is_weighed and not (is_daily and _is_rising(asked)):
            yield _looked_at(one, local)
    if asked.is_short or flagged or (milk.is_given and not _is_rising(asked)):
        is_late = is_late_preterm(known.gestation_days, parameters)
        if is_late and is_before_term(known, parameters.term_days):
            yield noon_within(local, parameters.late_preterm_weigh_d.value * HOURS_PER_DAY)


def _is_rising(asked: Asked) -> bool:
    """Whether its last weight is more than the one before it, since birth."""
    weights = [one.weight_g for one in weights_since_birth(asked.infant)][-2:]
    return len(weights) > 1 and weights[-1] > weights[0]


def _noon_on(local: datetime) -> datetime:
    return datetime.combine(local.date(), NOON, tzinfo=local.tzinfo)


def noon_within(local: datetime, hours: float) -> datetime:
    """The last noon within so many hours, since nobody is seen at night.

    Where that is less than half of them away, too soon to tell anything, or there is none: their end, or the
    evening before where that is at night.
    """
    latest = local + timedelta(hours=hours)
    noon = _noon_on(latest)
    noon = noon if noon <= latest else noon - A_DAY
    if noon - local >= (latest - local) / 2:
        return noon
    if latest.time() < DAY_FROM:
        evening = datetime.combine(latest.date() - A_DAY, DAY_UNTIL, tzinfo=latest.tzinfo)
    else:
        evening = datetime.combine(latest.date(), DAY_UNTIL, tzinfo=latest.tzinfo)
    by = min(latest.replace(minute=0, second=0, microsecond=0), evening)
    return by if by > local else latest


def looks_again(asked: Asked) -> tuple[LookAgain, ...]:
    """What each named problem says of looking again; one that goes by a step has the step's date."""
    named = ((key, asked.content.guide.problems.get(key)) for key in sorted(asked.problems))
    return tuple(one.look_again for key, one in named if one is not None and key != BY_STEP)


def contact_at_of(
    asked: Asked, milk: Supplement, weigh_at: datetime, parameters: PlanParameters
) -> datetime:
    """When the family is seen again: within two days where something changes, else within five.

    No later than the first of its named problems says; of days of which one says, by that day.

    No later than it is weighed; a weight that is due now belongs to this contact, and the next one, the day
    after, goes by what it says.
    """
    hours = (
        parameters.after_supplement_h.value
        if is_soon(asked, milk)
        else parameters.contact_later_d.value * HOURS_PER_DAY
    )
    local = asked.as_of.astimezone(asked.zone)
    latest = min(
        (noon_within(local, hours), *(_looked_at(one, local) for one in looks_again(asked)))
    )
    if weigh_at <= asked.as_of:
        return min(latest, _noon_on(local + A_DAY))
    return min(latest, weigh_at)


def _looked_at(one: LookAgain, local: datetime) -> datetime:
    """By when: of up to two days within the hours, of more by the noon of that day."""
    if one.within_h <= TWO_DAYS_H:
        return noon_within(local, one.within_h)
    return _noon_on(local + timedelta(hours=one.within_h))


def due_words(at: datetime, now: datetime) -> Message:
    """By when something is done: what is due at the time of asking is done now."""
    return message("By {at}.", at=Instant(at)) if at > now else message("Now.")


def weighing_words(asked: Asked, weigh_at: datetime | None) -> tuple[Words, ...]:
    """When it is weighed, in sentences; what the weights can tell only where that names no later day."""
    again = asked.infant.weigh_again
    sentences = () if again is None else again.messages
    if weigh_at is None:
        return (*sentences,) or (message("At the next contact."),)
    by = due_words(weigh_at, asked.as_of)
    local = weigh_at.astimezone(asked.zone).date()
    if again is None:
        return (by,)
    if again.on is None:
        return (by, *_undated(again))
    if again.on <= local:
        return (by, *sentences)
    return (by, message("Weights alone tell later; the plan does not wait for that."))


def _undated(again: WeighAgain) -> tuple[Words, ...]:
    """An advice that names no day, without its last part: that speaks of a plan or of another contact.

    The plan has its own day to weigh, and a date for the next contact. A weight to doubt stays.
    """
    if again.briefly and again.briefly in again.advice:
        return again.messages
    return (*again.advice[:-1], again.reason) if again.reason else again.advice[:-1]
