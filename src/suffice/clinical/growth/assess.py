"""One infant against one standard: scores, centiles and values, each with its working.

Every function refuses, with a reason, where the standard has no answer: GROWTH-001 sex not known,
GROWTH-002 no usable measurement, GROWTH-003 outside the standard, GROWTH-004 beyond its curve.
A score is a plain number (unit 1); :func:`centile` turns it into a centile (unit %).
"""

from __future__ import annotations

import math

import msgspec
import numpy as np

from suffice.clinical.age import AgeParameters
from suffice.clinical.entry import Sex
from suffice.clinical.growth import intergrowth, refuse, who
from suffice.clinical.growth.centile import centile_of_z
from suffice.clinical.growth.choice import Choice, choose
from suffice.clinical.growth.standard import (
    MEASURE_NAMES,
    SEXES,
    UNIT_OF,
    GrowthStandards,
    LmsTable,
    Measure,
    NewbornStandard,
    PostnatalStandard,
    StandardName,
    TableSource,
    WhoStandard,
)
from suffice.clinical.units import MM_PER_CM
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.errors import RefusalError
from suffice.message import Amount, Message, Number, Words, message

_LMS = message("((value / median)^skew - 1) / (skew x cv)")
_NORMAL = message("(value - mean) / sd")
_LOG_NORMAL = message("(ln value - mean) / sd")
_SKEW_T = message("z with the same share below it as the skew-t distribution has below the value")


class InfantScore(msgspec.Struct, frozen=True, kw_only=True):
    """A score on the standard that applies to the infant, its centile, and why that standard."""

    z: Figure
    centile: Figure
    choice: Choice


def weight_for_age(standard: WhoStandard, sex: Sex | None, age_d: float, weight_g: float) -> Figure:
    """WHO weight-for-age z, birth to 730 days."""
    return for_age(standard, "weight", sex, age_d, weight_g)


def length_for_age(
    standard: WhoStandard, sex: Sex | None, age_d: float, length_cm: float
) -> Figure:
    """WHO length-for-age z (measured lying), birth to 730 days."""
    return for_age(standard, "length", sex, age_d, length_cm)


def head_for_age(standard: WhoStandard, sex: Sex | None, age_d: float, head_cm: float) -> Figure:
    """WHO head circumference-for-age z, birth to 730 days."""
    return for_age(standard, "head", sex, age_d, head_cm)


def for_age(
    standard: WhoStandard, measure: Measure, sex: Sex | None, age_d: float, value: float
) -> Figure:
    """WHO z of one measure for age; `value` in g for weight, in cm otherwise."""
    z = _who_z(standard, measure, sex, age_d, value)
    table, is_male = standard.by_age[measure], refuse.known_sex(sex)
    day = _day_of(table, age_d)
    working = Working(
        formula=_LMS,
        inputs=(
            Quantity(name=MEASURE_NAMES[measure], value=value, unit=UNIT_OF[measure]),
            Quantity(name=message("age"), value=age_d, unit="d"),
        ),
        constants=_lms_constants(table, table.at(is_male, day), _at_day(sex, day)),
        notes=_notes(table, z),
    )
    return Figure(value=z, unit="1", working=working)


def _who_z(
    standard: WhoStandard, measure: Measure, sex: Sex | None, age_d: float, value: float
) -> float:
    is_male = refuse.known_sex(sex)
    refuse.positive(measure, value)
    table = standard.by_age[measure]
    day = _day_of(table, age_d)
    return who.one_for_age_z(table, is_male=is_male, day=day, value=value)


def weight_for_length(
    standard: WhoStandard, sex: Sex | None, length_cm: float, weight_g: float
) -> Figure:
    """WHO weight-for-length z (measured lying), 45 to 110 cm."""
    is_male = refuse.known_sex(sex)
    refuse.positive("weight", weight_g)
    refuse.positive("length", length_cm)
    table = standard.weight_for_length
    curve = tuple(float(part) for part in who.curve_at_length(table, is_male, length_cm))
    if math.isnan(curve[0]):
        first, last = table.first / MM_PER_CM, table.last / MM_PER_CM
        raise refuse.outside(
            message("A length of {length}", length=Amount(length_cm, "cm")),
            message("WHO weight-for-length"),
            Number(first),
            Amount(last, "cm"),
        )
    z = float(who.weight_for_length_z(standard, is_male, length_cm, weight_g))
    working = Working(
        formula=message("{formula}, interpolated between tenths of a centimetre", formula=_LMS),
        inputs=(
            Quantity(name=message("weight"), value=weight_g, unit="g"),
            Quantity(name=message("length"), value=length_cm, unit="cm"),
        ),
        constants=_lms_constants(
            table,
            (curve[0], curve[1], curve[2]),
            message("{sex}, {length}", sex=SEXES[sex], length=Amount(length_cm, "cm")),
        ),
        notes=_notes(table, z),
    )
    return _figure(z, working, _measured("weight", weight_g))


def newborn_size(
    standard: NewbornStandard,
    measure: Measure,
    sex: Sex | None,
    gestation_days: float,
    value: float,
) -> Figure:
    """INTERGROWTH-21st z of size at birth, 24+0 to 42+6 weeks of gestation."""
    is_male = refuse.known_sex(sex)
    refuse.positive(measure, value)
    day = float(who.nearest_day(refuse.finite(message("gestation"), gestation_days)))
    if not standard.first_day <= day <= standard.last_day:
        raise _outside_weeks(
            message("A gestation of {weeks}", weeks=refuse.weeks_and_days(day)),
            message("Newborn size of INTERGROWTH-21st"),
            standard.first_day,
            standard.last_day,
        )
    z = float(intergrowth.newborn_z(standard, measure, is_male, day, value))
    place = message("{sex}, {age}", sex=SEXES[sex], age=refuse.weeks_and_days(day))
    late = standard.late[measure]
    if day >= late.first:
        parts = (float(part) for part in intergrowth.skew_t_at(late, is_male, day))
        units = (UNIT_OF[measure], UNIT_OF[measure], "1", "1")
        names = ("mode", "scale", "asymmetry", "degrees of freedom")
        constants = tuple(
            _constant(standard.source, f"{measure}.{name}", part, unit, place)
            for name, part, unit in zip(names, parts, units, strict=True)
        )
        formula = _SKEW_T
    else:
        curve = standard.early[measure]
        formula = _LOG_NORMAL if curve.is_log else _NORMAL
        mean, sd = (float(part) for part in intergrowth.curve_at(curve, is_male, day))
        constants = _normal_constants(standard.source, measure, mean, sd, place, curve.is_log)
    working = Working(
        formula=formula,
        inputs=(
            Quantity(name=MEASURE_NAMES[measure], value=value, unit=UNIT_OF[measure]),
            Quantity(name=message("gestation"), value=gestation_days, unit="d"),
        ),
        constants=constants,
        notes=(standard.source.note,),
    )
    return _figure(z, working, _measured(measure, value))


def postnatal_preterm(
    standard: PostnatalStandard, measure: Measure, sex: Sex | None, pma_d: float, value: float
) -> Figure:
    """INTERGROWTH-21st z of an infant born preterm, 27 to 64 weeks of postmenstrual age."""
    z = _postnatal_z(standard, measure, sex, pma_d, value)
    curve, is_male = standard.curves[measure], refuse.known_sex(sex)
    mean, sd = (float(part) for part in intergrowth.curve_at(curve, is_male, pma_d))
    place = message("{sex}, {age}", sex=SEXES[sex], age=refuse.weeks_and_days(pma_d))
    working = Working(
        formula=_LOG_NORMAL if curve.is_log else _NORMAL,
        inputs=(
            Quantity(name=MEASURE_NAMES[measure], value=value, unit=UNIT_OF[measure]),
            Quantity(name=message("postmenstrual age"), value=pma_d, unit="d"),
        ),
        constants=_normal_constants(standard.source, measure, mean, sd, place, curve.is_log),
        notes=(standard.source.note,),
    )
    return Figure(value=z, unit="1", working=working)


def _postnatal_z(
    standard: PostnatalStandard, measure: Measure, sex: Sex | None, pma_d: float, value: float
) -> float:
    is_male = refuse.known_sex(sex)
    refuse.positive(measure, value)
    refuse.finite(message("postmenstrual age"), pma_d)
    if not standard.first_day <= pma_d <= standard.last_day:
        raise _outside_weeks(
            message("A postmenstrual age of {weeks}", weeks=refuse.weeks_and_days(pma_d)),
            message("Preterm growth of INTERGROWTH-21st"),
            standard.first_day,
            standard.last_day,
        )
    return float(intergrowth.postnatal_z(standard, measure, is_male, pma_d, value))


def for_infant(
    standards: GrowthStandards,
    parameters: AgeParameters,
    measure: Measure,
    sex: Sex | None,
    *,
    gestation_days: float | None,
    age_d: float,
    value: float,
) -> InfantScore:
    """The score of a measure at an age since birth, on the standard that applies.

    Raises:
        RefusalError: GROWTH-001, GROWTH-003, GROWTH-004 or GROWTH-007.
        InputError: GROWTH-002.
    """
    choice = _chosen(standards, parameters, gestation_days, age_d)
    if choice.standard == "WHO":
        z = for_age(standards.who, measure, sex, choice.age_d, value)
    else:
        z = postnatal_preterm(standards.intergrowth_postnatal, measure, sex, choice.age_d, value)
    working = msgspec.structs.replace(
        z.working,
        constants=(*z.working.constants, *choice.constants),
        notes=(choice.reason, *z.working.notes),
    )
    z = msgspec.structs.replace(z, working=working)
    return InfantScore(z=z, centile=centile(z), choice=choice)


def z_for_infant(
    standards: GrowthStandards,
    parameters: AgeParameters,
    measure: Measure,
    sex: Sex | None,
    *,
    gestation_days: float | None,
    age_d: float,
    value: float,
) -> tuple[float, StandardName]:
    """The bare score of :func:`for_infant`, and its standard. Raises as that does."""
    choice = _chosen(standards, parameters, gestation_days, age_d)
    if choice.standard == "WHO":
        z = _who_z(standards.who, measure, sex, choice.age_d, value)
    else:
        z = _postnatal_z(standards.intergrowth_postnatal, measure, sex, choice.age_d, value)
    return z, choice.standard


def _chosen(
    standards: GrowthStandards,
    parameters: AgeParameters,
    gestation_days: float | None,
    age_d: float,
) -> Choice:
    if age_d < 0:
        raise refuse.outside(
            message("An age of {days} days", days=Number(age_d, 1)),
            message("Every standard after birth"),
            message("birth"),
            message("its end"),
        )
    postnatal = standards.intergrowth_postnatal
    return choose(postnatal, parameters, gestation_days=gestation_days, age_d=age_d)


def centile(z: Figure) -> Figure:
    """The centile (0 to 100) of a score, with the working of the score."""
    working = msgspec.structs.replace(
        z.working,
        formula=message("100 x normal distribution of z; z = {formula}", formula=z.working.formula),
    )
    return Figure(value=float(centile_of_z(z.value)), unit="%", working=working)


def value_for_age(
    standard: WhoStandard, measure: Measure, sex: Sex | None, age_d: float, z: float
) -> Figure:
    """The value (g or cm) that has a WHO score at an age; the inverse of :func:`for_age`."""
    is_male = refuse.known_sex(sex)
    refuse.finite(message("z"), z)
    table = standard.by_age[measure]
    day = _day_of(table, age_d)
    value = float(who.for_age_value_at_z(standard, measure, is_male, age_d, z))
    working = Working(
        formula=message("median (1 + skew x cv x z)^(1 / skew)"),
        inputs=(
            Quantity(name=message("z"), value=z, unit="1"),
            Quantity(name=message("age"), value=age_d, unit="d"),
        ),
        constants=_lms_constants(table, table.at(is_male, day), _at_day(sex, day)),
        notes=_notes(table, z),
    )
    return _figure(value, working, message("z {z}", z=Number(z)), UNIT_OF[measure])


def _day_of(table: LmsTable, age_d: float) -> int:
    refuse.finite(message("age"), age_d)
    day = math.floor(age_d + 1 / 2)
    if age_d < table.first or day > table.last:
        raise refuse.outside(
            message("An age of {days} days", days=Number(age_d, 1)),
            message("The WHO standard for {measure}", measure=MEASURE_NAMES[table.measure]),
            message("day {day}", day=table.first),
            message("day {day}", day=table.last),
        )
    return day


def _measured(measure: Measure, value: float) -> Message:
    return message(
        "{measure} {value}", measure=MEASURE_NAMES[measure], value=Amount(value, UNIT_OF[measure])
    )


def _figure(value: float, working: Working, what: Message, unit: str = "1") -> Figure:
    if not np.isfinite(value):
        raise refuse.no_curve(what)
    return Figure(value=value, unit=unit, working=working)


def _outside_weeks(what: Message, standard: Message, first: float, last: float) -> RefusalError:
    return refuse.outside(
        what,
        standard,
        refuse.weeks_and_days(first),
        refuse.weeks_and_days(last),
    )


def _constant(source: TableSource, name: str, value: float, unit: str, place: Words) -> Constant:
    return Constant(
        key=f"{source.key}.{name.replace(' ', '_')}",
        value=value,
        unit=unit,
        basis=source.basis,
        source=source.source,
        locator=place,
    )


def _lms_constants(
    table: LmsTable, curve: tuple[float, float, float], place: Words
) -> tuple[Constant, ...]:
    names = ("median", "cv", "skew")
    units = (UNIT_OF[table.measure], "1", "1")
    return tuple(
        _constant(table.source, f"{table.measure}.{name}", part, unit, place)
        for name, part, unit in zip(names, curve, units, strict=True)
    )


def _normal_constants(
    source: TableSource, measure: Measure, mean: float, sd: float, place: Words, is_log: bool
) -> tuple[Constant, ...]:
    unit = "1" if is_log else UNIT_OF[measure]
    suffix = f" of ln {UNIT_OF[measure]}" if is_log else ""
    return (
        _constant(source, f"{measure}.mean{suffix}", mean, unit, place),
        _constant(source, f"{measure}.sd{suffix}", sd, unit, place),
    )


def _notes(table: LmsTable, z: float) -> tuple[Words, ...]:
    notes: list[Words] = [table.source.note]
    if table.outer_z is not None and abs(z) > table.outer_z:
        notes.append(
            message(
                "Past {limit} either way the score grows in a straight line, as WHO does for"
                " weight.",
                limit=Number(table.outer_z),
            )
        )
    low, high = table.flag_z
    if not low <= z <= high:
        notes.append(
            message(
                "Outside {low} to {high} WHO's own software asks for the measurement to be "
                "checked.",
                low=Number(low),
                high=Number(high),
            )
        )
    return tuple(notes)


def _at_day(sex: Sex | None, day: int) -> Message:
    return message("{sex}, day {day}", sex=SEXES[sex], day=day)
