"""Lines of a growth standard for a chart, day by day since birth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from suffice.clinical.age import AgeParameters
from suffice.clinical.entry import Sex
from suffice.clinical.growth import intergrowth, refuse, who
from suffice.clinical.growth.standard import Floats, GrowthStandards, Measure, WhoStandard


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Bands:
    """Lines of a standard.

    Attributes:
        age_d: Shape (n,): whole days since birth.
        values: Shape (k, n) for k scores, in g or cm; nan where no standard covers the day.
        is_who: Shape (n,): True where the WHO standard is drawn, False where INTERGROWTH-21st is.
    """

    age_d: NDArray[np.int64]
    values: Floats
    is_who: NDArray[np.bool_]


def bands(
    standard: WhoStandard,
    measure: Measure,
    sex: Sex | None,
    *,
    start_d: int,
    end_d: int,
    z_lines: ArrayLike,
) -> Bands:
    """WHO lines for age from one day to another, both drawn.

    Raises:
        RefusalError: GROWTH-001 when the sex is not known.
    """
    is_male = refuse.known_sex(sex)
    days, lines = np.arange(start_d, end_d + 1), np.asarray(z_lines, dtype=np.float64)
    values = who.for_age_value_at_z(standard, measure, is_male, days, lines[:, np.newaxis])
    return Bands(age_d=days, values=values, is_who=np.ones(days.shape, dtype=np.bool_))


def bands_for_infant(
    standards: GrowthStandards,
    parameters: AgeParameters,
    measure: Measure,
    sex: Sex | None,
    *,
    gestation_days: float | None,
    start_d: int,
    end_d: int,
    z_lines: ArrayLike,
) -> Bands:
    """Lines of the standard that applies to an infant on each day; it may change on the way.

    Follows :func:`suffice.clinical.growth.choice.choose` day by day, along age since birth.

    Raises:
        RefusalError: GROWTH-001 when the sex is not known.
    """
    if gestation_days is None or gestation_days >= parameters.preterm_before_days.value:
        return bands(standards.who, measure, sex, start_d=start_d, end_d=end_d, z_lines=z_lines)
    is_male = refuse.known_sex(sex)
    days, lines = np.arange(start_d, end_d + 1), np.asarray(z_lines, dtype=np.float64)
    postnatal = standards.intergrowth_postnatal
    pma_d = days + gestation_days
    corrected = pma_d - parameters.term_days.value
    who_age = np.where(days > parameters.correct_until_days.value, days, corrected)
    is_who = pma_d > postnatal.last_day
    z = lines[:, np.newaxis]
    preterm = intergrowth.postnatal_value_at_z(postnatal, measure, is_male, pma_d, z)
    later = who.for_age_value_at_z(standards.who, measure, is_male, who_age, z)
    return Bands(age_d=days, values=np.where(is_who, later, preterm), is_who=is_who)
