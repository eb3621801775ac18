"""What infants of an age were seen to take, and every source's answer side by side.

For the first two weeks there is no requirement that holds; there is what healthy infants were
observed to take, by weighing before and after feeds, and it is labelled so. Sources disagree;
:func:`views` keeps every answer beside the others, refusals included.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import ClassVar, Literal

import msgspec
from scipy.special import ndtri

from suffice.clinical.entry import Sex
from suffice.clinical.milk.requirement import (
    EnergyParameters,
    Feeding,
    as_milk,
    completed_months,
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
    """By completed month."""


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
    weight_g: float, day: int, norms: IntakeNorms, energy: EnergyParameters
) -> Figure:
    """What healthy breastfed infants were observed to take on a day of life, in mL/day.

    Up to the last day of the early series: g/kg/day x kg / density, straight lines between the
    days that were published. After it, a straight line to the first mean of the later review;
    that stretch was measured by nobody and is said to be derived.

    Raises:
        InputError: ENERGY-001 for a weight not above 0 g.
        RefusalError: ENERGY-006 for a day outside the early weeks.
    """
    require_weight(weight_g)
    if not 1 <= day <= norms.early_until_d.value:
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


OBSERVED_RATE = message("observed mL/kg/day x kg")
TAUGHT_RATE = message("taught mL/kg/day x kg")
_OBSERVED = message("Observed in healthy infants: an average of what was taken, not a requirement.")


def _first_days(
    weight_kg: float,
    day: int,
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
        notes.append(message("This day was not published: a straight line between its neighbours."))
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
    day: int,
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


def _outside(day: int, given: Message) -> Problem:
    return Problem(
        code="ENERGY-006",
        what=message("day {day}", day=day),
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
) -> tuple[View, ...]:
    """Every source's answer for this infant, the ones in dispute side by side.

    The first view with a volume is the one to work with: the requirement where it holds, else
    what was observed in the early weeks. None has one for an infant born preterm: all of them
    were taken from infants born at term, and a unit sets the volumes of a preterm one.

    Raises:
        InputError: ENERGY-001 for a weight not above 0 g or a negative age.
    """
    require_weight(weight_g)
    require_age(age_d)
    day = math.floor(age_d) + 1

    def at_term(answer: Callable[[], Figure]) -> Callable[[], Figure]:
        def checked() -> Figure:
            if gestation_days is not None and gestation_days < energy.preterm_before_d.value:
                raise RefusalError(_taken_at_term(message("an infant born before 37 weeks")))
            return answer()

        return checked

    def need(feeding: Feeding) -> Callable[[], Figure]:
        return lambda: as_milk(
            energy_requirement(
                weight_g,
                age_d,
                energy,
                sex=sex,
                feeding=feeding,
                gestation_days=gestation_days,
            ),
            energy,
        )

    return (
        _view(message("energy requirement, breastfed infants"), "requirement", need("breastfed")),
        _view(
            message("observed in the early weeks, by weight"),
            "observed",
            at_term(lambda: observed_early_intake(weight_g, day, norms, energy)),
        ),
        _view(message("energy requirement, all infants"), "requirement", need("all")),
        _view(message("energy requirement, formula-fed infants"), "requirement", need("formula")),
        _view(
            message("energy requirement, another equation"),
            "requirement",
            lambda: _dri(weight_g, age_d, gestation_days, energy, norms),
        ),
        _view(
            message("observed in the early weeks, whatever the weight"),
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
    month = completed_months(age_d)
    slope, intercept = norms.dri_slope_kcal_per_kg_per_day, norms.dri_intercept_kcal_per_day
    deposition = norms.dri_deposition_kcal_per_day.at(month)
    weight_kg = weight_g / GRAMS_PER_KILOGRAM
    return as_milk(
        Figure(
            value=slope.value * weight_kg + intercept.value + deposition.value,
            unit="kcal/d",
            working=Working(
                formula=message("slope x kg + intercept + energy stored in growth"),
                inputs=(
                    Quantity(name=message("weight"), value=weight_kg, unit="kg"),
                    Quantity(name=message("completed months"), value=month, unit="1"),
                ),
                constants=(slope, intercept, deposition),
                notes=tuple(notes),
            ),
        ),
        energy,
    )


def _observed_g(day: int, norms: IntakeNorms, energy: EnergyParameters) -> Figure:
    series = norms.early_g_per_day
    if day > series.positions[-1]:
        raise RefusalError(
            _outside(day, message("the last is day {day}", day=Number(series.positions[-1])))
        )
    taken, density = series.at(day), energy.milk_density_g_per_ml
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
