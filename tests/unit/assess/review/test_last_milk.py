"""How long an infant had taken no milk: what stands, what ends it, and beside which signs it counts sooner."""

from __future__ import annotations

import pytest

from suffice.assess.review.last_milk import review_last_milk
from suffice.assess.review.result import together
from unit.assess.review.reviewed import PARAMETERS, a_case, instant

GIRL = "girl, 39+0, 3400 g, vaginal"
SEVEN = "40 h: observed last_milk_h 7"


def hours(seen, asked_at="41 h", name="hours_without_milk_h", infant=GIRL):
    review = together(review_last_milk(a_case(infant, seen, asked_at), PARAMETERS))
    return [one.value for one in review.measures.get(name, ())]


def test_it_is_a_measure_of_the_time_at_which_it_was_said():
    review = together(review_last_milk(a_case(GIRL, SEVEN, "60 h"), PARAMETERS))
    (found,) = review.measures["hours_without_milk_h"]
    assert (found.value, found.unit, found.age_h, found.at) == (7, "h", 40, instant("40 h"))


@pytest.mark.parametrize(
    ("since", "stands"),
    [
        ("40 h: feed", True),
        ("40.1 h: feed", False),
        ("40.1 h: 10 mL donor", False),
        ("40.1 h: 0 mL donor", True),
        ("40.1 h: test weight 3200 to 3210 g", False),
        ("40.1 h: test weight 3200 to 3195 g", True),
        ("63 h: count of 8 feeds", True),
        ("64 h: count of 8 feeds", False),
        ("64 h: count of 0 feeds", True),
        ("41 h: observed last_milk_h 1", False),
        ("41 h: observed last_milk_h 1.1", True),
        ("41 h: answer physician", False),
        ("41 h: wet", True),
    ],
)
def test_only_milk_after_it_or_a_physician_ends_it(since, stands):
    assert (7 in hours(f"{SEVEN}; {since}", "65 h")) is stands


@pytest.mark.parametrize(
    ("weights", "stands"),
    [
        ("60 h: 3200 g; 104 h: 3290 g", False),
        ("60 h: 3200 g; 80 h: 3190 g; 104 h: 3280 g", False),
        ("60 h: 3200 g; 83 h: 3290 g", True),  # less than a day apart: clothes, another scale
        ("60 h: 3200 g; 104 h: 3220 g", True),  # within the noise
        ("39 h: 3200 g; 104 h: 3290 g", True),  # the first was taken before it was said
        ("104 h: 3290 g", True),
        ("60 h: 3200 g; 104 h: 3290 g clothed", True),
    ],
)
def test_weights_that_show_a_gain_since_end_it(weights, stands):
    """Nobody gains on nothing: days later it is no part of an emergency any more."""
    assert (7 in hours(f"{SEVEN}; {weights}", "105 h")) is stands


def test_of_two_that_stand_the_later_speaks_for_both_where_it_says_as_much():
    assert hours(f"{SEVEN}; 42 h: observed last_milk_h 9", "43 h") == [9]
    assert hours(f"{SEVEN}; 41 h: observed last_milk_h 4", "43 h") == [7, 4]
    # At 28 days other limits hold: what was said before stays.
    two = "671 h: observed last_milk_h 7; 673 h: observed last_milk_h 9"
    assert hours(two, "674 h") == [7, 9]


@pytest.mark.parametrize("answer", ["-1", "soon", "nan", "inf"])
def test_what_is_no_number_of_hours_says_nothing(answer):
    assert hours(f"40 h: observed last_milk_h {answer}") == []


def test_no_infant_was_without_milk_for_longer_than_it_is_old():
    assert hours("10 h: observed last_milk_h 30", "11 h") == [10]
    assert hours("10 h: observed last_milk_h 30", "11 h", infant="nobody knows") == [30]


@pytest.mark.parametrize(
    ("beside", "names"),
    [
        ("40 h: sign weak_sucking", {"sleepy"}),
        ("40 h: sign does_not_wake_for_feeds", {"sleepy", "not_waking"}),
        ("39 h: sign weak_sucking; 40 h: no sign weak_sucking", set()),
        ("40 h: observed wakes_for_feeds woken", {"woken"}),
        ("39 h: observed wakes_for_feeds woken; 40 h: observed wakes_for_feeds mostly", set()),
    ],
)
def test_it_is_also_named_by_what_is_seen_of_the_infant(beside, names):
    seen = f"{SEVEN}; {beside}"
    found = {
        one
        for one in ("sleepy", "not_waking", "woken")
        if hours(seen, name=f"{one}_hours_without_milk_h")
    }
    assert found == names
    assert hours(seen) == [7]
