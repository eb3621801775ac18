"""The gauge: one bar against one line, in parts of the need."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.documents.chart.gauge import GaugeSpec, gauge_drawing, small_gauge_drawing

SPEC = GaugeSpec(
    sentence="Takes about 428 mL/day, needs about 584 mL/day.",
    share=0.73,
    share_range=(0.6, 0.9),
    given=0.0,
    need_range=(0.9, 1.1),
    short="short",
    enough="enough",
    need="needs 584 mL/day",
    notes=(("taken", "takes about 428 mL/day"),),
)
BOTH = pytest.mark.parametrize("draw", [gauge_drawing, small_gauge_drawing])


def bar(root: ET.Element, kind: str) -> tuple[float, float]:
    """Where a bar begins and ends."""
    one = next(rect for rect in root.iter("rect") if rect.get("class") == kind)
    left = float(one.attrib["x"])
    return left, left + float(one.attrib["width"])


def need_of(root: ET.Element) -> float:
    return next(float(one.attrib["x1"]) for one in root.iter("line") if one.get("class") == "need")


@BOTH
def test_one_bar_one_line_and_two_words_on_their_sides(draw) -> None:
    root = ET.fromstring(draw(SPEC))
    assert len([one for one in root.iter("rect") if one.get("class") == "track"]) == 1
    at = need_of(root)
    words = {one.text: one for one in root.iter("text")}
    assert words["short"].attrib["text-anchor"] == "end"
    assert float(words["short"].attrib["x"]) < at < float(words["enough"].attrib["x"])
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-label"] == SPEC.sentence


@BOTH
@given(st.floats(min_value=0.0, max_value=1.6))
def test_the_bar_is_as_long_as_the_share(draw, share: float) -> None:
    """Half the need is half the way to the line, at any need."""
    root = ET.fromstring(draw(msgspec.structs.replace(SPEC, share=share)))
    start, end = bar(root, "taken")
    assert end - start == pytest.approx(share * need_of(root), abs=0.2)


@BOTH
@given(st.floats(min_value=0, max_value=20), st.floats(min_value=0, max_value=20))
def test_nothing_leaves_the_drawing_however_much_is_taken(
    draw, share: float, given_: float
) -> None:
    spec = msgspec.structs.replace(
        SPEC, share=share, given=min(share, given_), share_range=(0.0, 2 * share)
    )
    root = ET.fromstring(draw(spec))
    width = float(root.attrib["viewBox"].split()[2])
    for one in root.iter("rect"):
        assert float(one.attrib["x"]) >= -0.1
        assert float(one.attrib["x"]) + float(one.attrib["width"]) <= width + 0.6


def test_milk_given_is_the_last_part_of_the_bar() -> None:
    root = ET.fromstring(gauge_drawing(msgspec.structs.replace(SPEC, given=0.23)))
    breast, given_ = bar(root, "taken"), bar(root, "given")
    assert breast[1] - breast[0] == pytest.approx(0.5 * need_of(root), abs=0.2)
    assert given_[1] == pytest.approx(0.73 * need_of(root), abs=0.2)


def test_the_small_one_fits_a_strip() -> None:
    root = ET.fromstring(small_gauge_drawing(SPEC))
    assert root.attrib["viewBox"] == "0 0 200 28"
    assert len(list(root.iter("text"))) == 2


@BOTH
def test_no_colour_and_no_style_stand_in_it(draw) -> None:
    for one in ET.fromstring(draw(SPEC)).iter():
        assert not {"style", "fill", "stroke", "color"} & set(one.attrib)


@pytest.mark.parametrize(
    ("short", "enough"),
    [("short", "enough"), ("insuficiente", "suficiente"), ("zu wenig", "genug")],
)
@pytest.mark.parametrize(("draw", "em_px"), [(gauge_drawing, 12.5), (small_gauge_drawing, 12)])
def test_both_words_fit_beside_the_line(draw, em_px: float, short: str, enough: str) -> None:
    root = ET.fromstring(draw(msgspec.structs.replace(SPEC, short=short, enough=enough)))
    width = float(root.attrib["viewBox"].split()[2])
    words = {one.text: float(one.attrib["x"]) for one in root.iter("text")}
    assert words[short] - 0.6 * em_px * len(short) >= 0
    assert words[enough] + 0.6 * em_px * len(enough) <= width
