"""Events become seconds on a side: pauses cut out, seconds that nobody watched marked."""

from __future__ import annotations

import numpy as np
import pytest

from feeds import events
from suffice.clinical.feed.course import Countable, Stretch, rushes_of, stretches, told_apart

APART = Countable(same_within_ms=300)


def only(*written: str, now_s: float) -> Stretch:
    (found,) = stretches(events(*written), round(now_s * 1000))
    return found


def test_swallows_are_counted_in_their_second() -> None:
    found = only("0 left", "0.2 swallow", "0.9 swallow", "3 swallow", now_s=4.5)
    assert found.taps.tolist() == [2, 0, 0, 1]
    assert found.is_watched.all()
    assert (found.side, found.seconds, found.taps_count, found.is_over) == ("left", 4, 3, False)


def test_a_second_that_is_not_over_does_not_count_yet() -> None:
    assert only("0 left", "1.5 swallow", now_s=1.9).taps.tolist() == [0]


def test_coming_off_ends_a_stretch_and_the_other_side_begins_one() -> None:
    first, second = stretches(events("0 left", "3 off", "5 right", "6.5 swallow"), 8000)
    assert (first.seconds, first.is_over, second.begins_ms, second.side) == (3, True, 5000, "right")
    assert second.taps.tolist() == [0, 1, 0]


def test_the_other_side_needs_no_coming_off() -> None:
    first, second = stretches(events("0 left", "4 right"), 6000)
    assert (first.seconds, first.is_over, second.seconds) == (4, True, 2)


def test_the_same_side_named_twice_goes_on() -> None:
    assert only("0 left", "2 left", now_s=5).seconds == 5


def test_a_pause_is_cut_out_and_the_clock_knows_it() -> None:
    found = only("0 left", "2 pause", "10 on", "11.5 swallow", now_s=14)
    assert found.taps.tolist() == [0, 0, 0, 1, 0, 0]
    assert found.clock_ms.tolist() == [0, 1000, 10000, 11000, 12000, 13000, 14000]


def test_a_swallow_ends_a_pause() -> None:
    assert only("0 left", "2 pause", "5 swallow", now_s=7).taps.tolist() == [0, 0, 1, 0]


def test_a_pause_that_goes_on_stops_the_side() -> None:
    assert only("0 left", "2 pause", now_s=60).seconds == 2


def test_seconds_that_nobody_watched_are_marked_whole() -> None:
    found = only("0 left", "1.5 away", "3.2 back", now_s=6)
    assert found.is_watched.tolist() == [True, False, False, False, True, True]


def test_a_swallow_says_that_somebody_watches_again() -> None:
    found = only("0 left", "1 away", "3.5 swallow", now_s=6)
    assert found.is_watched.tolist() == [True, False, False, True, True, True]


def test_who_looks_away_between_the_sides_still_does() -> None:
    _, right = stretches(events("0 left", "1 away", "2 right", "4 back"), 6000)
    assert right.is_watched.tolist() == [False, False, True, True]


def test_what_comes_later_is_not_known_yet() -> None:
    assert only("0 left", "9 swallow", now_s=5).taps_count == 0


def test_nothing_begins_without_a_side() -> None:
    assert stretches(events("1 swallow", "2 away"), 5000) == ()


def test_the_clock_has_one_more_mark_than_seconds() -> None:
    found = only("1.25 right", now_s=4)
    assert found.clock_ms.tolist() == [1250, 2250, 3250]
    assert np.array_equal(found.taps, [0, 0])


def test_who_goes_away_as_it_ends_has_missed_nothing() -> None:
    assert only("0 left", "2 away", now_s=2).is_watched.all()
    assert only("0 left", "2 away", now_s=3).is_watched.tolist() == [True, True, False]


@pytest.mark.parametrize(("apart_s", "counted"), [(0.299, 1), (0.3, 2)])
def test_a_tap_too_soon_after_another_is_of_the_same_swallow(apart_s: float, counted: int) -> None:
    written = events("0 left", "1.1 swallow", f"{1.1 + apart_s:g} swallow")
    (found,) = stretches(written, 3000, APART)
    assert (found.taps_count, found.left_out_count) == (counted, 2 - counted)
    (all_of_them,) = stretches(written, 3000)
    assert (all_of_them.taps_count, all_of_them.left_out_count) == (2, 0)


def test_taps_without_a_stop_still_count() -> None:
    """The distance is that to the last tap that counts, so a run is thinned, never lost."""
    assert told_apart([0, 200, 400, 600, 800, 1000], 300) == [0, 400, 800]


def test_a_tap_on_the_other_side_is_of_its_own() -> None:
    first, second = stretches(
        events("0 left", "1.9 swallow", "2 right", "2.1 swallow"), 4000, APART
    )
    assert (first.taps_count, second.taps_count, second.left_out_count) == (1, 1, 0)


def test_taps_faster_than_any_infant_swallows_are_time_that_nobody_watched() -> None:
    """Ten in a second and a half, of at most four in two seconds; the swallows before and after count."""
    hand = [f"{5 + nth * 0.15:g} swallow" for nth in range(10)]
    (found,) = stretches(
        events("0 left", "1.5 swallow", *hand, "9.5 swallow"), 12000, Countable(300, 4, 2000)
    )
    assert found.taps.tolist() == [0, 1, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0]
    assert np.flatnonzero(~found.is_watched).tolist() == [5, 6]
    assert (found.taps_count, found.left_out_count) == (2, 10)


@pytest.mark.parametrize(("apart_ms", "rushes"), [(250, []), (249, [(0, 996)])])
def test_as_many_as_may_be_are_no_rush(apart_ms: int, rushes: list[tuple[float, float]]) -> None:
    """Five taps in a second where four may come: the fifth at its end is one too late for it."""
    assert rushes_of([nth * apart_ms for nth in range(5)], 4, 1000) == rushes


def test_rushes_that_overlap_are_one() -> None:
    assert rushes_of([0, 1, 2, 3, 9, 10, 11, 12], 2, 5) == [(0, 3), (9, 12)]
