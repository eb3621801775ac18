"""The fall of one infant through the centiles since birth, both weights on one standard."""

from __future__ import annotations

from suffice.clinical.age import AgeParameters
from suffice.clinical.entry import Sex
from suffice.clinical.growth import assess, refuse
from suffice.clinical.growth.centile_fall import CentileFall, CentileFallParameters, centile_fall
from suffice.clinical.growth.standard import GrowthStandards


def fall_from_birth(
    standards: GrowthStandards,
    age_parameters: AgeParameters,
    parameters: CentileFallParameters,
    sex: Sex | None,
    *,
    gestation_days: float | None,
    birth_weight_g: float,
    age_d: float,
    weight_g: float,
) -> CentileFall:
    """The fall from the birth weight to a present weight.

    The birth weight is read at age 0 of the standard that serves the present weight, not for
    gestation: an infant of 37 weeks with an average weight for gestation lies low on the WHO chart
    on the day of birth already, and has not fallen there.

    Raises:
        RefusalError: GROWTH-001, GROWTH-003, GROWTH-007, GROWTH-008 in the first weeks, GROWTH-009
            where the standard changed since birth (born preterm, now past 64 weeks).
        InputError: GROWTH-002.
    """
    place = {"gestation_days": gestation_days}
    born = assess.for_infant(
        standards, age_parameters, "weight", sex, **place, age_d=0, value=birth_weight_g
    )
    now = assess.for_infant(
        standards, age_parameters, "weight", sex, **place, age_d=age_d, value=weight_g
    )
    if born.choice.standard != now.choice.standard:
        raise refuse.two_standards(born.choice.standard, now.choice.standard)
    return centile_fall(
        parameters,
        birth_z=born.z.value,
        from_z=born.z.value,
        current_z=now.z.value,
        age_d=age_d,
    )
