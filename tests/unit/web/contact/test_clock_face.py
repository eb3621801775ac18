"""The clock face of breast and nipple: where its fields are, and how they are called."""

from __future__ import annotations

import re

import pytest

from suffice.knowledge.observable import FOLDER, Observable
from suffice.knowledge.store import load
from suffice.web.contact.clock_face import (
    EDGE,
    MIDDLE,
    REACH_CM,
    breast_fields,
    nipple_fields,
    place_of,
    point,
    where,
)

BREAST = breast_fields("red_where")
NIPPLE = nipple_fields("harm_clock", "harm_place")
OTHERS = {MIDDLE: "nipple and areola", "tip": "tip"}


def test_twelve_is_at_the_top_and_three_on_the_right_as_seen_from_the_front():
    assert point(12, 10) == (0, -10)
    assert point(3, 10) == (10, 0)
    assert point(6, 10)[1] == 10
    assert point(9, 10)[0] == -10


def test_a_lump_is_placed_to_scale_and_one_farther_off_on_the_edge():
    assert place_of(3, REACH_CM / 2) == (EDGE / 2, 0)
    assert place_of(3, 4 * REACH_CM) == (EDGE, 0)
    assert place_of(7, 0) == (0, 0)


@pytest.mark.parametrize("fields", [BREAST, NIPPLE])
def test_the_fields_cover_the_whole_drawing_once(fields):
    assert sum(field.area for field in fields) == pytest.approx(1)
    assert len({(field.what, field.key) for field in fields}) == len(fields)


def test_every_field_is_a_choice_of_the_content_and_every_choice_of_an_hour_a_field():
    words = load().vocabularies[FOLDER]
    for field in (*BREAST, *NIPPLE):
        word = words[field.what]
        assert isinstance(word, Observable)
        assert field.key in word.choices, field
    assert {field.key for field in BREAST} == set(words["red_where"].choices)
    drawn = {field.key for field in NIPPLE if field.what == "harm_clock"}
    assert drawn == set(words["harm_clock"].choices)


@pytest.mark.parametrize("key", ["i3", "o12"])
def test_a_wedge_stands_at_its_hour(key):
    outline = next(field.outline for field in BREAST if field.key == key)
    first, second = (
        re.findall(r"L(-?[\d.]+) (-?[\d.]+)A", outline)[0],
        re.findall(r" 0 0 1 (-?[\d.]+) (-?[\d.]+)L", outline)[0],
    )
    middle = [(float(a) + float(b)) / 2 for a, b in zip(first, second, strict=True)]
    x, y = point(int(key[1:]), 1)
    assert middle[0] * y == pytest.approx(middle[1] * x, abs=0.1)
    assert middle[0] * x + middle[1] * y > 0


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        (["o9"], "9 o'clock, outer ring"),
        (["o11", "o9", "o10"], "9 to 11 o'clock, outer ring"),
        (["i12", "i1", "i11"], "11 to 1 o'clock, inner ring"),
        ([f"i{hour}" for hour in range(1, 13)], "all round, inner ring"),
        (["o2", "i2"], "2 o'clock, inner ring and 2 o'clock, outer ring"),
        (["o2", "o2"], "2 o'clock, outer ring"),
        (["nipple"], "nipple and areola"),
        (["h2", "tip"], "2 o'clock, side of the nipple and tip"),
        (["o13", "somewhere"], "o13 and somewhere"),
        (["o\u00b2"], "o\u00b2"),
    ],
)
def test_fields_are_said_as_runs_round_the_clock_and_what_nobody_knows_as_it_is(keys, says):
    assert str(where(keys, OTHERS)) == says
