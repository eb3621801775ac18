"""Where a sheet lies in a picture: found however it is turned, and not found where it is not there."""

from __future__ import annotations

import numpy as np
import pytest

from suffice.inference.home_log import grid
from suffice.inference.home_log.finding import (
    DARK,
    Candidate,
    _area,
    candidates,
    evened,
    found,
    homography,
    sampled,
)
from tool_modules import tool_module

PICTURES = tool_module("validate.log_pictures")


def test_a_homography_takes_the_corners_to_where_they_are_seen() -> None:
    plane = np.array(grid.mark_centres())
    pixels = np.array([(100.0, 120.0), (900.0, 90.0), (980.0, 1300.0), (60.0, 1210.0)])
    matrix = homography(plane, pixels)
    for (x, y), wanted in zip(plane, pixels, strict=True):
        u, v, w = matrix @ np.array([x, y, 1.0])
        assert np.allclose((u / w, v / w), wanted, atol=1e-6)


@pytest.mark.parametrize("turn", [0, 17, 90, 180, 270])
def test_the_sheet_is_found_however_it_is_turned(turn: int) -> None:
    rng = np.random.default_rng(turn)
    picture = PICTURES.photographed(rng, PICTURES.sheet(), PICTURES.Bad(turn_deg=turn, small=0.6))
    frame = found(evened(picture))
    assert frame is not None
    assert frame.infant == PICTURES.POSITION
    # The first mark is the upper left one of the sheet: the strip is found below it.
    corner = sampled(evened(picture), frame.to_pixels, grid.Place(0.2, 0.2, 1.0, 1.0), count=4)
    assert (corner < DARK).all()


def test_a_sheet_has_four_marks_and_text_and_ticks_are_none() -> None:
    rng = np.random.default_rng(3)
    drawn = PICTURES.ticked(rng, PICTURES.drawn_ticks(rng, 0.5))
    picture = evened(PICTURES.photographed(rng, drawn, PICTURES.Bad()))
    assert len(candidates(picture < DARK)) == len(grid.mark_centres())


@pytest.mark.parametrize(
    "covered", [(-5, -5, 12, 12), (165, -5, 190, 15), (165, 205, 190, 230), (-5, 205, 12, 230)]
)
def test_without_one_of_its_marks_nothing_is_guessed(covered: tuple[float, ...]) -> None:
    rng = np.random.default_rng(4)
    bad = PICTURES.Bad(covered=(covered,), small=0.6)
    assert found(evened(PICTURES.photographed(rng, PICTURES.sheet(), bad))) is None


def test_without_its_strip_nothing_is_guessed() -> None:
    rng = np.random.default_rng(5)
    bad = PICTURES.Bad(covered=((0, 55, 8, 125),), small=0.6)
    assert found(evened(PICTURES.photographed(rng, PICTURES.sheet(), bad))) is None


@pytest.mark.parametrize("value", [0.0, 0.5, 1.0])
def test_a_picture_of_nothing_holds_no_sheet(value: float) -> None:
    assert found(evened(np.full((600, 500), value))) is None


def test_noise_holds_no_sheet() -> None:
    assert found(evened(np.random.default_rng(6).random((700, 500)))) is None


@pytest.mark.parametrize("shape", [(3, 3), (1, 400), (40, 30)])
def test_a_tiny_picture_is_no_fault(shape: tuple[int, int]) -> None:
    assert found(evened(np.full(shape, 0.7))) is None


def test_a_shadow_leaves_blank_paper_white() -> None:
    ramp = np.tile(np.linspace(0.3, 0.9, 600), (400, 1))
    assert np.allclose(evened(ramp)[50:-50, 50:-50], 1.0, atol=0.12)


def four_marks(*places: tuple[float, float]) -> tuple[Candidate, ...]:
    return tuple(Candidate(x, y, 10.0) for x, y in places)


def test_four_marks_span_a_sheet_only_where_opposite_sides_are_alike_and_no_corner_points_in() -> (
    None
):
    assert _area(four_marks((0, 0), (200, 0), (200, 300), (0, 300))) == 60_000
    assert _area(four_marks((0, 0), (200, 0), (60, 80), (0, 300))) is None
    assert _area(four_marks((0, 0), (200, 0), (110, 300), (90, 300))) is None
    small = (*four_marks((0, 0), (200, 0), (200, 300)), Candidate(0, 300, 2.0))
    assert _area(small) is None
