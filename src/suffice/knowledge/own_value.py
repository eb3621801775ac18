"""How far a clinic's own value may go: limits that hold whatever is confirmed.

A range (`low` to `high`) says what was published, or what a clinic may choose unasked; beyond it the
reader is asked. The limits here are wider and are never passed: beyond them a value is a slip, or
nothing could be worked out with it. An entry names its own (`least`, `most`) where what is worked
out with it needs that; all others follow from the range by one rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from suffice.knowledge import schema

FARTHEST: Final = 5.0
"""A value beyond five times the range is a slip of the decimal point, not another practice."""


class Limits(NamedTuple):
    """The least and the most that a clinic may set, both included."""

    least: float
    most: float

    def hold(self, value: float) -> bool:
        """Whether the value may be set; one that is not a number may not."""
        return self.least <= value <= self.most


def limits_of(
    entry: schema.NumberEntry | schema.SeriesEntry, units: Mapping[str, schema.Unit]
) -> Limits:
    """How far a clinic's own value of an entry, or of any point of a series, may go.

    A value that is above 0 stays above 0. A lone 0 without a range means 'none' and is not replaced
    unless the entry names limits.

    Args:
        entry: What was written.
        units: Units by symbol; some have limits of their own, such as 100 %.
    """
    low, high = _span(entry)
    if low < 0:
        high = max(high, -low) * FARTHEST
        low = -high
    else:
        low, high = low / FARTHEST, high * FARTHEST
    unit = units.get(entry.unit)
    if unit is not None and unit.least is not None:
        low = max(low, unit.least)
    if unit is not None and unit.most is not None:
        high = min(high, unit.most)
    return Limits(
        low if entry.least is None else entry.least, high if entry.most is None else entry.most
    )


def _span(entry: schema.NumberEntry | schema.SeriesEntry) -> tuple[float, float]:
    """The lowest and the highest of everything that is written."""
    if isinstance(entry, schema.SeriesEntry):
        written = [number for point in entry.points for number in point[1:]]
    else:
        written = [one for one in (entry.value, entry.low, entry.high) if one is not None]
    return min(written), max(written)
