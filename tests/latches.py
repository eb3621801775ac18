"""A latch whose marks are known, for tests: seen from the side, 10 pixels a millimetre."""

from __future__ import annotations

from suffice.assess.parameters import parameters_of
from suffice.clinical.latch.mark import Mark, Place
from suffice.inference.latch.reading import Photographed
from suffice.knowledge.store import load

PARAMETERS = parameters_of(load()).latch_photograph
LIMITS = parameters_of(load()).mark_limits
SIZE = (1200, 900)
AT_MM: dict[Place, tuple[float, float]] = {
    "upper lip": (2, -9),
    "lower lip": (1, -32),
    "corner": (-4.5, -20.5),
    "nose": (8.9, 3),
    "chin": (-3, -45),
    "breast at nose": (13.6, 1.3),
    "breast at chin": (0, -45),
    "areola above": (10, 2.5),
    "areola below": (5.6, -38.5),
    "wing": (1, 3),
    "eye": (-12, 27),
    "ear": (-62, 10),
}
"""Forward and up from the point below the nose: an ordinary latch, 120 degrees."""


def marks(
    *,
    leave_out: tuple[Place, ...] = (),
    times: int = 1,
    moved: dict[Place, tuple[float, float]] | None = None,
) -> tuple[Mark, ...]:
    """Its marks; `moved` puts places elsewhere, in mm."""
    at = {**AT_MM, **(moved or {})}
    return tuple(
        Mark(place=place, x=700.0 + 10 * x, y=400.0 - 10 * y)
        for place, (x, y) in at.items()
        if place not in leave_out
        for _ in range(times)
    )


def photo(**options: object) -> Photographed:
    """A photograph of it; options as of :func:`marks`."""
    return Photographed(marks(**options))  # type: ignore[arg-type]
