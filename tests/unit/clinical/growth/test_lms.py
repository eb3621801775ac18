from __future__ import annotations

import numpy as np
import pytest

from suffice.clinical.growth import lms


def test_a_skew_of_zero_is_the_limit_of_small_ones() -> None:
    at_zero = lms.z_score(4000.0, 3500.0, 0.13, 0.0)
    near_zero = lms.z_score(4000.0, 3500.0, 0.13, 1e-9)
    assert at_zero == pytest.approx(np.log(4000 / 3500) / 0.13)
    assert near_zero == pytest.approx(float(at_zero), abs=1e-7)
    assert lms.value_at_z(1.5, 3500.0, 0.13, 0.0) == pytest.approx(3500 * np.exp(0.13 * 1.5))


def test_a_score_beyond_the_end_of_the_curve_has_no_value() -> None:
    assert np.isnan(lms.value_at_z(-4.0, 1400.0, 0.3, 1.0))
    assert np.isfinite(lms.value_at_z(-3.0, 1400.0, 0.3, 1.0))


def test_the_straight_lines_begin_exactly_where_the_curve_ends() -> None:
    value = lms.value_at_z([3.0, -3.0], 3500.0, 0.13, 0.3, outer_z=3.0)
    z = lms.z_score(value * np.array([1 + 1e-9, 1 - 1e-9]), 3500.0, 0.13, 0.3, outer_z=3.0)
    np.testing.assert_allclose(z, [3.0, -3.0], atol=1e-6)


def test_a_value_has_no_lower_limit_but_zero() -> None:
    assert lms.value_at_z(0.0, 0.5, 0.1, 1.0, outer_z=3.0) == 0.5
    assert np.isnan(lms.value_at_z(-5.0, 0.5, 0.3, 1.0, outer_z=3.0))
