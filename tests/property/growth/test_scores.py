"""What must hold of every growth score: inverses, order, and one answer by two routes."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from suffice.clinical.growth import intergrowth, lms, velocity, who
from suffice.knowledge.tables import growth_standards

STANDARDS = growth_standards()
measures = st.sampled_from(["weight", "length", "head"])
sexes = st.booleans()
ages = st.integers(0, 730)
scores = st.floats(-7, 7)


@given(measures, sexes, ages, scores)
def test_the_who_score_of_the_value_at_a_score_is_that_score(
    measure: str, is_male: bool, age_d: int, z: float
) -> None:
    value = who.for_age_value_at_z(STANDARDS.who, measure, is_male, age_d, z)
    back = who.for_age_z(STANDARDS.who, measure, is_male, age_d, value)
    assert abs(back - z) < 1e-9


@given(sexes, st.floats(45, 110), scores)
def test_weight_for_length_and_its_inverse_agree(is_male: bool, length_cm: float, z: float) -> None:
    value = who.weight_for_length_value_at_z(STANDARDS.who, is_male, length_cm, z)
    back = who.weight_for_length_z(STANDARDS.who, is_male, length_cm, value)
    assert abs(back - z) < 1e-9


@given(measures, sexes, ages, st.floats(1, 30_000), st.floats(1e-3, 1e3))
def test_more_is_never_scored_lower(
    measure: str, is_male: bool, age_d: int, value: float, more: float
) -> None:
    z = who.for_age_z(STANDARDS.who, measure, is_male, age_d, [value, value + more])
    assert z[0] < z[1]


@given(sexes, ages, st.floats(200, 40_000))
def test_the_fast_way_and_the_plain_formula_agree(
    is_male: bool, age_d: int, weight_g: float
) -> None:
    table = STANDARDS.who.by_age["weight"]
    plain = lms.z_score(weight_g, *table.at(is_male, age_d), table.outer_z)
    fast = who.weight_for_age_z(STANDARDS.who, is_male, age_d, weight_g)
    assert abs(plain - fast) < 1e-9 * max(1.0, abs(float(plain)))


@given(
    st.lists(
        st.tuples(
            st.one_of(st.sampled_from([0, 1, 2, np.nan]), st.booleans()),
            st.one_of(st.floats(), st.floats(-1, 732)),
            st.one_of(st.floats(), st.floats(-10, 20_000)),
        ),
        max_size=30,
    ),
    measures,
)
def test_any_rows_at_all_give_a_score_exactly_where_there_is_an_answer(
    rows: list[tuple[float, float, float]], measure: str
) -> None:
    is_male, age_d, value = (
        (np.array(part, dtype=float) for part in zip(*rows, strict=True))
        if rows
        else (np.empty(0),) * 3
    )
    z = who.for_age_z(STANDARDS.who, measure, is_male, age_d, value)
    answerable = (
        np.isin(is_male, [0, 1])
        & (age_d >= 0) & (age_d < 730.5)
        & (value > 0) & np.isfinite(value)
    )  # fmt: skip
    np.testing.assert_array_equal(~np.isnan(z), answerable)


@given(measures, sexes, st.floats(167.5, 300.49), st.floats(-8, 8))
def test_newborn_size_and_its_inverse_agree(
    measure: str, is_male: bool, gestation_days: float, z: float
) -> None:
    standard = STANDARDS.intergrowth_newborn
    size = intergrowth.newborn_value_at_z(standard, measure, is_male, gestation_days, z)
    if size > 0:
        back = intergrowth.newborn_z(standard, measure, is_male, gestation_days, size)
        assert abs(back - z) < 1e-6


@given(sexes, st.integers(231, 300), st.floats(300, 8000), st.floats(1, 500))
def test_a_heavier_newborn_never_has_a_lower_score(
    is_male: bool, day: int, weight_g: float, more_g: float
) -> None:
    z = intergrowth.newborn_z(
        STANDARDS.intergrowth_newborn, "weight", is_male, day, [weight_g, weight_g + more_g]
    )
    assert z[0] < z[1]


@given(sexes, st.integers(0, 16), st.floats(-350, 5000))
def test_velocity_and_its_inverse_agree(is_male: bool, interval: int, gain_g: float) -> None:
    z = velocity.gain_z(STANDARDS.velocity, is_male, interval, gain_g)
    assert abs(velocity.gain_at_z(STANDARDS.velocity, is_male, interval, z) - gain_g) < 1e-6
