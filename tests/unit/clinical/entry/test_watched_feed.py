"""A watched feed as an entry: its line says the swallows, never the minutes or mL."""

from __future__ import annotations

import pytest

from feeds import events
from suffice.clinical.entry.watched_feed import WatchedFeed
from suffice.language.facts import parts_of


def line_of(fact: WatchedFeed) -> list[str]:
    return [str(one) for one in parts_of(fact)]


def test_its_line_says_swallows_position_and_pain() -> None:
    heard = events("0 left", "1 swallow", "2 swallow", "3 off")
    fact = WatchedFeed(events=heard, position="laid back", pain_start=6, pain_end=0)
    assert line_of(fact) == [
        "2 swallows",
        "laid back",
        "pain 6 of 10 at the start",
        "pain 0 of 10 at the end",
    ]


@pytest.mark.parametrize(("heard", "line"), [((), []), (events("0 left"), ["0 swallows"])])
def test_a_feed_without_events_says_nothing_of_swallows(heard: tuple[()], line: list[str]) -> None:
    assert line_of(WatchedFeed(events=heard)) == line
