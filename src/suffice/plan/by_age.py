"""The amounts of a supplement that the protocols give by age, in the first days: each day has its own.

The protocols give a range for each day of life. It begins in the middle, rounded as a family can measure it, and
goes up to the end of the range where the infant asks for more.
"""

from __future__ import annotations

import math
from datetime import datetime
from typing import Final, NamedTuple

import msgspec

from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Plan
from suffice.clinical.parameters import ConstantSeries
from suffice.plan.parameters import PlanParameters

SHOWN_FOR_H: Final = 2.0
"""How long before it is agreed on a plan may have been proposed, in hours: a contact lasts no longer."""


class AmountOfDay(NamedTuple):
    """The protocol's amount at a feed from an age on.

    Attributes:
        from_h: The age, in hours.
        ml: At one feed, mL.
        most_ml: The most at one feed on cues, mL.
    """

    from_h: float
    ml: float
    most_ml: float


def amounts_by_day(
    age_h: float, gestation_days: int | None, parameters: PlanParameters
) -> tuple[AmountOfDay, ...]:
    """The protocol's amounts from an age on: that of now, then each that begins later.

    Args:
        age_h: The age now.
        gestation_days: None where it is not known: then as born at term.
        parameters: The values in force.

    Returns:
        The amounts in order of age; empty at an age of which the protocol says nothing.
    """
    until_h = by_age_until_h(gestation_days, parameters)
    if not 0 <= age_h < until_h:
        return ()
    low, high = series_by_age(gestation_days, parameters)
    starts = sorted({*low.positions, *high.positions})
    now = max(one for one in starts if one <= age_h)
    return tuple(
        AmountOfDay(
            from_h=one,
            ml=middle_ml(low.at(one).value, high.at(one).value, parameters),
            most_ml=high.at(one).value,
        )
        for one in starts
        if now <= one < until_h
    )


def at_age(
    plan: Plan,
    agreed_h: float,
    age_h: float,
    gestation_days: int | None,
    parameters: PlanParameters,
) -> tuple[Plan, tuple[AmountOfDay, ...]]:
    """A plan with the amounts of an age, and those that begin later.

    A plan is kept once and holds for days. Where its amounts are those of the protocol at the age at which it was
    agreed on they grow with the age of the infant; amounts that somebody chose stay as they were chosen. So does
    one that was proposed from what an infant takes by bottle, where a later day's amount is more. A plan that was
    agreed on as it was proposed may have been proposed on the day of life before.

    Args:
        plan: The plan.
        agreed_h: The age at which it was agreed on, h.
        age_h: The age now, h.
        gestation_days: None where it is not known: then as born at term.
        parameters: The values in force.
    """
    is_as_proposed = plan.supplement_ml_per_day == plan.proposed_ml_per_day is not None
    proposed_h = max(agreed_h - SHOWN_FOR_H, 0.0) if is_as_proposed else agreed_h
    amounts = amounts_by_day(proposed_h, gestation_days, parameters)
    agreed = (plan.supplement_ml, plan.supplement_most_ml)
    until_then = [one for one in amounts if one.from_h <= agreed_h]
    if agreed not in [(one.ml, one.most_ml) for one in until_then]:
        ml = plan.supplement_ml or 0.0
        is_by_bottle = is_as_proposed and plan.at_breast == "not now"
        is_before_34_weeks = gestation_days is not None and (
            gestation_days < parameters.late_preterm_from_days.value
        )
        if not is_by_bottle or is_before_34_weeks or any(one.ml >= ml for one in until_then):
            return plan, ()
        # All it drinks is given, more than the protocol had for its age: a later day of it may still be more.
        amounts = tuple(one for one in amounts if one.ml > ml)
    reached = [one for one in amounts if one.from_h <= max(age_h, agreed_h)]
    if not reached:
        return plan, amounts
    now = reached[-1]
    count = plan.supplement_feeds_count
    grown = msgspec.structs.replace(
        plan,
        supplement_ml=now.ml,
        supplement_most_ml=now.most_ml,
        supplement_ml_per_day=now.ml * count if count else plan.supplement_ml_per_day,
    )
    return grown, tuple(one for one in amounts if one.from_h > now.from_h)


def plan_at(
    entry: Entry,
    at: datetime,
    born_at: datetime | None,
    gestation_days: int | None,
    parameters: PlanParameters,
) -> tuple[Plan, tuple[AmountOfDay, ...]]:
    """The plan of an entry with the amounts of an instant, and those that begin later (:func:`at_age`).

    Args:
        entry: The plan's entry.
        at: The instant.
        born_at: None where it is not known: then the plan as it is.
        gestation_days: None where it is not known.
        parameters: The values in force.

    Raises:
        TypeError: when the entry is no plan.
    """
    plan = entry.fact
    if not isinstance(plan, Plan):
        raise TypeError("a plan is asked for")
    if born_at is None:
        return plan, ()
    agreed_h, age_h = (elapsed_h(born_at, one) for one in (entry.true_at, at))
    return at_age(plan, agreed_h, age_h, gestation_days, parameters)


def by_age_until_h(gestation_days: int | None, parameters: PlanParameters) -> float:
    """The age up to which the protocols give amounts, h."""
    is_late = is_late_preterm(gestation_days, parameters)
    until = parameters.late_preterm_amounts_until_h if is_late else parameters.amounts_until_h
    return until.value


def series_by_age(
    gestation_days: int | None, parameters: PlanParameters
) -> tuple[ConstantSeries, ConstantSeries]:
    """The protocol's least and most at a feed, by age."""
    if is_late_preterm(gestation_days, parameters):
        return parameters.late_preterm_low_ml, parameters.late_preterm_high_ml
    return parameters.amount_low_ml, parameters.amount_high_ml


def middle_ml(least_ml: float, most_ml: float, parameters: PlanParameters) -> float:
    """Where an amount of the protocol begins: the middle of its range, rounded up."""
    return min(rounded_up((least_ml + most_ml) / 2, parameters), most_ml)


def rounded_up(ml: float, parameters: PlanParameters) -> float:
    """An amount at one feed as a family can measure it, never less."""
    small = ml <= parameters.fine_below_ml.value
    step = (parameters.fine_step_ml if small else parameters.coarse_step_ml).value
    # An amount that is a whole number of steps but for binary dust is not rounded up by one more.
    return step * math.ceil(round(ml / step, 9))


def divided(
    least: float,
    most: float,
    feeds_count: int,
    parameters: PlanParameters,
    *,
    at_breast: bool,
) -> tuple[float, int]:
    """An amount of a day as one at each feed, and at how many feeds; never less than `least`.

    At every feed where that is no more than `most`, or where nothing else is fed; else at as many of at least
    half of them as come nearest to `least`.

    Args:
        least: mL/day, above 0.
        most: mL/day.
        feeds_count: Feeds in 24 h, at least one.
        parameters: The values in force.
        at_breast: Whether a feed without this milk is a feed at the breast.
    """
    every = rounded_up(least / feeds_count, parameters)
    if not at_breast or every * feeds_count <= most:
        return every, feeds_count
    fewest = math.ceil(feeds_count / 2)
    tried = [
        (rounded_up(least / count, parameters), count) for count in range(fewest, feeds_count + 1)
    ]
    return min(tried, key=lambda one: (one[0] * one[1], -one[1]))


def is_late_preterm(gestation_days: int | None, parameters: PlanParameters) -> bool:
    """Whether it was born at 34 to 36 completed weeks."""
    return gestation_days is not None and (
        parameters.late_preterm_from_days.value
        <= gestation_days
        < parameters.preterm_before_days.value
    )
