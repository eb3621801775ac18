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


class FeedSizeParameters(Parameters, frozen=True, kw_only=True):
    """Feed sizes by hour of age; a series' `low` and `high` are the range that was published."""

    topic: ClassVar[str] = "feed_size"

    low_ml: ConstantSeries
    """Axis age_h, steps of a day."""
    high_ml: ConstantSeries


class StomachParameters(Parameters, frozen=True, kw_only=True):
    """What is taught, and what was measured."""

    topic: ClassVar[str] = "stomach"

    taught_low_ml: ConstantSeries
    """Axis day of life; common practice."""
    taught_high_ml: ConstantSeries
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
    sentence: str


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
                what=f"a feed size at {age_h:.0f} h of age",
                why="is not in the published table, which covers the first four days.",
                fix="Take the day's need and share it over the feeds of the day.",
            )
        )
    low, high = parameters.low_ml.at(age_h), parameters.high_ml.at(age_h)
    return _range(low, high, "published range; the value is its middle", age_h)


def feed_share_ml(need_ml_per_day: Figure, feeds_per_day: int) -> Figure:
    """A day's need shared over its feeds, in mL a feed.

    Raises:
        RefusalError: FEED-002 for fewer than one feed.
    """
    if feeds_per_day < 1:
        raise RefusalError(
            Problem(
                code="FEED-002",
                what=f"{feeds_per_day} feeds a day",
                why="cannot share a day's need.",
                fix="Give at least one feed.",
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
            formula="need of a day / feeds",
            inputs=(
                Quantity(name="need", value=need_ml_per_day.value, unit=need_ml_per_day.unit),
                Quantity(name="feeds a day", value=feeds_per_day, unit="1"),
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
    if stomach.taught_low_ml.covers(day) and stomach.taught_high_ml.covers(day):
        low, high = stomach.taught_low_ml.at(day), stomach.taught_high_ml.at(day)
        taught = _range(low, high, "taught with objects, never measured", age_h)
    capacity = stomach.measured_capacity_ml
    measured = Figure(
        value=capacity.value,
        unit="mL",
        working=Working(formula="capacity at birth as measured", constants=(capacity,)),
    )
    observed = expected_feed_ml(age_h, feeds) if feeds.low_ml.covers(age_h) else None
    return StomachAmounts(
        taught=taught,
        measured=measured,
        observed_feed=observed,
        sentence=_sentence(taught, measured, observed),
    )


def _sentence(taught: Figure | None, measured: Figure, observed: Figure | None) -> str:
    parts = [f"Measured: about {measured.value:g} mL at birth."]
    if observed is not None:
        parts.append(f"Observed feeds at this age: {observed.low:g} to {observed.high:g} mL.")
    if taught is not None:
        basis = taught.working.constants[0].source
        parts.append(f"Taught: {taught.low:g} to {taught.high:g} mL ({basis}).")
    return " ".join(parts)


def _range(low: Constant, high: Constant, formula: str, age_h: float) -> Figure:
    return Figure(
        value=(low.value + high.value) / 2,
        unit="mL",
        low=low.value,
        high=high.value,
        working=Working(
            formula=formula,
            inputs=(Quantity(name="age", value=age_h, unit="h"),),
            constants=(low, high),
        ),
    )
