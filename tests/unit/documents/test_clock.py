"""The dial: every act on it once, told apart without colour, and told in words."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree as ET

import pytest

from day_cases import PARAMETERS, PARTNER, UNIT, drawn
from suffice.clinical.entry.clock import Act
from suffice.documents.chart.lettering import width_px
from suffice.documents.clock import (
    NAMES,
    WIDTH_PX,
    clock_drawing,
    clock_legend,
    clock_text,
    stretches,
)
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of
from suffice.plan.schedule import scheduled

SVG = "{http://www.w3.org/2000/svg}"
ACTS = (
    Act(starts_minutes=1425, minutes=30, what="breast"),
    Act(starts_minutes=15, minutes=15, what="milk", who="helper"),
    Act(starts_minutes=15, minutes=25, what="express"),
    Act(starts_minutes=45, minutes=300, what="sleep"),
    Act(starts_minutes=120, minutes=25, what="bottle", who="helper"),
    Act(starts_minutes=720, minutes=30, what="breast"),
)


def test_acts_of_one_feed_are_one_stretch_over_midnight_too() -> None:
    found = stretches(ACTS)
    assert [(one.hours, str(one.says)) for one in found] == [
        ("00:45–05:45", "sleep"),
        ("02:00–02:25", "helper: bottle or cup"),
        ("12:00–12:30", "at the breast"),
        ("23:45–00:40", "at the breast, express; helper: extra milk"),
    ]


def test_two_feeds_near_one_another_are_two_stretches() -> None:
    near = (
        Act(starts_minutes=0, minutes=30, what="breast"),
        Act(starts_minutes=40, minutes=30, what="breast"),
    )
    assert len(stretches(near)) == 2


def test_the_words_say_what_the_dial_shows() -> None:
    said = clock_text(ACTS, str)
    svg = ET.fromstring(clock_drawing(ACTS, str, "a"))
    assert svg.findtext(f"{SVG}desc") == said
    assert all(str(NAMES[one.what]) in said for one in ACTS)


def test_each_act_has_a_fill_of_its_own_and_no_colour() -> None:
    svg = clock_drawing(ACTS, str, "a")
    fills = set(re.findall(r'fill="([^"]+)"', svg))
    assert fills == {"none", "currentColor", "url(#a-milk)", "url(#a-bottle)", "url(#a-express)"}
    assert set(re.findall(r'stroke="([^"]+)"', svg)) == {"currentColor"}
    assert set(re.findall(r'id="([^"]+)"', svg)) >= {"a-milk", "a-bottle", "a-express"}


def test_an_act_stands_where_its_hour_is() -> None:
    """Six in the morning is on the right, and a longer act takes more of the ring."""
    svg = clock_drawing((Act(starts_minutes=360, minutes=60, what="breast"),), str, "a")
    x, y = map(float, re.search(r'd="M(\S+) (\S+)A', svg).groups())  # type: ignore[union-attr]
    assert math.isclose(y, 97, abs_tol=0.01)
    assert x > WIDTH_PX / 2 + 80


@pytest.mark.parametrize("case", [PARTNER, UNIT, drawn(2)])
def test_no_two_times_lie_over_one_another_and_none_leaves_the_drawing(case: object) -> None:
    acts = scheduled(case, PARAMETERS).acts  # type: ignore[arg-type]
    svg = ET.fromstring(clock_drawing(acts, str, "a"))
    boxes = []
    for text in svg.findall(f"{SVG}text"):
        if ":" not in (text.text or ""):
            continue
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        left = x - {"start": 0, "middle": 0.5, "end": 1}[text.attrib["text-anchor"]] * 38
        assert 0 <= left <= WIDTH_PX - 38
        boxes.append((left, y))
    assert len(boxes) >= 8
    for n, (left, y) in enumerate(boxes):
        assert all(abs(left - a) >= 38 or abs(y - b) >= 14 for a, b in boxes[n + 1 :])


def test_the_legend_names_what_is_there_and_no_more() -> None:
    legend = clock_legend(ACTS[:1], str, 400)
    assert "at the breast" in legend
    assert "sleep" not in legend
    assert "inner ring" not in legend
    assert "inner ring" in clock_legend(ACTS, str, 400)
    assert ET.fromstring(clock_legend(ACTS, str, 120)).attrib["viewBox"].endswith(" 116")


def test_what_a_translation_brings_is_escaped() -> None:
    svg = clock_drawing(ACTS, lambda one: f"<{one}>", "a")
    ET.fromstring(svg)
    assert "&lt;" in svg


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_name_of_the_legend_is_wider_than_the_drawing(language: str) -> None:
    """On a screen it is as wide as the dial: what is longer would be cut off."""
    policy = Policy(language=language)
    root = ET.fromstring(clock_drawing(ACTS, lambda words: text_of(words, policy), "k"))
    legend = root.findall(f"{SVG}g")[-1].findall(f"{SVG}text")
    assert len(legend) == len(NAMES) + 2
    for one in legend:
        assert float(one.attrib["x"]) + width_px(one.text or "") <= WIDTH_PX, one.text
