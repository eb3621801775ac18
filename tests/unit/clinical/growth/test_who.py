from __future__ import annotations

import numpy as np
import pytest

from suffice.clinical.growth import who
from suffice.clinical.growth.standard import LmsTable
from suffice.knowledge.tables import growth_standards

STANDARD = growth_standards().who


def test_the_median_has_score_zero_at_every_day_for_both_sexes() -> None:
    days = np.arange(731)
    for measure, table in STANDARD.by_age.items():
        for is_male in (False, True):
            z = who.for_age_z(STANDARD, measure, is_male, days, table.median[int(is_male)])
            assert np.abs(z).max() < 1e-12


def test_a_row_without_an_answer_gives_nan_and_its_neighbours_keep_theirs() -> None:
    age = np.array([14.0, -0.3, 730.5, np.nan, 14, 14, 14, 14, 14, np.inf, 14])
    weight = np.array([3600.0, 3600, 3600, 3600, 0, -5, np.nan, np.inf, 3600, 3600, 3600])
    is_male = np.array([1.0, 1, 1, 1, 1, 1, 1, 1, np.nan, 1, 2])
    z = who.weight_for_age_z(STANDARD, is_male, age, weight)
    assert np.isfinite(z).tolist() == [True] + [False] * 10
    assert z[0] == who.weight_for_age_z(STANDARD, True, 14, 3600.0)


@pytest.mark.parametrize("measure", ["weight", "length", "head"])
def test_a_measurement_that_is_missing_never_gets_a_score(measure: str) -> None:
    z = who.for_age_z(STANDARD, measure, [True, False, True], 10, [np.nan, 0.0, np.inf])
    assert np.isnan(z).all()
    assert np.isnan(who.for_age_z(STANDARD, measure, True, 10, 0.0))


def test_whole_and_fractional_ages_go_different_ways_to_one_answer() -> None:
    chance = np.random.default_rng(1)
    is_male, age = chance.random(20_000) < 0.5, chance.integers(0, 731, 20_000)
    weight = chance.uniform(1500, 15_000, 20_000)
    whole = who.weight_for_age_z(STANDARD, is_male, age, weight)
    assert np.isfinite(whole).all()
    for other_age in (age.astype(float), age + 0.49, age.astype(np.uint64), age.astype(np.int16)):
        other = who.weight_for_age_z(STANDARD, is_male, other_age, weight)
        np.testing.assert_array_equal(other, whole)
    as_numbers = who.weight_for_age_z(STANDARD, is_male.astype(int), age, weight)
    np.testing.assert_array_equal(as_numbers, whole)


@pytest.mark.parametrize("kind", [np.int64, np.float64])
def test_a_sex_that_is_no_sex_gets_no_score_at_whole_ages_either(kind: type) -> None:
    is_male, age = np.array([1, 2, -1, 0], dtype=kind), np.full(4, 14)
    z = who.weight_for_age_z(STANDARD, is_male, age, 3600.0)
    assert np.isnan(z).tolist() == [False, True, True, False]


def test_a_fraction_of_a_day_counts_as_the_nearest_day_and_a_half_upwards() -> None:
    at = [float(who.weight_for_age_z(STANDARD, True, age, 4000.0)) for age in (9.49, 9.5, 9, 10)]
    assert at[0] == at[2]
    assert at[1] == at[3]
    assert at[2] != at[3]


def test_the_last_half_day_of_the_standard_still_has_a_score() -> None:
    assert np.isfinite(who.weight_for_age_z(STANDARD, False, 730.49, 11_000.0))
    assert np.isnan(who.weight_for_age_z(STANDARD, False, 730.5, 11_000.0))


def test_arguments_broadcast_and_a_single_row_gives_a_single_score() -> None:
    assert who.weight_for_age_z(STANDARD, True, 0, 3346.4).shape == ()
    grid = who.weight_for_age_z(STANDARD, True, np.arange(3)[:, None], np.array([3000.0, 4000]))
    assert grid.shape == (3, 2)
    assert who.weight_for_age_z(STANDARD, True, [], []).shape == (0,)


def test_blocks_join_without_a_seam() -> None:
    age = np.full(20_001, 30)
    z = who.weight_for_age_z(STANDARD, False, age, np.full(20_001, 4000.0))
    assert np.unique(z).size == 1


def test_weight_for_length_meets_the_table_at_a_tenth_and_lies_between_two() -> None:
    table = STANDARD.weight_for_length
    median = who.weight_for_length_value_at_z(STANDARD, False, [45.1, 45.15, 45.2, 110.0], 0.0)
    assert median[0] == pytest.approx(table.median[0, 1], abs=1e-9)
    assert median[1] == pytest.approx((table.median[0, 1] + table.median[0, 2]) / 2, abs=1e-9)
    assert median[3] == pytest.approx(table.median[0, -1], abs=1e-9)


def test_weight_for_length_is_read_in_the_row_of_the_sex() -> None:
    table = STANDARD.weight_for_length
    medians = who.weight_for_length_value_at_z(STANDARD, [True, False], 60.0, 0.0)
    at = round(60.0 * 10 - table.first)
    assert medians == pytest.approx([table.median[1, at], table.median[0, at]])
    assert medians[0] != medians[1]


@pytest.mark.parametrize("length_cm", [44.9, 110.1, np.nan, 0, -50, np.inf])
def test_weight_for_length_has_no_score_outside_its_lengths(length_cm: float) -> None:
    assert np.isnan(who.weight_for_length_z(STANDARD, True, length_cm, 3000.0))


def test_beyond_three_weight_grows_in_equal_steps_and_length_by_its_own_sd() -> None:
    weights = who.for_age_value_at_z(STANDARD, "weight", True, 60, [2.0, 3.0, 4.0, 5.0])
    assert np.diff(weights)[1] == pytest.approx(np.diff(weights)[0])
    assert np.diff(weights)[2] == pytest.approx(np.diff(weights)[0])
    thin = who.for_age_value_at_z(STANDARD, "weight", True, 60, [-5.0, -4.0, -3.0, -2.0])
    assert np.diff(thin)[0] == pytest.approx(np.diff(thin)[2])


def test_a_table_refuses_to_exist_with_a_skew_of_zero_or_with_unequal_shapes() -> None:
    good = STANDARD.by_age["weight"]
    for bad in ({"skew": np.zeros((2, 731))}, {"cv": np.ones((2, 3))}, {"median": -good.median}):
        parts = {"median": good.median, "cv": good.cv, "skew": good.skew} | bad
        with pytest.raises(ValueError, match=r"skew|shape"):
            LmsTable(
                source=good.source, measure="weight", first=0, outer_z=3, flag_z=(-6, 5), **parts
            )


def test_tables_cannot_be_written_to() -> None:
    with pytest.raises(ValueError, match="read-only"):
        STANDARD.by_age["weight"].median[0, 0] = 1


def test_whole_ages_outside_the_standard_get_no_score_and_never_the_other_sexs() -> None:
    is_male = np.array([False, False, True, True, False, True])
    z = who.weight_for_age_z(
        STANDARD, is_male, np.array([-1, 731, -1, 731, 730, 0]), np.full(6, 4e3)
    )
    assert np.isnan(z).tolist() == [True, True, True, True, False, False]


@pytest.mark.parametrize("weight_g", [np.inf, -np.inf, np.nan, 0.0, -1.0])
def test_weight_for_length_has_no_score_for_a_weight_that_is_none(weight_g: float) -> None:
    assert np.isnan(who.weight_for_length_z(STANDARD, [True, False], 60.0, weight_g)).all()


@pytest.mark.parametrize("measure", ["weight", "length", "head"])
def test_one_value_alone_has_the_same_score_to_the_bit(measure: str) -> None:
    chance, table = np.random.default_rng(3), STANDARD.by_age[measure]
    for _ in range(2_000):
        is_male, day = bool(chance.random() < 0.5), int(chance.integers(0, 731))
        value = float(chance.uniform(0.3, 2)) * table.at(is_male, day)[0]
        alone = who.one_for_age_z(table, is_male=is_male, day=day, value=value)
        assert alone == float(who.for_age_z(STANDARD, measure, is_male, day, value))
