"""Mouths at the breast whose angle is known, photographed and marked: what the reading is tried on.

Two worlds. The first draws infants from the figures that the model assumes too, by code of its own.
In the second the mouths are rounder and their corners deeper, the noses longer, gaps are drawn by
gamma laws, the marks of one picture share a part of their error, and some marks slip.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from suffice.clinical.latch.mark import PLACES, Mark, View
from suffice.inference.latch.reading import Photographed

Floats = NDArray[np.float64]
NINE = 9
"""The marks of the latch itself; those after them are wing of the nose, eye and ear."""
SD_MM = np.array([0.8, 0.8, 1.2, 0.8, 1.0, 1.0, 1.2, 1.5, 1.5, 0.8, 0.8, 1.5])


@dataclass(frozen=True, kw_only=True)
class LatchWorld:
    """How photographs are taken and marked.

    Attributes:
        turn_deg: The camera is turned by up to so much to either side.
        fixed_deg: Or by exactly so much.
        marks: How many places are marked.
        repeats: How often each.
        photos: How many pictures of one latch.
        view: What the photographer says.
        noise: Error of a mark over the assumed one.
        is_other: The second world.
    """

    turn_deg: float = 45.0
    fixed_deg: float | None = None
    marks: int = 12
    repeats: int = 1
    photos: int = 1
    view: View = "unknown"
    noise: float = 1.0
    is_other: bool = False


@dataclass(frozen=True)
class Latch:
    """One latch with its photographs, and the truth about it."""

    photos: tuple[Photographed, ...]
    gape_deg: float
    opening_ratio: float
    areola_share: float
    nose_gap_mm: float
    chin_gap_mm: float
    turn_deg: float


def draw(world: LatchWorld, rng: np.random.Generator) -> Latch:
    """One latch."""
    body = _other_body(rng) if world.is_other else _body(rng)
    photos, turns = [], []
    for index in range(world.photos):
        turn = world.fixed_deg
        if turn is None:
            turn = rng.uniform(-world.turn_deg, world.turn_deg)
        turns.append(turn)
        gap = body["gap"] + (rng.normal(0, 2) if index else 0)
        photos.append(_photo(world, _places(body, gap), np.radians(turn), rng))
    at = _places(body, body["gap"])
    up, low, corner, nose, chin = at[:5, :2]
    rise, fall = (np.arctan2(*(one - corner)[::-1]) for one in (up, low))
    above, below = np.hypot(*(at[7] - at[0])[:2]), np.hypot(*(at[8] - at[1])[:2])
    return Latch(
        photos=tuple(photos),
        gape_deg=float(np.degrees(rise - fall) % 360),
        opening_ratio=float(np.hypot(*(up - low)) / np.hypot(*(nose - chin))),
        areola_share=float(above / (above + below)),
        nose_gap_mm=float(np.hypot(*(at[5, :2] - nose))),
        chin_gap_mm=float(np.hypot(*(at[6, :2] - chin))),
        turn_deg=turns[0],
    )


def _body(rng: np.random.Generator) -> dict[str, Floats]:
    """An infant at the breast, in mm from the point below the nose: forward, up, toward the camera."""
    n = rng.normal

    def ray(median: float, spread: float, middle: float, sd: float) -> Floats:
        length, angle = median * np.exp(spread * n()), np.radians(n(middle, sd))
        return np.array([length * np.cos(angle), length * np.sin(angle), 0])

    return {
        "gap": 23 * np.exp(0.30 * n()),
        "depth": 6 * np.exp(0.45 * n()),
        "part": n(0.5, 0.08),
        "up": np.array([n(2, 1.5), n(-9, 1.5), n(3, 2.5)]),
        "low": np.array([n(-1, 3), n(3, 2.5)]),
        "corner": n(12.5, 1.5),
        "nose": np.array([n(8.9, 1.3), n(3, 1.5), 0]),
        "chin": np.array([n(-4, 2.5), n(-13, 2.5), n(0, 1)]),
        "at nose": ray(5, 0.8, -20, 20),
        "at chin": ray(3, 0.9, 0, 25),
        "above": ray(14, 0.45, 55, 12) + np.array([0, 0, n(0, 4)]),
        "below": ray(8, 0.6, -55, 15) + np.array([0, 0, n(0, 4)]),
        "wing": n([1, 3, 11], [1.2, 1.2, 1]),
        "eye": n([-12, 27, 31], 2),
        "ear": n([-62, 10, 42], [3.5, 3.5, 2.5]),
    }


def _other_body(rng: np.random.Generator) -> dict[str, Floats]:
    """The same by other laws."""
    n, g = rng.normal, rng.gamma

    def ray(mean: float, shape: float, middle: float, half: float) -> Floats:
        length, angle = (
            g(shape, mean / shape),
            np.radians(rng.uniform(middle - half, middle + half)),
        )
        return np.array([length * np.cos(angle), length * np.sin(angle), 0])

    grown = rng.uniform(0.94, 1.08)
    gap = g(12, 24 / 12)
    return {
        "gap": gap,
        "depth": np.clip(g(6, 6.8 / 6), 1.5, None) * (24 / gap) ** 0.2,
        "part": rng.uniform(0.36, 0.64),
        "up": np.array([n(2.4, 1.5), n(-9, 1.8), n(3, 2.5)]),
        "low": np.array([n(-1.5, 3), n(3, 2.5)]),
        "corner": n(12, 1.8),
        "nose": np.array([n(9.4, 1.4), n(2.5, 1.6), 0]) * grown,
        "chin": np.array([n(-4.5, 2.5), n(-13, 2.8), n(0, 1)]) * grown,
        "at nose": ray(6.5, 1.6, -15, 35),
        "at chin": ray(4, 1.4, 5, 40),
        "above": ray(15, 5, 52, 22) + np.array([0, 0, n(0, 4)]),
        "below": ray(9, 3, -55, 25) + np.array([0, 0, n(0, 4)]),
        "wing": n([1.2, 2.7, 11.3], [1.2, 1.2, 1]) * grown,
        "eye": n([-12.5, 27.5, 30.5], 2.2) * grown,
        "ear": n([-61, 9, 42.5], [3.8, 3.8, 2.7]) * grown,
    }


def _places(body: dict[str, Floats], gap: Floats) -> Floats:
    """The 12 places, (12, 3)."""
    up = body["up"]
    low = np.array([up[0] + body["low"][0], up[1] - gap, body["low"][1]])
    corner = up + body["part"] * (low - up)
    corner = np.array([corner[0] - body["depth"], corner[1], body["corner"]])
    chin = low + body["chin"]
    beside = [body["nose"] + body["at nose"], chin + body["at chin"]]
    beside += [up + body["above"], low + body["below"]]
    return np.array(
        [up, low, corner, body["nose"], chin, *beside, body["wing"], body["eye"], body["ear"]]
    )


def _photo(
    world: LatchWorld, places: Floats, turn: float, rng: np.random.Generator
) -> Photographed:
    """The camera stands somewhere, the picture is rolled and sized, places are marked."""
    pitch, far = np.radians(rng.normal(0, 20)), 350 * np.exp(0.35 * rng.normal())
    about_y = np.array(
        [[np.cos(turn), 0, -np.sin(turn)], [0, 1, 0], [np.sin(turn), 0, np.cos(turn)]]
    )
    about_x = np.array(
        [[1, 0, 0], [0, np.cos(pitch), -np.sin(pitch)], [0, np.sin(pitch), np.cos(pitch)]]
    )
    x, y, near = about_x @ about_y @ places.T
    flat = (x + 1j * y) * far / (far - near)
    flat = flat * 46 / abs(flat[3] - flat[4])
    sized = rng.uniform(4, 12) * np.exp(1j * rng.uniform(0, 2 * np.pi))
    marks = []
    shared = world.noise * 0.5 * SD_MM * _round(rng, 12)
    for _ in range(world.repeats):
        off = world.noise * SD_MM * _round(rng, 12)
        if world.is_other:
            off = np.sqrt(0.75) * off + shared
            off[rng.random(12) < 0.02] *= 3
        at = (flat + off) * sized
        marks += [
            Mark(place=place, x=float(one.real) + 2000, y=2000 - float(one.imag))
            for place, one in zip(PLACES[: world.marks], at, strict=False)
        ]
    return Photographed(tuple(marks), world.view)


def _round(rng: np.random.Generator, count: int) -> NDArray[np.complex128]:
    return np.asarray(rng.normal(size=count) + 1j * rng.normal(size=count))
