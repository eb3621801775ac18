"""What was ticked in a picture of a log, box by box; what is not clear is said to be so.

A box is read from the share of ink in it. Between clearly empty and clearly ticked it is 'unsure', and so
is a box whose printed edge is not seen, or that is dark all over: something lies on it.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from suffice.inference.home_log import grid
from suffice.inference.home_log.finding import Picture, evened, found, sampled

Seen = Literal["empty", "marked", "unsure"]
INSET_MM: Final = 1.3
"""How far inside its edge a box is read: the printed line, and a mark found half a mm off, stay outside."""
SAMPLES: Final = 28
"""A side; four a mm or so."""
INK: Final = 0.72
"""Of blank paper: below, a sample is ink; pencil is paler than print."""
EMPTY_BELOW: Final = 0.006
"""Share of ink up to which a box is empty."""
MARKED_FROM: Final = 0.02
"""Share of ink from which it is marked; a short tick of a ball pen has .04."""
PALER_THAN_PRINT: Final = 0.7
"""Ink by a pen, over that of the printed edge beside it: where blur makes the edge pale, ink is paler too."""
PALEST_INK: Final = 0.85
"""Of blank paper: nothing paler is taken for ink, however pale the print."""
NEIGHBOURS: Final = 3
"""Samples a side of which the mean is taken where the picture is blurred."""
SIDE_COVERED_FROM: Final = 0.35
"""Share of one side of a box, just inside it, from which what is dark comes in from outside."""
COVERED_FROM: Final = 0.45
"""Share of ink from which something lies on it."""
EDGE_MM: Final = 0.6
"""How far from where it is printed the edge of a box is looked for."""
EDGE_SEEN: Final = 0.55
"""Share of the length of its edges that has to be seen."""
LEAST_EDGE_SEEN: Final = 0.4
"""The same of each edge by itself."""
EDGE_INK: Final = 0.9
"""Of the paper beside it: below, the edge is seen; blur makes a thin line pale."""


class ReadLog(NamedTuple):
    """A log as it was read: rows by hour, columns as in the grid; and the infant its strip names."""

    boxes: tuple[tuple[Seen, ...], ...]
    infant: int
    to_pixels: NDArray[np.float64]


def read_log(picture: Picture) -> ReadLog | None:
    """What was ticked; None where the sheet is not found: a mark is missing or hidden.

    Args:
        picture: Grey values, 0 black to 1 white, shape (rows, columns).
    """
    even = evened(picture)
    frame = found(even)
    if frame is None:
        return None
    boxes = tuple(
        tuple(_box(even, frame.to_pixels, row, column) for column in range(len(grid.COLUMNS)))
        for row in range(grid.ROWS)
    )
    return ReadLog(boxes, frame.infant, frame.to_pixels)


def _box(even: Picture, to_pixels: NDArray[np.float64], row: int, column: int) -> Seen:
    place = grid.box(row, column)
    inner = grid.Place(
        place.left_mm + INSET_MM,
        place.top_mm + INSET_MM,
        place.right_mm - INSET_MM,
        place.bottom_mm - INSET_MM,
    )
    depth = _edge_depth(even, to_pixels, place)
    below = INK if depth is None else max(INK, min(PALEST_INK, 1 - PALER_THAN_PRINT * depth))
    values = sampled(even, to_pixels, inner, count=SAMPLES)
    if below > INK:
        # Noise would pass for pale ink; what blur has spread out is not lost by a mean of neighbours.
        values = ndimage.uniform_filter(values, size=NEIGHBOURS, mode="nearest")
    inked = values < below
    ink = float(inked.mean())
    side = max(inked[0].mean(), inked[-1].mean(), inked[:, 0].mean(), inked[:, -1].mean())
    if depth is None or ink >= COVERED_FROM or side >= SIDE_COVERED_FROM:
        return "unsure"
    if ink < EMPTY_BELOW:
        return "empty"
    return "marked" if ink >= MARKED_FROM else "unsure"


def _edge_depth(even: Picture, to_pixels: NDArray[np.float64], place: grid.Place) -> float | None:
    """How dark the printed edge of a box is seen, 0 to 1; None where it is not seen all round."""
    shares, depths = [], []
    for near_x, near_y, far_x, far_y, across in (
        (place.left_mm, place.top_mm, place.right_mm, place.top_mm, "y"),
        (place.left_mm, place.bottom_mm, place.right_mm, place.bottom_mm, "y"),
        (place.left_mm, place.top_mm, place.left_mm, place.bottom_mm, "x"),
        (place.right_mm, place.top_mm, place.right_mm, place.bottom_mm, "x"),
    ):
        off_x, off_y = (EDGE_MM, 0.0) if across == "x" else (0.0, EDGE_MM)
        band = sampled(
            even,
            to_pixels,
            grid.Place(near_x - off_x, near_y - off_y, far_x + off_x, far_y + off_y),
            count=SAMPLES // 2,
        )
        lines = band if across == "y" else band.T
        darkest, brightest = lines.min(axis=0), lines.max(axis=0)
        shares.append(float((darkest < EDGE_INK * brightest).mean()))
        depths.append(float(np.median(brightest - darkest)))
    if float(np.mean(shares)) < EDGE_SEEN or min(shares) < LEAST_EDGE_SEEN:
        return None
    return float(np.median(depths))
