"""The side is one thing wherever it is asked: at a feed and at a test weight."""

from __future__ import annotations

from typing import get_args

import pytest

from csv_case import facts, table
from suffice.clinical.entry.feed import Feed
from suffice.clinical.entry.field import fields_of
from suffice.clinical.entry.side import MINUTES, SIDE, Side
from suffice.clinical.entry.weight import TestWeight


def test_every_side_can_be_chosen_once():
    assert sorted(value for value, _ in SIDE.choices) == sorted(get_args(Side))


@pytest.mark.parametrize("kind", [Feed, TestWeight])
def test_a_feed_and_a_test_weight_ask_for_side_and_minutes_in_the_same_words(kind):
    assert fields_of(kind)["side"] is SIDE
    assert fields_of(kind)["minutes"].column == MINUTES


@pytest.mark.parametrize(
    ("header", "written", "side"),
    [("side", "left", "left"), ("breast", "right", "right"), ("lado", "both", "both")],
)
def test_a_table_tells_the_side(header, written, side):
    (told,) = facts(table(f"milk,{header}", f"breast,{written}"))
    assert told == Feed(milk="breast", side=side)


@pytest.mark.parametrize("header", MINUTES.split("|"))
def test_each_name_of_the_minutes_is_a_column_of_them(header):
    (told,) = facts(table(f"milk,{header}", "breast,25"))
    assert told == Feed(milk="breast", minutes=25)
