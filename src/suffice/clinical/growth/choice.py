"""Which standard applies to an infant, and why.

- Born at term: WHO from birth.
- Born preterm: INTERGROWTH-21st postnatal growth by postmenstrual age while it lasts, then WHO at
  corrected age, and at age since birth once ages are no longer corrected.
- Gestation not known: WHO, as if born at term, and said to be so.
"""

from __future__ import annotations

from typing import Literal

import msgspec
import numpy as np
from numpy.typing import ArrayLike

from suffice.clinical.age import AgeParameters
from suffice.clinical.growth import intergrowth, refuse, who
from suffice.clinical.growth.standard import (
    Floats,
    GrowthStandards,
    Measure,
    PostnatalStandard,
    StandardName,
)
from suffice.clinical.working import Constant
from suffice.message import Message, Number, message

Axis = Literal["age", "corrected age", "postmenstrual age"]


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """The standard for an infant at an age.

    Attributes:
        standard: Which one.
        axis: Along what age it is read.
        age_d: That age, in days.
        reason: Why, in a sentence.
        constants: The limits that decided.
    """

    standard: StandardName
    axis: Axis
    age_d: float
    reason: Message
    constants: tuple[Constant, ...]


def choose(
    postnatal: PostnatalStandard,
    parameters: AgeParameters,
    *,
    gestation_days: float | None,
    age_d: float,
) -> Choice:
    """The standard that applies at an age since birth.

    Raises:
        RefusalError: GROWTH-007 for an infant too immature for any standard after birth.
        InputError: GROWTH-002 for an age or gestation that is not finite.
    """
    refuse.finite(message("age"), age_d)
    limits = (parameters.preterm_before_days, parameters.term_days, parameters.correct_until_days)
    if gestation_days is None:
        reason = message("The gestation is not known; read as if born at term.")
        return _who("age", age_d, reason, limits[:1])
    refuse.finite(message("gestation"), gestation_days)
    born = refuse.weeks_and_days(gestation_days)
    if gestation_days >= parameters.preterm_before_days.value:
        reason = message("Born at {born}, at term: WHO standards from birth.", born=born)
        return _who("age", age_d, reason, limits[:1])
    pma_d = gestation_days + age_d
    if pma_d < postnatal.first_day:
        raise refuse.too_early(pma_d, postnatal.first_day)
    until = refuse.weeks_and_days(postnatal.last_day)
    if pma_d <= postnatal.last_day:
        return Choice(
            standard="INTERGROWTH-21st postnatal",
            axis="postmenstrual age",
            age_d=pma_d,
            reason=message(
                "Born at {born}, preterm: INTERGROWTH-21st until {until} of postmenstrual age.",
                born=born,
                until=until,
            ),
            constants=limits[:1],
        )
    if age_d > parameters.correct_until_days.value:
        reason = message(
            "Born at {born}; ages are corrected until day {day}.",
            born=born,
            day=Number(parameters.correct_until_days.value),
        )
        return _who("age", age_d, reason, limits)
    reason = message(
        "Born at {born}, preterm, and past {until} of postmenstrual age: WHO at corrected age.",
        born=born,
        until=until,
    )
    return _who("corrected age", pma_d - parameters.term_days.value, reason, limits)


def cohort_z(
    standards: GrowthStandards,
    parameters: AgeParameters,
    measure: Measure,
    is_male: ArrayLike,
    gestation_days: ArrayLike,
    age_d: ArrayLike,
    value: ArrayLike,
) -> Floats:
    """Scores of a cohort, each on the standard that :func:`choose` gives; arguments broadcast.

    A gestation of nan is read as term, as in :func:`choose`; nan where there is no answer.
    """
    male, gestation, age, size = np.broadcast_arrays(
        np.asarray(is_male),
        np.asarray(gestation_days, dtype=np.float64),
        np.asarray(age_d, dtype=np.float64),
        np.asarray(value, dtype=np.float64),
    )
    postnatal = standards.intergrowth_postnatal
    pma_d = gestation + age
    is_preterm = gestation < parameters.preterm_before_days.value
    is_corrected = is_preterm & (age <= parameters.correct_until_days.value)
    who_age = np.where(is_corrected, pma_d - parameters.term_days.value, age)
    is_on_who = ~is_preterm | (pma_d > postnatal.last_day)
    z = who.for_age_z(standards.who, measure, male, np.where(is_on_who, who_age, np.nan), size)
    rest = np.flatnonzero(~is_on_who & (age >= 0))
    if rest.size:
        z.flat[rest] = intergrowth.postnatal_z(
            postnatal,
            measure,
            male.flat[rest],
            pma_d.flat[rest],
            size.flat[rest],
        )
    return z


def _who(
    axis: Axis,
    age_d: float,
    reason: Message,
    constants: tuple[Constant, ...],
) -> Choice:
    return Choice(standard="WHO", axis=axis, age_d=age_d, reason=reason, constants=constants)
