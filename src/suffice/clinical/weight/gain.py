"""Gain in weight with its own uncertainty, and when a gain can be known at all.

Two weights a day apart say almost nothing about gain: each wavers by tens of grams for reasons
that are not growth. So every gain here carries a standard error, and :func:`tells_apart` says
whether two weights can tell one rate from another, and if not, from when on a second one could.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from functools import lru_cache
from typing import ClassVar

import msgspec
from scipy.special import ndtri

from suffice.clinical.parameters import Parameters
from suffice.clinical.units import GRAMS_PER_KILOGRAM, HOURS_PER_DAY
from suffice.clinical.weight.weighing import (
    Weighing,
    WeightNoise,
    is_comparable,
    single_weight_se_g,
)
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import InputError, Problem
from suffice.message import Amount, message


class GainParameters(Parameters, frozen=True, kw_only=True):
    """How sure a gain must be."""

    topic: ClassVar[str] = "gain"

    confidence_fraction: Constant
    """Level of a gain's interval, and of telling two rates apart (0.5 to 1)."""
    slow_g_per_day: Constant
    """The slower of the two rates that are usually to be told apart."""
    brisk_g_per_day: Constant
    """The brisker one."""


class GainRules(Parameters, frozen=True, kw_only=True):
    """Over which weights a gain is judged, and what ends what a slow one raised."""

    topic: ClassVar[str] = "gain"

    least_between_h: Constant
    """Weights nearer to each other give no gain."""
    one_weighing_h: Constant
    """Weights nearer to each other are one weighing."""
    month_least_days: Constant
    """How far apart the weights of a gain over a month lie at least."""
    month_most_days: Constant
    """The same, at most."""
    month_days: Constant
    """How far apart they lie best."""
    near_least_days: Constant
    """The same, where no nearer weights tell and those that do lie more than about a month apart."""
    lately_days: Constant
    """How far apart weights lie at least that show a gain which has surely stopped, though they are too near to judge one by."""
    lately_slows_days: Constant
    """The same, for a gain that is surely slow: the consultant's before it is a physician's."""
    older_from_age_d: Constant
    """Age from which months without gain are common."""
    older_least_days: Constant
    """Over how long a loss of an older infant must have gone on."""
    until_age_d: Constant
    """Age up to which there are lines of gain."""
    negative_from_age_d: Constant
    """Age from which a loss is judged as a gain."""
    first_week_from_age_d: Constant
    """Age from which a newborn should gain."""
    first_weeks_until_age_d: Constant
    """Age until which a gain is counted from the lowest weight too."""
    first_week_clear_g_per_day: Constant
    """The gain that ends what a slow one of the first two weeks raised."""
    late_preterm_g_per_day: Constant
    """The gain below which an infant born late preterm is seen; from it on such a flag ends."""
    late_preterm_until_corrected_d: Constant
    """Corrected age up to which that holds."""
    supplement_back_days: Constant
    """How far back a supplement that was stopped counts."""
    supplement_days: Constant
    """The last days, which are held beside those before."""
    supplement_cut_fraction: Constant
    """The share of the former amount at or below which it was cut."""
    unit_least_days: Constant
    unit_aim_g_per_kg_per_day: Constant
    """Over how long the gain of a very preterm infant is judged at least."""


class Gain(msgspec.Struct, frozen=True, kw_only=True):
    """Gain over one interval. Both figures carry interval and level; `se_...` is one SE."""

    g_per_day: Figure
    g_per_kg_per_day: Figure
    se_g_per_day: float
    se_g_per_kg_per_day: float


class TellApart(msgspec.Struct, frozen=True, kw_only=True):
    """Whether weights a given time apart tell two rates of gain from each other.

    Attributes:
        can: True when they do, at the confidence asked for.
        days_apart: How far apart they are now.
        days_needed: How far apart they would have to be, with its working.
        slow_g_per_day: The slower rate.
        brisk_g_per_day: The brisker rate.
        from_age_h: Age from which a second weight would tell; the age of the first plus the days
            needed.
    """

    can: bool
    days_apart: float
    days_needed: Figure
    slow_g_per_day: float
    brisk_g_per_day: float
    from_age_h: float

    def from_at(self, born_at: datetime) -> datetime:
        """The instant from which a second weight would tell."""
        return born_at + timedelta(hours=self.from_age_h)


def gain(
    first: Weighing,
    second: Weighing,
    noise: WeightNoise,
    parameters: GainParameters,
    *,
    resolution_g: float | None = None,
) -> Gain:
    """Gain between two weights, in g/day and g/kg/day, each with its standard error.

    ``g/day = (w2 - w1) / days``, ``g/kg/day = 1000 ln(w2 / w1) / days``

    The wider within-infant noise is used unless both weights were taken on one known scale and
    neither clothed.

    Raises:
        InputError: GAIN-001 when the weights are not in order of time; GAIN-002 for a weight that
            is not above 0 g.
    """
    _check_pair(first, second)
    days = (second.age_h - first.age_h) / HOURS_PER_DAY
    controlled = is_comparable(first, second)
    one = single_weight_se_g(noise, resolution_g=resolution_g, controlled=controlled)
    rate = (second.weight_g - first.weight_g) / days
    se = math.sqrt(2) * one.value / days
    relative = GRAMS_PER_KILOGRAM * math.log(second.weight_g / first.weight_g) / days
    shares = math.hypot(one.value / first.weight_g, one.value / second.weight_g)
    relative_se = GRAMS_PER_KILOGRAM * shares / days
    inputs = (
        Quantity(name=message("earlier weight"), value=first.weight_g, unit="g"),
        Quantity(name=message("later weight"), value=second.weight_g, unit="g"),
        Quantity(name=message("days between"), value=days, unit="d"),
        Quantity(name=message("standard error of one weight"), value=one.value, unit="g"),
    )
    working = Working(
        formula=message("(later - earlier) / days; se = sqrt(2) x se of one weight / days"),
        inputs=inputs,
        constants=(*one.working.constants, parameters.confidence_fraction),
        notes=() if controlled else (_UNCONTROLLED,),
    )
    by_weight = msgspec.structs.replace(
        working, formula=message("1000 x ln(later / earlier) / days")
    )
    level = parameters.confidence_fraction.value
    return Gain(
        g_per_day=_with_interval(rate, se, level, "g/d", working),
        g_per_kg_per_day=_with_interval(relative, relative_se, level, "g/kg/d", by_weight),
        se_g_per_day=se,
        se_g_per_kg_per_day=relative_se,
    )


_UNCONTROLLED = message(
    "The weights were not known to be on one scale without clothes: the wider noise is used."
)


def tells_apart(
    first: Weighing,
    second: Weighing,
    noise: WeightNoise,
    parameters: GainParameters,
    *,
    resolution_g: float | None = None,
) -> TellApart:
    """Whether two weights tell the slow from the brisk rate, and if not, from when they would.

    The rates are told apart by the point half-way between them. Taking either rate for the other
    is then no likelier than ``1 - confidence`` once

    ``days >= 2 z se / (brisk - slow)``, with z the one-sided normal quantile of the confidence and
    se = sqrt(2) times the standard error of one weight.

    Raises:
        InputError: GAIN-001, GAIN-002 as :func:`gain`; GAIN-003 when the brisk rate is not above
            the slow one.
    """
    _check_pair(first, second)
    controlled = is_comparable(first, second)
    needed = days_to_tell_apart(noise, parameters, resolution_g=resolution_g, controlled=controlled)
    apart = (second.age_h - first.age_h) / HOURS_PER_DAY
    return TellApart(
        can=apart >= needed.value,
        days_apart=apart,
        days_needed=needed,
        slow_g_per_day=parameters.slow_g_per_day.value,
        brisk_g_per_day=parameters.brisk_g_per_day.value,
        from_age_h=first.age_h + needed.value * HOURS_PER_DAY,
    )


def days_to_tell_apart(
    noise: WeightNoise,
    parameters: GainParameters,
    *,
    resolution_g: float | None = None,
    controlled: bool = True,
) -> Figure:
    """Days that two weights must be apart to tell the slow from the brisk rate.

    Formula and errors as :func:`tells_apart`.
    """
    slow, brisk = parameters.slow_g_per_day, parameters.brisk_g_per_day
    if brisk.value <= slow.value:
        raise InputError(
            Problem(
                code="GAIN-003",
                what=message(
                    "the rates {slow} and {brisk}",
                    slow=Amount(slow.value, "g/d"),
                    brisk=Amount(brisk.value, "g/d"),
                ),
                why=message("cannot be kept apart: the second must be above the first."),
                fix=message("Give two different rates, the slower first."),
            )
        )
    one = single_weight_se_g(noise, resolution_g=resolution_g, controlled=controlled)
    z = float(ndtri(parameters.confidence_fraction.value))
    days = 2 * z * math.sqrt(2) * one.value / (brisk.value - slow.value)
    return Figure(
        value=days,
        unit="d",
        working=Working(
            formula=message("days = 2 x z x sqrt(2) x se of one weight / (brisk - slow)"),
            inputs=(
                Quantity(name=message("standard error of one weight"), value=one.value, unit="g"),
                Quantity(name=message("z (one-sided)"), value=z, unit="1"),
            ),
            constants=(*one.working.constants, slow, brisk, parameters.confidence_fraction),
        ),
    )


def _with_interval(value: float, se: float, level: float, unit: str, working: Working) -> Figure:
    """A figure with its central normal interval."""
    half = _quantile((1 + level) / 2) * se
    return Figure(
        value=value, unit=unit, working=working, low=value - half, high=value + half, level=level
    )


@lru_cache(maxsize=64)
def _quantile(fraction: float) -> float:
    """The quantile of the standard normal; asked for the same few shares for every gain."""
    return float(ndtri(fraction))


def _check_pair(first: Weighing, second: Weighing) -> None:
    """Refuse weights that are not in order of time, or not above 0 g."""
    for one in (first, second):
        _check_positive(one)
    if second.age_h <= first.age_h:
        raise InputError(
            Problem(
                code="GAIN-001",
                what=message(
                    "weights at {first} and {second}",
                    first=Amount(first.age_h, "h", decimals=1),
                    second=Amount(second.age_h, "h", decimals=1),
                ),
                why=message("have no time between them, the earlier first."),
                fix=message("Give two weights taken at different times."),
            )
        )


def _check_positive(one: Weighing) -> None:
    if not one.weight_g > 0:
        raise InputError(
            Problem(
                code="GAIN-002",
                what=message("a weight of {weight}", weight=Amount(one.weight_g, "g")),
                why=message("is not above 0 g."),
                fix=message("Correct the weight."),
            )
        )
