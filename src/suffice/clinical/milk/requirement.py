"""How much energy and milk a day an infant needs.

From one month on: total energy requirement of FAO/WHO/UNU 2004, the energy expended (a line in
weight, by kind of feeding) plus the energy stored in growth (by age and sex: each month's value
stands for its middle, with straight lines between). It was fitted
to term infants of a month and more: before two weeks, in infants born preterm and at low weight
its line is far too low, and it refuses. What holds there instead, and what other sources say, is
in :mod:`suffice.clinical.milk.observed_intake`. From six months on solids bring part of the energy:
the milk that would carry all of it is said to leave no room for them, and a month later it is
no longer given.
"""

from __future__ import annotations

from typing import ClassVar, Final, Literal

from msgspec import structs
from scipy.special import ndtri

from suffice.clinical.entry import Sex
from suffice.clinical.parameters import ConstantSeries, Parameters
from suffice.clinical.units import (
    GRAMS_PER_KILOGRAM,
    HOURS_PER_DAY,
    KJ_PER_KCAL,
)
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import InputError, Problem, RefusalError
from suffice.message import Age, Amount, Message, Number, message

Feeding = Literal["breastfed", "formula", "all"]
"""Which line of energy expenditure: breastfed, formula-fed, or all infants together."""


class EnergyParameters(Parameters, frozen=True, kw_only=True):
    """FAO/WHO/UNU 2004, and the milk that the energy comes in."""

    topic: ClassVar[str] = "energy"

    breastfed_slope_kcal_per_kg_per_day: Constant
    breastfed_intercept_kcal_per_day: Constant
    formula_slope_kcal_per_kg_per_day: Constant
    formula_intercept_kcal_per_day: Constant
    all_slope_kcal_per_kg_per_day: Constant
    all_intercept_kcal_per_day: Constant
    deposition_boys_kcal_per_day: ConstantSeries
    """By age in days."""
    deposition_girls_kcal_per_day: ConstantSeries
    between_infants_cv_fraction: Constant
    """Spread of need between infants of one weight, as a share of it."""
    level_fraction: Constant
    """Level of the interval that the spread gives."""
    refuse_before_d: Constant
    caution_before_d: Constant
    preterm_before_d: Constant
    low_weight_g: Constant
    solids_from_d: Constant
    """Age from which solids may bring part of the energy."""
    milk_need_until_d: Constant
    """Age up to which the whole requirement is offered as milk."""
    milk_energy_kj_per_g: Constant
    """Metabolisable energy of human milk."""
    milk_density_g_per_ml: Constant


def energy_requirement(
    weight_g: float,
    age_d: float,
    parameters: EnergyParameters,
    *,
    sex: Sex | None,
    feeding: Feeding = "breastfed",
    gestation_days: int | None = None,
) -> Figure:
    """Total energy requirement in kcal/day.

    ``kcal/day = slope x kg + intercept + deposition(age, sex)``. Where the sex is not known the
    deposition is the mean of both, and that is said. The interval is the spread between infants.

    Args:
        weight_g: Present weight.
        age_d: Age in days since birth.
        parameters: The equation's constants.
        sex: None = not known.
        feeding: Line of energy expenditure.
        gestation_days: None = not known, and is said.

    Raises:
        InputError: ENERGY-001 for a weight not above 0 g or a negative age.
        RefusalError: ENERGY-002 too young, ENERGY-003 older than the table, ENERGY-004 born
            preterm, ENERGY-005 of low weight.
    """
    notes = require_range(weight_g, age_d, gestation_days, parameters)
    slope, intercept = {
        "breastfed": (
            parameters.breastfed_slope_kcal_per_kg_per_day,
            parameters.breastfed_intercept_kcal_per_day,
        ),
        "formula": (
            parameters.formula_slope_kcal_per_kg_per_day,
            parameters.formula_intercept_kcal_per_day,
        ),
        "all": (parameters.all_slope_kcal_per_kg_per_day, parameters.all_intercept_kcal_per_day),
    }[feeding]
    boys = parameters.deposition_boys_kcal_per_day.at(age_d)
    girls = parameters.deposition_girls_kcal_per_day.at(age_d)
    used = {"male": (boys,), "female": (girls,), None: (boys, girls)}[sex]
    deposition = sum(one.value for one in used) / len(used)
    if sex is None:
        notes.append(message("The sex is not known: the mean of boys and girls is used."))
    weight_kg = weight_g / GRAMS_PER_KILOGRAM
    need = slope.value * weight_kg + intercept.value + deposition
    half = (
        float(ndtri((1 + parameters.level_fraction.value) / 2))
        * parameters.between_infants_cv_fraction.value
        * need
    )
    return Figure(
        value=need,
        unit="kcal/d",
        low=need - half,
        high=need + half,
        level=parameters.level_fraction.value,
        working=Working(
            formula=message("slope x kg + intercept + energy stored in growth"),
            inputs=(
                Quantity(name=message("weight"), value=weight_kg, unit="kg"),
                Quantity(name=message("age"), value=age_d, unit="d"),
            ),
            constants=(
                slope,
                intercept,
                *used,
                parameters.between_infants_cv_fraction,
                parameters.level_fraction,
            ),
            notes=tuple(notes),
        ),
    )


def milk_energy_kcal_per_ml(parameters: EnergyParameters) -> Figure:
    """Metabolisable energy of human milk, in kcal/mL: ``kJ/g x g/mL / 4.184``."""
    energy, density = parameters.milk_energy_kj_per_g, parameters.milk_density_g_per_ml
    return Figure(
        value=energy.value * density.value / KJ_PER_KCAL,
        unit="kcal/mL",
        working=Working(formula=message("kJ/g x g/mL / 4.184"), constants=(energy, density)),
    )


def as_milk(energy: Figure, parameters: EnergyParameters) -> Figure:
    """The human milk that carries an energy, in mL/day.

    Args:
        energy: In kcal/d.
        parameters: Energy and density of milk.
    """
    density = milk_energy_kcal_per_ml(parameters)
    return Figure(
        value=energy.value / density.value,
        unit="mL/d",
        low=None if energy.low is None else energy.low / density.value,
        high=None if energy.high is None else energy.high / density.value,
        level=energy.level,
        working=Working(
            formula=message("({formula}) / energy of milk", formula=energy.working.formula),
            inputs=(
                *energy.working.inputs,
                Quantity(name=message("requirement"), value=energy.value, unit="kcal/d"),
                Quantity(name=message("energy of milk"), value=density.value, unit="kcal/mL"),
            ),
            constants=(*energy.working.constants, *density.working.constants),
            notes=energy.working.notes,
        ),
    )


NO_ROOM_FOR_SOLIDS: Final = message(
    "This is all the energy as milk: it leaves no room for solids, which give part of it from six"
    " months on."
)


def beside_solids(milk: Figure, age_d: float, parameters: EnergyParameters) -> Figure:
    """A need of milk at an age at which solids may bring part of the energy.

    Args:
        milk: All the energy as milk, in mL/d.
        age_d: Age in days since birth.
        parameters: From when solids count.

    Raises:
        RefusalError: ENERGY-009 once solids are a usual part of the day.
    """
    if age_d >= parameters.milk_need_until_d.value:
        raise RefusalError(
            Problem(
                code="ENERGY-009",
                what=message("the need of milk"),
                why=message(
                    "is not given from {days} days on: solids bring part of the energy, and how much"
                    " is not known.",
                    days=Number(parameters.milk_need_until_d.value),
                ),
                fix=message("See what infants of this age took as well as solids, and the gain."),
            )
        )
    if age_d < parameters.solids_from_d.value:
        return milk
    notes = (*milk.working.notes, NO_ROOM_FOR_SOLIDS)
    return structs.replace(milk, working=structs.replace(milk.working, notes=notes))


def percent_met(intake_ml_per_day: Figure, need_ml_per_day: Figure) -> Figure:
    """Share of a day's need that an intake meets, in percent.

    The interval takes the intake's error against the need's middle: the need of this infant
    within its own spread is another question, and is shown beside it.

    Raises:
        InputError: ENERGY-007 when units differ or the need is not above 0.
    """
    if intake_ml_per_day.unit != need_ml_per_day.unit or not need_ml_per_day.value > 0:
        raise InputError(
            Problem(
                code="ENERGY-007",
                what=message(
                    "{intake_unit} against {need} {need_unit}",
                    intake_unit=intake_ml_per_day.unit,
                    need=Number(need_ml_per_day.value),
                    need_unit=need_ml_per_day.unit,
                ),
                why=message(
                    "cannot be given as a share: both need one unit, and the need more than 0."
                ),
                fix=message("Give both in mL/d."),
            )
        )
    share = 100 / need_ml_per_day.value
    low, high = intake_ml_per_day.low, intake_ml_per_day.high
    return Figure(
        value=intake_ml_per_day.value * share,
        unit="%",
        low=None if low is None else low * share,
        high=None if high is None else high * share,
        level=intake_ml_per_day.level,
        working=Working(
            formula=message("100 x intake / need"),
            inputs=(
                Quantity(
                    name=message("intake"),
                    value=intake_ml_per_day.value,
                    unit=intake_ml_per_day.unit,
                ),
                Quantity(
                    name=message("need"), value=need_ml_per_day.value, unit=need_ml_per_day.unit
                ),
            ),
            constants=(
                *intake_ml_per_day.working.constants,
                *need_ml_per_day.working.constants,
            ),
            notes=(*intake_ml_per_day.working.notes, *need_ml_per_day.working.notes),
        ),
    )


def require_weight(weight_g: float) -> None:
    """Refuse a weight that is not above 0 g (ENERGY-001)."""
    if not weight_g > 0:
        raise InputError(
            Problem(
                code="ENERGY-001",
                what=message("a weight of {weight}", weight=Amount(weight_g, "g")),
                why=message("is not above 0 g."),
                fix=message("Correct the weight."),
            )
        )


def require_age(age_d: float) -> None:
    """Refuse a negative age (ENERGY-001)."""
    if not age_d >= 0:
        raise InputError(
            Problem(
                code="ENERGY-001",
                what=message("an age of {days} days", days=Number(age_d)),
                why=message("is before birth."),
                fix=message("Correct the time."),
            )
        )


def require_range(
    weight_g: float, age_d: float, gestation_days: int | None, parameters: EnergyParameters
) -> list[Message]:
    """Notes of caution; refuses outside the range in which the equations were fitted.

    Raises:
        InputError: ENERGY-001.
        RefusalError: ENERGY-002 to ENERGY-005 as :func:`energy_requirement`.
    """
    require_weight(weight_g)
    require_age(age_d)
    if age_d < parameters.refuse_before_d.value:
        reason = message(
            "before {limit} days of age; this infant is {age} old",
            limit=Number(parameters.refuse_before_d.value),
            age=Age(age_d * HOURS_PER_DAY),
        )
        raise RefusalError(_refused("ENERGY-002", reason))
    if not parameters.deposition_boys_kcal_per_day.covers(age_d):
        raise RefusalError(
            _refused(
                "ENERGY-003", message("after 12 months; this is {days} days", days=Number(age_d, 0))
            )
        )
    if gestation_days is not None and gestation_days < parameters.preterm_before_d.value:
        reason = message(
            "for an infant born before {days} days of gestation",
            days=Number(parameters.preterm_before_d.value),
        )
        raise RefusalError(_refused("ENERGY-004", reason))
    if weight_g < parameters.low_weight_g.value:
        reason = message(
            "below {limit}; this is {weight}",
            limit=Amount(parameters.low_weight_g.value, "g"),
            weight=Amount(weight_g, "g"),
        )
        raise RefusalError(_refused("ENERGY-005", reason))
    notes = [message("An average: the need of one infant differs from it.")]
    if age_d < parameters.caution_before_d.value:
        notes.append(
            message("Fitted to infants of a month and more: at this age only a rough guide.")
        )
    if gestation_days is None:
        notes.append(
            message("The gestation is not known: not to be used for an infant born preterm.")
        )
    return notes


def _refused(code: str, reason: Message) -> Problem:
    return Problem(
        code=code,
        what=message("the energy requirement"),
        why=message(
            "cannot be used {reason}: it was fitted to term infants of 1 to 12 months.",
            reason=reason,
        ),
        fix=message(
            "Use what infants of that day were observed to take, or ask the infant's physician."
        ),
    )
