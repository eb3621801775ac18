"""The fall of one infant through the centiles since birth, both weights on one standard."""

from __future__ import annotations

from functools import partial

from suffice.clinical.age import AgeParameters
from suffice.clinical.entry import Sex
from suffice.clinical.growth import assess, refuse
from suffice.clinical.growth.centile_fall import CentileFall, CentileFallParameters, centile_fall
from suffice.clinical.growth.standard import GrowthStandards


def fall_from_birth(  # noqa: PLR0913  # three weights with their ages, and what scores them
    standards: GrowthStandards,
    age_parameters: AgeParameters,
    parameters: CentileFallParameters,
    sex: Sex | None,
    *,
    gestation_days: float | None,
    birth_weight_g: float,
    age_d: float,
    weight_g: float,
    settled: tuple[float, float] | None = None,
) -> CentileFall:
    """The fall from the birth weight to a present weight.

    Many infants move to a line of their own in the first weeks: counted from birth alone a thriving
    one seems to fall. So the fall is counted from the lower of the birth weight's score and that of
    a weight of the third or fourth week (`settled`: its age in days and grams) where there is one.

    The birth weight is read at age 0 of the standard that serves the present weight, not for
    gestation: an infant of 37 weeks with an average weight for gestation lies low on the WHO chart
    on the day of birth already, and has not fallen there.

    Raises:
        RefusalError: GROWTH-001, GROWTH-003, GROWTH-007, GROWTH-008 in the first weeks, GROWTH-009
            where the standard changed since birth (born preterm, now past 64 weeks).
        InputError: GROWTH-002.
    """
    z_of = partial(
        assess.z_for_infant, standards, age_parameters, "weight", sex, gestation_days=gestation_days
    )
    born_z, standard_at_birth = z_of(age_d=0, value=birth_weight_g)
    now_z, standard_now = z_of(age_d=age_d, value=weight_g)
    if standard_at_birth != standard_now:
        raise refuse.two_standards(standard_at_birth, standard_now)
    from_z = born_z
    if settled is not None:
        settled_d, settled_g = settled
        early_z, _ = z_of(age_d=settled_d, value=settled_g)
        from_z = min(from_z, early_z)
    return centile_fall(
        parameters, birth_z=born_z, from_z=from_z, current_z=now_z, age_d=age_d
    )  # fmt: skip
