"""Bounds of a count of diapers: what is certain, what is possible, and what nobody knows."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from clinical_constants import BORN_AT, INFANT, entry, hours
from counted_diapers import counted, once, span
from suffice.clinical.entry import Stool, Wet
from suffice.clinical.output_count import Observation, count, disputed, observations


def test_a_span_of_the_whole_day_is_the_count():
    found = counted([span(5, 100, 24)], 100)
    assert (found.low, found.high, found.covered_fraction) == (5, 5, 1.0)


def test_single_diapers_are_a_lower_bound_only():
    found = counted([once(90), once(95), once(99)], 100)
    assert (found.low, found.high) == (3, None)
    assert not found.is_known


def test_nothing_written_down_is_not_none():
    found = counted([], 100)
    assert (found.low, found.high) == (0, None)
    assert found.high != 0


def test_part_of_a_day_is_not_the_day():
    found = counted([span(2, 100, 18)], 100)
    assert (found.low, found.high) == (2, None)
    assert found.covered_fraction == pytest.approx(0.75)


def test_single_diapers_inside_a_span_are_not_counted_twice():
    found = counted([span(5, 100, 24), once(90), once(95)], 100)
    assert (found.low, found.high) == (5, 5)


def test_more_single_diapers_than_the_span_says_win():
    found = counted([span(1, 100, 24), once(90), once(95)], 100)
    assert (found.low, found.high) == (2, 2)


def test_neighbouring_spans_add_up():
    found = counted([span(2, 88, 12), span(3, 100, 12)], 100)
    assert (found.low, found.high) == (5, 5)


def test_overlapping_spans_give_bounds():
    found = counted([span(3, 92, 16), span(4, 100, 16)], 100)
    assert (found.low, found.high) == (4, 7)


def test_a_morning_count_stands_until_the_evening_and_says_so():
    found = counted([span(5, 96, 24)], 104, stale_h=12)
    assert (found.low, found.high) == (5, 5)
    assert found.until == hours(96)


def test_an_older_count_does_not():
    assert counted([span(5, 96, 24)], 109, stale_h=12).high is None


def test_a_count_of_none_no_longer_stands_once_one_was_seen():
    found = counted([span(0, 24, 24), once(26)], 30, window_h=30, stale_h=12)
    assert (found.low, found.high) == (1, None)
    assert found.high != 0


def test_nor_does_an_older_count_then_come_back():
    seen = [span(4, 96, 24), span(1, 100, 24), once(101), once(103), once(105)]
    found = counted(seen, 106, stale_h=12)
    assert (found.low, found.high) == (3, None)


def test_one_more_diaper_does_not_unsay_a_morning_count():
    found = counted([span(3, 100, 24), once(104)], 106, stale_h=12)
    assert (found.low, found.high, found.until) == (3, 3, hours(100))


def test_just_after_birth_the_stretch_begins_with_birth():
    found = counted([span(1, 10, 10)], 10)
    assert (found.low, found.high, found.window_h) == (1, 1, 10)


def test_at_birth_itself_nothing_is_known():
    found = counted([], 0)
    assert (found.low, found.high, found.window_h, found.covered_fraction) == (0, None, 0, 0)


def test_what_lies_after_the_question_is_left_out():
    assert counted([once(90), once(101)], 100).low == 1


def test_several_at_one_instant_are_added():
    assert counted([once(90), once(90), once(95, 2)], 100).low == 4
    assert counted([once(90), once(95, 2), once(90, 3)], 100).low == 6


def test_observations_are_those_of_one_kind_of_one_infant():
    entries = [
        entry(Wet(count=4, over_h=24), 100),
        entry(Stool(count=2), 101),
        entry(Wet(), 102, infant_id=None),
        entry(Wet(count=0, over_h=0), 103),
    ]

    def seen(infant_id, kind):
        return [
            (one.count, one.true_at, one.over_h, one.entry_id)
            for one in observations(entries, infant_id, kind)
        ]

    long, stool, others, none = entries
    assert seen(INFANT, "wet") == [(4, hours(100), 24, long.id), (0, hours(103), 0, none.id)]
    assert seen(INFANT, "stool") == [(2, hours(101), None, stool.id)]
    assert seen(None, "wet") == [(1, hours(102), None, others.id)]


def test_a_count_over_no_time_is_one_of_that_instant():
    found = counted([span(2, 90, 0)], 100)
    assert (found.low, found.high, found.covered_fraction) == (2, None, 0.0)


@pytest.mark.parametrize(("at_h", "low"), [(76, 0), (76.1, 1), (100, 1)])
def test_a_stretch_is_open_at_its_start_and_closed_at_its_end(at_h, low):
    assert counted([once(at_h)], 100).low == low


@pytest.mark.parametrize(("stale_h", "high"), [(3.9, None), (4, 5)])
def test_a_count_stands_until_it_is_stale(stale_h, high):
    assert counted([span(5, 96, 24)], 100, stale_h=stale_h).high == high


def test_unless_asked_otherwise_no_count_stands_for_later_hours():
    seen = [span(5, 99.9, 24)]
    assert count(seen, hours(100), window_h=24, born_at=BORN_AT).high is None


def test_the_latest_of_two_counts_that_are_not_stale_is_taken():
    seen = [span(5, 94, 24), span(7, 97, 24)]
    found = counted(seen, 100, stale_h=12)
    assert (found.low, found.high, found.until) == (7, 7, hours(97))


def test_the_cheapest_way_to_cover_a_stretch_is_its_upper_bound():
    # The day's count of 6 covers it all; two halves of 4 and 5 add up to more.
    found = counted([span(4, 88, 12), span(5, 100, 12), span(6, 100, 24)], 100)
    assert found.high == 9  # but nine are certain: the halves do not overlap
    assert found.low == 9


def test_hours_that_two_spans_share_are_covered_once():
    found = counted([span(1, 90, 10), span(1, 94, 10)], 100)
    assert found.covered_fraction == pytest.approx(14 / 24)
    gap = counted([span(1, 80, 4), span(1, 100, 6)], 100)
    assert gap.covered_fraction == pytest.approx(10 / 24)


def test_the_same_instant_in_another_zone_is_the_same_diaper():
    madrid = hours(90).astimezone(ZoneInfo("Europe/Madrid"))
    seen = [once(90), Observation(count=2, true_at=madrid)]
    assert counted(seen, 100).low == 3


@pytest.mark.parametrize(
    ("at_h", "is_disputed"), [(75, False), (76, False), (76.1, True), (99.9, True), (100, False)]
)
def test_one_seen_in_hours_counted_as_none_is_disputed(at_h, is_disputed):
    seen = [once(at_h), span(0, 100, 24)]
    assert disputed(seen) == ((once(at_h),) if is_disputed else ())


def test_a_count_above_none_disputes_nothing_and_none_is_disputed_by_no_other_count():
    assert disputed([once(90), span(1, 100, 24)]) == ()
    assert disputed([once(90, 0), span(3, 90, 12), span(0, 100, 24)]) == ()


def test_what_is_disputed_comes_in_order_of_time():
    assert disputed([span(0, 100, 24), once(99), once(80)]) == (once(80), once(99))
