from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from growth_constants import AGE
from spoken import text
from suffice.clinical.growth import assess, intergrowth, who
from suffice.clinical.growth.choice import choose, cohort_z
from suffice.errors import InputError, RefusalError
from suffice.knowledge.tables import growth_standards

STANDARDS = growth_standards()


def chosen(gestation_days: float | None, age_d: float) -> tuple[str, str, float]:
    choice = choose(
        STANDARDS.intergrowth_postnatal, AGE, gestation_days=gestation_days, age_d=age_d
    )
    return choice.standard, choice.axis, choice.age_d


def test_an_infant_born_at_term_is_on_who_from_birth() -> None:
    assert chosen(259, 0) == ("WHO", "age", 0)
    assert chosen(280, 700) == ("WHO", "age", 700)


def test_a_preterm_infant_is_on_intergrowth_to_64_weeks_and_then_on_who_corrected() -> None:
    assert chosen(258, 0) == ("INTERGROWTH-21st postnatal", "postmenstrual age", 258)
    assert chosen(238, 210) == ("INTERGROWTH-21st postnatal", "postmenstrual age", 448)
    assert chosen(238, 210.5) == ("WHO", "corrected age", 168.5)
    assert chosen(238, 730) == ("WHO", "corrected age", 688)
    assert chosen(238, 731) == ("WHO", "age", 731)


def test_an_infant_of_unknown_gestation_is_read_as_term_and_that_is_said() -> None:
    choice = choose(STANDARDS.intergrowth_postnatal, AGE, gestation_days=None, age_d=5)
    assert choice.standard == "WHO"
    assert "not known" in text(choice.reason)


def test_the_reason_names_the_gestation_and_the_standard() -> None:
    choice = choose(STANDARDS.intergrowth_postnatal, AGE, gestation_days=240, age_d=5)
    assert "34+2 weeks" in text(choice.reason)
    assert "INTERGROWTH-21st until 64+0 weeks" in text(choice.reason)


@pytest.mark.parametrize("gestation_days", [None, 259, 280])
def test_at_term_the_one_limit_that_decided_is_that_of_preterm_birth(gestation_days) -> None:
    choice = choose(STANDARDS.intergrowth_postnatal, AGE, gestation_days=gestation_days, age_d=5)
    assert choice.constants == (AGE.preterm_before_days,)


def test_past_the_preterm_standard_every_limit_of_correction_decided() -> None:
    choice = choose(STANDARDS.intergrowth_postnatal, AGE, gestation_days=238, age_d=300)
    assert choice.constants == (AGE.preterm_before_days, AGE.term_days, AGE.correct_until_days)


def test_an_infant_below_27_weeks_has_no_standard_yet_and_has_one_later() -> None:
    with pytest.raises(RefusalError, match="GROWTH-007"):
        chosen(175, 13)
    assert chosen(175, 14)[0] == "INTERGROWTH-21st postnatal"


@pytest.mark.parametrize(("gestation_days", "age_d"), [(np.nan, 3), (240, np.nan), (np.inf, 3)])
def test_an_age_that_is_no_number_is_refused(gestation_days: float, age_d: float) -> None:
    with pytest.raises(InputError, match="GROWTH-002"):
        chosen(gestation_days, age_d)


def test_a_cohort_is_scored_infant_by_infant_on_the_standard_of_each() -> None:
    gestation = np.array([280, 238, 238, 175, np.nan, 238, 238, 280])
    age = np.array([20.0, 20, 300, 5, 20, -1, 731, -0.2])
    weight = np.full(8, 3500.0)
    z = cohort_z(STANDARDS, AGE, "weight", True, gestation, age, weight)
    on_who = who.weight_for_age_z(STANDARDS.who, True, [20, 258, 20], 3500.0)
    on_preterm = intergrowth.postnatal_z(
        STANDARDS.intergrowth_postnatal, "weight", True, 258, 3500.0
    )
    expected = [on_who[0], float(on_preterm), on_who[1], np.nan, on_who[2], np.nan, np.nan, np.nan]
    np.testing.assert_array_equal(z, expected)


@given(
    st.one_of(st.none(), st.integers(160, 301)), st.floats(0, 740), st.booleans(),
    st.sampled_from(["weight", "length", "head"]),
)  # fmt: skip
@example(259, 100.0, True, "weight")
@example(258, 100.0, True, "weight")
@example(238, 210.0, False, "head")
@example(238, 730.0, False, "weight")
def test_the_cohort_and_the_single_infant_always_agree(
    gestation_days: int | None, age_d: float, is_male: bool, measure: str
) -> None:
    value = 4000.0 if measure == "weight" else 45.0
    gestation = np.nan if gestation_days is None else gestation_days
    z = cohort_z(STANDARDS, AGE, measure, is_male, gestation, age_d, value)
    sex = "male" if is_male else "female"
    try:
        one = assess.for_infant(
            STANDARDS, AGE, measure, sex, gestation_days=gestation_days, age_d=age_d, value=value
        ).z.value
    except RefusalError:
        one = np.nan
    np.testing.assert_array_equal(z, one)
