"""What infants of an age were seen to take, and every source's answer side by side.

For the first two weeks there is no requirement that holds; there is what a few healthy infants were
observed to take, by weighing before and after feeds, and it is labelled so. From then to a month the
need passes in a straight line from that to the energy requirement, so that it has no step. Sources
disagree; :func:`views` keeps every answer beside the others, refusals included.

Ages count by the hour: what was observed on a day of life stands for the middle of that day.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import ClassVar, Final, Literal

import msgspec
from scipy.special import ndtri

from suffice.clinical.entry import Sex
from suffice.clinical.milk.requirement import (
    EnergyParameters,
    Feeding,
    as_milk,
    beside_solids,
    energy_requirement,
    require_age,
    require_range,
    require_weight,
)
from suffice.clinical.parameters import ConstantSeries, Parameters
from suffice.clinical.units import GRAMS_PER_KILOGRAM
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import Problem, RefusalError
from suffice.message import Amount, Message, Number, message


class IntakeNorms(Parameters, frozen=True, kw_only=True):
    """What healthy infants were observed to take, and one other equation of need."""

    topic: ClassVar[str] = "intake"

    early_g_per_kg_per_day: ConstantSeries
    """Observed by test weighing on single days of the first week; axis day of life."""
    early_sd_g_per_kg_per_day: ConstantSeries
    early_g_per_day: ConstantSeries
    """A second series, in g a day whatever the weight."""
    early_per_kg_infants_count: Constant
    """How many infants the first series rests on."""
    early_infants_count: Constant
    """How many infants the second series rests on."""
    later_ml_per_kg_per_day: ConstantSeries
    """Means of a review; axis age in days."""
    later_ml_per_day: ConstantSeries
    early_until_d: Constant
    """Age up to which the early observations are offered."""
    allotment_ml_per_kg_per_day: Constant
    """What an infant not at the breast is allotted in teaching."""
    allotment_from_d: Constant
    allotment_until_d: Constant
    """Between these ages, and from the low weight of the equations on, it is offered."""
    dri_slope_kcal_per_kg_per_day: Constant
    dri_intercept_kcal_per_day: Constant
    dri_deposition_kcal_per_day: ConstantSeries
    """By age in days."""


class View(msgspec.Struct, frozen=True, kw_only=True):
    """One source's answer to 'how much a day', or why it gives none.

    Attributes:
        name: What it is, in words.
        kind: 'requirement' (what is needed), 'observed' (what was taken), 'allotment' (taught).
        volume_ml_per_day: The answer.
        refusal: Why there is none.
    """

    name: Message
    kind: Literal["requirement", "observed", "allotment"]
    volume_ml_per_day: Figure | None = None
    refusal: Problem | None = None


def observed_early_intake(
    weight_g: float, day: float, norms: IntakeNorms, energy: EnergyParameters
) -> Figure:
    """What healthy breastfed infants were observed to take on a day of life, in mL/day.

    The first 24 h are day 1; a whole number is the middle of that day.

    Up to the last day of the early series: g/kg/day x kg / density, straight lines between the
    days that were published. After it, a straight line to the first mean of the later review;
    that stretch was measured by nobody and is said to be derived.

    Raises:
        InputError: ENERGY-001 for a weight not above 0 g.
        RefusalError: ENERGY-006 for a day outside the early weeks.
    """
    require_weight(weight_g)
    if not 1 <= day < norms.early_until_d.value + HALF_A_DAY:
        raise RefusalError(
            _outside(
                day, message("day 1 to {day} are given", day=Number(norms.early_until_d.value))
            )
        )
    weight_kg = weight_g / GRAMS_PER_KILOGRAM
    inputs = (
        Quantity(name=message("weight"), value=weight_kg, unit="kg"),
        Quantity(name=message("day of life"), value=day, unit="1"),
    )
    if day <= norms.early_g_per_kg_per_day.positions[-1]:
        return _first_days(weight_kg, day, norms, energy, inputs)
    return _after_first_days(weight_kg, day, norms, energy, inputs)


HALF_A_DAY: Final = 1 / 2
"""From the beginning of a day of life to its middle, for which its value stands."""
OBSERVED_RATE = message("observed mL/kg/day x kg")
TAUGHT_RATE = message("taught mL/kg/day x kg")
_OBSERVED = message("Observed in healthy infants: an average of what was taken, not a requirement.")


def _first_days(
    weight_kg: float,
    day: float,
    norms: IntakeNorms,
    energy: EnergyParameters,
    inputs: tuple[Quantity, ...],
) -> Figure:
    """The days of the early series, with the spread between infants."""
    series, density, level = (
        norms.early_g_per_kg_per_day,
        energy.milk_density_g_per_ml,
        energy.level_fraction,
    )
    taken, spread = series.at(day), norms.early_sd_g_per_kg_per_day.at(day)
    share = weight_kg / density.value
    half = float(ndtri((1 + level.value) / 2)) * spread.value * share
    notes = [_OBSERVED]
    if day not in series.positions:
        notes.append(message("Not a published day: a straight line between those on either side."))
    return Figure(
        value=taken.value * share,
        unit="mL/d",
        low=max(0.0, taken.value * share - half),
        high=taken.value * share + half,
        level=level.value,
        working=Working(
            formula=message("observed g/kg/day x kg / density; interval = spread between infants"),
            inputs=inputs,
            constants=(taken, spread, density, level),
            notes=tuple(notes),
        ),
    )


def _after_first_days(
    weight_kg: float,
    day: float,
    norms: IntakeNorms,
    energy: EnergyParameters,
    inputs: tuple[Quantity, ...],
) -> Figure:
    """The stretch between the early series and the later review."""
    early, later = norms.early_g_per_kg_per_day, norms.later_ml_per_kg_per_day
    density = energy.milk_density_g_per_ml
    last, first_later = early.positions[-1], later.positions[0]
    start, end = early.at(last), later.at(first_later)
    share = (day - last) / (first_later - last)
    per_kg = start.value / density.value
    per_kg += share * (end.value - per_kg)
    note = message("Derived: a straight line from the first days' last observation to one month.")
    return Figure(
        value=per_kg * weight_kg,
        unit="mL/d",
        working=Working(
            formula=message(
                "straight line between observed mL/kg/day of day {last} and day {later}, x kg",
                last=Number(last),
                later=Number(first_later),
            ),
            inputs=inputs,
            constants=(start, end, density),
            notes=(_OBSERVED, note),
        ),
    )


def _outside(day: float, given: Message) -> Problem:
    return Problem(
        code="ENERGY-006",
        what=message("day {day}", day=Number(day)),
        why=message("is outside the days for which early intakes are known; {given}.", given=given),
        fix=message("Use the energy requirement."),
    )


def views(
    weight_g: float,
    age_d: float,
    energy: EnergyParameters,
    norms: IntakeNorms,
    *,
    sex: Sex | None,
    gestation_days: int | None = None,
    feeding: Feeding = "breastfed",
) -> tuple[View, ...]:
    """Every source's answer for this infant, the ones in dispute side by side.

    The first view with a volume is the one to work with: the requirement where it holds (by the line
    of the infant's own feeding; from two weeks to a month on the way to it), else
    what was observed in the early weeks. None has one for an infant born preterm: all of them
    were taken from infants born at term, and a unit sets the volumes of a preterm one.

    Raises:
        InputError: ENERGY-001 for a weight not above 0 g or a negative age.
    """
    require_weight(weight_g)
    require_age(age_d)
    day = max(1.0, age_d + HALF_A_DAY)

    def at_term(answer: Callable[[], Figure]) -> Callable[[], Figure]:
        def checked() -> Figure:
            if gestation_days is not None and gestation_days < energy.preterm_before_d.value:
                raise RefusalError(_taken_at_term(message("an infant born before 37 weeks")))
            return answer()

        return checked

    def need(line: Feeding) -> Callable[[], Figure]:
        def required() -> Figure:
            kcal = energy_requirement(
                weight_g, age_d, energy, sex=sex, feeding=line, gestation_days=gestation_days
            )
            return beside_solids(as_milk(kcal, energy), age_d, energy)

        return required

    on_the_way = partial(_on_the_way, need(feeding), weight_g, age_d, energy, norms)
    is_on_the_way = energy.refuse_before_d.value <= age_d < energy.caution_before_d.value
    return (
        *([_view(ON_THE_WAY, "requirement", on_the_way)] if is_on_the_way else []),
        _view(LINES[feeding], "requirement", need(feeding)),
        _view(
            message(
                "what {infants} newborns took in the first days, by weight: no requirement",
                infants=Number(norms.early_per_kg_infants_count.value),
            ),
            "observed",
            at_term(lambda: observed_early_intake(weight_g, day, norms, energy)),
        ),
        *(_view(LINES[line], "requirement", need(line)) for line in LINES if line != feeding),
        _view(
            message("energy requirement, another equation"),
            "requirement",
            lambda: _dri(weight_g, age_d, gestation_days, energy, norms),
        ),
        _view(
            message(
                "what {infants} newborns took in the first days, whatever the weight: no requirement",
                infants=Number(norms.early_infants_count.value),
            ),
            "observed",
            at_term(lambda: _observed_g(day, norms, energy)),
        ),
        _view(
            message("observed, mean of a review, by weight"),
            "observed",
            at_term(
                lambda: _per_kg(weight_g, norms.later_ml_per_kg_per_day.at(age_d), OBSERVED_RATE)
            ),
        ),
        _view(
            message("observed, mean of a review, whatever the weight"),
            "observed",
            at_term(lambda: _plain(norms.later_ml_per_day.at(age_d))),
        ),
        _view(
            message("taught allotment by weight"),
            "allotment",
            at_term(lambda: _allotment(weight_g, age_d, energy, norms)),
        ),
    )


def _allotment(
    weight_g: float, age_d: float, energy: EnergyParameters, norms: IntakeNorms
) -> Figure:
    """What is taught by weight, where it was taught for."""
    start, end = norms.allotment_from_d.value, norms.allotment_until_d.value
    if weight_g < energy.low_weight_g.value:
        raise RefusalError(
            _taken_at_term(
                message("one below {weight}", weight=Amount(energy.low_weight_g.value, "g"))
            )
        )
    if not start <= age_d <= end:
        raise RefusalError(
            _taken_at_term(
                message(
                    "one before {start} or after {end} days of age",
                    start=Number(start),
                    end=Number(end),
                )
            )
        )
    return _per_kg(weight_g, norms.allotment_ml_per_kg_per_day, TAUGHT_RATE)


def _taken_at_term(whom: Message) -> Problem:
    return Problem(
        code="ENERGY-008",
        what=message("an intake of infants born at term"),
        why=message("says nothing of {whom}.", whom=whom),
        fix=message("Ask the infant's physician."),
    )


def _view(
    name: Message,
    kind: Literal["requirement", "observed", "allotment"],
    answer: Callable[[], Figure],
) -> View:
    try:
        return View(name=name, kind=kind, volume_ml_per_day=answer())
    except RefusalError as refusal:
        return View(name=name, kind=kind, refusal=refusal.problems[0])


def _dri(
    weight_g: float,
    age_d: float,
    gestation_days: int | None,
    energy: EnergyParameters,
    norms: IntakeNorms,
) -> Figure:
    """The other equation of need, under the same limits of use."""
    notes = require_range(weight_g, age_d, gestation_days, energy)
    slope, intercept = norms.dri_slope_kcal_per_kg_per_day, norms.dri_intercept_kcal_per_day
    deposition = norms.dri_deposition_kcal_per_day.at(age_d)
    weight_kg = weight_g / GRAMS_PER_KILOGRAM
    milk = as_milk(
        Figure(
            value=slope.value * weight_kg + intercept.value + deposition.value,
            unit="kcal/d",
            working=Working(
                formula=message("slope x kg + intercept + energy stored in growth"),
                inputs=(
                    Quantity(name=message("weight"), value=weight_kg, unit="kg"),
                    Quantity(name=message("age"), value=age_d, unit="d"),
                ),
                constants=(slope, intercept, deposition),
                notes=tuple(notes),
            ),
        ),
        energy,
    )
    return beside_solids(milk, age_d, energy)


LINES: Final[Mapping[Feeding, Message]] = {
    "breastfed": message("energy requirement, breastfed infants"),
    "all": message("energy requirement, all infants"),
    "formula": message("energy requirement, formula-fed infants"),
}
"""What the requirement by each line of energy expenditure is called."""
ON_THE_WAY: Final = message("between what was taken and the energy requirement")


def _on_the_way(
    need: Callable[[], Figure],
    weight_g: float,
    age_d: float,
    energy: EnergyParameters,
    norms: IntakeNorms,
) -> Figure:
    """From two weeks to a month: a straight line from what was observed to the requirement.

    The equations are a rough guide there and ask for more than was seen; the further from two weeks
    the more they count. The interval is that of the requirement, as a share.
    """
    required, weight_kg, day = need(), weight_g / GRAMS_PER_KILOGRAM, age_d + HALF_A_DAY
    observed = _after_first_days(weight_kg, day, norms, energy, ())
    start, end = energy.refuse_before_d, energy.caution_before_d
    share = (age_d - start.value) / (end.value - start.value)
    value = observed.value + share * (required.value - observed.value)
    low, high, scale = required.low, required.high, value / required.value
    return Figure(
        value=value,
        unit=required.unit,
        low=None if low is None else low * scale,
        high=None if high is None else high * scale,
        level=required.level,
        working=Working(
            formula=message("observed + share x (requirement - observed)"),
            inputs=(
                *required.working.inputs,
                Quantity(name=message("observed"), value=observed.value, unit="mL/d"),
                Quantity(name=message("requirement"), value=required.value, unit="mL/d"),
                Quantity(name=message("share"), value=share, unit="1"),
            ),
            constants=(
                *required.working.constants,
                *observed.working.constants,
                *(one for one in (start, end) if one not in required.working.constants),
            ),
            notes=required.working.notes,
        ),
    )


def _observed_g(day: float, norms: IntakeNorms, energy: EnergyParameters) -> Figure:
    series = norms.early_g_per_day
    last = series.positions[-1]
    if day >= last + HALF_A_DAY:
        raise RefusalError(_outside(day, message("the last is day {day}", day=Number(last))))
    taken, density = series.at(min(day, last)), energy.milk_density_g_per_ml
    return Figure(
        value=taken.value / density.value,
        unit="mL/d",
        working=Working(
            formula=message("observed g/day / density"),
            inputs=(Quantity(name=message("day of life"), value=day, unit="1"),),
            constants=(taken, density),
        ),
    )


def _per_kg(weight_g: float, rate: Constant, formula: Message) -> Figure:
    weight_kg = weight_g / GRAMS_PER_KILOGRAM
    return Figure(
        value=rate.value * weight_kg,
        unit="mL/d",
        working=Working(
            formula=formula,
            inputs=(Quantity(name=message("weight"), value=weight_kg, unit="kg"),),
            constants=(rate,),
        ),
    )


def _plain(rate: Constant) -> Figure:
    return Figure(
        value=rate.value,
        unit="mL/d",
        working=Working(formula=message("as published"), constants=(rate,)),
    )
