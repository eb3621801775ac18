"""The written derivatives beside small steps, and the scene beside its description."""

from __future__ import annotations

import numpy as np
import pytest

from latches import AT_MM, PARAMETERS
from suffice.clinical.latch.mark import PLACES
from suffice.inference.latch.model import OF_CAMERA, OF_SCENE, scene, seen, seen_at

STEP = 1e-6
RNG = np.random.default_rng(7)
Z, CAMERA, TURN = (
    RNG.normal(size=(2, OF_SCENE)),
    RNG.normal(size=(2, OF_CAMERA)),
    np.array([0.4, -0.6]),
)
WIDER = np.array([1.5, 0.0])


def test_places_move_as_their_slopes_say() -> None:
    made = scene(PARAMETERS, Z, WIDER)
    for number in range(OF_SCENE):
        moved = scene(PARAMETERS, Z + STEP * np.eye(OF_SCENE)[number], WIDER, with_slopes=False)
        assert np.allclose((moved.at - made.at) / STEP, made.slope[..., number], atol=1e-4), number
    moved = scene(PARAMETERS, Z, WIDER + STEP, with_slopes=False)
    assert np.allclose((moved.at - made.at) / STEP, made.gap_slope, atol=1e-4)


def test_the_picture_moves_as_its_slopes_say() -> None:
    at = scene(PARAMETERS, Z, WIDER).at
    view = seen(PARAMETERS, at, TURN, CAMERA)
    assert np.allclose(view.at, seen_at(PARAMETERS, at, TURN, CAMERA))
    by_turn = (seen_at(PARAMETERS, at, TURN + STEP, CAMERA) - view.at) / STEP
    assert np.allclose(by_turn, view.by_turn, atol=1e-3)
    for number in range(OF_CAMERA):
        off = CAMERA + STEP * np.eye(OF_CAMERA)[number]
        by_camera = (seen_at(PARAMETERS, at, TURN, off) - view.at) / STEP
        assert np.allclose(by_camera, view.by_camera[..., number], atol=1e-3), number
    for axis in range(3):
        moved = at + STEP * np.eye(3)[axis]
        by_place = (seen_at(PARAMETERS, moved, TURN, CAMERA) - view.at) / STEP
        assert np.allclose(by_place, view.by_place[..., axis], atol=1e-3), axis


def test_the_middle_scene_is_an_ordinary_latch() -> None:
    """Sources of the middles: content, topic latch_photograph."""
    at = scene(PARAMETERS, np.zeros((1, OF_SCENE)), np.zeros(1), with_slopes=False).at[0]
    for place, (x, y) in AT_MM.items():
        assert at[PLACES.index(place), :2] == pytest.approx((x, y), abs=0.6), place


def test_a_turn_to_the_front_brings_the_corner_further_from_the_lips() -> None:
    at = scene(PARAMETERS, np.zeros((1, OF_SCENE)), np.zeros(1), with_slopes=False).at
    camera = np.zeros((1, OF_CAMERA))
    away = [
        float((one[0, 0] - one[0, 2]).real)
        for one in (seen_at(PARAMETERS, at, np.radians([turn]), camera) for turn in (-20, 0, 20))
    ]
    assert away[0] < away[1] < away[2]
