"""Thresholds on either side. Source: NICE NG75 Faltering growth (2017), recommendation 1.2."""

from __future__ import annotations

import numpy as np
import pytest

from growth_constants import FALL
from spoken import text
from suffice.clinical.growth.centile_fall import centile_fall, fall_spaces
from suffice.errors import InputError, RefusalError

SPACE = 0.67
# birth z, fall in spaces, concern
CASES = [
    (-1.40, 0.9, False),  # born below the 9th: one space
    (-1.35, 0.96, False),
    (-1.30, 1.0, False),  # born above the 9th: two spaces
    (0.0, 1.99, False),
    (0.0, 2.0, True),
    (1.33, 2.0, True),
    (1.35, 2.0, False),  # born above the 91st: three spaces
    (1.35, 2.99, False),
    (1.35, 3.0, True),
]


@pytest.mark.parametrize(("birth_z", "spaces", "concern"), CASES)
def test_the_birth_weight_sets_how_many_spaces_count(
    birth_z: float, spaces: float, concern: bool
) -> None:
    current_z = birth_z - spaces * SPACE
    found = centile_fall(FALL, birth_z=birth_z, from_z=birth_z, current_z=current_z, age_d=40)
    assert found.fall.value == pytest.approx(spaces)
    assert found.is_fall is concern


def test_one_space_counts_for_a_small_newborn_whose_weight_first_rose() -> None:
    found = centile_fall(FALL, birth_z=-1.4, from_z=-1.0, current_z=-1.67, age_d=40)
    assert found.is_fall
    assert "1 or more is a concern" in text(found.reason)


def test_a_small_weight_that_rose_is_no_fall() -> None:
    found = centile_fall(FALL, birth_z=-2.2, from_z=-2.2, current_z=-2.1, age_d=40)
    assert found.fall.value < 0
    assert not found.is_fall
    assert "risen" in text(found.reason)


def test_the_first_weeks_have_rules_of_their_own() -> None:
    with pytest.raises(RefusalError, match="GROWTH-008"):
        centile_fall(FALL, birth_z=0, from_z=0, current_z=-2, age_d=20.9)
    assert centile_fall(FALL, birth_z=0, from_z=0, current_z=-2, age_d=21).is_fall


def test_a_score_that_is_missing_is_refused_and_is_no_concern_in_a_cohort() -> None:
    with pytest.raises(InputError, match="GROWTH-002"):
        centile_fall(FALL, birth_z=np.nan, from_z=0, current_z=0, age_d=40)
    assert np.isnan(fall_spaces(FALL, np.nan, 0))


def test_a_fall_is_told_to_a_billionth_of_a_space() -> None:
    assert fall_spaces(FALL, SPACE * (2 - 4e-10), 0) == 2
    assert fall_spaces(FALL, SPACE * (2 - 1e-9), 0) < 2
