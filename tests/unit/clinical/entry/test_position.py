"""A position is one list of words, at a watched feed as in a plan."""

from __future__ import annotations

from typing import get_args

from suffice.clinical.entry import Plan, WatchedFeed
from suffice.clinical.entry.field import fields_of
from suffice.clinical.entry.position import POSITION, Position


def test_its_words_are_those_of_the_type() -> None:
    assert tuple(one for one, _ in POSITION.choices) == get_args(Position)


def test_a_feed_and_a_plan_ask_it_alike() -> None:
    assert fields_of(WatchedFeed)["position"] is fields_of(Plan)["position"] is POSITION
