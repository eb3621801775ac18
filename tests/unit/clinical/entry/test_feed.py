"""Feeds and expression sessions: their limits from both sides, and what they cannot be without."""

from __future__ import annotations

import msgspec
import pytest

from csv_case import facts, table
from entry_limits import found, read
from suffice.clinical.entry.feed import Expression, Feed, FeedCount


@pytest.mark.parametrize(
    ("volume_ml", "expected"),
    [
        (-0.1, [("VOLUME-001", "volume_ml", False)]),
        (0, []),
        (250, []),
        (250.1, [("VOLUME-002", "volume_ml", True)]),
        (500, [("VOLUME-002", "volume_ml", True)]),
        (500.1, [("VOLUME-001", "volume_ml", False)]),
    ],
)
def test_the_volume_of_one_feed(volume_ml, expected):
    assert found(Feed(milk="formula", volume_ml=volume_ml)) == expected


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (-1, [("DURATION-001", "minutes", False)]),
        (0, []),
        (90, []),
        (90.5, [("DURATION-002", "minutes", True)]),
        (300, [("DURATION-002", "minutes", True)]),
        (300.5, [("DURATION-001", "minutes", False)]),
    ],
)
def test_the_length_of_one_feed(minutes, expected):
    assert found(Feed(milk="breast", minutes=minutes)) == expected


@pytest.mark.parametrize("side", ["left_ml", "right_ml"])
@pytest.mark.parametrize(
    ("volume_ml", "code"),
    [
        (-0.1, "VOLUME-003"),
        (0, None),
        (400, None),
        (400.1, "VOLUME-004"),
        (1000, "VOLUME-004"),
        (1000.1, "VOLUME-003"),
    ],
)
def test_each_side_of_an_expression_has_its_own_volume(side, volume_ml, code):
    expected = [] if code is None else [(code, side, code == "VOLUME-004")]
    assert found(Expression(**{side: volume_ml})) == expected


def test_two_full_sides_are_not_added_up():
    assert found(Expression(left_ml=400, right_ml=400)) == []
    both = found(Expression(left_ml=401, right_ml=1001))
    assert both == [("VOLUME-003", "right_ml", False), ("VOLUME-004", "left_ml", True)]


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("minutes", -1, "DURATION-003"),
        ("minutes", 60, None),
        ("minutes", 61, "DURATION-004"),
        ("minutes", 240, "DURATION-004"),
        ("minutes", 241, "DURATION-003"),
        ("hours_since_last", -1, "DURATION-005"),
        ("hours_since_last", 24, None),
        ("hours_since_last", 24.5, "DURATION-006"),
        ("hours_since_last", 168, "DURATION-006"),
        ("hours_since_last", 168.5, "DURATION-005"),
    ],
)
def test_how_long_an_expression_took_and_how_long_ago_the_last_was(field, value, code):
    codes = [one[:2] for one in found(Expression(left_ml=50, **{field: value}))]
    assert codes == ([] if code is None else [(code, field)])


def test_an_expression_without_any_volume_is_none_and_zero_is_a_volume():
    with pytest.raises(ValueError, match="needs one of left_ml, right_ml"):
        Expression(minutes=20)
    assert Expression(left_ml=0).right_ml is None
    assert Expression(right_ml=0).left_ml is None


def test_what_was_not_said_of_a_feed_is_not_known():
    feed = Feed(milk="breast")
    assert (feed.side, feed.volume_ml, feed.minutes) == (None, None, None)


@pytest.mark.parametrize("milk", ["breast", "expressed", "donor", "formula"])
def test_every_milk_is_taken(milk):
    assert read(kind="feed", milk=milk) == Feed(milk=milk)


@pytest.mark.parametrize(
    "fields",
    [
        {"milk": "water"},
        {},
        {"milk": "breast", "side": "middle"},
        {"milk": "donor", "volume_oz": 2},
        {"milk": "donor", "volume_ml": "60 mL"},
    ],
)
def test_what_is_no_feed_is_refused(fields):
    with pytest.raises(msgspec.ValidationError):
        read(kind="feed", **fields)


def test_an_expression_is_of_the_parent_and_a_feed_of_the_infant():
    assert Expression.declared.about == "parent"
    assert Feed.declared.about == "infant"


@pytest.mark.parametrize("header", ["milk,volume,minutes", "leche,volumen,minutos"])
def test_a_table_tells_of_a_feed_in_either_language(header):
    told = facts(table(header, "formula,45,20"))
    assert told == [Feed(milk="formula", volume_ml=45, minutes=20)]


@pytest.mark.parametrize(
    ("count", "code"),
    [
        (-1, "VALUE-001"),
        (0, None),
        (18, None),
        (19, "VALUE-002"),
        (40, "VALUE-002"),
        (41, "VALUE-001"),
    ],
)
def test_feeds_in_24_hours_at_their_limits(count, code):
    expected = [] if code is None else [(code, "count", code == "VALUE-002")]
    assert found(FeedCount(count=count)) == expected


@pytest.mark.parametrize("header", ["feed count", "feeds_24h", "Feeds per day", "tomas al día"])
def test_a_table_tells_feeds_in_24_hours(header):
    assert facts(table(header, "6")) == [FeedCount(count=6)]


def test_none_was_counted_is_not_that_nobody_counted():
    assert facts(table("feeds_24h,wets_24h", "0,3"))[0] == FeedCount(count=0)
    with pytest.raises(msgspec.ValidationError):
        read(kind="feed count")
