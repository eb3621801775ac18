from __future__ import annotations

import pytest

from growth_constants import AGE, FALL
from suffice.clinical.growth import assess
from suffice.clinical.growth.assess_fall import fall_from_birth
from suffice.errors import RefusalError
from suffice.knowledge.tables import growth_standards

STANDARDS = growth_standards()


def fall(gestation_days: float | None, birth_weight_g: float, age_d: float, weight_g: float):
    return fall_from_birth(
        STANDARDS, AGE, FALL, "female",
        gestation_days=gestation_days, birth_weight_g=birth_weight_g, age_d=age_d, weight_g=weight_g,
    )  # fmt: skip


def test_an_infant_of_37_weeks_who_follows_her_line_has_not_fallen() -> None:
    on_line = [
        assess.value_for_age(STANDARDS.who, "weight", "female", d, -1).value for d in (0, 42)
    ]
    found = fall(259, on_line[0], 42, on_line[1])
    assert found.fall.value == pytest.approx(0, abs=1e-6)
    # The same birth weight is high for 37 weeks: scored for gestation she would seem to have fallen.
    for_gestation = assess.newborn_size(
        STANDARDS.intergrowth_newborn, "weight", "female", 259, on_line[0]
    )
    assert for_gestation.value > -0.5


def test_a_term_infant_who_crosses_two_spaces_is_found() -> None:
    birth_g = assess.value_for_age(STANDARDS.who, "weight", "female", 0, 0).value
    now_g = assess.value_for_age(STANDARDS.who, "weight", "female", 42, -1.35).value
    found = fall(280, birth_g, 42, now_g)
    assert found.is_fall
    assert found.fall.value == pytest.approx(1.35 / 0.67)


def test_a_preterm_infant_is_compared_on_the_preterm_standard_while_it_lasts() -> None:
    assert fall(238, 2200, 60, 4200).fall.unit == "1"
    with pytest.raises(RefusalError, match="GROWTH-009"):
        fall(238, 2200, 240, 7000)


def test_the_first_weeks_are_refused() -> None:
    with pytest.raises(RefusalError, match="GROWTH-008"):
        fall(280, 3300, 10, 3000)
