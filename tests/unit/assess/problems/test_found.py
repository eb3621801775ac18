"""What was found, by side, and what a condition about it comes to."""

from __future__ import annotations

import pytest

from suffice.assess.problems.found import Row, is_by_side, on, views_of
from suffice.assess.rules.table import Found
from suffice.assess.rules.truth import Truth
from suffice.knowledge.store import load

CONTENT = load()
TRUE, FALSE, OPEN = Truth.TRUE, Truth.FALSE, Truth.CANNOT_TELL


def row(text: str) -> Row:
    return Row.from_line(text, CONTENT)


@pytest.mark.parametrize(
    ("text", "found", "truth"),
    [
        ("gape is short", {}, OPEN),
        ("gape is short", {"gape": Found(("short",))}, TRUE),
        ("gape is short", {"gape": Found(("clear",))}, FALSE),
        ("gape is short/borderline", {"gape": Found(("borderline",))}, TRUE),
        ("nipple_harm is crack", {"nipple_harm": Found(("scab", "crack"))}, TRUE),
        ("pain_end >= problem.painful_points", {"pain_end": Found(number=4)}, TRUE),
        ("pain_end >= problem.painful_points", {"pain_end": Found(number=3.9)}, FALSE),
        ("pain_end < problem.painful_points", {"pain_end": Found(number=4)}, FALSE),
        ("pain_end >= problem.painful_points", {"pain_end": Found(("much",))}, OPEN),
        ("gape is short and chin is no", {"gape": Found(("clear",))}, FALSE),
        ("gape is short and chin is no", {"gape": Found(("short",))}, OPEN),
        ("gape is short or chin is no", {"gape": Found(("short",))}, TRUE),
        ("gape is short or chin is no", {"gape": Found(("clear",))}, OPEN),
    ],
)
def test_a_row_is_true_false_or_cannot_be_told(text, found, truth):
    views = views_of({key: (one,) for key, one in found.items()})
    assert row(text).truth(views[""]) is truth


def test_a_side_sees_its_own_and_what_has_no_side():
    left, right, both = Found(("a",), None, "left"), Found(("b",), None, "right"), Found(("c",))
    assert on("left", (left, right)) == left
    assert on("right", (left, right)) == right
    assert on("left", (both,)) == both
    assert on("right", (left,)) is None
    views = views_of({"gape": (left,)})
    assert {side: view.finds for side, view in views.items()} == {
        "left": {"gape": left},
        "right": {},
        "": {"gape": left},
    }


def test_a_row_knows_its_keys_and_whether_it_has_sides():
    one = row("pain_end >= problem.painful_points and intake is short")
    assert one.keys == {"pain_end", "intake"}
    assert one.has_sides
    assert not row("intake is short").has_sides
    assert is_by_side("gape", CONTENT)
    assert not is_by_side("intake", CONTENT)


def test_what_speaks_for_a_row_is_each_single_thing_that_is_so():
    creased, sore = Found(("creased", "flattened"), None, "left"), Found(number=6, side="left")
    one = row("nipple_after is creased and (pain_end >= problem.painful_points or chin is no)")
    views = views_of({"nipple_after": (creased,), "pain_end": (sore,), "chin": (Found(("yes",)),)})
    assert [(asked.find, found) for asked, found in one.supports(views["left"])] == [
        ("nipple_after", creased),
        ("pain_end", sore),
    ]
    assert [asked.find for asked, _ in one.supports(views["right"])] == []


@pytest.mark.parametrize(
    ("found", "truth"),
    [
        ({"lips": "out"}, TRUE),
        ({"lips": "out", "chin": "yes"}, TRUE),
        ({"lips": "out", "chin": "no"}, FALSE),
        ({"lips": "lower_in"}, FALSE),
        ({"chin": "yes"}, OPEN),
        ({"chin": "no"}, FALSE),
        ({}, OPEN),
    ],
)
def test_what_is_not_known_takes_no_row_away(found, truth):
    one = Row.from_line("lips is out", CONTENT, "chin is no")
    view = views_of({key: (Found((answer,)),) for key, answer in found.items()})["left"]
    assert one.truth(view) is truth
    assert one.keys == {"lips"}


def test_what_takes_a_row_away_may_have_sides():
    one = Row.from_line("intake is enough", CONTENT, "chin is no")
    views = views_of({"intake": (Found(("enough",)),), "chin": (Found(("no",), None, "left"),)})
    assert one.has_sides
    assert (one.truth(views["left"]), one.truth(views["right"])) == (FALSE, TRUE)
