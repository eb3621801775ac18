"""The plot of a weight chart: where an age and a weight stand, and which of them the axes name."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import msgspec

from suffice.clinical.units import GRAMS_PER_KILOGRAM, GRAMS_PER_OUNCE, OUNCES_PER_POUND
from suffice.documents.chart.content import Points, WeightChart
from suffice.documents.chart.lettering import LINE_PX, Label, width_px

EDGE_PX: Final = 6.0
"""Room between a label and what it stands beside, and at the edge of a drawing."""
LEADER_PX: Final = 12.0
"""Room in which a line leads from the plot to its label."""
MARGIN_OF_WEIGHT: Final = 0.06
LEAST_MARGIN_G: Final = 110.0
"""Room above and below, wide enough that the axis names two weights in every unit."""
DAY_STEPS: Final = (1, 2, 7, 14, 28, 56, 91, 182, 365)
GRAM_STEPS: Final[Sequence[int]] = (20, 50, 100, 200, 250, 500, 1000, 2000)
KILOGRAM_STEPS: Final[Sequence[int]] = (100, 200, 500, 1000, 2000)
OUNCE_STEPS: Final[Sequence[int]] = (1, 2, 4, 8, 16, 32, 64, 128)
PX_PER_WEIGHT: Final = 44.0
PX_PER_DAY: Final = 30.0
"""The least room between two names of an axis."""


class Size(msgspec.Struct, frozen=True, kw_only=True):
    """One drawing of a chart, in px, and how wide a label beside its plot may be."""

    name: str
    width_px: float
    height_px: float
    label_px: float


SIZES: Final = (
    Size(name="narrow", width_px=300, height_px=340, label_px=72),
    Size(name="middle", width_px=480, height_px=380, label_px=110),
    Size(name="wide", width_px=690, height_px=420, label_px=150),
)
"""For a phone, for a tablet or a narrow column, and for a laptop; chart.css says from which width."""
PAPER_SIZE: Final = Size(name="small", width_px=300, height_px=230, label_px=72)
"""For a column of a page on paper."""


class Frame(msgspec.Struct, frozen=True, kw_only=True):
    """The plot inside a drawing: its edges in px, and the ends of both scales (linear)."""

    left: float
    right: float
    top: float
    bottom: float
    age_d: tuple[float, float]
    weight_g: tuple[float, float]

    def x(self, age_d: float) -> float:
        """Where an age stands, px from the left."""
        first, last = self.age_d
        return self.left + (age_d - first) / (last - first) * (self.right - self.left)

    def y(self, weight_g: float) -> float:
        """Where a weight stands, px from the top."""
        low, high = self.weight_g
        return self.bottom - (weight_g - low) / (high - low) * (self.bottom - self.top)


def until(course: Points, end_d: float) -> Points:
    """A line up to an age, its last point interpolated there."""
    kept = [point for point in course if point[0] <= end_d]
    for (age, weight), (next_age, next_weight) in pairwise(course):
        if age < end_d < next_age:
            share = (end_d - age) / (next_age - age)
            kept.append((end_d, weight + share * (next_weight - weight)))
    return tuple(kept)


def ends_of(chart: WeightChart) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ends of both axes: they hold the infant's weights, the forecast and the levels beside them."""
    ages = [point.age_d for point in chart.points]
    weights = [point.weight_g for point in chart.points]
    weights += [chart.birth_weight.weight_g] if chart.birth_weight else []
    weights += [weight for _, weight in chart.limit.points] if chart.limit else []
    for band in chart.fan:
        ages += [age for age, _, _ in band.points]
        weights += [weight for _, low, high in band.points for weight in (low, high)]
    low, high = min(weights, default=0.0), max(weights, default=1.0)
    margin = max((high - low) * MARGIN_OF_WEIGHT, LEAST_MARGIN_G)
    return (0.0, max([*ages, 1.0])), (low - margin, high + margin)


def weights_named(chart: WeightChart, ends_g: tuple[float, float], plot_px: float) -> list[float]:
    """The weights that the axis names: round ones of the reader's unit."""
    unit_g, steps = 1.0, GRAM_STEPS
    if chart.weight_unit == "kg":
        steps = KILOGRAM_STEPS
    elif chart.weight_unit == "lb oz":
        unit_g, steps = float(GRAMS_PER_OUNCE), OUNCE_STEPS
    low, high = (end / unit_g for end in ends_g)
    most = max(int(plot_px / PX_PER_WEIGHT), 2)
    step = next((one for one in steps if (high - low) / one <= most), steps[-1])
    first, last = -int(-low // step), int(high // step)
    return [count * step * unit_g for count in range(first, last + 1)]


def weight_name(weight_g: float, chart: WeightChart) -> str:
    """A weight on the axis, in the reader's unit."""
    if chart.weight_unit == "kg":
        return f"{weight_g / GRAMS_PER_KILOGRAM:.1f}".replace(".", chart.decimal_mark)
    if chart.weight_unit == "lb oz":
        pounds, ounces = divmod(round(weight_g / float(GRAMS_PER_OUNCE)), OUNCES_PER_POUND)
        return f"{pounds} lb {ounces} oz".replace(" ", "\N{NO-BREAK SPACE}")
    return f"{weight_g:.0f}"


def days_named(last_d: float, plot_px: float) -> list[int]:
    """The days that the age axis names."""
    most = plot_px / PX_PER_DAY
    step = next((one for one in DAY_STEPS if last_d / one <= most), DAY_STEPS[-1])
    return list(range(0, int(last_d) + 1, step))


def frame_of(chart: WeightChart, size: Size, labels: list[Label], rows_above: int) -> Frame:
    """The plot of a drawing: what its axes and labels leave of it.

    Args:
        chart: What is drawn.
        size: How large the drawing is.
        labels: Those beside the plot.
        rows_above: Rows of labels over the plot, beside the title of the weight axis.
    """
    age_d, weight_g = ends_of(chart)
    top = EDGE_PX + LINE_PX * (1 + rows_above) + EDGE_PX
    bottom = size.height_px - 2 * LINE_PX - EDGE_PX
    names = [weight_name(one, chart) for one in weights_named(chart, weight_g, bottom - top)]
    left = max((width_px(name) for name in names), default=0.0) + EDGE_PX + 4
    beside = max((label.width_px for label in labels), default=0.0)
    return Frame(
        left=left,
        right=size.width_px - (beside + LEADER_PX if labels else 0.0) - EDGE_PX,
        top=top,
        bottom=bottom,
        age_d=age_d,
        weight_g=weight_g,
    )
