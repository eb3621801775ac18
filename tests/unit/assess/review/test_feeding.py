"""Feeds of one infant: how many, how long and how large, and when nobody knows.

Published: 8 feeds or more in 24 h after day 1 (a checklist of the Scottish Government), as the content
has it. What makes a day of feeds is a judgement.
"""

from __future__ import annotations

import pytest

from suffice.assess.review.feeding import counted_words, review_feeding
from unit.assess.review.reviewed import PARAMETERS, a_case, absent, instant, present, values

GIRL = "girl, 39+0, 3400 g, vaginal"
LIMITS = PARAMETERS.feeding


def reviewed(seen, asked_at="5 d", *, has_risen=False, infant=GIRL):
    return review_feeding(a_case(infant, seen, asked_at), LIMITS, has_risen=has_risen)


@pytest.mark.parametrize("count", [3, 4, 7, 8, 12])
def test_the_feeds_of_a_day_that_is_fully_written_down_are_a_measure(count):
    review = reviewed(f"5 d: {count} feeds in 24 h")
    (feeds,) = review.measures["feeds_count_per_day"]
    assert (feeds.value, feeds.age_h, feeds.at) == (count, 120.0, instant("5 d"))
    assert dict(feeds.gaps)["counted"] == counted_words(count)
    assert "feeds_counted" in present(review)


@pytest.mark.parametrize(
    "seen",
    [
        "5 d: feed",
        "5 d: 2 feeds in 24 h",
        "5 d: 6 feeds in 12 h",
        "20 h: 8 feeds in 20 h",
        "5 d: wet",
    ],
)
def test_what_was_not_written_down_is_not_none(seen):
    review = reviewed(seen, "20 h" if seen.startswith("20") else "5 d")
    assert "feeds_count_per_day" not in review.measures
    assert "feeds_counted" in absent(review)


def test_entries_close_together_may_be_one_feed():
    parts = "; ".join(f"{96 + 3 * n} h: feed; {96.25 + 3 * n} h: feed" for n in range(9))
    (feeds,) = reviewed(parts, "121 h").measures["feeds_count_per_day"]
    assert (feeds.figure.low, feeds.figure.high, feeds.value) == (8.0, 16.0, 16.0)
    assert str(dict(feeds.gaps)["counted"]) == "At most 16 feeds"


@pytest.mark.parametrize(
    ("asked_at", "stands"), [("5.9 d", True), ("6.1 d", False), ("9 d", False)]
)
def test_a_count_of_feeds_stands_for_a_day_and_is_then_asked_as_an_old_one(asked_at, stands):
    review = reviewed("5 d: 7 feeds in 24 h", asked_at)
    assert ("feeds_count_per_day" in review.measures) is stands
    assert ("old_feeds_count_per_day" in review.measures) is not stands
    assert ("feeds_counted" in present(review)) is stands


def test_a_weight_that_has_risen_since_ends_an_old_count():
    seen = "5 d: 7 feeds in 24 h; 6 d: 3300 g"
    assert "old_feeds_count_per_day" in reviewed(seen, "7 d").measures
    assert "old_feeds_count_per_day" not in reviewed(seen, "7 d", has_risen=True).measures


def test_minutes_are_the_shortest_and_the_longest_of_the_timed_feeds():
    seen = "4.8 d: feed of 30 min; 4.9 d: feed of 50 min; 5 d: feed of 10 min"
    found = values(reviewed(seen))
    assert found == {"shortest_feed_minutes": [10.0], "longest_feed_minutes": [50.0]}


def test_minutes_of_both_sides_are_those_of_one_feed():
    parts = "; ".join(
        f"{110 + n} h: feed of 20 min; {110.4 + n} h: feed of 30 min" for n in (0, 3, 6)
    )
    assert values(reviewed(parts))["shortest_feed_minutes"] == [50.0]


def test_two_timed_feeds_are_not_always():
    assert values(reviewed("4.9 d: feed of 50 min; 5 d: feed of 50 min")) == {}


@pytest.mark.parametrize(
    ("seen", "largest"),
    [
        ("50 h: 65 mL formula; 51 h: 70 mL formula", [70.0]),
        ("47 h: 40 mL formula; 49 h: 50 mL formula", [40.0]),
        ("100 h: 200 mL formula", None),
        ("50 h: feed", None),
    ],
)
def test_the_largest_bottle_is_the_one_that_is_largest_for_its_age(seen, largest):
    asked_at = "101 h" if seen.startswith("100") else "52 h"
    assert values(reviewed(seen, asked_at)).get("largest_feed_ml") == largest


def test_without_an_instant_of_birth_nothing_is_asked():
    review = reviewed("5 d: 4 feeds in 24 h", infant="nobody knows")
    assert (review.measures, review.signs) == ({}, {})


@pytest.mark.parametrize(
    ("seen", "count"),
    [
        ("5 d: count of 6 feeds", 6.0),
        ("5 d: count of 0 feeds", 0.0),
        ("5 d: 3 feeds in 12 h; 5 d: count of 6 feeds", 6.0),
        ("5 d: 9 feeds in 24 h; 5 d: count of 6 feeds", 9.0),
        ("4.9 d: 9 feeds in 24 h; 5 d: count of 6 feeds", 9.0),
        ("4 d: 5 feeds in 24 h; 5 d: count of 9 feeds", 9.0),
        ("5 d: count of 5 feeds; 5 d: count of 6 feeds", 6.0),
    ],
)
def test_of_a_count_and_of_single_feeds_the_more_complete_one_counts(seen, count):
    assert values(reviewed(seen, "5.1 d"))["feeds_count_per_day"] == [count]


def test_a_count_of_feeds_lapses_as_single_feeds_do():
    assert "feeds_count_per_day" in reviewed("5 d: count of 6 feeds", "5.9 d").measures
    assert "old_feeds_count_per_day" in reviewed("5 d: count of 6 feeds", "6.1 d").measures


def test_a_count_of_the_first_day_is_no_day():
    assert "feeds_count_per_day" not in reviewed("23 h: count of 6 feeds", "23.5 h").measures


def test_feeds_that_are_certain_are_enough_though_the_day_is_not_full():
    seen = "5 d: count of 5 feeds; 5.5 d: 8 feeds in 11 h"
    assert values(reviewed(seen, "5.6 d"))["feeds_count_per_day"] == [8.0]
    fewer = "5 d: count of 5 feeds; 5.5 d: 7 feeds in 11 h"
    assert values(reviewed(fewer, "5.6 d"))["feeds_count_per_day"] == [5.0]


LONG = "5 d: 8 feeds in 24 h of 50 min"


def test_minutes_lapse_until_feeds_are_timed_again_or_weight_has_risen():
    assert values(reviewed(LONG, "6.1 d"))["old_shortest_feed_minutes"] == [50.0]
    assert values(reviewed(LONG, "6.1 d"))["old_longest_feed_minutes"] == [50.0]
    timed = values(reviewed(f"{LONG}; 6 d: 8 feeds in 24 h", "6.1 d"))
    assert timed["shortest_feed_minutes"] == [20.0]
    assert "old_shortest_feed_minutes" not in timed
    weighed = reviewed(f"{LONG}; 6 d: 3300 g", "6.1 d", has_risen=True)
    assert "old_shortest_feed_minutes" not in weighed.measures


def test_feeds_that_nobody_timed_take_back_no_long_ones():
    found = values(reviewed(f"{LONG}; 6 d: count of 9 feeds", "6.1 d"))
    assert found["old_shortest_feed_minutes"] == [50.0]


@pytest.mark.parametrize(
    ("count", "is_answered"), [(7, True), (6, True), (5, False)], ids=["more", "as many", "fewer"]
)
def test_an_answer_covers_no_day_of_fewer_feeds_that_was_written_down_later(count, is_answered):
    seen = f"96 h: count of 6 feeds; 97 h: answer physician; 96.5 h: count of {count} feeds entered 98 h"
    (found,) = reviewed(seen, "99 h").measures["feeds_count_per_day"]
    assert (found.value, found.is_answered) == (count, is_answered)


def test_a_feed_at_the_instant_of_birth_counts_and_one_before_it_does_not():
    assert values(reviewed("0 h: 80 mL formula", "1 h"))["largest_feed_ml"] == [80.0]
    assert values(reviewed("-1 h: 80 mL formula; 0 h: feed", "1 h")) == {}


def test_an_answer_at_the_instant_of_a_count_covers_it():
    (found,) = reviewed("96 h: count of 6 feeds; 96 h: answer physician", "97 h").measures[
        "feeds_count_per_day"
    ]
    assert found.is_answered
