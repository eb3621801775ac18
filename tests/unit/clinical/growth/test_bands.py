from __future__ import annotations

import numpy as np
import pytest

from growth_constants import AGE
from suffice.clinical.growth import choice
from suffice.clinical.growth.bands import bands, bands_for_infant
from suffice.errors import RefusalError
from suffice.knowledge.tables import growth_standards

STANDARDS = growth_standards()
LINES = [-2.0, 0.0, 2.0]


def test_lines_lie_in_order_and_cover_both_ends() -> None:
    found = bands(STANDARDS.who, "weight", "female", start_d=0, end_d=42, z_lines=LINES)
    assert found.values.shape == (3, 43)
    assert (np.diff(found.values, axis=0) > 0).all()
    assert found.is_who.all()
    assert found.values[1, 0] == pytest.approx(3232.2)


@pytest.mark.parametrize("gestation_days", [280, None, 238, 180])
def test_a_weight_on_a_line_has_the_score_of_that_line(gestation_days: int | None) -> None:
    found = bands_for_infant(
        STANDARDS, AGE, "weight", "male",
        gestation_days=gestation_days, start_d=0, end_d=735, z_lines=LINES,
    )  # fmt: skip
    gestation = np.nan if gestation_days is None else gestation_days
    for i, z_line in enumerate(LINES):
        z = choice.cohort_z(STANDARDS, AGE, "weight", True, gestation, found.age_d, found.values[i])
        known = np.isfinite(found.values[i])
        np.testing.assert_allclose(z[known], z_line, atol=1e-9)
        assert known.sum() > 650


def test_the_lines_of_a_preterm_infant_change_standard_at_64_weeks() -> None:
    found = bands_for_infant(
        STANDARDS, AGE, "weight", "male", gestation_days=238, start_d=0, end_d=300, z_lines=[0]
    )
    assert not found.is_who[: 448 - 238 + 1].any()
    assert found.is_who[448 - 238 + 1 :].all()


def test_days_without_a_standard_have_no_line() -> None:
    found = bands_for_infant(
        STANDARDS, AGE, "weight", "male", gestation_days=180, start_d=0, end_d=20, z_lines=[0]
    )
    assert np.isnan(found.values[0, :9]).all()
    assert np.isfinite(found.values[0, 9:]).all()


def test_lines_need_a_sex() -> None:
    with pytest.raises(RefusalError, match="GROWTH-001"):
        bands(STANDARDS.who, "weight", None, start_d=0, end_d=9, z_lines=LINES)
    with pytest.raises(RefusalError, match="GROWTH-001"):
        bands_for_infant(
            STANDARDS, AGE, "head", None, gestation_days=238, start_d=0, end_d=9, z_lines=LINES
        )
