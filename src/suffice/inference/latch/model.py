"""The face and the breast in space, and how a camera sees them, with their derivatives.

Millimetres from the point below the nose: x forward, y up, z out toward the camera. Everything that
differs from infant to infant is a standard normal number; :func:`scene` turns 33 of them into the 12
places that can be marked. A camera is a turn about the vertical (positive toward the infant's front),
a pitch and a distance; where the picture lies, how it is rolled and how large it is stay free.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.latch.geometry import Floats
from suffice.clinical.latch.mark import PLACES
from suffice.clinical.parameters import Parameters
from suffice.clinical.working import Constant

Complexes = NDArray[np.complex128]

OF_SCENE = 33
"""Numbers of a scene, in the order of the names below."""
(
    _GAP, _DEPTH, _PART, _UPPER_X, _UPPER_Y, _UPPER_OUT, _LOWER_X, _LOWER_OUT, _CORNER_OUT,
    _NOSE_X, _NOSE_Y, _CHIN_X, _CHIN_Y, _CHIN_OUT, _TO_NOSE, _, _TO_CHIN, _,
    _ABOVE, _, _ABOVE_OUT, _BELOW, _, _BELOW_OUT, _WING, _, _, _EYE, _, _, _EAR, _, _,
) = range(OF_SCENE)  # fmt: skip
"""A ray takes two, length and angle; wing, eye and ear take three."""
_I = complex(0, 1)
PITCH, DISTANCE = 0, 1
OF_CAMERA = 2
"""Numbers of a camera beside its turn."""
UPPER, LOWER, CORNER, NOSE, CHIN, BREAST_NOSE, BREAST_CHIN, ABOVE, BELOW, WING, EYE, EAR = range(
    len(PLACES)
)


class LatchParameters(Parameters, frozen=True, kw_only=True):
    """Where places lie, how well they are marked, and when a reading says what.

    `forward`, `up` and `out` as in this module; an `sd` is that of what stands before it.
    """

    topic: ClassVar[str] = "latch_photograph"

    open_mm: Constant
    open_log_sd: Constant
    depth_mm: Constant
    depth_log_sd: Constant
    corner_fraction: Constant
    corner_sd_fraction: Constant
    corner_out_mm: Constant
    corner_out_sd_mm: Constant
    upper_lip_forward_mm: Constant
    upper_lip_up_mm: Constant
    upper_lip_sd_mm: Constant
    lip_out_mm: Constant
    lip_out_sd_mm: Constant
    lower_lip_forward_mm: Constant
    lower_lip_sd_mm: Constant
    nose_forward_mm: Constant
    nose_forward_sd_mm: Constant
    nose_up_mm: Constant
    nose_up_sd_mm: Constant
    chin_forward_mm: Constant
    chin_up_mm: Constant
    chin_sd_mm: Constant
    chin_out_sd_mm: Constant
    nose_gap_mm: Constant
    nose_gap_log_sd: Constant
    nose_gap_deg: Constant
    nose_gap_sd_deg: Constant
    chin_gap_mm: Constant
    chin_gap_log_sd: Constant
    chin_gap_deg: Constant
    chin_gap_sd_deg: Constant
    areola_above_mm: Constant
    areola_above_log_sd: Constant
    areola_above_deg: Constant
    areola_above_sd_deg: Constant
    areola_below_mm: Constant
    areola_below_log_sd: Constant
    areola_below_deg: Constant
    areola_below_sd_deg: Constant
    areola_out_sd_mm: Constant
    wing_forward_mm: Constant
    wing_up_mm: Constant
    wing_out_mm: Constant
    wing_sd_mm: Constant
    wing_out_sd_mm: Constant
    eye_forward_mm: Constant
    eye_up_mm: Constant
    eye_out_mm: Constant
    eye_sd_mm: Constant
    ear_forward_mm: Constant
    ear_up_mm: Constant
    ear_out_mm: Constant
    ear_sd_mm: Constant
    ear_out_sd_mm: Constant
    nose_chin_mm: Constant
    jaw_sd_mm: Constant
    pitch_sd_deg: Constant
    camera_mm: Constant
    camera_log_sd: Constant
    turn_most_deg: Constant
    side_turn_sd_deg: Constant
    mark_sd_mm: Constant
    mark_shared_fraction: Constant
    """Part of the variance of a mark that all marks of a place share: the same eye and hand."""
    mark_corner_sd_mm: Constant
    mark_chin_sd_mm: Constant
    mark_breast_nose_sd_mm: Constant
    mark_breast_chin_sd_mm: Constant
    mark_areola_sd_mm: Constant
    mark_ear_sd_mm: Constant
    wide_deg: Constant
    sure_fraction: Constant
    widest_deg: Constant
    turn_unread_deg: Constant
    level_fraction: Constant


@dataclass(frozen=True, eq=False)
class Scene:
    """Places in space.

    Attributes:
        at: mm, (n, places, 3).
        slope: How they move with each number of the scene, (n, places, 3, OF_SCENE); empty where it
            was not asked.
        gap_slope: How they move with each mm that the lips part, (n, places, 3); empty likewise.
    """

    at: Floats
    slope: Floats
    gap_slope: Floats


def scene(p: LatchParameters, z: Floats, wider_mm: Floats, *, with_slopes: bool = True) -> Scene:
    """The places of scenes.

    Args:
        p: Of the content.
        z: Standard normal numbers, (n, OF_SCENE).
        wider_mm: By how much the lips are further apart than they say, (n,).
        with_slopes: Whether the derivatives are wanted too; they take most of the time.
    """
    made = _Made(z, with_slopes=with_slopes)
    _lips(made, p, wider_mm)
    _face(made, p)
    _breast(made, p)
    return Scene(made.at, made.slope, made.gap_slope)


class _Made:
    """A scene as it is put together."""

    def __init__(self, z: Floats, *, with_slopes: bool) -> None:
        self.z = z
        self.with_slopes = with_slopes
        self.at = np.zeros((len(z), len(PLACES), 3))
        count = len(z) if with_slopes else 0
        self.slope = np.zeros((count, len(PLACES), 3, OF_SCENE))
        self.gap_slope = np.zeros((count, len(PLACES), 3))

    def add(self, place: int, axis: int, number: int, mean: Constant | float, sd: Constant) -> None:
        """One coordinate is a mean and so many SDs."""
        middle = mean if isinstance(mean, (int, float)) else mean.value
        self.at[:, place, axis] += middle + sd.value * self.z[:, number]
        if self.with_slopes:
            self.slope[:, place, axis, number] += sd.value

    def beside(self, place: int, other: int) -> None:
        """A place moves with another."""
        self.at[:, place] += self.at[:, other]
        self.slope[:, place] += self.slope[:, other]
        self.gap_slope[:, place] += self.gap_slope[:, other]

    def ray(
        self,
        place: int,
        number: int,
        length: tuple[Constant, Constant],
        turn: tuple[Constant, Constant],
    ) -> None:
        """A length at an angle above forward; lengths are lognormal, angles normal."""
        far = length[0].value * np.exp(length[1].value * self.z[:, number])
        turn_sd = np.radians(turn[1].value)
        angle = np.radians(turn[0].value) + turn_sd * self.z[:, number + 1]
        along = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        across = np.stack([-along[:, 1], along[:, 0]], axis=1)
        self.at[:, place, :2] += far[:, None] * along
        if self.with_slopes:
            self.slope[:, place, :2, number] += (length[1].value * far)[:, None] * along
            self.slope[:, place, :2, number + 1] += (turn_sd * far)[:, None] * across


def _lips(made: _Made, p: LatchParameters, wider_mm: Floats) -> None:
    """The edges of the lips and the corner behind them."""
    z, at = made.z, made.at
    gap = p.open_mm.value * np.exp(p.open_log_sd.value * z[:, _GAP])
    depth = p.depth_mm.value * np.exp(p.depth_log_sd.value * z[:, _DEPTH])
    share = p.corner_fraction.value + p.corner_sd_fraction.value * z[:, _PART]
    made.add(UPPER, 0, _UPPER_X, p.upper_lip_forward_mm, p.upper_lip_sd_mm)
    made.add(UPPER, 1, _UPPER_Y, p.upper_lip_up_mm, p.upper_lip_sd_mm)
    made.beside(LOWER, UPPER)
    at[:, LOWER, 1] -= gap + wider_mm
    made.add(LOWER, 0, _LOWER_X, p.lower_lip_forward_mm, p.lower_lip_sd_mm)
    span = at[:, LOWER, :2] - at[:, UPPER, :2]
    at[:, CORNER, :2] = at[:, UPPER, :2] + share[:, None] * span
    at[:, CORNER, 0] -= depth
    if made.with_slopes:
        slope, gap_slope = made.slope, made.gap_slope
        slope[:, LOWER, 1, _GAP] -= p.open_log_sd.value * gap
        gap_slope[:, LOWER, 1] -= 1
        upper, lower = slope[:, UPPER, :2], slope[:, LOWER, :2]
        slope[:, CORNER, :2] = upper + share[:, None, None] * (lower - upper)
        slope[:, CORNER, :2, _PART] += p.corner_sd_fraction.value * span
        slope[:, CORNER, 0, _DEPTH] -= p.depth_log_sd.value * depth
        gap_slope[:, CORNER, 1] -= share
    made.add(UPPER, 2, _UPPER_OUT, p.lip_out_mm, p.lip_out_sd_mm)
    made.add(LOWER, 2, _LOWER_OUT, p.lip_out_mm, p.lip_out_sd_mm)
    made.add(CORNER, 2, _CORNER_OUT, p.corner_out_mm, p.corner_out_sd_mm)


def _face(made: _Made, p: LatchParameters) -> None:
    """What of the face is marked beside the mouth."""
    made.add(NOSE, 0, _NOSE_X, p.nose_forward_mm, p.nose_forward_sd_mm)
    made.add(NOSE, 1, _NOSE_Y, p.nose_up_mm, p.nose_up_sd_mm)
    made.beside(CHIN, LOWER)
    made.add(CHIN, 0, _CHIN_X, p.chin_forward_mm, p.chin_sd_mm)
    made.add(CHIN, 1, _CHIN_Y, p.chin_up_mm, p.chin_sd_mm)
    made.add(CHIN, 2, _CHIN_OUT, 0, p.chin_out_sd_mm)
    for place, first, middle, sd, out_sd in (
        (
            WING,
            _WING,
            (p.wing_forward_mm, p.wing_up_mm, p.wing_out_mm),
            p.wing_sd_mm,
            p.wing_out_sd_mm,
        ),
        (EYE, _EYE, (p.eye_forward_mm, p.eye_up_mm, p.eye_out_mm), p.eye_sd_mm, p.eye_sd_mm),
        (EAR, _EAR, (p.ear_forward_mm, p.ear_up_mm, p.ear_out_mm), p.ear_sd_mm, p.ear_out_sd_mm),
    ):
        for axis, spread in enumerate((sd, sd, out_sd)):
            made.add(place, axis, first + axis, middle[axis], spread)


def _breast(made: _Made, p: LatchParameters) -> None:
    """Where the breast is nearest, and how far the areola reaches."""
    for place, other, number, length, turn in (
        (BREAST_NOSE, NOSE, _TO_NOSE, (p.nose_gap_mm, p.nose_gap_log_sd), (p.nose_gap_deg, p.nose_gap_sd_deg)),
        (BREAST_CHIN, CHIN, _TO_CHIN, (p.chin_gap_mm, p.chin_gap_log_sd), (p.chin_gap_deg, p.chin_gap_sd_deg)),
        (
            ABOVE, UPPER, _ABOVE, (p.areola_above_mm, p.areola_above_log_sd),
            (p.areola_above_deg, p.areola_above_sd_deg),
        ),
        (
            BELOW, LOWER, _BELOW, (p.areola_below_mm, p.areola_below_log_sd),
            (p.areola_below_deg, p.areola_below_sd_deg),
        ),
    ):  # fmt: skip
        made.beside(place, other)
        made.ray(place, number, length, turn)
    made.add(ABOVE, 2, _ABOVE_OUT, 0, p.areola_out_sd_mm)
    made.add(BELOW, 2, _BELOW_OUT, 0, p.areola_out_sd_mm)


@dataclass(frozen=True, eq=False)
class Seen:
    """Places in a picture, up to shift, roll and size.

    Attributes:
        at: Complex, x to the right and y up, (n, places).
        by_place: How it moves with the place, complex, (n, places, 3).
        by_turn: With the turn, in radians, (n, places).
        by_camera: With the numbers of the camera, (n, places, OF_CAMERA).
    """

    at: Complexes
    by_place: Complexes
    by_turn: Complexes
    by_camera: Complexes


def seen(p: LatchParameters, at: Floats, turn: Floats, camera: Floats) -> Seen:
    """What a camera sees, and how that moves.

    Args:
        p: Of the content.
        at: Places, (n, places, 3).
        turn: Of the camera, in radians, (n,).
        camera: Its other numbers, (n, OF_CAMERA).
    """
    flat, near, far, pitch_sd = _axes(p, turn, camera)
    flat_by_turn, near_by_turn = _axes_by_turn(turn, pitch_sd * camera[:, PITCH])
    q, depth = _dot(at, flat), _dot(at, near)
    scale = far / (far - depth)
    by_depth = q * scale**2 / far
    # With the pitch 'up' moves by minus 'near', and 'near' by 'up'.
    by_pitch = scale * -_I * depth + by_depth * q.imag
    by_far = -q * scale * depth / (far - depth) * p.camera_log_sd.value
    return Seen(
        at=q * scale,
        by_place=scale[:, :, None] * flat[:, None, :] + by_depth[:, :, None] * near[:, None, :],
        by_turn=scale * _dot(at, flat_by_turn) + by_depth * _dot(at, near_by_turn),
        by_camera=np.stack([by_pitch * pitch_sd, by_far], axis=2),
    )


def seen_at(p: LatchParameters, at: Floats, turn: Floats, camera: Floats) -> Complexes:
    """What a camera sees, (n, places), without how that moves; see :func:`seen`."""
    flat, near, far, _ = _axes(p, turn, camera)
    return np.asarray(_dot(at, flat) * (far / (far - _dot(at, near))))


def _axes(
    p: LatchParameters, turn: Floats, camera: Floats
) -> tuple[Complexes, Floats, Floats, float]:
    """Right and up as one complex axis, (n, 3); toward the camera; how far it is; SD of its pitch."""
    pitch_sd = float(np.radians(p.pitch_sd_deg.value))
    pitch = pitch_sd * camera[:, PITCH]
    far = p.camera_mm.value * np.exp(p.camera_log_sd.value * camera[:, DISTANCE, None])
    cos_t, sin_t, cos_p, sin_p = np.cos(turn), np.sin(turn), np.cos(pitch), np.sin(pitch)
    right = np.stack([cos_t, np.zeros_like(turn), -sin_t], axis=1)
    up = np.stack([-sin_p * sin_t, cos_p, -sin_p * cos_t], axis=1)
    near = np.stack([cos_p * sin_t, sin_p, cos_p * cos_t], axis=1)
    return right + _I * up, near, far, pitch_sd


def _axes_by_turn(turn: Floats, pitch: Floats) -> tuple[Complexes, Floats]:
    none = np.zeros_like(turn)
    cos_t, sin_t, cos_p, sin_p = np.cos(turn), np.sin(turn), np.cos(pitch), np.sin(pitch)
    right = np.stack([-sin_t, none, -cos_t], axis=1)
    up = np.stack([-sin_p * cos_t, none, sin_p * sin_t], axis=1)
    return right + _I * up, np.stack([cos_p * cos_t, none, -cos_p * sin_t], axis=1)


def _dot(at: Floats, axis: NDArray[Any]) -> NDArray[Any]:
    return np.asarray(at @ axis[:, :, None])[:, :, 0]
