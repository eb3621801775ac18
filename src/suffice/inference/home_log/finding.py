"""Where a sheet lies in a picture: light evened out, corner marks found, mm turned into pixels.

A corner mark is a black ring with a black core in it: two dark patches with one centre, whose areas are
in a known ratio. The four that span the largest even quadrangle are taken; the strip on the left says
which of them is the first. Fewer than four marks are not guessed from: nothing is read then.
"""

from __future__ import annotations

from itertools import combinations
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from suffice.inference.home_log import grid

Picture = NDArray[np.float64]
"""Grey values, 0 black to 1 white, shape (rows, columns)."""

COARSE: Final = 8
"""Pixels of which one is kept where only the light of the paper is asked."""
WINDOWS_ACROSS: Final = 12
"""How often the window fits across the picture in which the brightest is taken for paper."""
LEAST_WINDOW_PIXELS: Final = 5
LEAST_LIGHT: Final = 0.05
"""Keeps a quotient finite where there is no light at all."""
BRIGHTEST: Final = 1.2
STRIP_SAMPLES: Final = 5
"""Along each side of a square of the strip."""
DARK: Final = 0.66
"""Of the light of the paper round it: below, a pixel is ink."""
LEAST_AREA_PIXELS: Final = 30
"""A patch below this is dust, or too small to be a mark."""
CORE_OF_RING: Final = (0.08, 0.75)
"""Area of a core over that of its ring, 0.23 as printed: blur fills the one and thins the other."""
CORE_FILLS: Final = 0.3
"""Of its bounding box, how much a core fills at the least: half of it where it is turned."""
RING_FILLS: Final = 0.84
"""Of its bounding box, how much a ring fills at the most: a full square has no hole."""
OFF_CENTRE: Final = 0.14
"""How far apart their centres may be, as a share of the side of the ring."""
SIDES_APART: Final = 2.2
"""By what factor opposite sides, or sizes of marks, may differ in a picture taken at a slant."""
MOST_CANDIDATES: Final = 12
"""Marks that are looked at together, the largest; a page has four."""


class Frame(NamedTuple):
    """Where the sheet lies: from mm on the paper to pixels, and the infant that its strip names."""

    to_pixels: NDArray[np.float64]
    infant: int


class Candidate(NamedTuple):
    """A patch that looks like a corner mark: its centre (x, y) and its side, in pixels."""

    x: float
    y: float
    side: float


def evened(picture: Picture) -> Picture:
    """The picture with the light of the paper made even: 1 is blank paper, wherever the shadow falls."""
    small = picture[::COARSE, ::COARSE]
    size = max(LEAST_WINDOW_PIXELS, min(small.shape) // WINDOWS_ACROSS)
    paper = ndimage.grey_closing(small, size=(size, size))
    paper = ndimage.gaussian_filter(paper, size / 2)
    rows = np.arange(picture.shape[0]) / COARSE
    columns = np.arange(picture.shape[1]) / COARSE
    at = np.meshgrid(rows, columns, indexing="ij")
    light = ndimage.map_coordinates(paper, at, order=1, mode="nearest")
    return np.clip(picture / np.maximum(light, LEAST_LIGHT), 0.0, BRIGHTEST)


def found(even: Picture) -> Frame | None:
    """Where the sheet lies; None where it cannot be said.

    Args:
        even: A picture whose light is even (:func:`evened`).
    """
    marks = candidates(even < DARK)
    best: tuple[float, Frame] | None = None
    for four in combinations(marks, len(grid.mark_centres())):
        area = _area(four)
        if area is None or (best is not None and area <= best[0]):
            continue
        frame = _turned(even, four)
        if frame is not None:
            best = (area, frame)
    return None if best is None else best[1]


def candidates(dark: NDArray[np.bool_]) -> list[Candidate]:
    """The patches that look like corner marks, the largest first."""
    labels, count = ndimage.label(dark)
    if not count:
        return []
    areas = np.bincount(labels.ravel())
    boxes = ndimage.find_objects(labels)
    kept = [n for n in range(1, count + 1) if areas[n] >= LEAST_AREA_PIXELS]
    squares = []
    for n in kept:
        rows, columns = boxes[n - 1]
        height, width = rows.stop - rows.start, columns.stop - columns.start
        if max(height, width) <= SIDES_APART * min(height, width):
            middle = ((columns.start + columns.stop - 1) / 2, (rows.start + rows.stop - 1) / 2)
            squares.append((n, middle, max(height, width), int(areas[n]), height * width))
    rings = []
    for core in squares:
        for ring in squares:
            if _is_mark(core, ring):
                x, y = ndimage.center_of_mass(labels == core[0])[::-1]
                rings.append(Candidate(float(x), float(y), float(ring[2])))
                break
    rings.sort(key=lambda one: -one.side)
    return rings[:MOST_CANDIDATES]


_Square = tuple[int, tuple[float, float], int, int, int]


def _is_mark(core: _Square, ring: _Square) -> bool:
    """Whether one patch is the core in the ring of the other."""
    _key, (x, y), side, area, box = core
    _other, (ring_x, ring_y), ring_side, ring_area, ring_box = ring
    if side >= ring_side or area < CORE_FILLS * box:
        return False
    near = max(abs(x - ring_x), abs(y - ring_y)) <= OFF_CENTRE * ring_side
    low, high = CORE_OF_RING
    return near and low <= area / ring_area <= high and ring_area < RING_FILLS * ring_box


def _area(four: tuple[Candidate, ...]) -> float | None:
    """Area of the quadrangle of four marks; None where it is none that a sheet can have."""
    sides = [one.side for one in four]
    if max(sides) > SIDES_APART * min(sides):
        return None
    points = np.array([(one.x, one.y) for one in four])
    middle = points.mean(axis=0)
    ordered = points[np.argsort(np.arctan2(*(points - middle).T[::-1]))]
    edges = np.roll(ordered, -1, axis=0) - ordered
    turns = (
        edges[:, 0] * np.roll(edges, -1, axis=0)[:, 1]
        - edges[:, 1] * np.roll(edges, -1, axis=0)[:, 0]
    )
    if not (turns > 0).all():
        return None
    lengths = np.hypot(*edges.T)
    if any(
        max(lengths[n], lengths[n + 2]) > SIDES_APART * min(lengths[n], lengths[n + 2])
        for n in (0, 1)
    ):
        return None
    x, y = ordered.T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)


def _turned(even: Picture, four: tuple[Candidate, ...]) -> Frame | None:
    """The frame with the mark first from which the strip can be read."""
    points = np.array([(one.x, one.y) for one in four])
    middle = points.mean(axis=0)
    ordered = points[np.argsort(np.arctan2(*(points - middle).T[::-1]))]
    for turn in range(len(ordered)):
        to_pixels = homography(np.array(grid.mark_centres()), np.roll(ordered, -turn, axis=0))
        infant = grid.infant_of(strip(even, to_pixels))
        if infant is not None:
            return Frame(to_pixels, infant)
    return None


def strip(even: Picture, to_pixels: NDArray[np.float64]) -> tuple[int, ...]:
    """The strip as it is seen, from the top: 1 where the middle of a square is dark."""
    inset = grid.CODE_MM / 2 / 2
    return tuple(
        int(
            sampled(
                even,
                to_pixels,
                grid.Place(
                    one.left_mm + inset,
                    one.top_mm + inset,
                    one.right_mm - inset,
                    one.bottom_mm - inset,
                ),
                count=STRIP_SAMPLES,
            ).mean()
            < DARK
        )
        for one in grid.code_squares()
    )


def homography(plane: NDArray[np.float64], pixels: NDArray[np.float64]) -> NDArray[np.float64]:
    """The matrix that takes four points of the paper to four of the picture, shape (3, 3).

    Args:
        plane: Points in mm, shape (4, 2).
        pixels: The same points in the picture as (x, y), shape (4, 2).
    """
    rows, values = [], []
    for (x, y), (u, v) in zip(plane, pixels, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
        values += [u, v]
    solved = np.linalg.solve(np.array(rows), np.array(values))
    return np.append(solved, 1.0).reshape(3, 3)


def sampled(
    even: Picture, to_pixels: NDArray[np.float64], place: grid.Place, *, count: int
) -> Picture:
    """A piece of the paper as a square of `count` by `count` samples; outside the picture it is black."""
    x = np.linspace(place.left_mm, place.right_mm, count)
    y = np.linspace(place.top_mm, place.bottom_mm, count)
    at_x, at_y = np.meshgrid(x, y)
    points = to_pixels @ np.stack([at_x.ravel(), at_y.ravel(), np.ones(at_x.size)])
    u, v = points[:2] / points[2]
    values = ndimage.map_coordinates(even, [v, u], order=1, mode="constant", cval=0.0)
    return values.reshape(count, count)
