"""Draws that the marks allow: weighted, the same each time, and no narrower than they may be."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from clinical_constants import constant
from latches import AT_MM, PARAMETERS, marks
from suffice.clinical.latch.geometry import means, mirrored, straight
from suffice.clinical.latch.mark import PLACES
from suffice.inference.latch.model import CORNER, EAR, UPPER
from suffice.inference.latch.posterior import Draws, draws_of, fitted, picture, together

AT, COUNTS = means(marks())
STRAIGHT = straight(AT)


def drawn(side_sd: float | None = None) -> Draws:
    one = fitted(PARAMETERS, STRAIGHT, COUNTS)
    return draws_of(PARAMETERS, [one.picture], together(PARAMETERS, [one]), [side_sd])


def test_the_same_marks_give_the_same_draws() -> None:
    one, other = drawn(), drawn()
    assert np.array_equal(one.weights, other.weights)
    assert np.array_equal(one.at_mm, other.at_mm)
    assert abs(one.weights.sum() - 1) < 1e-12
    assert 1 / (one.weights**2).sum() > 60


def test_draws_lie_about_the_places_that_were_marked() -> None:
    found = drawn()
    for place, (x, y) in AT_MM.items():
        at = found.at_mm[:, PLACES.index(place), :2]
        middle = found.weights @ at
        spread = np.sqrt(found.weights @ (at - middle) ** 2)
        assert (np.abs(middle - (x, y)) < 2.5 * spread).all(), place


def test_a_known_side_view_draws_the_turn_to_the_side() -> None:
    wide, near = drawn(), drawn(np.radians(3))
    sd = [np.sqrt(one.weights @ one.turn[:, 0] ** 2) for one in (wide, near)]
    assert sd[1] < np.radians(4)
    assert sd[1] < sd[0]


def test_an_infant_that_looks_to_the_left_is_mirrored() -> None:
    one, other = (fitted(PARAMETERS, at, COUNTS) for at in (STRAIGHT, mirrored(STRAIGHT)))
    assert np.array_equal(one.picture.straight, other.picture.straight)
    assert one.picture.straight[EAR, 0] < one.picture.straight[CORNER, 0]


@pytest.mark.parametrize(("shared", "left"), [(0.0, 0.25), (0.2, 0.4), (1.0, 1.0)])
def test_a_place_marked_four_times_keeps_the_error_that_its_marks_share(
    shared: float, left: float
) -> None:
    """Of the variance: the shared part, and a quarter of the rest."""
    own = msgspec.structs.replace(PARAMETERS, mark_shared_fraction=constant(shared))
    one, four = (picture(own, STRAIGHT, counts) for counts in (COUNTS, 4 * COUNTS))
    np.testing.assert_allclose(four.sd_mm**2, left * one.sd_mm**2, rtol=1e-12)
    assert one.sd_mm[CORNER] == PARAMETERS.mark_corner_sd_mm.value
    assert one.sd_mm[UPPER] == PARAMETERS.mark_sd_mm.value
