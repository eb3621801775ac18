"""The weight chart's specification: valid, complete, in the reader's unit, drawn the same twice."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import altair as alt
import jsonschema
import msgspec
import pytest

from suffice.documents.chart.palette import PALETTES
from suffice.documents.chart.svg import image, tag
from suffice.documents.chart.weight_chart import (
    Band,
    Level,
    Line,
    Marker,
    Point,
    Spec,
    WeightChart,
    weight_chart_spec,
)

LIGHT = PALETTES["light"]


def a_point(age_d: float, weight_g: float, *, doubtful: bool = False) -> Point:
    return Point(
        age_d=age_d,
        weight_g=weight_g,
        when="Tue 24 Nov, 14:30",
        age=f"{age_d * 24:.0f} h of age",
        weight=f"{weight_g:.0f} g",
        change="" if age_d == 0 else f"{100 * (weight_g - 3280) / 3280:.1f} % from birth weight",
        doubtful=doubtful,
    )


FULL = WeightChart(
    description="Seven weights of an invented infant",
    age_title="Age in days",
    weight_title="Weight, g",
    points=(
        a_point(0, 3280),
        a_point(1, 3150),
        a_point(3, 3010),
        a_point(7, 3420, doubtful=True),
        a_point(9, 3190),
    ),
    birth_weight=Level(label="birth weight 3280 g", weight_g=3280),
    limit=Line(label="10 % loss: 2952 g", points=((0, 2952), (24, 2952))),
    reference_bands=(Band(label="", points=((0, 2500, 4200), (24, 3300, 5000))),),
    reference_lines=(Line(label="WHO median", points=((0, 3300), (10, 3400), (40, 4600))),),
    corridor=Band(label="taught gain", points=((3, 3010, 3010), (23, 3390, 3570))),
    fan=(Band(label="", points=((9, 3180, 3200), (23, 3250, 3800))),),
    fan_middle=Line(label="forecast", points=((9, 3190), (23, 3520))),
    markers=(Marker(age_d=14, label="target: day 14"), Marker(age_d=90, label="out of sight")),
)
ONE = WeightChart(
    description="One weight", age_title="Age", weight_title="Weight", points=(a_point(2, 3000),)
)
NONE = WeightChart(description="No weight", age_title="Age", weight_title="Weight")


def leaves(spec: Any) -> Iterator[Any]:
    """Every value in a specification."""
    if isinstance(spec, dict):
        for value in spec.values():
            yield from leaves(value)
    elif isinstance(spec, list):
        for value in spec:
            yield from leaves(value)
    else:
        yield spec


@pytest.fixture(scope="module")
def schema() -> Any:
    """The published JSON schema of Vega-Lite, as the package altair ships it."""
    path = Path(alt.__file__).parent / "vegalite" / "v6" / "schema" / "vega-lite-schema.json"
    return jsonschema.Draft7Validator(json.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize("chart", [FULL, ONE, NONE], ids=["full", "one", "none"])
@pytest.mark.parametrize("width_px", [320, 760])
@pytest.mark.parametrize("unit", ["g", "kg", "lb oz"])
def test_specification_is_valid_vega_lite(
    schema: Any, chart: WeightChart, width_px: int, unit: str
) -> None:
    spec = weight_chart_spec(
        msgspec.structs.replace(chart, weight_unit=unit), LIGHT, width_px=width_px
    )
    schema.validate(spec)


def test_specification_that_is_wrong_is_found_by_that_schema(schema: Any) -> None:
    spec = weight_chart_spec(FULL, LIGHT, width_px=760)
    spec["layer"][0]["mark"]["type"] = "blob"
    with pytest.raises(jsonschema.ValidationError):
        schema.validate(spec)


def test_every_weight_is_a_point_with_what_is_said_of_it() -> None:
    spec = weight_chart_spec(FULL, LIGHT, width_px=760)
    (points,) = [one for one in spec["layer"] if one["mark"]["type"] == "point"]
    assert [row["weight_g"] for row in points["data"]["values"]] == [3280, 3150, 3010, 3420, 3190]
    assert {one["field"] for one in points["encoding"]["tooltip"]} == {
        "when",
        "age",
        "weight",
        "change",
    }


def test_doubtful_weight_is_an_open_point_and_not_on_the_line() -> None:
    spec = weight_chart_spec(FULL, LIGHT, width_px=760)
    (points,) = [one for one in spec["layer"] if one["mark"]["type"] == "point"]
    fill = points["encoding"]["fill"]["scale"]
    assert dict(zip(fill["domain"], fill["range"], strict=True))["doubtful"] == LIGHT.paper
    lines = [one for one in spec["layer"] if one["mark"]["type"] == "line"]
    own = next(one for one in lines if one["mark"].get("strokeWidth") == 2)
    solid = [one for one in lines if one["mark"]["color"] == LIGHT.ink and own is not one]
    rows = [row["weight_g"] for one in lines for row in one["data"]["values"]]
    assert 3420 not in rows
    assert solid


def words(svg: str) -> str:
    return " ".join(ET.fromstring(svg).itertext())


def test_image_says_every_level_and_line_in_words() -> None:
    said = words(image(weight_chart_spec(FULL, LIGHT, width_px=760)))
    for label in ("birth weight 3280 g", "10 % loss: 2952 g", "forecast", "target: day 14"):
        assert label in said
    assert "out of sight" not in said


def test_axis_is_in_the_readers_unit() -> None:
    pounds = msgspec.structs.replace(FULL, weight_unit="lb oz")
    said = words(image(weight_chart_spec(pounds, LIGHT, width_px=760)))
    assert "7 lb 0 oz" in said
    kilograms = msgspec.structs.replace(FULL, weight_unit="kg")
    assert "3.2" in words(image(weight_chart_spec(kilograms, LIGHT, width_px=760)))


@pytest.mark.parametrize("width_px", [280, 360, 760, 1200])
def test_image_has_the_width_asked_for(width_px: int) -> None:
    drawn = ET.fromstring(image(weight_chart_spec(FULL, LIGHT, width_px=width_px)))
    assert float(drawn.attrib["width"]) == pytest.approx(width_px, abs=25)


def test_same_content_has_the_same_tag_and_another_has_another() -> None:
    first = weight_chart_spec(FULL, LIGHT, width_px=760)
    assert tag(first) == tag(weight_chart_spec(FULL, LIGHT, width_px=760))
    moved = msgspec.structs.replace(FULL, points=(*FULL.points[:-1], a_point(9, 3195)))
    assert tag(first) != tag(weight_chart_spec(moved, LIGHT, width_px=760))
    assert image(first) is image(weight_chart_spec(FULL, LIGHT, width_px=760))


def test_nothing_in_it_is_infinite_or_not_a_number() -> None:
    spec: Spec = weight_chart_spec(FULL, LIGHT, width_px=760)
    numbers = [value for value in leaves(spec) if isinstance(value, float)]
    assert numbers
    assert all(value == value and abs(value) < 1e9 for value in numbers)


def test_names_of_an_infant_never_become_markup() -> None:
    wicked = msgspec.structs.replace(
        FULL, birth_weight=Level(label="<script>alert(1)</script>", weight_g=3280)
    )
    assert "<script>" not in image(weight_chart_spec(wicked, LIGHT, width_px=760))


def test_labels_inside_a_narrow_plot_begin_below_those_of_marked_days() -> None:
    high = Line(label="top of the plot", points=((0, 3300), (23, 3830)))
    chart = msgspec.structs.replace(FULL, reference_lines=(high,))
    spec = weight_chart_spec(chart, LIGHT, width_px=360)
    heights = {
        one["data"]["values"][0]["label"]: one["encoding"]["y"]["value"]
        for one in spec["layer"]
        if one["mark"]["type"] == "text"
    }
    assert heights["top of the plot"] - heights["target: day 14"] >= 14
