"""The drawn weight chart: every weight stands where it should, and no word covers anything.

The oracle for positions is outside the drawing: three marks of the axes give the scale, and every
weight must lie on the straight line through them.
"""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree as ET

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from suffice.documents.chart.content import Band, Level, Line, Marker, Point, WeightChart
from suffice.documents.chart.drawing import drawing
from suffice.documents.chart.frame import SIZES
from unit.documents.chart.svg_marks import Marks, corners

EVERY_SIZE = pytest.mark.parametrize("size", SIZES, ids=lambda size: size.name)


def a_point(age_d: float, weight_g: float, *, doubtful: bool = False) -> Point:
    return Point(age_d=age_d, weight_g=weight_g, says=f"{weight_g:g} g", doubtful=doubtful)


FULL = WeightChart(
    name="Weight chart of an invented infant",
    description="Five weights",
    age_title="Age in days",
    weight_title="Weight, g",
    points=(
        a_point(0, 3280),
        a_point(1, 3150),
        a_point(3, 3010),
        a_point(7, 3420, doubtful=True),
        a_point(9, 3190),
    ),
    birth_weight=Level(label="birth weight 3280\u00a0g", weight_g=3280),
    limit=Line(label="10 % loss: 2952\u00a0g", points=((0, 2952), (24, 2952))),
    reference_band=Band(points=((0, 2500, 4200), (24, 3100, 5000))),
    reference_lines=(
        Line(label="\u22122 SD", points=((0, 2500), (24, 3100))),
        Line(label="median", points=((0, 3300), (10, 3400), (40, 4000))),
        Line(label="+2 SD", points=((0, 4200), (24, 5000))),
    ),
    corridor=Band(label="taught gain 19 to 28 g/day", points=((3, 3010, 3010), (23, 3390, 3570))),
    fan=(Band(points=((9, 3180, 3200), (23, 3250, 3800))),),
    fan_middle=Line(label="forecast", points=((9, 3190), (23, 3520))),
    markers=(
        Marker(age_d=11, label="birth weight back about day 11"),
        Marker(age_d=14, label="target: day 14", is_goal=True),
        Marker(age_d=90, label="out of sight"),
    ),
)
ONE = WeightChart(
    name="One", description="", age_title="Age", weight_title="Weight", points=(a_point(2, 3000),)
)
NONE = WeightChart(name="None", description="", age_title="Age", weight_title="Weight")


def words(svg: str) -> str:
    return " ".join(ET.fromstring(svg).itertext())


def scale(marks: Marks, *, along: str) -> tuple[float, float]:
    """The straight line from what an axis says to where it says it: px = a + b x value."""
    anchor = {"age": "middle", "weight": "end"}[along]
    said = [
        (
            float(one.text or ""),
            float(one.attrib["x"]) if along == "age" else float(one.attrib["y"]) - 4.5,
        )
        for one in marks.root.iter("text")
        if one.get("class") == "axis"
        and one.attrib["text-anchor"] == anchor
        and (one.text or "").replace(".", "").isdigit()
    ]
    (first, at_first), (last, at_last) = said[0], said[-1]
    slope = (at_last - at_first) / (last - first)
    return at_first - slope * first, slope


@EVERY_SIZE
def test_every_weight_is_a_point_where_the_axes_say(size) -> None:
    marks = Marks(drawing(FULL, size, "w"))
    (age_0, per_day), (weight_0, per_g) = scale(marks, along="age"), scale(marks, along="weight")
    assert per_day > 0 > per_g
    for (x, y), point in zip(marks.points(), FULL.points, strict=True):
        assert x == pytest.approx(age_0 + per_day * point.age_d, abs=0.3)
        assert y == pytest.approx(weight_0 + per_g * point.weight_g, abs=0.3)


@EVERY_SIZE
def test_lines_run_where_the_axes_say(size) -> None:
    marks = Marks(drawing(FULL, size, "w"))
    weight_0, per_g = scale(marks, along="weight")
    for kind, weight_g in (("birth", 3280), ("limit", 2952)):
        assert all(
            y == pytest.approx(weight_0 + per_g * weight_g, abs=0.3) for _, y in marks.course(kind)
        )


@EVERY_SIZE
def test_a_doubtful_weight_is_an_open_point_and_not_on_the_line(size) -> None:
    marks = Marks(drawing(FULL, size, "w"))
    kinds = [one.attrib["class"] for one in marks.root.iter("circle")]
    assert kinds == ["point", "point", "point", "point doubtful", "point"]
    believed = [place for place, kind in zip(marks.points(), kinds, strict=True) if kind == "point"]
    assert marks.course("own") == believed


def named(root: ET.Element) -> dict[str, str]:
    """The names beside the plot, by what they name."""
    found: dict[str, list[str]] = {}
    for one in root.iter("text"):
        if (kind := one.attrib["class"]) != "axis":
            found.setdefault(kind.removeprefix("of-"), []).append(one.text or "")
    return {kind: " ".join(lines) for kind, lines in found.items()}


@EVERY_SIZE
def test_every_line_is_named_at_its_end_and_every_day_above(size) -> None:
    assert named(ET.fromstring(drawing(FULL, size, "w"))) == {
        "birth": "birth weight 3280\u00a0g",
        "limit": "10 % loss: 2952\u00a0g",
        "forecast": "forecast",
        "reference": "median \u22122 SD",  # +2 SD leaves the plot above
        "taught": "taught gain 19 to 28 g/day",
        "day": "birth weight back about day 11 target: day 14",  # day 90 lies out of sight
    }


@EVERY_SIZE
def test_names_stand_in_the_order_of_their_lines(size) -> None:
    root = ET.fromstring(drawing(FULL, size, "w"))
    leads = [corners(one) for one in root if (one.get("class") or "").startswith("lead ")]
    assert len(leads) == 6
    starts, ends = [one[0][1] for one in leads], [one[-1][1] for one in leads]
    assert starts == sorted(starts)
    assert ends == sorted(ends)


@EVERY_SIZE
def test_each_point_says_what_is_known_of_it(size) -> None:
    root = ET.fromstring(drawing(FULL, size, "w"))
    said = [one.findtext("title") for one in root.iter("circle")]
    assert said == [point.says for point in FULL.points]


@EVERY_SIZE
def test_it_describes_itself_to_those_who_do_not_see_it(size) -> None:
    root = ET.fromstring(drawing(FULL, size, "weights-1"))
    assert root.attrib["role"] == "img"
    named = {one.attrib["id"]: one.text for one in root if "id" in one.attrib}
    assert named[root.attrib["aria-labelledby"]] == FULL.name
    assert named[root.attrib["aria-describedby"]] == FULL.description


def test_ids_differ_between_drawings_and_infants() -> None:
    ids = [
        one.attrib["id"]
        for key in ("weights-1", "weights-2")
        for size in SIZES
        for one in ET.fromstring(drawing(FULL, size, key)).iter()
        if "id" in one.attrib
    ]
    assert len(ids) == len(set(ids)) == 2 * 2 * len(SIZES)


@EVERY_SIZE
def test_no_colour_and_no_style_stand_in_it(size) -> None:
    """The page's policy forbids styles inside it, and the theme gives the colours."""
    for one in ET.fromstring(drawing(FULL, size, "w")).iter():
        assert not {"style", "fill", "stroke", "color"} & set(one.attrib)
        assert one.tag not in {"style", "script", "image", "use"}


def test_axis_is_in_the_readers_unit() -> None:
    wide = SIZES[-1]
    pounds = msgspec.structs.replace(FULL, weight_unit="lb oz")
    assert "7\u00a0lb\u00a00\u00a0oz" in words(drawing(pounds, wide, "w"))
    kilograms = msgspec.structs.replace(FULL, weight_unit="kg", decimal_mark=",")
    assert " 3,2 " in words(drawing(kilograms, wide, "w"))


@EVERY_SIZE
@pytest.mark.parametrize("unit", ["g", "kg", "lb oz"])
@given(weight_g=st.integers(min_value=400, max_value=12000))
def test_the_axis_names_at_least_two_weights_where_there_is_but_one(
    size, unit: str, weight_g: int
) -> None:
    chart = msgspec.structs.replace(ONE, points=(a_point(2, weight_g),), weight_unit=unit)
    root = ET.fromstring(drawing(chart, size, "w"))
    named_ = [one for one in root.iter("text") if one.get("text-anchor") == "end"]
    assert 2 <= len(named_) <= 12


def test_no_name_becomes_markup() -> None:
    wicked = "<script>alert(1)</script>\"'&"
    chart = msgspec.structs.replace(
        FULL, name=wicked, birth_weight=Level(label=wicked, weight_g=3280)
    )
    svg = drawing(chart, SIZES[-1], "w")
    assert "<script" not in svg
    assert ET.fromstring(svg).findtext("title") == wicked


@pytest.mark.parametrize("chart", [ONE, NONE], ids=["one", "none"])
@EVERY_SIZE
def test_one_weight_or_none_makes_a_drawing_too(chart: WeightChart, size) -> None:
    assert len(Marks(drawing(chart, size, "w")).points()) == len(chart.points)


# ---- whatever the weights --------------------------------------------------------------------

grams = st.integers(min_value=500, max_value=9000)


@st.composite
def charts(draw: st.DrawFn) -> WeightChart:
    """Any weights in order of age, with any of the rest."""
    ages = sorted(draw(st.sets(st.integers(min_value=0, max_value=24 * 200), max_size=40)))
    weights = tuple(a_point(age / 24, draw(grams), doubtful=draw(st.booleans())) for age in ages)
    last = max([*(one.age_d for one in weights), 1.0])
    birth, low, middle = draw(grams), draw(grams), draw(grams)
    ends = ((0.0, low), (last + 20, middle))
    fan_end = last + draw(st.integers(min_value=1, max_value=30))
    days = draw(st.lists(st.floats(min_value=0.5, max_value=220), max_size=2))
    chosen = msgspec.structs.replace(
        FULL,
        points=weights,
        weight_unit=draw(st.sampled_from(["g", "kg", "lb oz"])),
        birth_weight=Level(label=f"birth weight {birth}\u00a0g", weight_g=birth),
        limit=Line(
            label=f"10 % loss: {birth * 0.9:.0f}\u00a0g",
            points=((0, birth * 0.9), (400, birth * 0.9)),
        ),
        reference_lines=tuple(
            Line(label=name, points=tuple((age, weight + step) for age, weight in ends))
            for name, step in (("\u22122 SD", -600), ("median", 0), ("+2 SD", 600))
        ),
        reference_band=None,
        corridor=Band(
            label="taught gain 19 to 28 g/day",
            points=((0, low, low), (last + 40, low + 100, low + 200)),
        ),
        fan=(Band(points=((last, middle, middle + 1), (fan_end, middle - 300, middle + 300))),),
        fan_middle=Line(label="forecast", points=((last, middle), (fan_end, middle))),
        markers=tuple(
            Marker(age_d=day, label=f"birth weight back about day {day:.0f}") for day in days
        ),
    )
    return (
        chosen if draw(st.booleans()) else msgspec.structs.replace(chosen, fan=(), fan_middle=None)
    )


@pytest.mark.parametrize("size", SIZES, ids=lambda one: one.name)
def test_a_forecast_day_has_a_dotted_line_and_a_goal_a_stroke(size) -> None:
    """Two dotted lines a day apart look like one thing."""
    drawn = drawing(FULL, size, "w")
    assert drawn.count('class="day"') == 1
    goal = re.search(
        r'<line class="goal" x1="([\d.]+)" x2="([\d.]+)" y1="([\d.]+)" y2="([\d.]+)"', drawn
    )
    assert goal is not None
    assert goal[1] == goal[2]
    assert 5 < float(goal[4]) - float(goal[3]) < 20


@settings(max_examples=60, deadline=None)
@given(charts(), st.sampled_from(SIZES))
def test_words_cover_no_weight_no_line_and_no_other_word(chart: WeightChart, size) -> None:
    """All lines lie in the plot, so a word that keeps out of it covers none of them."""
    marks = Marks(drawing(chart, size, "w"))
    labels = marks.labels()
    for text, box in labels:
        assert not box.overlaps(marks.plot), text
        for x, y in marks.points():
            nearest = (
                max(box.left, min(x, box.right)) - x,
                max(box.top, min(y, box.bottom)) - y,
            )
            assert (nearest[0] ** 2 + nearest[1] ** 2) ** 0.5 >= 4.5, text
    for (one, box), (other, its) in combinations(labels, 2):
        assert not box.overlaps(its), (one, other)


@settings(max_examples=60, deadline=None)
@given(charts(), st.sampled_from(SIZES))
def test_every_weight_is_drawn_and_nothing_leaves_the_drawing(chart: WeightChart, size) -> None:
    marks = Marks(drawing(chart, size, "w"))
    edge, plot = marks.frame, marks.plot
    assert len(marks.points()) == len(chart.points)
    for x, y in marks.points():
        assert plot.left - 0.2 <= x <= plot.right + 0.2
        assert plot.top <= y <= plot.bottom
    for x, y in marks.drawn():
        assert 0 <= x <= edge.right
        assert 0 <= y <= edge.bottom
    for text, box in marks.labels():
        assert 0 <= box.left <= box.right <= edge.right, text
        assert 0 <= box.top <= box.bottom <= edge.bottom, text
    assert 0 < plot.left < plot.right <= edge.right
    assert plot.right - plot.left > 0.35 * edge.right


@settings(max_examples=40, deadline=None)
@given(charts())
def test_positions_are_a_straight_line_of_age_and_weight(chart: WeightChart) -> None:
    """Equal steps of age, and of weight, are equal steps in the drawing."""
    marks = Marks(drawing(chart, SIZES[-1], "w"))
    placed = list(zip(chart.points, marks.points(), strict=True))
    for (first, a), (second, b), (third, c) in zip(placed, placed[1:], placed[2:], strict=False):
        for values, spots in (
            ((first.age_d, second.age_d, third.age_d), (a[0], b[0], c[0])),
            ((first.weight_g, second.weight_g, third.weight_g), (a[1], b[1], c[1])),
        ):
            across = (values[1] - values[0]) * (spots[2] - spots[0])
            along = (values[2] - values[0]) * (spots[1] - spots[0])
            room = 0.15 * (abs(values[1] - values[0]) + abs(values[2] - values[0]))
            assert across == pytest.approx(along, abs=room + 1e-6)


def test_a_line_that_leaves_the_plot_is_cut_off_by_it() -> None:
    root = ET.fromstring(drawing(FULL, SIZES[-1], "w"))
    inner = next(one for one in root.iter("svg") if one is not root)
    assert {one.get("class") for one in inner.iter("polyline")} >= {"line reference", "line birth"}
    assert not [one for one in root if one.get("class") == "line reference"]
    assert inner.attrib["viewBox"].split() == [
        inner.attrib[k] for k in ("x", "y", "width", "height")
    ]
    assert any(
        y < float(inner.attrib["y"]) for one in inner.iter("polyline") for _, y in corners(one)
    )
