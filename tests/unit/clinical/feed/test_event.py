"""What cannot be the events of one feed is refused with what to do about it."""

from __future__ import annotations

import msgspec
import pytest

from clinical_constants import constant
from feeds import events
from suffice.clinical.feed.event import EventLimits, FeedEvent, event_problems, ordered

LIMITS = EventLimits(longest_minutes=constant(180), most_count=constant(6))


def codes_of(*written: str) -> list[str]:
    return [one.code for one in event_problems(events(*written), LIMITS)]


def test_events_of_a_feed_are_taken() -> None:
    assert codes_of("0 left", "10 swallow", "10800 off") == []
    assert codes_of() == []


def test_who_looks_away_before_the_side_is_named_is_not_refused() -> None:
    assert codes_of("0 away", "1 left") == []


def test_an_event_before_the_beginning_is_refused() -> None:
    assert codes_of("-0.001 left", "1 swallow") == ["WATCH-001"]


def test_an_event_after_any_feed_is_refused() -> None:
    assert codes_of("0 left", "10800.001 swallow") == ["WATCH-002"]


def test_more_events_than_a_feed_has_are_refused() -> None:
    assert codes_of(*["0 left"] * 7) == ["WATCH-003"]
    assert codes_of(*["0 left"] * 6) == []


@pytest.mark.parametrize("what", ["swallow", "off", "pause"])
def test_a_feed_without_a_side_is_refused(what: str) -> None:
    assert codes_of(f"0 {what}", "1 left") == ["WATCH-004"]


def test_events_of_the_same_millisecond_have_one_order() -> None:
    both = events("5 right", "5 off")
    assert ordered(both) == ordered(both[::-1]) == (both[1], both[0])


def test_an_event_has_no_other_name_than_those_known() -> None:
    with pytest.raises(msgspec.ValidationError):
        msgspec.json.decode(b'{"at_ms": 1, "what": "sneeze"}', type=FeedEvent)
