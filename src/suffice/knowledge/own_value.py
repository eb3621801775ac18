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
FARTHEST_OF_MODELS: Final = 1.5
"""The parameters of a model were found together: one that is moved far leaves nothing that fits."""
MODELS: Final = ("population.", "forecast.")
CELSIUS: Final = "Cel"
DEGREES: Final = 0.5
"""So far beyond its range a temperature may lie: five times a number of degrees Celsius means nothing."""
SHARE: Final = "_fraction"
"""How the name of a share of a whole ends."""


class Limits(NamedTuple):
    """The least and the most that a clinic may set, both included."""

    least: float
    most: float

    def hold(self, value: float) -> bool:
        """Whether the value may be set; one that is not a number may not."""
        return self.least <= value <= self.most


def limits_of(
    key: str, entry: schema.NumberEntry | schema.SeriesEntry, units: Mapping[str, schema.Unit]
) -> Limits:
    """How far a clinic's own value of an entry, or of any point of a series, may go.

    A value that is above 0 stays above 0, and a share that is below 1 stays below 1. A lone 0 without a
    range means 'none' and is not replaced unless the entry names limits.

    Args:
        key: The key of the entry.
        entry: What was written.
        units: Units by symbol; some have limits of their own, such as 100 %.
    """
    low, high = span_of(entry)
    farthest = FARTHEST_OF_MODELS if key.startswith(MODELS) else FARTHEST
    least, most = low / farthest, high * farthest
    if entry.unit == CELSIUS:
        least, most = low - DEGREES, high + DEGREES
    elif low < 0:
        most = max(high, -low) * farthest
        least = -most
    elif key.endswith(SHARE) and high <= 1:
        most = min(most, 1 - (1 - high) / farthest)
    unit = units.get(entry.unit)
    if unit is not None and unit.least is not None:
        least = max(least, unit.least)
    if unit is not None and unit.most is not None:
        most = min(most, unit.most)
    return Limits(
        _written(least) if entry.least is None else entry.least,
        _written(most) if entry.most is None else entry.most,
    )


def _written(value: float) -> float:
    """To four figures, as a message shows it."""
    return float(f"{value:.4g}")


def span_of(entry: schema.NumberEntry | schema.SeriesEntry) -> tuple[float, float]:
    """The lowest and the highest of everything that is written."""
    if isinstance(entry, schema.SeriesEntry):
        written = [number for point in entry.points for number in point[1:]]
    else:
        written = [one for one in (entry.value, entry.low, entry.high) if one is not None]
    return min(written), max(written)
