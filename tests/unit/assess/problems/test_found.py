"""What was found, by side, and what a condition about it comes to."""

from __future__ import annotations

import pytest

from suffice.assess.problems.found import Found, Row, is_by_side, on, views_of
from suffice.assess.rules.truth import Truth
from suffice.knowledge.asked import read_asked
from suffice.knowledge.store import load

CONTENT = load()
TRUE, FALSE, OPEN = Truth.TRUE, Truth.FALSE, Truth.CANNOT_TELL


def row(text: str) -> Row:
    return Row.from_asked(read_asked(text), CONTENT)


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
    assert views_of({"gape": (left,)}) == {"left": {"gape": left}, "right": {}, "": {"gape": left}}


def test_a_row_knows_its_keys_limits_and_whether_it_has_sides():
    one = row("pain_end >= problem.painful_points and intake is short")
    assert one.keys == {"pain_end", "intake"}
    assert one.limits == {
        "problem.painful_points": CONTENT.constant("problem.painful_points").value
    }
    assert one.has_sides
    assert not row("intake is short").has_sides
    assert is_by_side("gape", CONTENT)
    assert not is_by_side("intake", CONTENT)
