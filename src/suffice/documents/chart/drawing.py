"""A weight chart drawn as SVG, once for every width, for screen and paper alike.

Colours come from the page: every mark has a class, and chart.css gives it the custom properties
of the theme, on paper in black. Words stand in the margins only: names of lines to the right of
the plot, where a short rule leads to each, and names of days above it; so none can lie over a
weight or a line, whatever the data.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import msgspec

from suffice.documents.chart.content import Band, Marker, Points, WeightChart
from suffice.documents.chart.end_label import EndLabel, Placed, spread
from suffice.documents.chart.frame import (
    EDGE_PX,
    LEADER_PX,
    Frame,
    Size,
    days_named,
    ends_of,
    frame_of,
    until,
    weight_name,
    weights_named,
)
from suffice.documents.chart.lettering import FONT_PX, LINE_PX, Label, set_within, width_px
from suffice.documents.chart.svg import element, number, points, words

POINT_PX: Final = 4.5
"""Radius of the point of a weight."""
GAP_PX: Final = 3.0
GOAL_PX: Final = 10.0
"""Least room between two labels."""
RISE_PX: Final = FONT_PX * 0.36
"""How far below the middle of a line of text its base line lies."""


class Named(msgspec.Struct, frozen=True, kw_only=True):
    """A line with a name: the weight at its end, its label, and how much that matters (0 is most)."""

    mark: str
    end_g: float
    label: Label
    rank: int


def drawing(chart: WeightChart, size: Size, key: str) -> str:
    """One drawing of a chart.

    Args:
        chart: What it shows.
        size: How large it is.
        key: What its ids begin with; another one for each chart of a page.
    """
    ends_d, ends_g = ends_of(chart)
    named = _named(chart, size, ends_d[1], ends_g)
    days = sorted(
        (one for one in chart.markers if ends_d[0] <= one.age_d <= ends_d[1]),
        key=lambda day: day.age_d,
    )
    labels = [one.label for one in named]
    frame = frame_of(chart, size, labels, min(len(days), 1))
    if len(days) > 1 and not _stand_in_one_row(days, frame, size):
        frame = frame_of(chart, size, labels, len(days))
    key = f"{key}-{size.name}"
    return element(
        "svg",
        element("title", words(chart.name), id=f"{key}-name"),
        element("desc", words(chart.description), id=f"{key}-says"),
        *_axes(chart, frame, size),
        element("svg", *_inside(chart, frame), **_box(frame)),
        *_days(days, frame, size),
        *_weights(chart, frame),
        *_names(named, frame),
        class_=f"drawing {size.name}",
        viewBox=f"0 0 {number(size.width_px)} {number(size.height_px)}",
        role="img",
        aria_labelledby=f"{key}-name",
        aria_describedby=f"{key}-says",
    )


# ---- what is drawn ---------------------------------------------------------------------------


def _axes(chart: WeightChart, frame: Frame, size: Size) -> Iterator[str]:
    """Both axes with their names, and a hair line at each weight that is named."""
    yield _text(chart.weight_title, EDGE_PX, EDGE_PX + LINE_PX / 2, mark="axis")
    for weight_g in weights_named(chart, frame.weight_g, frame.bottom - frame.top):
        y = frame.y(weight_g)
        yield element("line", class_="hair", x1=frame.left, x2=frame.right, y1=y, y2=y)
        name = weight_name(weight_g, chart)
        yield _text(name, frame.left - EDGE_PX, y, mark="axis", anchor="end")
    for day in days_named(frame.age_d[1], frame.right - frame.left):
        x = frame.x(day)
        yield element("line", class_="edge", x1=x, x2=x, y1=frame.bottom, y2=frame.bottom + 4)
        yield _text(f"{day}", x, frame.bottom + 4 + LINE_PX / 2, mark="axis", anchor="middle")
    middle = (frame.left + frame.right) / 2
    yield _text(
        chart.age_title, middle, size.height_px - LINE_PX / 2 - 2, mark="axis", anchor="middle"
    )


def _inside(chart: WeightChart, frame: Frame) -> Iterator[str]:
    """Bands and lines; the plot cuts off what runs out of it."""
    if chart.reference_band:
        yield _area(chart.reference_band, frame, "reference")
    for band in chart.fan:
        yield _area(band, frame, "fan")
    if chart.corridor:
        yield _area(chart.corridor, frame, "taught")
    for line in chart.reference_lines:
        yield _line(line.points, frame, "reference")
    if chart.birth_weight:
        weight_g = chart.birth_weight.weight_g
        yield _line(tuple((age, weight_g) for age in frame.age_d), frame, "birth")
    if chart.limit:
        yield _line(chart.limit.points, frame, "limit")
    if chart.fan_middle:
        yield _line(chart.fan_middle.points, frame, "forecast")
    yield element(
        "rect",
        class_="edge",
        x=frame.left,
        y=frame.top,
        width=frame.right - frame.left,
        height=frame.bottom - frame.top,
    )


def _weights(chart: WeightChart, frame: Frame) -> Iterator[str]:
    """The line through the weights that are believed, then every weight as a point."""
    believed = tuple((one.age_d, one.weight_g) for one in chart.points if not one.doubtful)
    if len(believed) > 1:
        yield _line(believed, frame, "own")
    for one in chart.points:
        yield element(
            "circle",
            element("title", words(one.says)),
            class_="point doubtful" if one.doubtful else "point",
            cx=frame.x(one.age_d),
            cy=frame.y(one.weight_g),
            r=POINT_PX,
        )


def _stand_in_one_row(days: list[Marker], frame: Frame, size: Size) -> bool:
    """Whether the name of the first of two days has room to its left, and that of the last to its right."""
    first, last = days[0], days[-1]
    from_left = frame.x(first.age_d) - width_px(first.label)
    to_right = frame.x(last.age_d) + width_px(last.label)
    return len(days) == 2 and from_left >= EDGE_PX and to_right <= size.width_px - EDGE_PX


def _days(days: list[Marker], frame: Frame, size: Size) -> Iterator[str]:
    """A mark at each day, and its name above the plot: in one row, or in one each.

    What is forecast has a dotted line, a goal a short stroke: two dotted lines side by side look like one thing.
    """
    in_one_row = len(days) > 1 and _stand_in_one_row(days, frame, size)
    for place, one in enumerate(days):
        x = frame.x(one.age_d)
        mark, until_y = ("goal", frame.top + GOAL_PX) if one.is_goal else ("day", frame.bottom)
        yield element("line", class_=mark, x1=x, x2=x, y1=frame.top, y2=until_y)
        if in_one_row:
            y = EDGE_PX + LINE_PX * 1.5
            anchor = "start" if place else "end"
            yield _text(
                one.label, x + (GAP_PX if place else -GAP_PX), y, mark="of-day", anchor=anchor
            )
            continue
        half = width_px(one.label) / 2
        middle = max(min(x, size.width_px - EDGE_PX - half), EDGE_PX + half)
        y = EDGE_PX + LINE_PX * (place + 1.5)
        yield _text(one.label, middle, y, mark="of-day", anchor="middle")


# ---- the names of lines ----------------------------------------------------------------------


def _named(
    chart: WeightChart, size: Size, last_d: float, ends_g: tuple[float, float]
) -> list[Named]:
    """The lines that have a name and end where it can be seen."""
    wanted: list[tuple[str, str, Points, int]] = []
    if chart.birth_weight:
        level = chart.birth_weight
        wanted.append(("birth", level.label, ((last_d, level.weight_g),), 0))
    if chart.limit:
        wanted.append(("limit", chart.limit.label, chart.limit.points, 1))
    if chart.fan_middle:
        wanted.append(("forecast", chart.fan_middle.label, chart.fan_middle.points, 2))
    for place, line in enumerate(chart.reference_lines):
        wanted.append(("reference", line.label, line.points, 3 + place))
    if chart.corridor:
        middle = tuple((age, (low + high) / 2) for age, low, high in chart.corridor.points)
        wanted.append(("taught", chart.corridor.label, middle, 9))
    low, high = ends_g
    named = []
    for mark, text, course, rank in wanted:
        end = until(course, last_d)[-1:]
        if text and end and end[0][0] >= last_d and low <= end[0][1] <= high:
            label = set_within(text, size.label_px)
            named.append(Named(mark=mark, end_g=end[0][1], label=label, rank=rank))
    return named


def _names(named: list[Named], frame: Frame) -> Iterator[str]:
    """Each name beside the end of its line.

    The taught gain has its place also while it is not shown: names do not jump when it is.
    """
    wishes = [
        EndLabel(
            name=f"{place}",
            y_px=frame.y(one.end_g),
            height_px=one.label.height_px + GAP_PX,
            rank=one.rank,
        )
        for place, one in enumerate(named)
    ]
    top, bottom = frame.top - EDGE_PX, frame.bottom + EDGE_PX
    for place in spread(wishes, top_px=top, bottom_px=bottom):
        yield from _name(named[int(place.name)], place, frame)


def _name(one: Named, place: Placed, frame: Frame) -> Iterator[str]:
    middle = (place.top_px + place.bottom_px) / 2
    x = frame.right + LEADER_PX
    y = frame.y(one.end_g)
    lead = [(frame.right, y), (frame.right + 3, y), (x - 5, middle), (x - 2, middle)]
    yield element("polyline", class_=f"lead {one.mark}", points=points(lead))
    first = middle - one.label.height_px / 2 + LINE_PX / 2
    for row, line in enumerate(one.label.lines):
        yield _text(line, x, first + row * LINE_PX, mark=f"of-{one.mark}")


# ---- marks -----------------------------------------------------------------------------------


def _box(frame: Frame) -> dict[str, str | float]:
    """The plot as a drawing inside the drawing, in the same px, which cuts off at its edges."""
    left, top = frame.left, frame.top
    width, height = frame.right - left, frame.bottom - top
    view = " ".join(number(one) for one in (left, top, width, height))
    return {"x": left, "y": top, "width": width, "height": height, "viewBox": view}


def _line(course: Points, frame: Frame, mark: str) -> str:
    drawn = points((frame.x(age), frame.y(weight)) for age, weight in course)
    return element("polyline", class_=f"line {mark}", points=drawn)


def _area(band: Band, frame: Frame, mark: str) -> str:
    there = [(frame.x(age), frame.y(high)) for age, _, high in band.points]
    back = [(frame.x(age), frame.y(low)) for age, low, _ in reversed(band.points)]
    return element("polygon", class_=f"area {mark}", points=points([*there, *back]))


def _text(text: str, x: float, y: float, *, mark: str, anchor: str = "start") -> str:
    """One line of text whose middle stands at a height."""
    return element("text", words(text), class_=mark, x=x, y=y + RISE_PX, text_anchor=anchor)
