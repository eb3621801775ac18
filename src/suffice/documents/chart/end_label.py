"""Labels at the end of lines, moved apart so that none covers another."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec


class EndLabel(msgspec.Struct, frozen=True, kw_only=True):
    """A label that wants its middle to stand at `y_px`, and is `height_px` high.

    `rank` says how much it matters: the least (highest) gives way where there is no room for all.
    """

    name: str
    y_px: float
    height_px: float
    rank: int = 0


class Placed(msgspec.Struct, frozen=True, kw_only=True):
    """A label with the upper and the lower end of the place that it was given."""

    name: str
    top_px: float
    bottom_px: float


def spread(labels: Sequence[EndLabel], *, top_px: float, bottom_px: float) -> list[Placed]:
    """The labels in order from the top, none over another and all between the two ends.

    Labels that would overlap are gathered in a run that lies as near to what its members want as
    their heights allow. Where the room does not hold them all, those of the highest rank are left
    out: their lines stand in the caption and the table as well.
    """
    kept = sorted(labels, key=lambda one: one.rank)
    while sum(label.height_px for label in kept) > bottom_px - top_px:
        kept.pop()
    runs: list[list[EndLabel]] = []
    for label in sorted(kept, key=lambda one: (one.y_px, one.name)):
        runs.append([label])
        while len(runs) > 1 and _bottom(runs[-2]) > _top(runs[-1]):
            last = runs.pop()
            runs[-1] += last
    placed = []
    for run in runs:
        top = _top(run)
        for label in run:
            placed.append(Placed(name=label.name, top_px=top, bottom_px=top + label.height_px))
            top += label.height_px
    return _between(placed, top_px, bottom_px)


def _top(run: Sequence[EndLabel]) -> float:
    """Where a run begins so that its members stand, in the mean, where they want to."""
    above, total = 0.0, 0.0
    for label in run:
        total += label.y_px - label.height_px / 2 - above
        above += label.height_px
    return total / len(run)


def _bottom(run: Sequence[EndLabel]) -> float:
    return _top(run) + sum(label.height_px for label in run)


def _between(placed: list[Placed], top_px: float, bottom_px: float) -> list[Placed]:
    """The same labels pushed up from the lower end, then down from the upper one."""
    heights = [one.bottom_px - one.top_px for one in placed]
    tops = [one.top_px for one in placed]
    limit = bottom_px
    for place in reversed(range(len(tops))):
        tops[place] = min(tops[place], limit - heights[place])
        limit = tops[place]
    limit = top_px
    for place, height in enumerate(heights):
        tops[place] = max(tops[place], limit)
        limit = tops[place] + height
    return [
        Placed(name=one.name, top_px=top, bottom_px=top + height)
        for one, top, height in zip(placed, tops, heights, strict=True)
    ]
