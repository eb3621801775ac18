"""What one weight chart shows: the one specification of every drawing of it, on screen and on paper.

Nothing here computes anything clinical: every line and label comes in ready. Weights are grams and
ages days of 24 h; only the names of the axes are in the reader's unit.
"""

from __future__ import annotations

from typing import Literal

import msgspec

WeightUnit = Literal["g", "kg", "lb oz"]
Points = tuple[tuple[float, float], ...]
"""Age in days and weight in g, in order of age."""


class Point(msgspec.Struct, frozen=True, kw_only=True):
    """One weight: where it stands and what is said of it when it is pointed at."""

    age_d: float
    weight_g: float
    says: str
    doubtful: bool = False


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """A line with its label at the end: (age in days, weight in g) in order of age."""

    label: str
    points: Points


class Level(msgspec.Struct, frozen=True, kw_only=True):
    """A weight that is marked across the whole chart."""

    label: str
    weight_g: float


class Band(msgspec.Struct, frozen=True, kw_only=True):
    """An area between two weights: (age in days, low g, high g) in order of age."""

    points: tuple[tuple[float, float, float], ...]
    label: str = ""


class Marker(msgspec.Struct, frozen=True, kw_only=True):
    """A day that is marked, with its label; `is_goal` of one that is set, not forecast."""

    age_d: float
    label: str
    is_goal: bool = False


class WeightChart(msgspec.Struct, frozen=True, kw_only=True):
    """All that one weight chart shows.

    Attributes:
        name: What it is and whose, for those who do not see it.
        description: What the chart shows, in a sentence, for the same.
        age_title: Title of the age axis.
        weight_title: Title of the weight axis.
        weight_unit: Unit of the labels of the weight axis.
        decimal_mark: What stands before the decimals of those labels.
        points: The infant's weights.
        birth_weight: The birth weight; None when it is not known.
        limit: The weight at the limit of loss, by age; None when it does not apply.
        reference_band: The band of the growth standard.
        standard: The name of that standard; empty where none is drawn.
        reference_lines: Lines of the growth standard, labelled at their end.
        corridor: The gain that is commonly taught; drawn, but shown only when it is asked for.
        fan: Bands of the forecast, widest first.
        fan_middle: The forecast's median.
        markers: Days that are marked: target, regain.
    """

    name: str
    description: str
    age_title: str
    weight_title: str
    weight_unit: WeightUnit = "g"
    decimal_mark: str = "."
    points: tuple[Point, ...] = ()
    birth_weight: Level | None = None
    limit: Line | None = None
    reference_band: Band | None = None
    standard: str = ""
    reference_lines: tuple[Line, ...] = ()
    corridor: Band | None = None
    fan: tuple[Band, ...] = ()
    fan_middle: Line | None = None
    markers: tuple[Marker, ...] = ()
