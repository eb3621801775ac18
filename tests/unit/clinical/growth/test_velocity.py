"""Scores of a gain, on a standard of the test's own that can be worked out by hand.

WHO's own figures are compared in tests/oracle/growth/test_who_velocity.py.
"""

from __future__ import annotations

import numpy as np
import pytest

from suffice.clinical.growth.standard import VelocityStandard
from suffice.clinical.growth.velocity import gain_at_z, gain_z, is_at_birth, nearest_interval
from suffice.knowledge.tables import growth_standards

# A skew of 1 makes the score a plain one: (gain + shift - median) / (median cv).
STANDARD = VelocityStandard(
    source=growth_standards().velocity.source,
    start_day=np.array([0, 28, 61]),
    end_day=np.array([28, 61, 91]),
    months=np.array([1, 1, 1]),
    shift_g=np.array([400.0, 400.0, 0.0]),
    shifted_median_g=np.array([[1400.0, 1500.0, 800.0], [1500.0, 1600.0, 900.0]]),
    cv=np.full((2, 3), 0.2),
    skew=np.ones((2, 3)),
)


@pytest.mark.parametrize(
    ("is_male", "interval", "gain_g", "z"),
    [(0, 0, 1000, 0.0), (0, 0, 1280, 1.0), (1, 0, 1100, 0.0), (1, 2, 720, -1.0), (0, 1, 800, -1.0)],
)
def test_the_score_of_a_gain_and_the_gain_at_a_score(is_male, interval, gain_g, z) -> None:
    assert gain_z(STANDARD, is_male, interval, gain_g) == pytest.approx(z)
    assert gain_at_z(STANDARD, is_male, interval, z) == pytest.approx(gain_g)


@pytest.mark.parametrize(
    ("is_male", "interval", "gain_g"),
    [(np.nan, 0, 1000), (2, 0, 1000), (0, 3, 1000), (0, -1, 1000), (0, 0, np.nan), (0, 0, -401)],
)
def test_without_a_sex_an_interval_or_a_gain_on_the_curve_there_is_no_score(
    is_male, interval, gain_g
) -> None:
    assert np.isnan(gain_z(STANDARD, is_male, interval, gain_g))


def test_arguments_broadcast() -> None:
    found = gain_z(STANDARD, [[0], [1]], 0, [1000.0, 1100.0])
    np.testing.assert_allclose(found, [[0.0, 100 / 280], [-100 / 300, 0.0]], atol=1e-12)


@pytest.mark.parametrize(
    ("start_d", "end_d", "interval"),
    [
        (0, 28, 0),
        (0.4, 32, 0),
        (0, 32.1, None),
        (1, 28, None),
        (28, 61, 1),
        (24, 65, 1),
        (23.9, 61, None),
        (60, 92, 2),
    ],
)
def test_the_interval_whose_ends_lie_nearest(start_d, end_d, interval) -> None:
    assert nearest_interval(STANDARD, start_d, end_d, 4) == interval


@pytest.mark.parametrize(
    ("age_d", "is_birth"), [(0, True), (0.49, True), (0.51, False), (1, False), (-0.1, False)]
)
def test_only_a_weight_of_day_0_stands_for_the_birth_weight(age_d: float, is_birth: bool) -> None:
    assert is_at_birth(age_d) is is_birth
