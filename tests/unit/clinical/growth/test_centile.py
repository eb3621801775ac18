"""Centiles and the scores they stand for."""

from __future__ import annotations

import numpy as np
import pytest

from suffice.clinical.growth.centile import centile_of_z, z_of_centile


def test_centiles_and_scores_are_inverse_and_nothing_lies_at_0_or_100() -> None:
    centiles = np.array([0.4, 2, 9, 25, 50, 75, 91, 98, 99.6])
    np.testing.assert_allclose(centile_of_z(z_of_centile(centiles)), centiles)
    assert np.isnan(z_of_centile([0, 100, -1, 101, np.nan])).all()
    assert np.isnan(centile_of_z(np.nan))


@pytest.mark.parametrize(
    ("z", "centile"), [(0.0, 50.0), (1.0, 84.134), (-1.0, 15.866), (1.959964, 97.5), (-3.0, 0.135)]
)
def test_the_centile_of_a_score_is_that_of_the_normal_table(z: float, centile: float) -> None:
    assert centile_of_z(z) == pytest.approx(centile, abs=5e-4)


def test_a_score_far_out_stays_between_0_and_100() -> None:
    assert centile_of_z([-np.inf, np.inf]).tolist() == [0.0, 100.0]
    assert 0 < centile_of_z(-8.0) < 1e-10
