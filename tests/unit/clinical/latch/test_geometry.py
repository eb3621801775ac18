"""Ruler and protractor on straight marks; figures of the latch in tests/latches.py by hand."""

from __future__ import annotations

import numpy as np
import pytest

from latches import marks
from suffice.clinical.latch.geometry import InPicture, means, mirrored, read_in_picture, straight
from suffice.clinical.latch.mark import PLACES, Mark, Place


def read(leave_out: tuple[Place, ...] = (), **moved: tuple[float, float]) -> InPicture:
    at, _ = means(
        marks(leave_out=leave_out, moved={k.replace("_", " "): v for k, v in moved.items()})
    )  # type: ignore[misc]
    return read_in_picture(straight(at))


def test_the_measures_of_a_side_view() -> None:
    found = read()
    nose_chin = np.hypot(11.9, 48)
    assert found.opening_ratio == pytest.approx(np.hypot(1, 23) / nose_chin, abs=1e-5)
    angle = np.degrees(np.arctan2(11.5, 6.5) + np.arctan2(11.5, 5.5))
    assert found.gape_deg == pytest.approx(angle, abs=1e-3)
    above, below = np.hypot(8, 11.5), np.hypot(4.6, 6.5)
    assert found.areola_share == pytest.approx(above / (above + below), abs=1e-5)
    assert found.nose_gap_ratio == pytest.approx(np.hypot(4.7, 1.7) / nose_chin, abs=1e-5)
    assert found.chin_gap_ratio == pytest.approx(3 / nose_chin, abs=1e-5)


def test_a_corner_before_the_lips_is_more_than_half_a_turn() -> None:
    assert read(corner=(5, -20.5)).gape_deg > 180
    assert read(corner=(1.2, -20.5)).gape_deg < 180


def test_what_is_not_marked_is_not_measured() -> None:
    found = read(leave_out=("areola below", "breast at nose", "breast at chin"))
    assert (found.areola_share, found.nose_gap_ratio, found.chin_gap_ratio) == (None, None, None)


def test_straight_marks_stand_on_the_chin_with_the_nose_above() -> None:
    at, _ = means(marks())
    assert straight(at)[[3, 4]].tolist() == [[0, 1], [0, 0]]
    assert np.array_equal(mirrored(mirrored(straight(at))), straight(at))


def test_means_are_those_of_each_place_in_any_order() -> None:
    every = (*marks(), Mark(place="ear", x=100, y=301))
    at, counts = means(every)
    again, _ = means(every[::-1])
    ear = PLACES.index("ear")
    assert counts[ear] == 2
    assert at[ear].tolist() == [(700 - 620 + 100) / 2, (400 - 100 + 301) / 2]
    assert np.array_equal(at, again)


def test_an_areola_that_ends_at_both_lips_has_no_share() -> None:
    at_the_lips = {"upper_lip": (2, -20), "areola_above": (2, -20)}
    at_the_lips |= {"lower_lip": (2, -24), "areola_below": (2, -24)}
    assert read(**at_the_lips).areola_share is None
