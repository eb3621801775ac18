"""The look as it is set in docs/look.md, computed from the custom properties themselves.

Contrast is the ratio of relative luminances of WCAG 2.2 (success criteria 1.4.6 and 1.4.11).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from suffice import web
from suffice.assess.results import Tier
from suffice.documents.chart.drawing import drawing
from suffice.documents.chart.frame import SIZES
from suffice.documents.chart.gauge import gauge_drawing
from suffice.web.shown.mark import TIER_SHAPES
from unit.documents.chart.test_drawing import FULL
from unit.documents.chart.test_gauge import SPEC

STATIC = Path(web.__file__).parent / "static" / "suffice"
TEXT = 7.0
EDGE = 3.0
GROUNDS = ("paper", "raised", "sunken", "red-ground", "amber-ground", "calm-ground")
ON_GROUNDS = {
    "ink": GROUNDS,
    "ink-soft": GROUNDS,
    "link": ("paper", "raised", "sunken", "red-ground", "amber-ground"),
    "red": ("paper", "raised", "red-ground"),
    "amber": ("paper", "raised", "amber-ground"),
    "calm": ("paper", "raised", "calm-ground"),
}


def properties() -> dict[str, dict[str, str]]:
    """Colours by theme and name; a theme takes what it does not set from the light one."""
    css = (STATIC / "tokens.css").read_text(encoding="utf-8")
    dark = css.split("@media (prefers-color-scheme: dark)")[1].split("@media print")[0]
    paper = css.split("@media print")[1]
    light = css.split("@media")[0]
    found = {
        theme: dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", text))
        for theme, text in (("light", light), ("dark", dark), ("print", paper))
    }
    return {theme: found["light"] | colours for theme, colours in found.items()}


THEMES = properties()


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, as WCAG defines it."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_computed_as_published() -> None:
    """Values of WCAG's own definition: black on white 21:1; #767676 on white 4.54:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(
    ("text", "ground"), [(text, ground) for text, all_ in ON_GROUNDS.items() for ground in all_]
)
def test_text_reaches_seven_to_one(theme: str, text: str, ground: str) -> None:
    assert contrast(THEMES[theme][text], THEMES[theme][ground]) >= TEXT


@pytest.mark.parametrize("theme", THEMES)
def test_text_on_a_filled_button_reaches_seven_to_one(theme: str) -> None:
    assert contrast(THEMES[theme]["on-link"], THEMES[theme]["link"]) >= TEXT


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", ["paper", "raised"])
def test_edges_of_fields_and_the_focus_can_be_seen(theme: str, ground: str) -> None:
    assert contrast(THEMES[theme]["rule"], THEMES[theme][ground]) >= EDGE
    assert contrast(THEMES[theme]["link"], THEMES[theme][ground]) >= EDGE


SHEETS = pytest.mark.parametrize("sheet", ["suffice.css", "chart.css"])


@SHEETS
def test_style_sheet_takes_every_colour_from_the_properties(sheet: str) -> None:
    css = (STATIC / sheet).read_text(encoding="utf-8")
    assert re.findall(r"#[0-9a-f]{3,8}\b|rgb|hsl", css) == []
    used = set(re.findall(r"var\(--([a-z0-9-]+)\)", css))
    named = set(re.findall(r"--([a-z0-9-]+):", (STATIC / "tokens.css").read_text("utf-8")))
    assert used <= named


def test_every_kind_of_mark_in_a_drawing_has_its_look() -> None:
    """A mark without one would be black in the dark."""
    css = (STATIC / "chart.css").read_text(encoding="utf-8")
    drawn = [drawing(FULL, size, "w") for size in SIZES] + [gauge_drawing(SPEC)]
    kinds = {kind for svg in drawn for kind in re.findall(r' class="([^"]+)"', svg)}
    assert len(kinds) > 20
    for kind in kinds - {"axis", "of-birth"}:  # in ink, as every word of a drawing is
        name = kind.split(" ")[-1]
        assert re.search(rf"\.{name}\b", css), kind


@SHEETS
def test_layout_turns_with_the_direction_of_the_script(sheet: str) -> None:
    css = (STATIC / sheet).read_text(encoding="utf-8")
    physical = r"(?:margin|padding|border|inset)-(?:left|right|top|bottom)|[; {](?:left|right|top|bottom):|text-align: (?:left|right)|[; {](?:width|height):"
    assert re.findall(physical, css) == []


def test_every_mark_has_a_shape_of_its_own() -> None:
    marks = (STATIC / "marks.svg").read_text(encoding="utf-8")
    shapes = dict(re.findall(r'<symbol id="([a-z-]+)"[^>]*>(.*?)</symbol>', marks))
    tiers = [shapes[name] for name in TIER_SHAPES.values()]
    assert set(TIER_SHAPES) == set(Tier)
    assert len(set(tiers)) == len(tiers)


def test_look_names_every_colour() -> None:
    page = (Path(__file__).parents[3] / "docs" / "look.md").read_text(encoding="utf-8")
    assert {name for name in THEMES["light"] if f"--{name}" not in page} == set()
