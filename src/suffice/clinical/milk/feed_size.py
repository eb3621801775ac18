"""How large a feed is expected to be in the first four days, and what the stomach is said to hold.

The expected sizes are those of a published protocol: averages of a few studies, to be read beside
the infant's cues. The stomach amounts that are taught with balls and marbles were never measured;
they are given marked so, beside what was.
"""

from __future__ import annotations

from typing import ClassVar

import msgspec

from suffice.clinical.parameters import ConstantSeries, Parameters
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import Problem, RefusalError
from suffice.message import Age, Amount, Message, Words, joined, message


class FeedSizeParameters(Parameters, frozen=True, kw_only=True):
    """Feed sizes by hour of age; a series' `low` and `high` are the range that was published."""

    topic: ClassVar[str] = "feed_size"

    low_ml: ConstantSeries
    """Axis age_h, steps of a day."""
    high_ml: ConstantSeries


class StomachParameters(Parameters, frozen=True, kw_only=True):
    """What is taught, and what was measured."""

    topic: ClassVar[str] = "stomach"

    taught_ml: ConstantSeries
    """Axis day of life; common practice; the range that is taught is that of each point."""
    measured_capacity_ml: Constant
    """At birth, term, review."""


class StomachAmounts(msgspec.Struct, frozen=True, kw_only=True):
    """The taught amount of a day beside what was measured.

    Attributes:
        taught: Range that teaching gives for the day; None before its first day.
        measured: Capacity at birth as measured.
        observed_feed: Feed size that was observed at that age; None where none was published.
        sentence: Both, in one English sentence.
    """

    taught: Figure | None
    measured: Figure
    observed_feed: Figure | None
    sentence: Words


def expected_feed_ml(age_h: float, parameters: FeedSizeParameters) -> Figure:
    """Expected size of one feed of a healthy term breastfed infant, in mL.

    The value is the middle of the published range; the range is the interval, without a level.

    Raises:
        RefusalError: FEED-001 before birth or after the last hour of the table.
    """
    if not (parameters.low_ml.covers(age_h) and parameters.high_ml.covers(age_h)):
        raise RefusalError(
            Problem(
                code="FEED-001",
                what=message("a feed size at {age} of age", age=Age(age_h)),
                why=message("is not in the published table, which covers the first four days."),
                fix=message("Divide the need of the day by the feeds of the day."),
            )
        )
    low, high = parameters.low_ml.at(age_h), parameters.high_ml.at(age_h)
    return _range(low, high, message("published range; the value is its middle"), age_h)


def feed_share_ml(need_ml_per_day: Figure, feeds_per_day: int) -> Figure:
    """A day's need shared over its feeds, in mL a feed.

    Raises:
        RefusalError: FEED-002 for fewer than one feed.
    """
    if feeds_per_day < 1:
        raise RefusalError(
            Problem(
                code="FEED-002",
                what=message("{count} feeds a day", count=feeds_per_day),
                why=message("cannot share a day's need."),
                fix=message("Give at least one feed."),
            )
        )
    low, high = need_ml_per_day.low, need_ml_per_day.high
    return Figure(
        value=need_ml_per_day.value / feeds_per_day,
        unit="mL",
        low=None if low is None else low / feeds_per_day,
        high=None if high is None else high / feeds_per_day,
        level=need_ml_per_day.level,
        working=Working(
            formula=message("need of a day / feeds"),
            inputs=(
                Quantity(
                    name=message("need"), value=need_ml_per_day.value, unit=need_ml_per_day.unit
                ),
                Quantity(name=message("feeds a day"), value=feeds_per_day, unit="1"),
            ),
            constants=need_ml_per_day.working.constants,
            notes=need_ml_per_day.working.notes,
        ),
    )


def stomach_amounts(
    day: int, age_h: float, stomach: StomachParameters, feeds: FeedSizeParameters
) -> StomachAmounts:
    """What is taught about the stomach on a day of life, beside what was measured."""
    taught = None
    if stomach.taught_ml.covers(day):
        amount = stomach.taught_ml.at(day)
        taught = Figure(
            value=amount.value,
            unit="mL",
            low=amount.low,
            high=amount.high,
            working=Working(
                formula=message("taught with objects, never measured"),
                inputs=(Quantity(name=message("age"), value=age_h, unit="h"),),
                constants=(amount,),
            ),
        )
    capacity = stomach.measured_capacity_ml
    measured = Figure(
        value=capacity.value,
        unit="mL",
        working=Working(formula=message("capacity at birth as measured"), constants=(capacity,)),
    )
    observed = expected_feed_ml(age_h, feeds) if feeds.low_ml.covers(age_h) else None
    return StomachAmounts(
        taught=taught,
        measured=measured,
        observed_feed=observed,
        sentence=_sentence(taught, measured, observed),
    )


def _sentence(taught: Figure | None, measured: Figure, observed: Figure | None) -> Words:
    parts = [message("Measured: about {volume} at birth.", volume=Amount(measured.value, "mL"))]
    if observed is not None and observed.low is not None and observed.high is not None:
        parts.append(
            message(
                "Observed feeds at this age: {low} to {high}.",
                low=Amount(observed.low, "mL"),
                high=Amount(observed.high, "mL"),
            )
        )
    if taught is not None and taught.low is not None and taught.high is not None:
        basis = taught.working.constants[0].source
        parts.append(
            message(
                "Taught: {low} to {high} ({source}).",
                low=Amount(taught.low, "mL"),
                high=Amount(taught.high, "mL"),
                source=basis,
            )
        )
    return joined(*parts)


def _range(low: Constant, high: Constant, formula: Message, age_h: float) -> Figure:
    return Figure(
        value=(low.value + high.value) / 2,
        unit="mL",
        low=low.value,
        high=high.value,
        working=Working(
            formula=formula,
            inputs=(Quantity(name=message("age"), value=age_h, unit="h"),),
            constants=(low, high),
        ),
    )
