"""One infant's gain against the WHO velocity standards, with its working."""

from __future__ import annotations

import math
from typing import ClassVar

import msgspec

from suffice.clinical.entry import Sex
from suffice.clinical.growth import increments, refuse, velocity
from suffice.clinical.growth.increments import Bracket
from suffice.clinical.growth.standard import (
    SEXES,
    IncrementRow,
    IncrementStandard,
    VelocityStandard,
)
from suffice.clinical.parameters import Parameters
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.message import Amount, Message, Words, message


class VelocityParameters(Parameters, frozen=True, kw_only=True):
    """How near to a published interval two weights must lie."""

    topic: ClassVar[str] = "growth.velocity"

    tolerance_days: Constant
    """How far either weight may lie from the end of a WHO interval of 1 or 2 months."""
    short_tolerance_days: Constant
    """The same for the intervals by birth weight, which are as short as a week."""


class IncrementCentile(msgspec.Struct, frozen=True, kw_only=True):
    """Where a gain lies among infants of like birth weight.

    Attributes:
        bracket: The published centiles next to it.
        median: Median gain of the group over the interval, in g.
        children: How many infants the group had.
        sentence: The whole in words.
    """

    bracket: Bracket
    median: Figure
    children: int
    sentence: Message


def is_near_interval(
    standard: VelocityStandard, parameters: VelocityParameters, *, start_d: float, end_d: float
) -> bool:
    """Whether two ages lie near the ends of an interval that WHO published, so that a gain may have a score."""
    place = velocity.nearest_interval(standard, start_d, end_d, parameters.tolerance_days.value)
    return place is not None and end_d > start_d


def velocity_z(
    standard: VelocityStandard,
    parameters: VelocityParameters,
    sex: Sex | None,
    *,
    start_d: float,
    end_d: float,
    gain_g: float,
) -> Figure:
    """WHO z of a gain between two ages that lie near the ends of a published interval.

    The gain is taken to the interval's own length in a straight line before it is scored. An interval
    from birth needs the birth weight (or one of the same half day).

    Raises:
        RefusalError: GROWTH-001, GROWTH-004 for a loss beyond the curve, GROWTH-005 for any other
            interval.
        InputError: GROWTH-002.
    """
    is_male = refuse.known_sex(sex)
    _refuse_infinite(start_d, end_d, gain_g)
    tolerance_d = parameters.tolerance_days.value
    place = velocity.nearest_interval(standard, start_d, end_d, tolerance_d)
    if place is None or end_d <= start_d:
        raise refuse.no_interval(
            start_d, end_d, message("intervals of 1 and 2 months"), tolerance_d
        )
    first, last = int(standard.start_day[place]), int(standard.end_day[place])
    scaled_g = gain_g * (last - first) / (end_d - start_d)
    z = float(velocity.gain_z(standard, is_male, place, scaled_g))
    if math.isnan(z):
        raise refuse.no_curve(message("A gain of {gain}", gain=Amount(gain_g, "g")))
    row = int(is_male)
    locator = message(
        "{sex}, {days}",
        sex=SEXES[sex],
        days=message("day {first} to {last}", first=first, last=last),
    )
    figures = (
        ("shift", float(standard.shift_g[place]), "g"),
        ("shifted_median", float(standard.shifted_median_g[row, place]), "g"),
        ("cv", float(standard.cv[row, place]), "1"),
        ("skew", float(standard.skew[row, place]), "1"),
    )
    working = Working(
        formula=message("(((gain + shift) / shifted median)^skew - 1) / (skew x cv)"),
        inputs=(
            Quantity(name=message("gain"), value=gain_g, unit="g"),
            Quantity(name=message("age at the first weight"), value=start_d, unit="d"),
            Quantity(name=message("age at the last weight"), value=end_d, unit="d"),
            Quantity(name=message("gain taken to the interval's length"), value=scaled_g, unit="g"),
        ),
        constants=(
            *(_constant(standard, name, value, unit, locator) for name, value, unit in figures),
            parameters.tolerance_days,
        ),
        notes=(standard.source.note,),
    )
    return Figure(value=z, unit="1", working=working)


def increment_centile(
    standard: IncrementStandard,
    parameters: VelocityParameters,
    sex: Sex | None,
    *,
    birth_weight_g: float | None,
    start_d: float,
    end_d: float,
    gain_g: float,
) -> IncrementCentile:
    """Between which centiles a gain lies among infants of like birth weight, birth to 60 days.

    The gain is taken to the interval's own length in a straight line before it is compared, except
    from birth: there the weight falls before it rises, and no straight line leads through. An
    interval from birth needs the birth weight (or one of the same half day).

    Args:
        standard: The published centiles.
        parameters: How near the ages must lie.
        sex: The infant's.
        birth_weight_g: None for all infants together.
        start_d: Age at the first weight.
        end_d: Age at the last.
        gain_g: What was gained between them.

    Raises:
        RefusalError: GROWTH-001, GROWTH-005 for any other interval, GROWTH-006 for a birth weight
            without figures.
        InputError: GROWTH-002.
    """
    is_male = refuse.known_sex(sex)
    _refuse_infinite(start_d, end_d, gain_g)
    if birth_weight_g is not None:
        refuse.positive("weight", birth_weight_g)
    first, last = _interval(standard, start_d, end_d, parameters.short_tolerance_days.value)
    row = _row(standard, is_male, first, last, birth_weight_g)
    scaled_g = gain_g if first == 0 else gain_g * (last - first) / (end_d - start_d)
    bracket = increments.bracket(row, scaled_g)
    middle = max(standard.centiles)
    working = Working(
        formula=message("published centiles next to the gain"),
        inputs=(
            Quantity(name=message("gain"), value=gain_g, unit="g"),
            Quantity(name=message("gain compared"), value=scaled_g, unit="g"),
        ),
        constants=tuple(
            _constant(standard, f"p{c}", limit_g, "g", _place(row, sex))
            for c, limit_g in row.gain_g.items()
        ),
        notes=(
            standard.source.note,
            message("Read in {read_in}.", read_in=standard.source.read_in),
        ),
    )
    return IncrementCentile(
        bracket=bracket,
        median=Figure(value=row.gain_g[middle], unit="g", working=working),
        children=row.children,
        sentence=_sentence(bracket, row, middle, scaled_g),
    )


def _interval(
    standard: IncrementStandard, start_d: float, end_d: float, tolerance_d: float
) -> tuple[int, int]:
    intervals = sorted({(row.start_day, row.end_day) for row in standard.rows})
    for first, last in intervals:
        if first == 0 and not velocity.is_at_birth(start_d):
            continue
        if max(abs(first - start_d), abs(last - end_d)) <= tolerance_d and end_d > start_d:
            return first, last
    offered = ", ".join(f"{first}-{last}" for first, last in intervals)
    raise refuse.no_interval(
        start_d, end_d, message("days {offered}", offered=offered), tolerance_d
    )


def _row(
    standard: IncrementStandard,
    is_male: bool,
    first: int,
    last: int,
    birth_weight_g: float | None,
) -> IncrementRow:
    row = increments.find_row(standard, is_male, first, last, birth_weight_g)
    what = (
        message("A birth weight of {weight}.", weight=Amount(birth_weight_g, "g"))
        if birth_weight_g
        else message("All birth weights.")
    )
    if row is None:
        raise refuse.no_group(what, message("The table by birth weight begins above it."))
    missing = increments.missing_centiles(standard, row)
    if missing:
        listed = ", ".join(str(c) for c in missing)
        raise refuse.no_group(
            what,
            message(
                "With {count} infants in this group, centiles {listed} were not published.",
                count=row.children,
                listed=listed,
            ),
        )
    return row


def _place(row: IncrementRow, sex: Sex | None) -> Words:
    if row.below_g is not None:
        group = message(
            "birth weight {least} to below {most}",
            least=Amount(row.from_g or 0.0, "g"),
            most=Amount(row.below_g, "g"),
        )
    elif row.from_g is not None:
        group = message("birth weight from {least}", least=Amount(row.from_g, "g"))
    else:
        group = message("all birth weights")
    days = message("day {first} to {last}", first=row.start_day, last=row.end_day)
    return message("{sex}, {days}, {group}", sex=SEXES[sex], days=days, group=group)


def _sentence(bracket: Bracket, row: IncrementRow, middle: int, scaled_g: float) -> Message:
    if bracket.below is None:
        where = message("at or above the median ({gain})", gain=Amount(row.gain_g[middle], "g"))
    elif bracket.at_or_above is None:
        where = message(
            "below the {below}th centile ({gain})",
            below=bracket.below,
            gain=Amount(row.gain_g[bracket.below], "g"),
        )
    else:
        where = message(
            "between the {above}th and the {below}th centile ({from_gain} to {to_gain})",
            above=bracket.at_or_above,
            below=bracket.below,
            from_gain=Amount(row.gain_g[bracket.at_or_above], "g"),
            to_gain=Amount(row.gain_g[bracket.below], "g"),
        )
    return message(
        "{gain} from day {start} to {end}: {where}.",
        gain=Amount(scaled_g, "g"),
        start=row.start_day,
        end=row.end_day,
        where=where,
    )


def _constant(
    standard: VelocityStandard | IncrementStandard,
    name: str,
    value: float,
    unit: str,
    locator: Words,
) -> Constant:
    return Constant(
        key=f"{standard.source.key}.{name}",
        value=value,
        unit=unit,
        basis=standard.source.basis,
        source=standard.source.source,
        locator=locator,
    )


def _refuse_infinite(start_d: float, end_d: float, gain_g: float) -> None:
    refuse.finite(message("first age"), start_d)
    refuse.finite(message("last age"), end_d)
    refuse.finite(message("gain"), gain_g)
