"""What a growth standard is: tables that refuse nonsense, stay as read and know their ends."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from spoken import text
from suffice.clinical.growth.standard import (
    FEMALE,
    MALE,
    MEASURE_NAMES,
    NAME_OF,
    UNIT_OF,
    LmsTable,
    SkewTTable,
    TableSource,
    Terms,
    frozen_array,
)
from suffice.knowledge.tables import growth_standards

STANDARDS = growth_standards()
WHO = STANDARDS.who.by_age
SOURCE = TableSource(
    key="test",
    title="A table of the test's own",
    source="this test",
    doi="",
    basis="judgement",
    read_in="nothing",
    read_on="2026-11-28",
    licence="",
    remark="Made up.",
)


def table(**more):
    parts = {
        "median": np.array([[3000.0, 3100, 3200], [3200.0, 3300, 3400]]),
        "cv": np.full((2, 3), 0.1),
        "skew": np.full((2, 3), 0.5),
        **more,
    }
    return LmsTable(source=SOURCE, measure="weight", first=10, outer_z=3, flag_z=(-6, 5), **parts)


def test_a_table_tells_its_ends_and_each_sex_from_its_own_row():
    made = table()
    assert (made.size, made.first, made.last) == (3, 10, 12)
    assert made.at(False, 10) == (3000, 0.1, 0.5)
    assert made.at(True, 12) == (3400, 0.1, 0.5)
    assert (FEMALE, MALE) == (0, 1)


@pytest.mark.parametrize(
    "fault",
    [
        {"median": np.ones((2, 4))},
        {"cv": np.ones((1, 3))},
        {"median": np.ones(3), "cv": np.ones(3), "skew": np.ones(3)},
        {"median": np.ones((3, 3)), "cv": np.ones((3, 3)), "skew": np.ones((3, 3))},
    ],
)
def test_a_table_of_unequal_or_wrong_shapes_is_refused(fault):
    with pytest.raises(ValueError, match="shape"):
        table(**fault)


@pytest.mark.parametrize(
    ("name", "value"), [("median", 0), ("median", np.nan), ("cv", 0), ("cv", np.nan), ("skew", 0)]
)
def test_a_value_that_cannot_be_divided_by_is_refused(name, value):
    good = getattr(table(), name).copy()
    good[1, 2] = value
    with pytest.raises(ValueError, match="above 0"):
        table(**{name: good})


@pytest.mark.parametrize("name", ["median", "cv"])
def test_a_negative_median_or_spread_is_refused_and_a_negative_skew_is_not(name):
    with pytest.raises(ValueError, match="above 0"):
        table(**{name: -getattr(table(), name)})
    assert table(skew=np.full((2, 3), -0.5)).at(True, 10)[2] == -0.5


def test_only_a_table_whose_every_skew_is_1_is_a_straight_line():
    nearly = np.ones((2, 3))
    nearly[0, 1] = 0.999
    assert table(skew=np.ones((2, 3))).is_linear
    assert not table(skew=nearly).is_linear
    assert {measure: one.is_linear for measure, one in WHO.items()} == {
        "weight": False,
        "length": True,
        "head": True,
    }


def test_what_is_worked_out_beforehand_is_what_a_score_divides_by():
    skewed, linear = table(), table(skew=np.ones((2, 3)))
    np.testing.assert_allclose(np.exp(skewed.log_median), skewed.median)
    np.testing.assert_allclose(skewed.inverse_spread, 1 / (0.5 * 0.1))
    np.testing.assert_allclose(linear.inverse_spread, 1 / (linear.median * 0.1))


def test_a_frozen_array_is_a_copy_that_nobody_can_write_to():
    given = np.arange(6, dtype=np.float64).reshape(2, 3).T
    copy = frozen_array(given)
    given[0, 0] = 99
    assert copy[0, 0] == 0
    assert copy.flags["C_CONTIGUOUS"]
    with pytest.raises(ValueError, match="read-only"):
        copy[0, 0] = 1
    with pytest.raises(ValueError, match="read-only"):
        table().inverse_spread[0, 0] = 1


def test_every_measure_has_a_unit_a_name_and_words():
    assert UNIT_OF.keys() == NAME_OF.keys() == MEASURE_NAMES.keys() == WHO.keys()
    assert {measure: text(said) for measure, said in MEASURE_NAMES.items()} == NAME_OF


def test_a_coefficient_that_was_not_published_adds_nothing():
    assert set(msgspec.structs.astuple(Terms())) == {0.0}


def test_a_remark_with_braces_is_shown_as_it_stands():
    source = msgspec.structs.replace(SOURCE, remark="Rows {a} to {b}.")
    assert text(source.note) == "Rows {a} to {b}."


def test_the_newborn_standard_ends_where_its_table_does():
    late = SkewTTable(
        first=231,
        mode=np.ones((2, 4)),
        scale=np.ones((2, 4)),
        asymmetry=np.ones(2),
        degrees_of_freedom=np.ones(2),
    )
    assert late.last == 234
    newborn = STANDARDS.intergrowth_newborn
    assert newborn.last_day == newborn.late["weight"].last == 300  # 42+6 weeks, Villar 2014


def test_every_table_is_named_once_among_the_sources():
    keys = [source.key for source in STANDARDS.sources]
    assert sorted(keys) == [
        "intergrowth_newborn_skew_t",
        "intergrowth_postnatal",
        "who_size_for_age",
        "who_weight_for_length",
        "who_weight_increments",
        "who_weight_velocity",
    ]


# WHO Child Growth Standards 2006, weight for age: median, coefficient of variation and skewness at birth.
@pytest.mark.parametrize(
    ("is_male", "lms"), [(True, (3346.4, 0.14602, 0.3487)), (False, (3232.2, 0.14171, 0.3809))]
)
def test_the_first_row_of_weight_for_age_is_the_published_one(is_male, lms):
    assert WHO["weight"].at(is_male, 0) == pytest.approx(lms, abs=1e-9)
