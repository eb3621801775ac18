"""Events of a feed in any order, undone, or shifted: the reading is the same to the bit."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from feeds import PARAMETERS
from suffice.clinical.feed.course import EVERY_TAP, Countable, Stretch, stretches
from suffice.clinical.feed.event import FeedEvent
from suffice.inference.feed.reading import read_stretch

OCCURRENCES = (
    "left",
    "right",
    "swallow",
    "swallow",
    "swallow",
    "away",
    "back",
    "pause",
    "on",
    "off",
)
EVENTS = st.lists(
    st.builds(FeedEvent, at_ms=st.integers(0, 90_000), what=st.sampled_from(OCCURRENCES)),
    max_size=40,
)
NOW_MS = 90_000
COUNTABLE = Countable(same_within_ms=300, most_count=5, of_ms=20_000)
"""So that lists as short as these hold a second tap of a swallow and a run that is too fast."""


def same(one: Stretch, other: Stretch) -> bool:
    return (
        (one.side, one.is_over) == (other.side, other.is_over)
        and np.array_equal(one.taps, other.taps)
        and np.array_equal(one.is_watched, other.is_watched)
    )


@given(EVENTS, st.randoms())
def test_the_order_of_arrival_does_not_matter(events: list[FeedEvent], chance: object) -> None:
    mixed = list(events)
    chance.shuffle(mixed)  # type: ignore[attr-defined]
    for one, other in zip(
        stretches(events, NOW_MS, COUNTABLE), stretches(mixed, NOW_MS, COUNTABLE), strict=True
    ):
        assert same(one, other)
        assert np.array_equal(one.clock_ms, other.clock_ms)


@settings(max_examples=25)
@given(
    EVENTS, st.builds(FeedEvent, at_ms=st.integers(0, 90_000), what=st.sampled_from(OCCURRENCES))
)
def test_an_event_undone_was_never_entered(events: list[FeedEvent], slip: FeedEvent) -> None:
    undone = [*events, slip]
    undone.remove(slip)
    before = [read_stretch(one, PARAMETERS) for one in stretches(events, NOW_MS, COUNTABLE)]
    assert before == [read_stretch(one, PARAMETERS) for one in stretches(undone, NOW_MS, COUNTABLE)]


@settings(max_examples=25)
@given(EVENTS, st.integers(0, 600_000))
def test_a_later_beginning_shifts_the_clock_alone(events: list[FeedEvent], by_ms: int) -> None:
    later = [FeedEvent(at_ms=one.at_ms + by_ms, what=one.what) for one in events]
    shifted = stretches(later, NOW_MS + by_ms)
    for one, other in zip(stretches(events, NOW_MS), shifted, strict=True):
        assert same(one, other)
        assert np.array_equal(one.clock_ms + by_ms, other.clock_ms)


@given(EVENTS)
def test_every_tap_is_counted_or_said_to_be_left_out(events: list[FeedEvent]) -> None:
    """On a side that is not interrupted: what a pause or the end cuts off counts in no second."""
    kept = [one for one in events if one.what in {"swallow", "left", "right", "away", "back"}]
    all_of_them, apart = (stretches(kept, NOW_MS, least) for least in (EVERY_TAP, COUNTABLE))
    for one, other in zip(all_of_them, apart, strict=True):
        assert other.taps_count + other.left_out_count >= one.taps_count
        assert other.taps_count <= one.taps_count


@given(EVENTS)
def test_seconds_and_taps_add_up(events: list[FeedEvent]) -> None:
    found = stretches(events, NOW_MS)
    assert sum(one.seconds for one in found) <= NOW_MS // 1000
    assert sum(one.taps_count for one in found) <= sum(one.what == "swallow" for one in events)
    for one in found:
        assert len(one.clock_ms) == one.seconds + 1
        assert np.all(np.diff(one.clock_ms) >= 1000)
        assert np.all(one.is_watched[one.taps > 0])
