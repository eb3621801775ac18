"""The weight chart of one infant as a Vega-Lite specification.

One builder serves the page (drawn by the browser), the image for print and for browsers without
scripts, and the papers. It computes nothing clinical: every line and label comes in ready. Weights
are grams and ages days of 24 h; only the labels of the axis are in the reader's unit.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any, Literal

import msgspec

from suffice.clinical.units import GRAMS_PER_OUNCE, OUNCES_PER_POUND
from suffice.documents.chart.end_label import EndLabel, spread
from suffice.documents.chart.palette import Palette

Spec = dict[str, Any]
WeightUnit = Literal["g", "kg", "lb oz"]

NARROW_PX = 560
"""Below this width labels stand inside the plot, and there are fewer of them."""
FURNITURE_PX = 58
"""Height that the age axis, its title and the padding take from the image."""
LABEL_GAP_PX = 16
SLACK_PX_PER_LETTER = 1.0
"""How much wider than here a letter of a label may be drawn where the reader's face is another."""
SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


class Point(msgspec.Struct, frozen=True, kw_only=True):
    """One weight: where it stands and what is said of it when it is pointed at."""

    age_d: float
    weight_g: float
    when: str
    age: str
    weight: str
    change: str = ""
    note: str = ""
    doubtful: bool = False


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """A line with its label at the end: (age in days, weight in g) in order of age."""

    label: str
    points: tuple[tuple[float, float], ...]


class Level(msgspec.Struct, frozen=True, kw_only=True):
    """A weight that is marked across the whole chart."""

    label: str
    weight_g: float


class Band(msgspec.Struct, frozen=True, kw_only=True):
    """An area between two weights: (age in days, low g, high g) in order of age."""

    label: str
    points: tuple[tuple[float, float, float], ...]


class Marker(msgspec.Struct, frozen=True, kw_only=True):
    """A day that is marked, with its label."""

    age_d: float
    label: str


class WeightChart(msgspec.Struct, frozen=True, kw_only=True):
    """All that one weight chart shows.

    Attributes:
        description: What the chart shows, in a sentence, for those who do not see it.
        age_title: Title of the age axis.
        weight_title: Title of the weight axis.
        weight_unit: Unit of the labels of the weight axis.
        decimal_mark: What stands before the decimals of those labels.
        title: One line above the chart; empty for none.
        points: The infant's weights.
        birth_weight: The birth weight; None when it is not known.
        limit: The weight at the limit of loss, by age; None when it does not apply.
        reference_bands: Bands of the growth standard, widest first.
        reference_lines: Lines of the growth standard, labelled at their end.
        corridor: The gain corridor.
        fan: Bands of the forecast, widest first.
        fan_middle: The forecast's median.
        markers: Days that are marked: target, regain.
    """

    description: str
    age_title: str
    weight_title: str
    weight_unit: WeightUnit = "g"
    decimal_mark: str = "."
    title: str = ""
    points: tuple[Point, ...] = ()
    birth_weight: Level | None = None
    limit: Line | None = None
    reference_bands: tuple[Band, ...] = ()
    reference_lines: tuple[Line, ...] = ()
    corridor: Band | None = None
    fan: tuple[Band, ...] = ()
    fan_middle: Line | None = None
    markers: tuple[Marker, ...] = ()


class _Frame(msgspec.Struct, frozen=True, kw_only=True):
    """The plot: ends of both axes, height, and what it is drawn with."""

    age_d: tuple[float, float]
    weight_g: tuple[float, float]
    plot_px: float
    narrow: bool
    palette: Palette

    def y_px(self, weight_g: float) -> float:
        """How far below the top of the plot a weight stands."""
        low, high = self.weight_g
        return (high - weight_g) / (high - low) * self.plot_px


def weight_chart_spec(
    chart: WeightChart, palette: Palette, *, width_px: int, height_px: int = 420
) -> Spec:
    """The specification of a weight chart.

    Args:
        chart: What it shows.
        palette: What it is drawn with.
        width_px: Width of the whole image.
        height_px: Height of the whole image.
    """
    frame = _frame(chart, palette, width_px, height_px)
    spec: Spec = {
        "$schema": SCHEMA,
        "description": chart.description,
        "width": width_px,
        "height": height_px,
        "autosize": {"type": "fit", "contains": "padding"},
        "padding": {
            "left": 6,
            "top": 8,
            "bottom": 6,
            "right": 8 + _slack_px(chart, frame),
        },
        "encoding": {"x": _age_axis(chart, frame), "y": _weight_axis(chart, frame)},
        "layer": [
            *(_area(band, palette.rule, 0.14, frame) for band in chart.reference_bands),
            *(_area(band, palette.link, 0.17, frame) for band in chart.fan),
            *(
                _drawn(line.points, frame, color=palette.rule, strokeWidth=1)
                for line in chart.reference_lines
            ),
            *_corridor_edges(chart, frame),
            *_forecast(chart, frame),
            *_levels(chart, frame),
            *_marked_days(chart.markers, frame),
            *_weights(chart.points, frame),
            *_end_labels(chart, frame),
        ],
        "config": _config(palette),
    }
    if chart.title:
        spec["title"] = {"text": chart.title, "anchor": "start"}
    return spec


def _frame(chart: WeightChart, palette: Palette, width_px: int, height_px: int) -> _Frame:
    """Axes that hold the infant's own weights, the forecast, and the levels beside them."""
    ages = [point.age_d for point in chart.points]
    weights = [point.weight_g for point in chart.points]
    weights += [chart.birth_weight.weight_g] if chart.birth_weight else []
    weights += [weight for _, weight in chart.limit.points] if chart.limit else []
    for band in chart.fan:
        ages += [age for age, _, _ in band.points]
        weights += [weight for _, low, high in band.points for weight in (low, high)]
    last = max([*ages, 1.0])
    low, high = min(weights, default=0.0), max(weights, default=1.0)
    margin = max((high - low) * 0.06, 40.0)
    return _Frame(
        age_d=(0.0, last),
        weight_g=(low - margin, high + margin),
        plot_px=height_px - FURNITURE_PX,
        narrow=width_px < NARROW_PX,
        palette=palette,
    )


def _age_axis(chart: WeightChart, frame: _Frame) -> Spec:
    last = frame.age_d[1]
    most = 7 if frame.narrow else 12
    step = next((s for s in (1, 2, 7, 14, 28, 56, 91, 182) if last / s <= most), 365)
    days = list(range(0, int(last) + 1, step))
    return {
        "type": "quantitative",
        "scale": {"domain": list(frame.age_d), "nice": False},
        # The drawing describes itself; Vega would describe its axes in English.
        "axis": {"title": chart.age_title, "aria": False, "values": days, "format": "d"},
    }


def _weight_axis(chart: WeightChart, frame: _Frame) -> Spec:
    axis: Spec = {"title": chart.weight_title, "aria": False}
    if chart.weight_unit == "g":
        axis["format"] = "d"
    elif chart.weight_unit == "kg":
        number = "format(datum.value / 1000, '.1f')"
        axis["labelExpr"] = f"replace({number}, '.', '{chart.decimal_mark}')"
    else:
        ounce = float(GRAMS_PER_OUNCE)
        axis["values"] = _ounce_ticks(*frame.weight_g)
        axis["labelExpr"] = (
            f"floor(round(datum.value / {ounce}) / {OUNCES_PER_POUND}) + ' lb ' + "
            f"(round(datum.value / {ounce}) % {OUNCES_PER_POUND}) + ' oz'"
        )
    return {
        "type": "quantitative",
        "scale": {"domain": list(frame.weight_g), "nice": False, "zero": False},
        "axis": axis,
    }


def _ounce_ticks(low_g: float, high_g: float) -> list[float]:
    """Whole ounces for ticks, eight at the most."""
    ounce = float(GRAMS_PER_OUNCE)
    span = (high_g - low_g) / ounce
    step = next((s for s in (1, 2, 4, 8, 16, 32, 64) if span / s <= 8), 128)
    first = int(low_g / ounce / step) + 1
    last = int(high_g / ounce / step)
    return [count * step * ounce for count in range(first, last + 1)]


def _within(points: tuple[tuple[float, float], ...], frame: _Frame) -> list[tuple[float, float]]:
    """The points up to the end of the age axis, the last one interpolated there."""
    end = frame.age_d[1]
    kept = [point for point in points if point[0] <= end]
    for (age, weight), (next_age, next_weight) in pairwise(points):
        if age < end < next_age:
            share = (end - age) / (next_age - age)
            kept.append((end, weight + share * (next_weight - weight)))
    return kept


def _drawn(points: tuple[tuple[float, float], ...], frame: _Frame, **mark: Any) -> Spec:
    rows = [{"age_d": age, "weight_g": weight} for age, weight in _within(points, frame)]
    return {
        "data": {"values": rows},
        "mark": {"type": "line", "clip": True, "aria": False, **mark},
        "encoding": {"x": {"field": "age_d"}, "y": {"field": "weight_g"}},
    }


def _area(band: Band, colour: str, opacity: float, frame: _Frame) -> Spec:
    lows = _within(tuple((age, low) for age, low, _ in band.points), frame)
    highs = _within(tuple((age, high) for age, _, high in band.points), frame)
    rows = [
        {"age_d": age, "low_g": low, "high_g": high}
        for (age, low), (_, high) in zip(lows, highs, strict=True)
    ]
    return {
        "data": {"values": rows},
        "mark": {"type": "area", "color": colour, "opacity": opacity, "clip": True, "aria": False},
        "encoding": {
            "x": {"field": "age_d"},
            "y": {"field": "low_g", "type": "quantitative"},
            "y2": {"field": "high_g"},
        },
    }


def _corridor_edges(chart: WeightChart, frame: _Frame) -> list[Spec]:
    if chart.corridor is None:
        return []
    dotted = {"color": frame.palette.ink_soft, "strokeWidth": 1.5, "strokeDash": [1, 4]}
    points = chart.corridor.points
    return [
        _drawn(tuple((age, low) for age, low, _ in points), frame, **dotted),
        _drawn(tuple((age, high) for age, _, high in points), frame, **dotted),
    ]


def _forecast(chart: WeightChart, frame: _Frame) -> list[Spec]:
    if chart.fan_middle is None:
        return []
    dashed = {"color": frame.palette.link, "strokeWidth": 2, "strokeDash": [5, 3]}
    return [_drawn(chart.fan_middle.points, frame, **dashed)]


def _levels(chart: WeightChart, frame: _Frame) -> list[Spec]:
    """The birth weight as a solid line, the limit as a dashed one."""
    drawn = []
    if chart.birth_weight:
        ends = tuple((age, chart.birth_weight.weight_g) for age in frame.age_d)
        drawn.append(_drawn(ends, frame, color=frame.palette.ink, strokeWidth=1))
    if chart.limit:
        dashed = {"color": frame.palette.red, "strokeWidth": 1.5, "strokeDash": [8, 4]}
        drawn.append(_drawn(chart.limit.points, frame, **dashed))
    return drawn


def _marked_days(markers: tuple[Marker, ...], frame: _Frame) -> list[Spec]:
    """A rule for each marked day inside the plot, labelled on the side that has room."""
    first, last = frame.age_d
    inside = _inside(markers, frame)
    if not inside:
        return []
    rules: Spec = {
        "data": {"values": [{"age_d": marker.age_d} for marker in inside]},
        "mark": {
            "type": "rule",
            "color": frame.palette.link,
            "strokeDash": [2, 2],
            "aria": False,
        },
        "encoding": {
            "x": {"field": "age_d"},
            "y": {"value": 0},
            "y2": {"value": "height"},
        },
    }
    texts = []
    for place, marker in enumerate(inside):
        before = marker.age_d > (first + last) / 2
        texts += _text(
            marker.label,
            frame.palette.link,
            frame,
            x={"datum": marker.age_d},
            y={"value": 10 + LABEL_GAP_PX * place},
            align="right" if before else "left",
            dx=-4 if before else 4,
        )
    return [rules, *texts]


def _inside(markers: tuple[Marker, ...], frame: _Frame) -> list[Marker]:
    first, last = frame.age_d
    return [marker for marker in markers if first <= marker.age_d <= last]


def _weights(points: tuple[Point, ...], frame: _Frame) -> list[Spec]:
    """The line through the weights that are believed, then every weight as a point."""
    if not points:
        return []
    rows = [
        {**msgspec.to_builtins(point), "doubtful": "doubtful" if point.doubtful else "believed"}
        for point in points
    ]
    believed = tuple((point.age_d, point.weight_g) for point in points if not point.doubtful)
    said = [
        name for name in ("when", "age", "weight", "change", "note") if any(r[name] for r in rows)
    ]
    return [
        _drawn(believed, frame, color=frame.palette.ink, strokeWidth=2),
        {
            "data": {"values": rows},
            "mark": {
                "type": "point",
                "filled": False,
                "size": 70,
                "stroke": frame.palette.ink,
                "strokeWidth": 2,
                "opacity": 1,
            },
            "encoding": {
                "x": {"field": "age_d"},
                "y": {"field": "weight_g"},
                "fill": {
                    "field": "doubtful",
                    "type": "nominal",
                    "scale": {
                        "domain": ["believed", "doubtful"],
                        "range": [frame.palette.ink, frame.palette.paper],
                    },
                    "legend": None,
                },
                "description": {"field": "weight", "type": "nominal"},
                # A tooltip needs distinct titles to keep its rows apart; spaces are not shown.
                "tooltip": [
                    {"field": name, "type": "nominal", "title": " " * place}
                    for place, name in enumerate(said, start=1)
                ],
            },
        },
    ]


def _end_labels(chart: WeightChart, frame: _Frame) -> list[Spec]:
    """Labels of levels and lines, beside the plot where there is room and inside it elsewhere."""
    palette = frame.palette
    wanted = _label_of(chart.limit, palette.red, frame)
    if born := chart.birth_weight:
        wanted.append(EndLabel(text=born.label, y_px=frame.y_px(born.weight_g), colour=palette.ink))
    wanted += _label_of(chart.fan_middle, palette.link, frame)
    if chart.corridor:
        middle = tuple((age, (low + high) / 2) for age, low, high in chart.corridor.points)
        line = Line(label=chart.corridor.label, points=middle)
        wanted += _label_of(line, palette.ink_soft, frame)
    for line in chart.reference_lines:
        wanted += _label_of(line, palette.ink_soft, frame)
    if frame.narrow:
        wanted = [EndLabel(text=w.text, y_px=w.y_px - 9, colour=w.colour) for w in wanted]
    # Inside a narrow plot the labels of marked days stand at the top: the others begin below them.
    top_px = LABEL_GAP_PX * (len(_inside(chart.markers, frame)) + 0.5) if frame.narrow else 0.0
    wanted = [EndLabel(text=w.text, y_px=w.y_px - top_px, colour=w.colour) for w in wanted]
    texts = []
    for label in spread(wanted, gap_px=LABEL_GAP_PX, height_px=frame.plot_px - top_px):
        texts += _text(
            label.text,
            label.colour,
            frame,
            x={"value": "width"},
            y={"value": label.y_px + top_px},
            align="right" if frame.narrow else "left",
            dx=-4 if frame.narrow else 8,
        )
    return texts


def _slack_px(chart: WeightChart, frame: _Frame) -> float:
    """Room to the right for labels in a wider face than the one they are measured in.

    An image is laid out where it is made and drawn with the reader's own faces.
    """
    if frame.narrow:
        return 0.0
    levels = (chart.birth_weight, chart.limit)
    lines = (chart.fan_middle, chart.corridor, *chart.reference_lines)
    return SLACK_PX_PER_LETTER * max(
        (len(one.label) for one in (*levels, *lines) if one), default=0
    )


def _label_of(line: Line | None, colour: str, frame: _Frame) -> list[EndLabel]:
    """The label of a line that ends inside the plot at its right edge."""
    if line is None or not line.label:
        return []
    points = _within(line.points, frame)
    low, high = frame.weight_g
    if not points or points[-1][0] < frame.age_d[1] or not low <= points[-1][1] <= high:
        return []
    return [EndLabel(text=line.label, y_px=frame.y_px(points[-1][1]), colour=colour)]


def _text(
    label: str, colour: str, frame: _Frame, *, x: Spec, y: Spec, align: str, dx: int
) -> list[Spec]:
    """A label with a rim in the ground's colour, so that it can be read over lines."""
    return [
        {
            "data": {"values": [{"label": label}]},
            "mark": {
                "type": "text",
                "align": align,
                "baseline": "middle",
                "dx": dx,
                "aria": False,
                **look,
            },
            "encoding": {"x": x, "y": y, "text": {"field": "label", "type": "nominal"}},
        }
        for look in (
            {
                "color": frame.palette.paper,
                "stroke": frame.palette.paper,
                "strokeWidth": 4,
                "strokeJoin": "round",
            },
            {"color": colour},
        )
    ]


def _config(palette: Palette) -> Spec:
    return {
        "background": palette.paper,
        "font": "Segoe UI, Roboto, Noto Sans, Liberation Sans, Arial, sans-serif",
        "view": {"stroke": palette.rule},
        "text": {"fontSize": 12},
        "title": {"color": palette.ink, "fontSize": 14, "fontWeight": "bold"},
        "axis": {
            "labelColor": palette.ink,
            "titleColor": palette.ink,
            "labelFontSize": 12,
            "titleFontSize": 12,
            "titleFontWeight": "normal",
            "gridColor": palette.hair,
            "domainColor": palette.rule,
            "tickColor": palette.rule,
        },
    }
