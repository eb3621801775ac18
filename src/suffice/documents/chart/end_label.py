"""Labels at the end of lines, moved apart so that none covers another."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec


class EndLabel(msgspec.Struct, frozen=True, kw_only=True):
    """A label that wants to stand at `y_px` from the top of the plot."""

    text: str
    y_px: float
    colour: str


def spread(labels: Sequence[EndLabel], *, gap_px: float, height_px: float) -> list[EndLabel]:
    """The labels in order from the top, each at least `gap_px` below the one before.

    Labels that would overlap are gathered in a run and the run is centred on where its members
    want to stand, so that each stays as near to its line as the others allow. The whole stays
    inside 0 to `height_px` as long as there is room for it.
    """
    runs: list[list[EndLabel]] = []
    for label in sorted(labels, key=lambda one: (one.y_px, one.text)):
        runs.append([label])
        while len(runs) > 1 and _bottom(runs[-2], gap_px) > _top(runs[-1], gap_px):
            last = runs.pop()
            runs[-1] += last
    placed: list[EndLabel] = []
    for run in runs:
        first = _top(run, gap_px)
        placed += [
            EndLabel(text=label.text, y_px=first + place * gap_px, colour=label.colour)
            for place, label in enumerate(run)
        ]
    return _inside(placed, gap_px, height_px)


def _top(run: Sequence[EndLabel], gap_px: float) -> float:
    """Where the first label of a run stands when the run is centred on its wishes."""
    middle = sum(label.y_px for label in run) / len(run)
    return middle - (len(run) - 1) * gap_px / 2


def _bottom(run: Sequence[EndLabel], gap_px: float) -> float:
    return _top(run, gap_px) + len(run) * gap_px


def _inside(placed: list[EndLabel], gap_px: float, height_px: float) -> list[EndLabel]:
    """The same labels pushed up from the lower end, then down from the upper one."""
    heights = [label.y_px for label in placed]
    limit = height_px
    for place in reversed(range(len(heights))):
        heights[place] = min(heights[place], limit)
        limit = heights[place] - gap_px
    limit = 0.0
    for place, height in enumerate(heights):
        heights[place] = max(height, limit)
        limit = heights[place] + gap_px
    return [
        EndLabel(text=label.text, y_px=height, colour=label.colour)
        for label, height in zip(placed, heights, strict=True)
    ]
