"""The lines of age from which bilirubin is treated: with light, or by exchange transfusion.

From a gestation on the lines are published by the hour; born earlier, each week has lines that rise
straight from birth and then stay. Whether an infant is treated, a physician judges: the lines only
say how urgently that is asked.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from suffice.clinical.parameters import ConstantSeries, Parameters
from suffice.clinical.units import DAYS_PER_WEEK
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.message import message

Treatment = Literal["light", "exchange"]
"""With light; or by exchange transfusion, which is asked at a higher value."""


class BilirubinLimits(Parameters, frozen=True, kw_only=True):
    """The lines, in µmol/L by hour of age, and how far below one a value is clearly below it."""

    topic: ClassVar[str] = "bilirubin"

    light_line_umol_per_l: ConstantSeries
    exchange_line_umol_per_l: ConstantSeries
    term_lines_from_days: Constant
    """Gestation from which those two lines hold."""
    preterm_from_h: Constant
    """Age from which the line of an infant born earlier stays the same."""
    preterm_exchange_each_week_umol_per_l: Constant
    preterm_light_below_exchange_umol_per_l: Constant
    preterm_exchange_at_birth_umol_per_l: Constant
    preterm_light_at_birth_umol_per_l: Constant
    unknown_gestation_days: Constant
    """The gestation by which an infant is judged whose own is not known."""
    clearly_below_umol_per_l: Constant
    early_clearly_below_umol_per_l: Constant
    """The same for an infant born before those two lines hold."""
    stands_h: Constant
    """How long a value speaks for the colour of the skin."""
    ahead_h: Constant
    """How far ahead a value that rises is looked at."""
    pace_from_h: Constant
    """How far apart two values must be for a pace, and at most: `pace_until_h`."""
    pace_until_h: Constant
    rebound_from_h: Constant
    """How long after light treatment a value shows whether it comes back."""


def treatment_line(
    age_h: float, gestation_days: int | None, limits: BilirubinLimits, treatment: Treatment
) -> Figure:
    """From which bilirubin an infant of that age reaches the line, in µmol/L.

    Args:
        age_h: Age in hours, 0 or more; past the end of the lines their last value is used on.
        gestation_days: Gestation at birth; None where it is not known: then it is taken to be lower.
        limits: Of the content store.
        treatment: Which of the two lines.

    Sources: NICE CG98, threshold table and charts; see the content's bilirubin topic.
    """
    days = limits.unknown_gestation_days.value if gestation_days is None else float(gestation_days)
    age = Quantity(name=message("age"), value=age_h, unit="h")
    if days >= limits.term_lines_from_days.value:
        line = _line_at(_series(limits, treatment), age_h)
        formula = message("line of treatment at that age")
        return Figure(
            value=line.value,
            unit=line.unit,
            working=Working(formula=formula, inputs=(age,), constants=(line,)),
        )
    weeks = days // DAYS_PER_WEEK
    per_week, below = (
        limits.preterm_exchange_each_week_umol_per_l,
        limits.preterm_light_below_exchange_umol_per_l,
    )
    last, first = per_week.value * weeks, limits.preterm_exchange_at_birth_umol_per_l
    if treatment == "light":
        last, first = last - below.value, limits.preterm_light_at_birth_umol_per_l
    share = min(max(age_h, 0.0) / limits.preterm_from_h.value, 1.0)
    return Figure(
        value=first.value + share * (last - first.value),
        unit=first.unit,
        working=Working(
            formula=message(
                "line of treatment of an infant born before 38 weeks: straight from birth to the"
                " line of its week"
            ),
            inputs=(age, Quantity(name=message("gestation"), value=weeks, unit="wk")),
            constants=(first, per_week, below, limits.preterm_from_h),
        ),
    )


def clearly_below(gestation_days: int | None, limits: BilirubinLimits) -> Constant:
    """How far below the line for light a value must be to be clearly below it."""
    if gestation_days is not None and gestation_days >= limits.term_lines_from_days.value:
        return limits.clearly_below_umol_per_l
    return limits.early_clearly_below_umol_per_l


def _series(limits: BilirubinLimits, treatment: Treatment) -> ConstantSeries:
    if treatment == "light":
        return limits.light_line_umol_per_l
    return limits.exchange_line_umol_per_l


def _line_at(line: ConstantSeries, age_h: float) -> Constant:
    """The value at an age; past the end of the line its last."""
    at_h = max(age_h, 0.0)
    return line.at(at_h) if line.covers(at_h) else line.points[-1]
