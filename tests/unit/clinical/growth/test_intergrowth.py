from __future__ import annotations

import numpy as np
import pytest

from suffice.clinical.growth import intergrowth
from suffice.knowledge.tables import growth_standards

NEWBORN = growth_standards().intergrowth_newborn
POSTNATAL = growth_standards().intergrowth_postnatal


@pytest.mark.parametrize("measure", ["weight", "length", "head"])
@pytest.mark.parametrize("is_male", [True, False])
def test_the_score_of_the_value_at_a_score_is_that_score_on_every_day(
    measure: str, is_male: bool
) -> None:
    z = np.array([-3.5, -3, -1.5, -0.1, 0, 0.1, 1.5, 3, 6.0])[:, None]
    days = np.arange(168, 301)
    size = intergrowth.newborn_value_at_z(NEWBORN, measure, is_male, days, z)
    back = intergrowth.newborn_z(NEWBORN, measure, is_male, days, size)
    np.testing.assert_allclose(back, np.broadcast_to(z, back.shape), atol=1e-7)
    ages = np.arange(189, 449)
    size = intergrowth.postnatal_value_at_z(POSTNATAL, measure, is_male, ages, z)
    back = intergrowth.postnatal_z(POSTNATAL, measure, is_male, ages, size)
    np.testing.assert_allclose(back, np.broadcast_to(z, back.shape), atol=1e-9)


@pytest.mark.parametrize("days", [167.4, 300.5, np.nan, -1, np.inf])
def test_newborn_size_has_no_score_outside_24_to_42_weeks(days: float) -> None:
    assert np.isnan(intergrowth.newborn_z(NEWBORN, "weight", True, days, 3000.0))
    assert np.isnan(intergrowth.newborn_value_at_z(NEWBORN, "weight", True, days, 0.0))


@pytest.mark.parametrize("days", [188.9, 448.1, np.nan, -np.inf])
def test_preterm_growth_has_no_score_outside_27_to_64_weeks(days: float) -> None:
    assert np.isnan(intergrowth.postnatal_z(POSTNATAL, "weight", True, days, 3000.0))


def test_a_size_or_a_sex_that_is_not_known_has_no_score() -> None:
    size = [np.nan, 0, -1, np.inf]
    for days in (200, 280):
        assert np.isnan(intergrowth.newborn_z(NEWBORN, "weight", True, days, size)).all()
        assert np.isnan(intergrowth.newborn_z(NEWBORN, "weight", np.nan, days, 3000.0))
    assert np.isnan(intergrowth.postnatal_z(POSTNATAL, "weight", True, 280, size)).all()
    assert np.isnan(intergrowth.postnatal_z(POSTNATAL, "weight", 2, 280, 3000.0))


def test_equations_and_table_meet_at_33_weeks_within_a_tenth_of_a_score() -> None:
    for is_male in (True, False):
        before = intergrowth.newborn_value_at_z(NEWBORN, "weight", is_male, 230, 0.0)
        after = intergrowth.newborn_value_at_z(NEWBORN, "weight", is_male, 231, 0.0)
        assert 0 < after - before < 100


def test_the_sexes_are_scored_each_in_its_own_row() -> None:
    both = intergrowth.newborn_z(NEWBORN, "weight", [True, False], 280, 3300.0)
    assert both[0] == intergrowth.newborn_z(NEWBORN, "weight", True, 280, 3300.0)
    assert both[1] == intergrowth.newborn_z(NEWBORN, "weight", False, 280, 3300.0)
    assert both[0] < both[1]


def test_a_score_so_low_that_no_newborn_weighs_it_has_no_value() -> None:
    assert np.isnan(intergrowth.newborn_value_at_z(NEWBORN, "weight", True, 280, -8.0))
    assert np.isnan(intergrowth.newborn_value_at_z(NEWBORN, "head", True, 180, -20.0))
